"""Many push rods judged at once: torque, force and how far each limit is kept."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.device.mechanism.load import HingeLoad, greatest_n_mm
from buildplan.device.mechanism.rod import Floats, RodLinkage, RodPoses, solve_rod
from buildplan.errors import InputError

Range = tuple[float, float]

POSES = 31
"""Angles at which a candidate is judged."""

LEAST_ARM_MM = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class RodLimits:
    """Where pins may go, as ranges (low, high) in the frame of the hinge, lid shut.

    Attributes:
        horn_mm: Radius of the pin in the horn; low = high for one given hole.
        least_transmission_deg: Between rod and the lid's lever (40 is the rule, 30 for light duty:
            general machine design).
        least_horn_deg: Between rod and horn; lower lets the servo stand near a lock.
        sweep_deg: What the servo may turn.
    """

    servo_forward_mm: Range
    servo_up_mm: Range
    horn_mm: Range
    lid_forward_mm: Range
    lid_up_mm: Range
    rod_mm: Range = (15.0, 400.0)
    least_transmission_deg: float = 40.0
    least_horn_deg: float = 15.0
    sweep_deg: float = 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A batch of k candidates at n angles.

    Attributes:
        torque_n_mm: (k, n) at the servo, without sign.
        force_n: (k, n) in the rod, without sign.
        margins: (k, 2 n + 3): sines of both transmission angles over their least, sweep, and both
            ends of the rod's range; 0 or more where kept.
        reaches: (k,) least of 1 - |cosine at the servo|.
    """

    torque_n_mm: Floats
    force_n: Floats
    margins: Floats
    reaches: Floats


def judge(designs: Floats, need_n_mm: Floats, angle_rad: Floats, limits: RodLimits) -> Judged:
    """Torque, force and margins of many push rods at once.

    Args:
        designs: (k, 6): servo forward and up, horn, its direction at shut in radians, lid pin
            forward and up.
        need_n_mm: (n,) torque at the hinge, without sign.
        angle_rad: (n,) of the lid.
        limits: To keep.
    """
    sx, sy, horn, shut, bx, by = (designs[:, column, None] for column in range(6))
    poses = solve_rod(
        angle_rad[None],
        servo_mm=(sx, sy),
        horn_mm=horn,
        horn_shut_rad=shut,
        lid_pin_mm=(bx, by),
    )
    force = need_n_mm / np.maximum(np.abs(poses.lid_arm_mm), LEAST_ARM_MM)
    return Judged(
        torque_n_mm=force * np.abs(poses.horn_arm_mm),
        force_n=force,
        margins=_margins(poses, np.hypot(bx, by), horn, limits),
        reaches=(1.0 - np.abs(poses.cos_horn)).min(axis=1),
    )


def _margins(poses: RodPoses, reach_mm: Floats, horn_mm: Floats, limits: RodLimits) -> Floats:
    """How far each limit is kept; signs of levers are held to those of the first pose."""
    arm, horn_arm, rod = poses.lid_arm_mm, poses.horn_arm_mm, poses.rod_mm
    least_lid = math.sin(math.radians(limits.least_transmission_deg))
    least_horn = math.sin(math.radians(limits.least_horn_deg))
    lid = np.sign(arm[:, :1]) * arm / reach_mm - least_lid
    horn = np.sign(horn_arm[:, :1]) * horn_arm / horn_mm - least_horn
    sweep = np.degrees(np.ptp(poses.horn_rad, axis=1))
    ends = np.column_stack(
        (
            (limits.sweep_deg - sweep) / 180.0,
            (rod - limits.rod_mm[0]) / 100.0,
            (limits.rod_mm[1] - rod) / 100.0,
        )
    )
    return np.concatenate((lid, horn, ends), axis=1)


def check_limits(limits: RodLimits) -> None:
    """Refuse limits that no rod can keep.

    Raises:
        InputError: A range runs backwards, a horn of 0 mm, a sweep that is none.
    """
    names = ("servo_forward_mm", "servo_up_mm", "horn_mm", "lid_forward_mm", "lid_up_mm", "rod_mm")
    for name in names:
        low, high = getattr(limits, name)
        if not (math.isfinite(high - low) and low <= high):
            raise InputError(f"limits: {name} runs from {low:g} to {high:g}; give the lower first")
    if not limits.horn_mm[0] > 0.0:
        raise InputError(f"limits: horn_mm begins at {limits.horn_mm[0]:g}, more than 0 is needed")
    if not 0.0 < limits.sweep_deg < 360.0:
        raise InputError(
            f"limits: sweep_deg is {limits.sweep_deg:g}; more than 0 and less than 360 is needed"
        )


def nearby_pins(
    linkage: RodLinkage, load: HingeLoad, limits: RodLimits, shifts_mm: Floats
) -> tuple[NDArray[np.bool_], Floats]:
    """Which shifts of the lid pin keep every limit, and their peak torque; all at once.

    Args:
        linkage: To start from; servo, horn and the horn's direction stay.
        load: Over the travel.
        limits: Least angles, sweep and rod; its ranges of pins are not looked at.
        shifts_mm: (k, 2) forward and up.
    """
    angle = np.linspace(load.angle_deg[0], load.angle_deg[-1], POSES)
    need = np.interp(angle, load.angle_deg, greatest_n_mm(load))
    fixed = (*linkage.servo_mm, linkage.horn_mm, math.radians(linkage.horn_shut_deg))
    designs = np.column_stack(
        (np.tile(fixed, (len(shifts_mm), 1)), shifts_mm + np.array(linkage.lid_pin_mm))
    )
    judged = judge(designs, need, np.radians(angle), limits)
    kept = (judged.margins >= 0.0).all(axis=1) & (judged.reaches > 0.0)
    return kept, judged.torque_n_mm.max(axis=1)
