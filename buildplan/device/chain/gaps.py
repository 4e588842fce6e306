"""Every gap of a device through its motion: lid, horn and rod against the body and each other."""

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

import numpy as np

from buildplan.device.chain.motion import Motion, motion_of
from buildplan.device.chain.placed import Placed, in_group, pairs_of
from buildplan.device.chain.shape import COUPLER, HINGE, SERVO, DeviceTable
from buildplan.device.clearance import Clearance, Swing, pins_in_device, sweep_hinge, sweep_rod
from buildplan.device.clearance.shape import Vector
from buildplan.device.mechanism.lid import HingeFrame
from buildplan.device.mechanism.rod import Floats, RodLinkage
from buildplan.device.mechanism.shape import HingeTable
from buildplan.device.mechanism.study import MechanismStudy
from buildplan.part.model import Part
from buildplan.process.cache import cached

LEAST_TURN_DEG = 0.01
"""Two parts that turn less than this against each other are not swept."""

ROD_STEPS = 121
"""Angles at which the rod's pins are handed over; between them the path is bounded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaps:
    """One moving group against others.

    Attributes:
        what: "lid", "horn", "rod", "rod on lid" or "rod on horn".
        against: "body", or the moving part it turns on.
    """

    what: str
    against: str
    clearance: Clearance


def sweep_gaps(
    placed: Sequence[Placed],
    device: DeviceTable,
    hinge: HingeTable,
    frame: HingeFrame,
    study: MechanismStudy,
) -> tuple[Gaps, ...]:
    """Certified least gaps of everything that moves with a lid, over its travel.

    The lid turns about the hinge over all of the travel asked for; horn and rod go as far as the
    drive reaches. The rod against the body is taken as a bar with round ends that encloses it; on
    lid and horn it only turns about its pins, so these pairs are exact. The horn against the lid
    is not swept: both move and neither carries the other.

    Args:
        placed: Every copy where it stands at rest.
        device: Gap asked for, pairs that slide, places where contact is meant.
        hinge: Its travel.
        frame: Of the hinge.
        study: Of the drive that is built.

    Raises:
        InputError: As sweep_hinge and sweep_rod.
        MeshError: A part is no closed solid.
    """
    found = []
    lid = in_group(placed, HINGE)
    if lid and in_group(placed, ""):
        swing = Swing(
            point_mm=hinge.point_mm,
            axis=hinge.axis,
            from_deg=hinge.from_deg,
            to_deg=hinge.to_deg,
        )
        found.append(
            Gaps(what="lid", against="body", clearance=_swing(placed, HINGE, swing, device))
        )
    if isinstance(study.linkage, RodLinkage):
        motion = motion_of(frame, study, steps=ROD_STEPS)
        found += _linkage_gaps(placed, device, frame, study.linkage, motion)
    return tuple(found)


def _linkage_gaps(
    placed: Sequence[Placed],
    device: DeviceTable,
    frame: HingeFrame,
    linkage: RodLinkage,
    motion: Motion,
) -> list[Gaps]:
    found = []
    rods, horns = in_group(placed, COUPLER), in_group(placed, SERVO)
    if horns and in_group(placed, ""):
        swing = _turn_about(frame, linkage.servo_mm, motion.horn_deg)
        if swing is not None:
            gaps = _swing(placed, SERVO, swing, device)
            found.append(Gaps(what="horn", against="body", clearance=gaps))
    for rod in rods if in_group(placed, "") else ():
        clearance = _rod(placed, rod, device, frame, motion)
        found.append(Gaps(what="rod", against="body", clearance=clearance))
    joints = (
        ("rod on lid", HINGE, motion.pin_mm, motion.rod_deg - motion.angle_deg),
        ("rod on horn", SERVO, motion.tip_mm, motion.rod_deg - motion.horn_deg),
    )
    rest = int(np.argmin(np.abs(motion.angle_deg)))
    for what, group, pins, turn in joints:
        carrier = in_group(placed, group)
        swing = _turn_about(frame, (float(pins[rest, 0]), float(pins[rest, 1])), turn)
        if rods and carrier and swing is not None:
            clearance = _hinge(
                _parts(carrier),
                _parts(rods),
                swing,
                required_mm=device.gap_mm,
                sliding=tuple(_between(rods, carrier, device.slides)),
            )
            found.append(Gaps(what=what, against=carrier[0].part_name, clearance=clearance))
    return found


def _swing(placed: Sequence[Placed], group: str, swing: Swing, device: DeviceTable) -> Clearance:
    return _hinge(
        _parts(in_group(placed, "")),
        _parts(in_group(placed, group)),
        swing,
        required_mm=device.gap_mm,
        sliding=tuple(pairs_of(placed, device.slides, group)),
        touch_zones=tuple(device.touch_zone) if group == HINGE else (),
    )


def _hinge(fixed: Sequence[Part], moving: Sequence[Part], swing: Swing, **asked: Any) -> Clearance:
    """A sweep about an axis; the same question about the same meshes is answered once."""
    key = ("hinge", _meshes(fixed), _meshes(moving), swing, repr(sorted(asked.items())))
    return cached(key, lambda: sweep_hinge(fixed, moving, swing, **asked))


def _meshes(parts: Sequence[Part]) -> tuple[tuple[str, str], ...]:
    """Name and content of every mesh where it stands."""
    return tuple(
        (
            part.name,
            sha256(part.vertices_mm.tobytes() + part.facets.tobytes()).hexdigest(),
        )
        for part in parts
    )


def _rod(
    placed: Sequence[Placed], rod: Placed, device: DeviceTable, frame: HingeFrame, motion: Motion
) -> Clearance:
    """The rod as the bar with round ends that encloses its mesh at rest."""
    vertices = rod.part.vertices_mm
    axis = np.asarray(frame.axis)
    along = float(np.mean([vertices @ axis]) - np.asarray(frame.point_mm) @ axis)
    start = pins_in_device(frame, motion.tip_mm, along_mm=along)
    end = pins_in_device(frame, motion.pin_mm, along_mm=along)
    rest = int(np.argmin(np.abs(motion.angle_deg)))
    fixed, radius = (
        _parts(in_group(placed, "")),
        enclosing_radius_mm(vertices, start[rest], end[rest]),
    )
    sliding = tuple(fixed for _, fixed in pairs_of(placed, device.slides, COUPLER))
    path = np.concatenate([motion.angle_deg, start.ravel(), end.ravel()])
    asked = (radius, rod.name, sliding, device.gap_mm)
    return cached(
        ("rod", _meshes(fixed), path.tobytes(), asked),
        lambda: sweep_rod(
            fixed,
            angle_deg=motion.angle_deg,
            start_mm=start,
            end_mm=end,
            radius_mm=radius,
            name=rod.name,
            sliding=sliding,
            required_mm=device.gap_mm,
        ),
    )


def enclosing_radius_mm(vertices_mm: Floats, start_mm: Floats, end_mm: Floats) -> float:
    """Least radius of a bar with round ends between two points that holds every vertex."""
    way = end_mm - start_mm
    share = np.clip((vertices_mm - start_mm) @ way / (way @ way), 0.0, 1.0)
    return float(np.linalg.norm(vertices_mm - start_mm - share[:, None] * way, axis=1).max())


def _turn_about(frame: HingeFrame, point: tuple[float, float], turn_deg: Floats) -> Swing | None:
    """A swing about a line along the hinge's axis; None where nothing turns."""
    low, high = float(turn_deg.min()), float(turn_deg.max())
    if high - low < LEAST_TURN_DEG:
        return None
    place = pins_in_device(frame, np.array([point]), along_mm=0.0)[0]
    return Swing(point_mm=_vector(place), axis=frame.axis, from_deg=low, to_deg=high)


def _between(
    moving: Sequence[Placed], carrier: Sequence[Placed], slides: Sequence[tuple[str, str]]
) -> list[tuple[str, str]]:
    named = {frozenset(pair) for pair in slides}
    return [
        (one.name, other.name)
        for one in moving
        for other in carrier
        if frozenset((one.part_name, other.part_name)) in named
    ]


def _parts(placed: Sequence[Placed]) -> list[Part]:
    return [one.part for one in placed]


def _vector(values: Floats) -> Vector:
    return float(values[0]), float(values[1]), float(values[2])
