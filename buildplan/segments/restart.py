"""What failures cost a print that must begin again: expected hours, spread, best number of pieces.

One try of a print of t hours: with chance p the start fails and burns s hours; else failures come
at a constant hazard l per hour. A failed try costs R hours more of noticing and clearing, and the
print begins anew, until one try succeeds. Pieces fail independently of each other.

Sources: Asmussen, Fiorini, Lipsky, Rolski, Sheahan (2008), Asymptotic behavior of total times for
jobs that must start over if a failure occurs, Mathematics of Operations Research 33, 932-944 (the
model); Young (1974), A first order approximation to the optimum checkpoint interval,
Communications of the ACM 17, 530-531; Daly (2006), A higher order estimate of the optimum
checkpoint interval for restart dumps, Future Generation Computer Systems 22, 303-312.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError

SMALL = 1e-4
"""Below this product of hazard and hours, series replace differences that would lose digits."""

GRID_CELLS = 4096
"""Cells of the lattice on which the total of all pieces is spread out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FailureOdds:
    """How prints fail.

    Attributes:
        hazard_frac_h: Chance of a failure per hour of printing (constant hazard).
        start_fail_frac: Chance that a start fails (first layer, adhesion).
        start_loss_h: Hours that a failed start burns.
        recovery_h: Hours until a failure is noticed and the platform cleared.
    """

    hazard_frac_h: float = 0.01
    start_fail_frac: float = 0.05
    start_loss_h: float = 0.5
    recovery_h: float = 0.25


ODDS_SOURCES = {
    "hazard_frac_h": "ours until a print log says otherwise: operators claim 0.5 to 2 % an hour",
    "start_fail_frac": "ours until a print log says otherwise: common practice, no source",
    "start_loss_h": "common practice, no source: the first layers of a large part",
    "recovery_h": "common practice, no source",
}
"""Source of every default of FailureOdds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSpread:
    """Hours from the first start until every piece has succeeded.

    Attributes:
        median_h: Likewise high_h is exceeded 1 time in 20.
        lost_h: Expected hours of failed tries and of clearing after them.
        any_failure_frac: Chance of at least one failed try.
    """

    expected_h: float
    sd_h: float
    median_h: float
    high_h: float
    lost_h: float
    any_failure_frac: float


def success_frac(time_h: float, odds: FailureOdds) -> float:
    """Chance that one try succeeds: (1 - p) e^(-l t)."""
    _check(time_h, odds)
    return (1.0 - odds.start_fail_frac) * math.exp(-odds.hazard_frac_h * time_h)


def expected_time_h(time_h: float, odds: FailureOdds) -> float:
    """Expected hours until a print of time_h has succeeded, failed tries included.

    E = t + (1 - P) / P E[F], with P the chance of success and F the time of a failed try. With
    p = 0 that is (e^(l t) - 1)(1 / l + R).

    Raises:
        InputError: A number is negative, not finite, or no start can succeed.
    """
    success, mean, _ = _failed_try(time_h, odds)
    return time_h + (1.0 - success) / success * mean


def expected_times_h(times_h: NDArray[np.float64], odds: FailureOdds) -> NDArray[np.float64]:
    """expected_time_h of many prints at once: (k,).

    Raises:
        InputError: As expected_time_h.
    """
    _check(float(times_h.min(initial=0.0)), odds)
    hazard, started = odds.hazard_frac_h, 1.0 - odds.start_fail_frac
    x = np.minimum(hazard * times_h, 700.0)
    small = x < SMALL
    safe = hazard if hazard > 0.0 else 1.0
    zeroth = np.where(small, x - x**2 / 2 + x**3 / 6, -np.expm1(-x))
    first = np.where(
        small,
        times_h * (x / 2 - x**2 / 3 + x**3 / 8),
        zeroth / safe - times_h * np.exp(-x),
    )
    lost = odds.start_fail_frac * (odds.start_loss_h + odds.recovery_h)
    failed = lost + started * (first + odds.recovery_h * zeroth)
    return np.asarray(times_h + failed / (started * np.exp(-x)))


def time_variance_h2(time_h: float, odds: FailureOdds) -> float:
    """Variance of the hours until a print of time_h has succeeded.

    The number of failed tries N is geometric: Var = E[N] Var(F) + Var(N) E[F]^2. With p = R = 0
    that is (e^(2 l t) - 2 l t e^(l t) - 1) / l^2.

    Raises:
        InputError: As expected_time_h.
    """
    success, mean, square = _failed_try(time_h, odds)
    tries = (1.0 - success) / success
    return tries * (square - mean * mean) + tries / success * mean * mean


def spread_of_run(times_h: Sequence[float], odds: FailureOdds) -> RunSpread:
    """The hours of several prints one after another, until all have succeeded.

    Mean and deviation are exact; the two quantiles are read off a lattice of 4096 cells that
    covers eight deviations, so they are good to a thousandth of that range.

    Args:
        times_h: Hours of every print, at least one.
        odds: How prints fail.

    Raises:
        InputError: As expected_time_h, or there is no print.
    """
    if not times_h:
        raise InputError("hours of prints: none given; give the hours of at least one print")
    expected = sum(expected_time_h(t, odds) for t in times_h)
    deviation = math.sqrt(sum(time_variance_h2(t, odds) for t in times_h))
    alone = sum(times_h)
    none_fails = math.prod(success_frac(t, odds) for t in times_h)
    median, high = _quantiles(times_h, odds, expected - alone + 8.0 * deviation, (0.5, 0.95))
    return RunSpread(
        expected_h=expected,
        sd_h=deviation,
        median_h=alone + median,
        high_h=alone + high,
        lost_h=expected - alone,
        any_failure_frac=1.0 - none_fails,
    )


def best_piece_h(hazard_frac_h: float, joint_h: float) -> float:
    """Hours of a piece that make the whole quickest, each piece costing joint_h more.

    The least of (c + (e^(l t) - 1) / l) / t lies at l t = 1 + W((l c - 1) / e), W the principal
    branch of Lambert's function.

    Raises:
        InputError: The hazard is not above 0 or the joint costs less than nothing.
    """
    from scipy.special import lambertw

    if not (0.0 < hazard_frac_h < math.inf and 0.0 < joint_h < math.inf):
        raise InputError(
            f"best piece: hazard {hazard_frac_h} and joint {joint_h} h found; both must be above "
            "0: without failures one piece is best, without joints ever smaller ones"
        )
    root = lambertw((hazard_frac_h * joint_h - 1.0) / math.e).real
    return float((1.0 + root) / hazard_frac_h)


def young_piece_h(hazard_frac_h: float, joint_h: float) -> float:
    """Young's first-order piece, sqrt(2 c / l): near best_piece_h where l c is small."""
    return math.sqrt(2.0 * joint_h / hazard_frac_h)


def daly_piece_h(hazard_frac_h: float, joint_h: float) -> float:
    """Daly's higher-order piece: sqrt(2 c M) (1 + sqrt(c / 2M) / 3 + (c / 2M) / 9) - c, M = 1 / l.

    Where c >= 2 M it is M.
    """
    between_h = 1.0 / hazard_frac_h
    if joint_h >= 2.0 * between_h:
        return between_h
    share = joint_h / (2.0 * between_h)
    first = math.sqrt(2.0 * joint_h * between_h)
    return first * (1.0 + math.sqrt(share) / 3.0 + share / 9.0) - joint_h


def hazard_of(fail_frac: float, time_h: float) -> float:
    """Hazard per hour at which a print of time_h fails with a chance: -ln(1 - F) / t."""
    if not (0.0 <= fail_frac < 1.0 and time_h > 0.0):
        raise InputError(
            f"chance {fail_frac} of failing within {time_h} h found; a chance from 0 to below 1 "
            "and hours above 0 are needed"
        )
    return -math.log1p(-fail_frac) / time_h


def _check(time_h: float, odds: FailureOdds) -> None:
    values = (time_h, odds.hazard_frac_h, odds.start_loss_h, odds.recovery_h)
    if not all(0.0 <= value < math.inf for value in values):
        raise InputError(
            f"hours until success: print {time_h} h, hazard {odds.hazard_frac_h} per h, start "
            f"loss {odds.start_loss_h} h, recovery {odds.recovery_h} h found; none may be negative"
        )
    if not 0.0 <= odds.start_fail_frac < 1.0:
        raise InputError(
            f"hours until success: {odds.start_fail_frac} of all starts fail; 0 to below 1 allowed"
        )


def _failed_try(time_h: float, odds: FailureOdds) -> tuple[float, float, float]:
    """Chance of success, and mean and mean square of the hours of a failed try."""
    success = success_frac(time_h, odds)
    started, lost = 1.0 - odds.start_fail_frac, odds.start_loss_h + odds.recovery_h
    zeroth, first, second = _exponential_moments(odds.hazard_frac_h, time_h)
    recovery = odds.recovery_h
    failing = odds.start_fail_frac + started * zeroth
    if failing <= 0.0:
        return success, 0.0, 0.0
    mean = odds.start_fail_frac * lost + started * (first + recovery * zeroth)
    square = odds.start_fail_frac * lost * lost + started * (
        second + 2.0 * recovery * first + recovery * recovery * zeroth
    )
    return success, mean / failing, square / failing


def _exponential_moments(hazard: float, time_h: float) -> tuple[float, float, float]:
    """Integrals of l e^(-l u), u l e^(-l u) and u^2 l e^(-l u) from 0 to t."""
    x = hazard * time_h
    if x < SMALL:
        return (
            x - x**2 / 2 + x**3 / 6,
            time_h * (x / 2 - x**2 / 3 + x**3 / 8),
            time_h**2 * (x / 3 - x**2 / 4 + x**3 / 10),
        )
    stays = math.exp(-x)
    zeroth = -math.expm1(-x)
    first = zeroth / hazard - time_h * stays
    return zeroth, first, 2.0 * first / hazard - time_h * time_h * stays


def _quantiles(
    times_h: Sequence[float], odds: FailureOdds, reach_h: float, shares: tuple[float, ...]
) -> tuple[float, ...]:
    """Quantiles of the hours lost by all prints together.

    On a lattice the time lost by one print has the transform P / (1 - (1 - P) f), f that of one
    failed try; the transforms of all prints multiply.
    """
    if reach_h <= 0.0:
        return tuple(0.0 for _ in shares)
    longest = max(times_h) + odds.start_loss_h + odds.recovery_h
    cells = GRID_CELLS
    # room for the longest single try past the eight deviations, so that little wraps around
    step = (reach_h + longest) / cells
    transform = np.ones(cells // 2 + 1, dtype=np.complex128)
    for time_h in times_h:
        success, _, _ = _failed_try(time_h, odds)
        tried = np.fft.rfft(_failed_try_on_lattice(time_h, odds, step, cells))
        transform = transform * (success / (1.0 - tried))
    chances = np.cumsum(np.fft.irfft(transform, cells))
    places = [int(np.searchsorted(chances, share - 1e-12)) for share in shares]
    return tuple(min(place, cells - 1) * step for place in places)


def _failed_try_on_lattice(
    time_h: float, odds: FailureOdds, step: float, cells: int
) -> NDArray[np.float64]:
    """Chance of every length of a failed try, rounded to the lattice; they sum up to 1 - P."""
    chance = np.zeros(cells)
    started = 1.0 - odds.start_fail_frac
    lost = (odds.start_loss_h + odds.recovery_h) / step
    chance[min(round(lost), cells - 1)] += odds.start_fail_frac
    edges = (np.arange(cells + 1) - 0.5) * step - odds.recovery_h
    below = -np.expm1(-odds.hazard_frac_h * np.clip(edges, 0.0, time_h))
    chance += started * np.diff(below)
    return chance
