"""What play and error of the pins do to a push rod: one batch of many linkages."""

import math
from dataclasses import dataclass

import numpy as np

from buildplan.device.mechanism.load import HingeLoad, greatest_n_mm
from buildplan.device.mechanism.rod import Floats, RodLinkage, solve_rod
from buildplan.errors import InputError
from buildplan.findings import Spread

POSES = 41

BLOCK = 500
"""So many linkages are computed at once: their arrays then stay in a core's own memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RodTolerance:
    """A push rod with every pin off by a random error.

    Attributes:
        peak_n_mm: Greatest servo torque of those that reach.
        rare_peak_n_mm: Exceeded by 1 in 100.
        transmission_deg: Least angle between rod and the lid's lever.
        sweep_deg: Turn of the servo.
        fails_frac: Share that does not reach the whole travel.
        samples: How many linkages were computed.
    """

    peak_n_mm: Spread
    rare_peak_n_mm: float
    transmission_deg: Spread
    sweep_deg: Spread
    fails_frac: float
    samples: int


def rod_tolerance(
    load: HingeLoad,
    linkage: RodLinkage,
    *,
    pivot_mm: float,
    samples: int = 10_000,
    seed: int = 0,
) -> RodTolerance:
    """Peak torque, transmission and sweep when every pin is off by a normal error.

    Servo axis, horn radius and lid pin each get an error of 2 sigma = pivot_mm along each axis;
    the rod is made to the shut pose that results, as when it is cut to fit.

    Args:
        load: Over the travel.
        linkage: As drawn.
        pivot_mm: 19 in 20 errors are smaller.
        samples: Linkages to compute, at once.
        seed: Of the errors.

    Raises:
        InputError: The error is below 0, under 100 samples are asked for, or no sample reaches.
    """
    if not (math.isfinite(pivot_mm) and pivot_mm >= 0.0) or samples < 100:
        raise InputError(
            f"tolerance: pivot_mm {pivot_mm:g} and {samples} samples; 0 or more and at least 100 "
            "are needed"
        )
    angle = np.linspace(load.angle_deg[0], load.angle_deg[-1], POSES)
    need = np.interp(angle, load.angle_deg, greatest_n_mm(load))
    drawn = (*linkage.servo_mm, linkage.horn_mm, *linkage.lid_pin_mm)
    off = np.random.default_rng(seed).normal(0.0, pivot_mm / 2.0, (samples, 5))
    blocks = [
        _measured(linkage, np.array(drawn) + off[start : start + BLOCK], np.radians(angle), need)
        for start in range(0, samples, BLOCK)
    ]
    peaks, leasts, sweeps, oks = (np.concatenate(column) for column in zip(*blocks, strict=True))
    reaches = oks > 0.5
    if not reaches.any():
        raise InputError(
            f"tolerance: none of {samples} linkages with pins off by {pivot_mm:g} mm reaches "
            f"{angle[-1]:g} degrees; the linkage as drawn does not either, or the error is too big"
        )
    peak, least, sweep = peaks[reaches], leasts[reaches], sweeps[reaches]
    return RodTolerance(
        peak_n_mm=_spread(peak),
        rare_peak_n_mm=float(np.percentile(peak, 99.0)),
        transmission_deg=_spread(least),
        sweep_deg=_spread(sweep),
        fails_frac=float(1.0 - reaches.mean()),
        samples=samples,
    )


def _measured(
    linkage: RodLinkage, pins: Floats, angle_rad: Floats, need_n_mm: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Peak torque, least transmission, sweep, and 1 where it reaches, of (k, 5) pins."""
    sx, sy, horn, bx, by = (pins[:, column, None] for column in range(5))
    poses = solve_rod(
        angle_rad[None],
        servo_mm=(sx, sy),
        horn_mm=np.maximum(horn, 1e-3),
        horn_shut_rad=np.full_like(sx, math.radians(linkage.horn_shut_deg)),
        lid_pin_mm=(bx, by),
    )
    arm = poses.lid_arm_mm
    same_way = (arm.min(axis=1) > 0.0) | (arm.max(axis=1) < 0.0)
    reaches = (np.abs(poses.cos_horn) < 1.0).all(axis=1) & same_way
    lever = np.where(reaches[:, None], np.abs(arm), 1.0)
    peak = (need_n_mm * np.abs(poses.horn_arm_mm) / lever).max(axis=1)
    sine = np.abs(arm).min(axis=1) / np.hypot(bx, by)[:, 0]
    least = np.degrees(np.arcsin(np.clip(sine, 0.0, 1.0)))
    return peak, least, np.degrees(np.ptp(poses.horn_rad, axis=1)), reaches.astype(np.float64)


def _spread(values: Floats) -> Spread:
    low, likely, high = (float(x) for x in np.percentile(values, (10.0, 50.0, 90.0)))
    return Spread(low=low, likely=likely, high=high)
