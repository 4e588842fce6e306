"""Locks (dead centres) of a drive in closed form: where a lid jams, flips or cannot be turned."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from buildplan.device.mechanism.lid import Point2
from buildplan.device.mechanism.rod import RodLinkage, poses_of

LockKind = Literal["horn in line with rod", "rod in line with hinge", "cable in line with hinge"]

TURN = 2.0 * math.pi


@dataclass(frozen=True, slots=True, kw_only=True)
class Lock:
    """An angle of the lid at which its drive locks.

    Attributes:
        kind: "horn in line with rod": the lid goes no farther. "rod in line with hinge", likewise
            for a cable: the drive cannot turn the lid there, whatever its torque.
    """

    kind: LockKind
    at_deg: float


def rod_locks(linkage: RodLinkage) -> tuple[Lock, ...]:
    """Every lock that the lid meets from shut, either way, nearest first.

    By the cosine law, with B the lid pin, S the servo, P the horn's pin, l the rod, r the horn:
    horn in line with rod where |B - S| = l + r or |l - r|; rod in line with hinge where
    |P| = |B| + l or ||B| - l|. Of the eight angles those on the built side count, and beyond a
    horn that stands in line with its rod there is nothing.

    Source: cosine law; locks of a four-bar linkage are its dead centres (Norton, Design of
    Machinery, ch. 4).
    """
    sx, sy = linkage.servo_mm
    bx, by = linkage.lid_pin_mm
    reach, offset = math.hypot(bx, by), math.hypot(sx, sy)
    if offset < 1e-9:  # servo on the hinge axis: the distance of its pins never changes
        return ()
    shut, servo = math.atan2(by, bx), math.atan2(sy, sx)
    ends = []
    for span in (linkage.rod_mm + linkage.horn_mm, abs(linkage.rod_mm - linkage.horn_mm)):
        cos = (reach**2 + offset**2 - span**2) / (2.0 * reach * offset)
        if abs(cos) <= 1.0:
            ends += [servo + side * math.acos(cos) - shut for side in (1.0, -1.0)]
    ahead = min((end % TURN for end in ends), default=math.inf)
    behind = min((-end % TURN for end in ends), default=math.inf)
    found = []
    if ends:
        found = [
            Lock(kind="horn in line with rod", at_deg=math.degrees(angle))
            for angle in (ahead, -behind)
        ]
    for angle in _in_line_with_hinge(linkage, reach, offset, servo, shut):
        if -behind + 1e-9 < angle < ahead - 1e-9:
            found.append(Lock(kind="rod in line with hinge", at_deg=math.degrees(angle)))
    return tuple(sorted(found, key=lambda lock: abs(lock.at_deg)))


def _in_line_with_hinge(
    linkage: RodLinkage, reach: float, offset: float, servo: float, shut: float
) -> list[float]:
    """Angles within a turn either way at which the rod points at the hinge, on the built side."""
    near = []
    for radius in (reach + linkage.rod_mm, reach - linkage.rod_mm):
        cos = (radius**2 - offset**2 - linkage.horn_mm**2) / (2.0 * offset * linkage.horn_mm)
        if abs(cos) > 1.0:
            continue
        for side in (1.0, -1.0):
            horn = servo + side * math.acos(cos)
            x = linkage.servo_mm[0] + linkage.horn_mm * math.cos(horn)
            y = linkage.servo_mm[1] + linkage.horn_mm * math.sin(horn)
            angle = (math.atan2(y, x) + (math.pi if radius < 0.0 else 0.0) - shut) % TURN
            near += [angle, angle - TURN]
    if not near:
        return []
    arms = np.array(
        [float(poses_of(linkage, np.array([math.degrees(a)])).lid_arm_mm[0]) for a in near]
    )
    return [angle for angle, arm in zip(near, arms, strict=True) if abs(arm) < 1e-6 * reach]


def cable_locks(lid_point_mm: Point2, guide_mm: Point2) -> tuple[Lock, ...]:
    """Where a cable runs through the hinge axis and loses its lever, either way.

    lever = b g sin(lock - angle) / length, with b and g the distances of lid point and guide.
    """
    lock = math.atan2(guide_mm[1], guide_mm[0]) - math.atan2(lid_point_mm[1], lid_point_mm[0])
    ahead = math.degrees(lock) % 180.0
    return tuple(
        Lock(kind="cable in line with hinge", at_deg=angle)
        for angle in sorted((ahead, ahead - 180.0), key=abs)
    )


def lock_within(
    locks: tuple[Lock, ...], from_deg: float, to_deg: float, margin_deg: float = 0.0
) -> Lock | None:
    """The first lock inside a travel or within a margin of its ends, or None."""
    inside = [lock for lock in locks if from_deg - margin_deg <= lock.at_deg <= to_deg + margin_deg]
    return min(inside, key=lambda lock: abs(lock.at_deg - from_deg), default=None)
