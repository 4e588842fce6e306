"""Hours of prints that begin again after a failure, when neither hazard nor start is known."""

import math
from collections.abc import Sequence

import numpy as np

from buildplan.decide.card.model import Chances, TryHours
from buildplan.errors import InputError


def hours_of_tries(
    times_h: Sequence[float], chances: Chances, *, tries: int = 3, seed: int = 0
) -> TryHours:
    """Draw the days of several prints one after another, each given at most ``tries`` tries.

    A start fails with chance p and burns s hours; else a failure comes after an exponential time
    of hazard l, if that lies within the print. A failed try costs R hours more. One draw of p and
    l holds for all tries of that day, so a bad machine stays bad: the tail is longer than at the
    mean chances.

    Args:
        times_h: Hours of each print.
        chances: n draws of hazard and start.
        tries: After so many failures a print is given up.
        seed: The same seed gives the same days.

    Raises:
        InputError: No print, hours negative, tries below 1, or chances that are none.
    """
    _check(times_h, chances, tries)
    generator = np.random.default_rng([seed, 0x1F])
    count = len(chances.hazard_frac_h)
    shape = (count, len(times_h), tries)
    hours = np.asarray(times_h, dtype=np.float64)[None, :, None]
    with np.errstate(divide="ignore", over="ignore"):
        fails_at = generator.exponential(size=shape) / chances.hazard_frac_h[:, None, None]
    start = generator.random(shape) < chances.start_fail_frac[:, None, None]
    failed = start | (fails_at < hours)
    lost = np.where(start, np.minimum(chances.start_loss_h, hours), fails_at)
    before = np.cumprod(failed, axis=2).astype(np.bool_)
    # a try happens where all tries before it failed
    happens = np.concatenate([np.ones((*shape[:2], 1), np.bool_), before[:, :, :-1]], axis=2)
    lost = np.where(failed & happens, lost, np.nan)
    gave_up = before[:, :, -1]
    burnt = np.nansum(lost + chances.recovery_h, axis=2)
    total = burnt.sum(axis=1) + np.where(gave_up, 0.0, hours[:, :, 0]).sum(axis=1)
    return TryHours(total_h=total, lost_at_h=lost, gave_up=np.asarray(gave_up.any(axis=1)))


def _check(times_h: Sequence[float], chances: Chances, tries: int) -> None:
    if not times_h or not all(0.0 <= time < math.inf for time in times_h):
        raise InputError(
            f"hours of tries: prints of {list(times_h)} h found; at least one, each 0 or more"
        )
    if not 1 <= tries <= 100:
        raise InputError(f"hours of tries: {tries} tries found; 1 to 100 allowed")
    hazard, start = chances.hazard_frac_h, chances.start_fail_frac
    good = len(hazard) == len(start) > 0
    good = good and bool((hazard >= 0.0).all() and np.isfinite(hazard).all())
    good = good and bool((start >= 0.0).all() and (start <= 1.0).all())
    good = good and min(chances.start_loss_h, chances.recovery_h) >= 0.0
    if not good:
        raise InputError(
            f"hours of tries: {len(hazard)} hazards and {len(start)} starts found; as many of "
            "both, hazards 0 or more, starts from 0 to 1, hours lost 0 or more"
        )
