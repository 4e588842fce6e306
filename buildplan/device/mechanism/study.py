"""One lid with one drive: everything that is computed about it, and what to look at."""

from dataclasses import dataclass

from buildplan.device.mechanism.bound import TorqueBound, certificate, torque_bound
from buildplan.device.mechanism.drives import (
    Drive,
    Linkage,
    drive_lid,
    locks_of,
    travel_before_lock,
)
from buildplan.device.mechanism.lid import Lid
from buildplan.device.mechanism.load import Hinge, HingeLoad, hinge_load, travel_deg
from buildplan.device.mechanism.locks import Lock, lock_within
from buildplan.device.mechanism.pinch import Pinch, edge_pinch
from buildplan.device.mechanism.servo import (
    Opening,
    PowerUpJump,
    ProgrammedMove,
    Servo,
    check_servo,
    open_lid,
    power_up_jump,
    programmed_move,
)
from buildplan.device.spring import HelpSpring
from buildplan.errors import InputError
from buildplan.findings import Finding

BEFORE_LOCK_DEG = 0.5
"""A travel with a lock in it is computed up to so far before it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What is asked of a drive.

    Attributes:
        least_transmission_deg: Between link and lever (40 is the rule, 30 for light duty).
        safety_factor: Stall torque over the greatest torque: 2 keeps a hobby servo at half of
            stall (common practice).
        move_s: Programmed time to open.
    """

    least_transmission_deg: float = 40.0
    safety_factor: float = 2.0
    move_s: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MechanismStudy:
    """A lid with its drive, computed over its travel.

    Attributes:
        hinge: As asked for; asked_load is the load over all of its travel.
        load, drive: Over the travel that it reaches: up to a lock, where one lies inside.
        lock: Inside the travel, or None.
        certificate: How near the drive is to the best possible, as one line.
        findings: Gravest first.
    """

    name: str
    lid: Lid
    hinge: Hinge
    linkage: Linkage
    servo: Servo
    needs: Needs
    asked_load: HingeLoad
    load: HingeLoad
    drive: Drive
    lock: Lock | None
    opening: Opening
    move: ProgrammedMove
    jump: PowerUpJump
    pinch: Pinch
    bound: TorqueBound
    certificate: str
    findings: tuple[Finding, ...]


def study_mechanism(
    lid: Lid,
    hinge: Hinge,
    linkage: Linkage,
    servo: Servo,
    *,
    name: str = "lid",
    needs: Needs | None = None,
    spring: HelpSpring | None = None,
) -> MechanismStudy:
    """Everything about a lid and its drive: torque, locks, time, pinch, findings.

    A lock inside the travel is a finding, and the rest is computed up to it; a linkage that
    cannot be put together is an error.

    Args:
        lid: Mass, centre, edge, inertia.
        hinge: Travel and outer loads.
        linkage: Direct, cable or push rod.
        servo: At the voltage that it gets.
        name: Of the drive, in findings.
        needs: What is asked of it.
        spring: Helps to open.

    Raises:
        InputError: Numbers that cannot be, or a lock at the start of the travel.
    """
    from buildplan.device.mechanism.words import findings_of

    needs = needs or Needs()
    check_servo(servo)
    if not (needs.safety_factor >= 1.0 and needs.move_s > 0.0):
        raise InputError(
            f"{name}: safety factor {needs.safety_factor:g} and {needs.move_s:g} s a move; 1 or "
            "more and more than 0 are needed"
        )
    asked = hinge_load(lid, hinge, spring=spring)
    low, high = travel_before_lock(linkage, hinge.from_deg, hinge.to_deg, BEFORE_LOCK_DEG)
    reached = Hinge(from_deg=low, to_deg=high)
    load = hinge_load(lid, hinge, angle_deg=travel_deg(reached), spring=spring)
    drive = drive_lid(load, linkage)
    opening = open_lid(drive, servo, lid)
    bound = torque_bound(load, servo.sweep_deg)
    peak = max(abs(drive.servo_n_mm).max(), abs(drive.closing_servo_n_mm).max())
    study = MechanismStudy(
        name=name,
        lid=lid,
        hinge=hinge,
        linkage=linkage,
        servo=servo,
        needs=needs,
        asked_load=asked,
        load=load,
        drive=drive,
        lock=lock_within(locks_of(linkage), min(hinge.from_deg, 0.0), hinge.to_deg),
        opening=opening,
        move=programmed_move(drive, load, servo, lid, move_s=needs.move_s),
        jump=power_up_jump(drive, servo, lid),
        pinch=edge_pinch(lid, load, drive, servo),
        bound=bound,
        certificate=certificate(float(peak), bound),
        findings=(),
    )
    return _with_findings(study, findings_of(study))


def _with_findings(study: MechanismStudy, findings: tuple[Finding, ...]) -> MechanismStudy:
    from dataclasses import replace

    return replace(study, findings=findings)
