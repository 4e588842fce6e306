"""What the log leaves open of hazard and start, averaged without drawing: chances and means.

One try of a print of t hours: with chance p the start fails and burns s hours, else failures come
at a hazard l per hour; a failed try costs R hours more. It is tried m times. With P = (1 - p)
e^(-l t), Q = 1 - P and X = p (s + R) + (1 - p) (f + R (1 - e^(-l t))), where f = (1 - e^(-l t)) / l
- t e^(-l t), the hours until it has succeeded or is given up have the mean

    t (1 - E[Q^m]) + sum over k < m of E[Q^k X].

p and l are independent in the posterior. Every power of Q is a sum of terms (1 - p)^j e^(-j l t),
so that only E[(1 - p)^j] of betas and E[e^(-l s)], E[(e^(-l s) - e^(-l u)) / l] of gammas are
needed. Source: derived here; Asmussen and others (2008), as in segments.restart, for the model.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from buildplan.errors import InputError
from buildplan.journal.failures import (
    FailureModel,
    Mixture,
    hazard_mixture,
    odds_for,
    start_mixture,
)

MOST_TRIES = 10
"""Powers of Q are sums of changing sign, which lose digits beyond; nobody tries more often."""

LEAST_WEIGHT = 1e-300
"""A cell of the posterior with less plays no part."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Doubt:
    """How the next print on a printer with a feedstock may fail, as far as the log tells.

    Attributes:
        hazard: Gammas of the chance per hour; start: betas of the chance that a start fails.
        start_loss_h: Hours that a failed start burns.
        recovery_h: Hours until a failure is noticed and the platform cleared.
        logged_h: Hours in the log on this printer with this feedstock.
        prints: Tries in the log on this printer.
    """

    hazard: Mixture
    start: Mixture
    start_loss_h: float
    recovery_h: float
    logged_h: float
    prints: int


def doubt_of(model: FailureModel, printer: str, feedstock: str) -> Doubt:
    """What a log leaves open of one printer with one feedstock."""
    learned = odds_for(model, printer, feedstock)
    return Doubt(
        hazard=hazard_mixture(model, printer, feedstock),
        start=start_mixture(model, printer),
        start_loss_h=learned.odds.start_loss_h,
        recovery_h=learned.odds.recovery_h,
        logged_h=learned.own_hours_h,
        prints=learned.own_prints,
    )


def any_failure_frac(doubt: Doubt, times_h: Sequence[float]) -> float:
    """Chance of at least one failed try among prints, each tried: 1 - E[(1 - p)^n] E[e^(-l T)]."""
    _check(times_h)
    return 1.0 - _held(doubt.start, len(times_h)) * _lasts(doubt.hazard, math.fsum(times_h))


def gives_up_frac(doubt: Doubt, time_h: float, tries: int) -> float:
    """Chance that a print fails in every one of its tries: E[Q^m]."""
    _check([time_h], tries)
    total = math.fsum(
        (-1) ** j * math.comb(tries, j) * _held(doubt.start, j) * _lasts(doubt.hazard, j * time_h)
        for j in range(tries + 1)
    )
    return min(max(total, 0.0), 1.0)


def mean_h(doubt: Doubt, times_h: Sequence[float], tries: int) -> float:
    """Mean hours until prints, one after another, have each succeeded or been given up."""
    _check(times_h, tries)
    return math.fsum(_mean_of_one(doubt, time_h, tries) for time_h in times_h)


def endless_mean_h(doubt: Doubt, time_h: float) -> float:
    """Mean hours until a print has succeeded, tried for ever; infinite where there is none.

    E[e^(l t)] of a gamma of rate b is (b / (b - t))^a, and does not exist from t = b on: with fewer
    logged hours than the print takes, a hazard so high that the print never ends stays too likely.
    """
    _check([time_h])
    kept, sure = doubt.hazard.weight > LEAST_WEIGHT, doubt.start.weight > LEAST_WEIGHT
    weight, a, b = (x[kept] for x in (doubt.hazard.weight, doubt.hazard.first, doubt.hazard.second))
    odds, p, q = (x[sure] for x in (doubt.start.weight, doubt.start.first, doubt.start.second))
    if time_h >= float(b.min()) or float(q.min()) <= 1.0:
        return math.inf
    # (1 - p)^-1 and p / (1 - p) of a beta of a and b: (a + b - 1) / (b - 1) and a / (b - 1)
    again = float(odds @ (p / (q - 1.0)))
    grows = float(weight @ np.exp(-a * np.log1p(-time_h / b)))
    lost = _integral(doubt.hazard, -time_h, 0.0)
    return (
        lost
        + again * (min(doubt.start_loss_h, time_h) + doubt.recovery_h) * grows
        + doubt.recovery_h * (grows - 1.0)
    )


def shown_h(doubt: Doubt, time_h: float, share_frac: float) -> float:
    """Hour by which a share of the failures of one try has come.

    Raises:
        InputError: The hours are negative, or the share is not from 0 to 1.
    """
    _check([time_h])
    if not 0.0 <= share_frac <= 1.0:
        raise InputError(f"hours of failures: share {share_frac} found; 0 to 1 allowed")
    started = _held(doubt.start, 1)
    first_h = min(doubt.start_loss_h, time_h)

    def by(hours: float) -> float:
        gone = started * (1.0 - _lasts(doubt.hazard, hours))
        return gone + (1.0 - started if hours >= first_h else 0.0)

    wanted = share_frac * any_failure_frac(doubt, [time_h])
    low, high = 0.0, time_h
    while high - low > 1e-6 * max(time_h, 1e-6):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if by(middle) >= wanted else (middle, high)
    return high


def _mean_of_one(doubt: Doubt, time_h: float, tries: int) -> float:
    burns, recovery = min(doubt.start_loss_h, time_h) + doubt.recovery_h, doubt.recovery_h
    lost = []
    for j in range(tries):
        now, later = (_lasts(doubt.hazard, k * time_h) for k in (j, j + 1))
        held, held_more = (_held(doubt.start, k) for k in (j, j + 1))
        ran = _integral(doubt.hazard, j * time_h, (j + 1) * time_h) - time_h * later
        one = (held - held_more) * burns * now + held_more * (ran + recovery * (now - later))
        # the sum over k below m of comb(k, j) is comb(m, j + 1)
        lost.append((-1) ** j * math.comb(tries, j + 1) * one)
    return time_h * (1.0 - gives_up_frac(doubt, time_h, tries)) + math.fsum(lost)


def _held(start: Mixture, times: int) -> float:
    """E[(1 - p)^n]: the product over i < n of (b + i) / (a + b + i)."""
    held = np.ones_like(start.weight)
    for i in range(times):
        held = held * (start.second + i) / (start.first + start.second + i)
    return float(start.weight @ held)


def _lasts(hazard: Mixture, time_h: float) -> float:
    """E[e^(-l s)] = (b / (b + s))^a."""
    return float(hazard.weight @ np.exp(-hazard.first * np.log1p(time_h / hazard.second)))


def _integral(hazard: Mixture, from_h: float, to_h: float) -> float:
    """E[(e^(-l s) - e^(-l u)) / l], the integral of E[e^(-l x)] from s to u.

    b / (a - 1) ((b / (b + s))^(a - 1) - (b / (b + u))^(a - 1)); b ln((b + u) / (b + s)) at a = 1.
    """
    less = hazard.first - 1.0
    low, high = np.log1p(from_h / hazard.second), np.log1p(to_h / hazard.second)
    near = np.abs(less) < 1e-9
    safe = np.where(near, 1.0, less)
    ratio = np.where(near, high - low, np.expm1(less * (high - low)) / safe)
    return float(hazard.weight @ (hazard.second * np.exp(-less * high) * ratio))


def _check(times_h: Sequence[float], tries: int = 1) -> None:
    if not times_h or not all(0.0 <= time_h < math.inf for time_h in times_h):
        raise InputError(
            f"hours of tries: prints of {list(times_h)} h found; at least one, each 0 or more"
        )
    if not 1 <= tries <= MOST_TRIES:
        raise InputError(f"hours of tries: {tries} tries found; 1 to {MOST_TRIES} allowed")
