"""The least peak torque that any mechanism can reach, as a certificate for the one at hand."""

import math
from dataclasses import dataclass

import numpy as np

from buildplan.device.mechanism.load import HingeLoad, greatest_n_mm
from buildplan.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueBound:
    """No gear, cable, rod or cam within a servo's sweep needs less peak torque than this.

    Attributes:
        work_j: Of the greater of opening and closing torque over the travel.
        sweep_deg: Turn that the servo may make.
        least_n_mm: work / sweep.
    """

    work_j: float
    sweep_deg: float
    least_n_mm: float


def torque_bound(load: HingeLoad, sweep_deg: float) -> TorqueBound:
    """The virtual-work bound: peak servo torque >= work of the lid / sweep of the servo.

    For any mechanism |servo torque| |d servo| = |lid torque| |d lid|; summed over the travel, the
    left side is at most peak times sweep. Equality needs a constant servo torque.

    Args:
        load: Over the travel.
        sweep_deg: What the servo may turn.

    Raises:
        InputError: The sweep is not above 0, or the load has a single angle.

    Source: principle of virtual work (any text of mechanics).
    """
    if not (math.isfinite(sweep_deg) and sweep_deg > 0.0) or len(load.angle_deg) < 2:
        raise InputError(
            f"torque bound: sweep {sweep_deg:g} degrees and {len(load.angle_deg)} angles; more "
            "than 0 and at least 2 are needed"
        )
    work = float(np.trapezoid(greatest_n_mm(load), np.radians(load.angle_deg)))
    return TorqueBound(
        work_j=work * 1e-3, sweep_deg=sweep_deg, least_n_mm=work / math.radians(sweep_deg)
    )


def certificate(peak_n_mm: float, bound: TorqueBound) -> str:
    """One line that says how near a peak torque is to the best possible.

    >>> certificate(2.2, TorqueBound(work_j=0.004, sweep_deg=120.0, least_n_mm=2.0))
    'within 10 % of the best that any mechanism can do with 120 degrees of servo sweep'
    """
    excess = peak_n_mm / bound.least_n_mm - 1.0 if bound.least_n_mm > 0.0 else math.inf
    if not math.isfinite(excess):
        return "the lid asks for no work, so that any mechanism will do"
    if excess > 1.0:
        return (
            f"{1.0 + excess:.1f} times the least that any mechanism needs with "
            f"{bound.sweep_deg:g} degrees of servo sweep"
        )
    return (
        f"within {math.ceil(100.0 * excess - 1e-6):.0f} % of the best that any mechanism can do "
        f"with {bound.sweep_deg:g} degrees of servo sweep"
    )
