"""A push rod from a servo's horn to the lid: exact plane kinematics, safe of the wrong branch."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.device.mechanism.lid import Point2
from buildplan.errors import InputError

Floats = NDArray[np.float64]

HORN_SLACK_DEG = 1.0
"""A horn angle and a rod length that agree this well are taken as the same drawing."""

IN_LINE_RAD = 1e-3
"""A horn this near to its rod's line with the lid shut may turn either way: no drawing says."""

FAR_MM = 1e5
"""Lengths beyond this are a slip of the unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RodLinkage:
    """Pins of a push-rod drive with the lid shut, as (forward, up) from the hinge axis.

    Attributes:
        servo_mm: Axis of the servo.
        horn_mm: From that axis to the rod's pin in the horn.
        horn_shut_deg: Direction of the horn with the lid shut; 0 is forward, 90 is up.
        lid_pin_mm: The rod's pin in the lid.
        rod_mm: Between the two pins of the rod; follows from the others.
    """

    servo_mm: Point2
    horn_mm: float
    horn_shut_deg: float
    lid_pin_mm: Point2
    rod_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RodPoses:
    """A push-rod drive, or a batch of them, at every angle of the lid; arrays of one shape.

    Attributes:
        horn_rad: Direction of the horn, without jumps along the last axis.
        cos_horn: Cosine of the angle at the servo between horn and lid pin; beyond -1 or 1 the
            rod does not reach and the other arrays mean nothing.
        lid_arm_mm: Lever of the rod about the hinge; plus where a pushing rod opens.
        horn_arm_mm: Lever of the rod about the servo, with the sign of its turn.
        rod_mm: Length of the rod, without the last axis.
        pin_mm: (..., 2) of the pin in the lid.
        tip_mm: (..., 2) of the pin in the horn.
    """

    horn_rad: Floats
    cos_horn: Floats
    lid_arm_mm: Floats
    horn_arm_mm: Floats
    rod_mm: Floats
    pin_mm: Floats
    tip_mm: Floats


def rod_linkage(
    *,
    servo_mm: Point2,
    horn_mm: float,
    horn_shut_deg: float,
    lid_pin_mm: Point2,
    rod_mm: float = 0.0,
) -> RodLinkage:
    """A push-rod drive that is assembled with the lid shut.

    The rod length is no free choice: it is the distance of its pins in the shut pose.

    Args:
        servo_mm: Axis of the servo.
        horn_mm: Radius of the pin in the horn.
        horn_shut_deg: Direction of the horn with the lid shut.
        lid_pin_mm: Pin in the lid.
        rod_mm: Length as made, where it is known: the horn is turned to it.

    Raises:
        InputError: Pins fall together, a number is no length, or the rod cannot be put in.
    """
    numbers = (*servo_mm, horn_mm, horn_shut_deg, *lid_pin_mm, rod_mm)
    if not all(math.isfinite(value) and abs(value) < FAR_MM for value in numbers):
        raise InputError(f"push rod: numbers {numbers}; each must be finite and below {FAR_MM:g}")
    if not horn_mm > 0.0 or rod_mm < 0.0:
        raise InputError(
            f"push rod: horn {horn_mm:g} mm and rod {rod_mm:g} mm; both must be more than 0"
        )
    if not math.hypot(*lid_pin_mm) > 0.0:
        raise InputError("push rod: the pin in the lid is 0 mm from the hinge axis; move it away")
    span = (lid_pin_mm[0] - servo_mm[0], lid_pin_mm[1] - servo_mm[1])
    turned = horn_shut_deg
    if rod_mm > 0.0:
        turned = _horn_for(math.hypot(*span), math.atan2(span[1], span[0]), horn_mm, rod_mm, turned)
    horn = math.radians(turned)
    tip = (servo_mm[0] + horn_mm * math.cos(horn), servo_mm[1] + horn_mm * math.sin(horn))
    drawn = math.hypot(lid_pin_mm[0] - tip[0], lid_pin_mm[1] - tip[1])
    if not (drawn > 1e-6 and math.hypot(*span) > 1e-6):
        raise InputError(
            f"push rod: its pins are {drawn:g} mm apart with the lid shut, lid pin and servo axis "
            f"{math.hypot(*span):g} mm; more than 0 is needed. Turn the horn or move the pin"
        )
    in_line = abs(math.sin(horn - math.atan2(span[1], span[0])))
    if in_line < IN_LINE_RAD:
        raise InputError(
            f"push rod: horn and rod are in line within {math.degrees(in_line):.3f} degrees with "
            f"the lid shut, at least {math.degrees(IN_LINE_RAD):.2f} are needed to know which way "
            "the horn turns; turn it by a degree"
        )
    return RodLinkage(
        servo_mm=servo_mm,
        horn_mm=horn_mm,
        horn_shut_deg=turned,
        lid_pin_mm=lid_pin_mm,
        rod_mm=drawn,
    )


def _horn_for(
    span_mm: float, span_rad: float, horn_mm: float, rod_mm: float, near_deg: float
) -> float:
    """Direction of the horn, nearest to a drawn one, that a rod of a length asks for."""
    least, most = abs(rod_mm - horn_mm), rod_mm + horn_mm
    if not least <= span_mm <= most:
        raise InputError(
            f"push rod: servo axis and lid pin are {span_mm:.2f} mm apart with the lid shut, but a "
            f"horn of {horn_mm:g} mm and a rod of {rod_mm:g} mm reach only {least:.2f} to "
            f"{most:.2f} mm; take a rod of {abs(span_mm - horn_mm):.2f} to {span_mm + horn_mm:.2f}"
        )
    half = math.acos(
        min(1.0, max(-1.0, (horn_mm**2 + span_mm**2 - rod_mm**2) / (2.0 * horn_mm * span_mm)))
    )
    choices = [math.degrees(span_rad + side * half) for side in (1.0, -1.0)]
    off = [abs(math.remainder(choice - near_deg, 360.0)) for choice in choices]
    best = int(off[1] < off[0])
    if off[best] > HORN_SLACK_DEG:
        drawn = math.sqrt(
            horn_mm**2
            + span_mm**2
            - 2.0 * horn_mm * span_mm * math.cos(math.radians(near_deg) - span_rad)
        )
        raise InputError(
            f"push rod: a rod of {rod_mm:g} mm wants the horn at {choices[best]:.2f} degrees with "
            f"the lid shut, found {near_deg:g}; give rod_mm {drawn:.3f} or correct the angle"
        )
    return near_deg + math.remainder(choices[best] - near_deg, 360.0)


def solve_rod(
    angle_rad: Floats,
    *,
    servo_mm: tuple[Floats, Floats],
    horn_mm: Floats,
    horn_shut_rad: Floats,
    lid_pin_mm: tuple[Floats, Floats],
) -> RodPoses:
    """Every pose of one or many push-rod drives, in closed form.

    horn = angle(S -> B) + side acos((r^2 + d^2 - l^2) / (2 r d)), with S the servo, B the lid pin,
    d their distance, r the horn, l the rod. side is the sign of sin(horn - angle(S -> B)) with the
    lid shut: it cannot change before horn and rod come in line, so no branch is ever tracked.
    Arguments broadcast; the last axis is the angle. Levers: arm = r x u, with u along the rod.

    Source: vector loop of a four-bar linkage, as in Norton, Design of Machinery, ch. 4.
    """
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    (sx, sy), (bx, by) = servo_mm, lid_pin_mm
    pin_x, pin_y = cos * bx - sin * by, sin * bx + cos * by
    rod2 = (bx - sx - horn_mm * np.cos(horn_shut_rad)) ** 2
    rod2 = rod2 + (by - sy - horn_mm * np.sin(horn_shut_rad)) ** 2
    ex, ey = pin_x - sx, pin_y - sy
    span2 = ex * ex + ey * ey
    span = np.maximum(np.sqrt(span2), 1e-9)
    cos_horn = (horn_mm * horn_mm + span2 - rod2) / (2.0 * horn_mm * span)
    side = np.sign(np.sin(horn_shut_rad - np.arctan2(by - sy, bx - sx)))
    horn = np.arctan2(ey, ex) + side * np.arccos(np.clip(cos_horn, -1.0, 1.0))
    horn = _without_jumps(horn, horn_shut_rad)
    hx, hy = horn_mm * np.cos(horn), horn_mm * np.sin(horn)
    rod = np.sqrt(rod2)
    ux, uy = (ex - hx) / rod, (ey - hy) / rod
    tip_x, tip_y = np.broadcast_arrays(hx + sx, hy + sy)
    full_x, full_y = np.broadcast_arrays(pin_x, pin_y)
    return RodPoses(
        horn_rad=horn,
        cos_horn=cos_horn,
        lid_arm_mm=pin_x * uy - pin_y * ux,
        horn_arm_mm=hx * uy - hy * ux,
        rod_mm=np.asarray(rod)[..., 0] if np.ndim(rod) else rod,
        pin_mm=np.stack((full_x, full_y), axis=-1),
        tip_mm=np.stack((tip_x, tip_y), axis=-1),
    )


def _without_jumps(angle_rad: Floats, start_rad: Floats) -> Floats:
    """Angles along the last axis without jumps of a turn, the first nearest to a start."""
    turn = 2.0 * math.pi
    first = angle_rad[..., :1] - start_rad
    steps = np.concatenate((first, np.diff(angle_rad, axis=-1)), axis=-1)
    steps -= turn * np.round(steps / turn)
    return np.asarray(np.cumsum(steps, axis=-1) + start_rad, dtype=np.float64)


def poses_of(linkage: RodLinkage, angle_deg: Floats) -> RodPoses:
    """Every pose of one push-rod drive; (n,) arrays."""
    return solve_rod(
        np.radians(angle_deg),
        servo_mm=(np.array(linkage.servo_mm[0]), np.array(linkage.servo_mm[1])),
        horn_mm=np.array(linkage.horn_mm),
        horn_shut_rad=np.array(math.radians(linkage.horn_shut_deg)),
        lid_pin_mm=(np.array(linkage.lid_pin_mm[0]), np.array(linkage.lid_pin_mm[1])),
    )
