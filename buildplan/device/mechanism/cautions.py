"""Cautions that a driven lid calls for: each once, with what calls for it."""

from buildplan.device.mechanism.study import MechanismStudy
from buildplan.device.spring import HelpSpring
from buildplan.tables.cautions import Caution, caution


def cautions_for_drive(study: MechanismStudy, spring: HelpSpring | None) -> tuple[Caution, ...]:
    """The cautions that hold for a lid that moves by itself, with the force it closes with."""
    force = f"{study.servo.name} moves the lid and can press {study.pinch.worst_n:.0f} N"
    said = [caution("pinch", force)]
    if spring is not None:
        said.append(caution("springs", f"a spring of {spring.shut_n_mm:.0f} N mm at the hinge"))
    return tuple(said)
