"""How prints fail on the user's own printers: failed starts, and a hazard for every hour after.

A try that fails within START_H hours is a failed start; every try that got further is a start that
held. After that, failures come at a constant hazard per hour; hours of prints that ended well, that
were stopped by choice or that still run count as hours without a failure (censored).

Start: chance of a printer ~ beta(m k, (1 - m) k). Hazard of a printer with a feedstock ~ gamma with
mean m and coefficient of variation v. m, k and v are shared and unknown: a fixed grid of them is
weighted by how well it explains the log, and every answer is the mixture over the grid. Because the
grid does not move with the data, hours without a failure can only lower a printer's own mean.

Sources: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., sections 2.6 and 5.3 (gamma-Poisson,
beta-binomial, hierarchical); NIST/SEMATECH e-Handbook 8.4.5.1 (censored exponential lives).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.findings import Spread
from buildplan.journal.learn import FEW_PRINTS
from buildplan.journal.model import LoggedPrint, PrintLog
from buildplan.segments.restart import FailureOdds

START_H = 0.5
"""A try that fails before is a failed start. Source: common practice, no source: first layers."""

HAZARD_PRIOR_H = 70.0
"""Prior mean hours between failures; the mean hazard is exponential about 1 / 70 per hour.

Source: ours; a print of 20 h then fails 1.5 to 57 times in 100 (5 and 95 %), for no public record
of hours to failure was found; operators claim 0.5 to 2 % an hour.
"""

START_PRIOR = (1.0, 14.0)
"""Beta of the mean share of failed starts: 0.4 to 19 in 100 (5 and 95 %). Source: ours, wide."""

CV_PRIOR = (0.7, 0.5)
"""Median of the hazards' coefficient of variation between printers, and its log deviation: ours."""

START_LOSS_PRIOR_H, START_LOSS_WEIGHT = 0.5, 2.0
"""Hours a failed start burns before any is logged, and the failed starts that is worth: ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """What a printer with a feedstock went through.

    Attributes:
        starts_held, starts_failed: Tries that got past START_H hours or to their end, and not.
        hours_h: Hours after START_H hours of all tries, however they ended.
        failures: Failures in them.
        start_hours_h: Hours that the failed starts took together.
        prints: Tries with an end.
    """

    printer: str
    feedstock: str
    starts_held: int
    starts_failed: int
    hours_h: float
    failures: int
    start_hours_h: float
    prints: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixture:
    """A weighted mixture of gammas (shape, rate) or betas (a, b), each array (cells,)."""

    weight: NDArray[np.float64]
    first: NDArray[np.float64]
    second: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FailureModel:
    """Posterior of the whole log; odds_for and the others ask it."""

    tallies: tuple[Tally, ...]
    hazard_weight: NDArray[np.float64]
    start_weight: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedOdds:
    """How the next print fails on a printer with a feedstock.

    Attributes:
        odds: Posterior means, as segments.restart takes them.
        hazard_spread_frac_h, start_spread_frac: 1 in 10 below and above; likely is the median.
        prints: Tries with an end in the whole log; own_prints: on this printer.
        own_hours_h, own_failures: After the start, on this printer with this feedstock.
        wide: Fewer than five tries on this printer: mostly assumption.
    """

    odds: FailureOdds
    hazard_spread_frac_h: Spread
    start_spread_frac: Spread
    prints: int
    own_prints: int
    own_hours_h: float
    own_failures: int
    wide: bool


def tally_log(log: PrintLog) -> tuple[Tally, ...]:
    """Tries and hours of every printer and feedstock, sorted by name; the order plays no part."""
    groups: dict[tuple[str, str], list[LoggedPrint]] = {}
    for item in log.prints:
        if item.outcome is not None and item.outcome.end != "void":
            groups.setdefault((item.attempt.printer, item.attempt.feedstock), []).append(item)
    return tuple(_tally(*pair, items) for pair, items in sorted(groups.items()))


def fit_failures(tallies: tuple[Tally, ...]) -> FailureModel:
    """Weight the grids of what printers share by the log.

    Raises:
        InputError: A count or hours are negative.
    """
    for item in tallies:
        counts = (item.starts_held, item.starts_failed, item.failures, item.hours_h)
        if min(counts) < 0 or not math.isfinite(item.hours_h):
            raise InputError(f"failures: {item} holds a number below 0; correct the log")
    return FailureModel(
        tallies=tallies,
        hazard_weight=_frozen(_hazard_weights(tallies)),
        start_weight=_frozen(_start_weights(_by_printer(tallies))),
    )


def hazard_mixture(model: FailureModel, printer: str, feedstock: str) -> Mixture:
    """Posterior of the hazard per hour: a mixture of gammas."""
    shape, rate, _ = _hazard_grid()
    mine = [t for t in model.tallies if (t.printer, t.feedstock) == (printer, feedstock)]
    failures = sum(t.failures for t in mine)
    hours = math.fsum(t.hours_h for t in mine)
    return Mixture(weight=model.hazard_weight, first=shape + failures, second=rate + hours)


def start_mixture(model: FailureModel, printer: str) -> Mixture:
    """Posterior of the chance that a start fails: a mixture of betas."""
    a, b, _ = _start_grid()
    failed, held = _by_printer(model.tallies).get(printer, (0, 0))
    return Mixture(weight=model.start_weight, first=a + failed, second=b + held)


def next_odds(
    model: FailureModel, printer: str, feedstock: str, *, recovery_h: float = 0.25
) -> FailureOdds:
    """The odds of odds_for alone: their spread takes a hundred times as long.

    Args:
        model: From fit_failures.
        printer: As the log names it.
        feedstock: Likewise.
        recovery_h: Hours until a failure is noticed and cleared; the log does not tell.
    """
    hazard, start = hazard_mixture(model, printer, feedstock), start_mixture(model, printer)
    own = [t for t in model.tallies if t.printer == printer]
    lost = math.fsum(t.start_hours_h for t in own) + START_LOSS_PRIOR_H * START_LOSS_WEIGHT
    return FailureOdds(
        hazard_frac_h=float(hazard.weight @ (hazard.first / hazard.second)),
        start_fail_frac=float(start.weight @ (start.first / (start.first + start.second))),
        start_loss_h=lost / (sum(t.starts_failed for t in own) + START_LOSS_WEIGHT),
        recovery_h=recovery_h,
    )


def odds_for(
    model: FailureModel, printer: str, feedstock: str, *, recovery_h: float = 0.25
) -> LearnedOdds:
    """How the next print fails on a printer with a feedstock, new ones included.

    Args:
        model: From fit_failures.
        printer: As the log names it.
        feedstock: Likewise.
        recovery_h: Hours until a failure is noticed and cleared; the log does not tell.
    """
    hazard, start = hazard_mixture(model, printer, feedstock), start_mixture(model, printer)
    own = [t for t in model.tallies if t.printer == printer]
    pair = [t for t in own if t.feedstock == feedstock]
    tries = sum(t.prints for t in own)
    return LearnedOdds(
        odds=next_odds(model, printer, feedstock, recovery_h=recovery_h),
        hazard_spread_frac_h=Spread(
            low=hazard_quantile(hazard, 0.1),
            likely=hazard_quantile(hazard, 0.5),
            high=hazard_quantile(hazard, 0.9),
        ),
        start_spread_frac=Spread(
            low=start_quantile(start, 0.1),
            likely=start_quantile(start, 0.5),
            high=start_quantile(start, 0.9),
        ),
        prints=sum(t.prints for t in model.tallies),
        own_prints=tries,
        own_hours_h=math.fsum(t.hours_h for t in pair),
        own_failures=sum(t.failures for t in pair),
        wide=tries < FEW_PRINTS,
    )


def fail_frac(model: FailureModel, printer: str, feedstock: str, time_h: float) -> float:
    """Chance that the next try of a print of time_h fails, not knowing hazard and start for sure.

    1 - E[1 - p] E[e^(-l t)], E[e^(-l t)] = sum w (b / (b + t))^a: below the chance at the mean.

    Raises:
        InputError: Hours negative or not finite.
    """
    if not 0.0 <= time_h < math.inf:
        raise InputError(f"chance of failing: {time_h} h found; 0 or more needed")
    hazard, start = hazard_mixture(model, printer, feedstock), start_mixture(model, printer)
    held = float(start.weight @ (start.second / (start.first + start.second)))
    lasts = float(hazard.weight @ np.exp(-hazard.first * np.log1p(time_h / hazard.second)))
    return 1.0 - held * lasts


def draw_odds(
    model: FailureModel, printer: str, feedstock: str, draws: int, seed: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Hazards per hour and shares of failed starts drawn from the posterior: (draws,) each."""
    generator = np.random.default_rng([seed, 0x72])
    hazard, start = hazard_mixture(model, printer, feedstock), start_mixture(model, printer)
    cell = generator.choice(len(hazard.weight), draws, p=hazard.weight)
    hazards = generator.gamma(hazard.first[cell], 1.0 / hazard.second[cell])
    cell = generator.choice(len(start.weight), draws, p=start.weight)
    return hazards, generator.beta(start.first[cell], start.second[cell])


def hazard_quantile(mixture: Mixture, share_frac: float) -> float:
    """Hazard below which a share of the mixture of gammas lies."""
    from scipy.special import gammainc

    def below(value: float) -> float:
        return float(mixture.weight @ gammainc(mixture.first, mixture.second * value))

    return _root(below, share_frac, 1e-12, 1e3)


def start_quantile(mixture: Mixture, share_frac: float) -> float:
    """Chance below which a share of the mixture of betas lies."""
    from scipy.special import betainc

    def below(value: float) -> float:
        return float(mixture.weight @ betainc(mixture.first, mixture.second, value))

    return _root(below, share_frac, 1e-12, 1.0)


def mean_life_interval_h(hours_h: float, failures: int, share_frac: float) -> tuple[float, float]:
    """Limits of the mean hours between failures when watching ended after given hours.

    2 T / chi2(1 - a/2; 2 r + 2) and 2 T / chi2(a/2; 2 r), a = 1 - share; without a failure the
    upper one is infinite. It needs no prior: the check beside the learned hazard.

    Raises:
        InputError: Hours not above 0, failures negative, share not between 0 and 1.

    Source: NIST/SEMATECH e-Handbook 8.4.5.1.
    """
    from scipy.stats import chi2

    if not (0.0 < hours_h < math.inf and failures >= 0 and 0.0 < share_frac < 1.0):
        raise InputError(
            f"hours between failures: {hours_h} h, {failures} failures, share {share_frac} found; "
            "hours above 0, failures 0 or more and a share between 0 and 1 are needed"
        )
    outside = 1.0 - share_frac
    low = 2.0 * hours_h / float(chi2.ppf(1.0 - outside / 2.0, 2 * failures + 2))
    if failures == 0:
        return low, math.inf
    return low, 2.0 * hours_h / float(chi2.ppf(outside / 2.0, 2 * failures))


def _tally(printer: str, feedstock: str, items: list[LoggedPrint]) -> Tally:
    held = failed = failures = ended = 0
    hours, lost = [], []
    for item in items:
        outcome = item.outcome
        if outcome is None or outcome.ran_h is None:
            continue
        ended += outcome.end != "running"
        if outcome.end == "failed" and outcome.ran_h < START_H:
            failed += 1
            lost.append(outcome.ran_h)
            continue
        # stopped by choice or still running within the first layers tells nothing of the start
        held += outcome.ran_h >= START_H or outcome.end == "done"
        failures += outcome.end == "failed"
        hours.append(max(outcome.ran_h - START_H, 0.0))
    return Tally(
        printer=printer,
        feedstock=feedstock,
        starts_held=held,
        starts_failed=failed,
        hours_h=math.fsum(hours),
        failures=failures,
        start_hours_h=math.fsum(lost),
        prints=ended,
    )


def _by_printer(tallies: tuple[Tally, ...]) -> dict[str, tuple[int, int]]:
    """Failed and held starts of every printer."""
    found: dict[str, tuple[int, int]] = {}
    for item in tallies:
        failed, held = found.get(item.printer, (0, 0))
        found[item.printer] = (failed + item.starts_failed, held + item.starts_held)
    return found


Grid = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]


def _hazard_grid() -> Grid:
    """Shape, rate and log prior of every cell: 49 means from 3e-5 to 0.5 per hour by 11 spreads."""
    means = np.exp(np.linspace(math.log(3e-5), math.log(0.5), 49))
    z = np.linspace(-2.5, 2.5, 11)
    mean, deviate = (array.ravel() for array in np.meshgrid(means, z, indexing="ij"))
    spread = CV_PRIOR[0] * np.exp(CV_PRIOR[1] * deviate)
    shape = 1.0 / spread**2
    prior = np.log(mean) - HAZARD_PRIOR_H * mean - deviate**2 / 2.0
    return shape, shape / mean, prior


def _start_grid() -> Grid:
    """a, b and log prior of every cell: 49 means from 0.001 to 0.9 by 11 concentrations."""
    logits = np.linspace(math.log(0.001 / 0.999), math.log(9.0), 49)
    z = np.linspace(-2.5, 2.5, 11)
    logit, deviate = (array.ravel() for array in np.meshgrid(logits, z, indexing="ij"))
    mean = 1.0 / (1.0 + np.exp(-logit))
    weight = 20.0 * np.exp(0.8 * deviate)
    prior = START_PRIOR[0] * np.log(mean) + START_PRIOR[1] * np.log1p(-mean) - deviate**2 / 2.0
    return mean * weight, (1.0 - mean) * weight, prior


def _hazard_weights(tallies: tuple[Tally, ...]) -> NDArray[np.float64]:
    """Weights by the gamma-Poisson likelihood of all groups."""
    from scipy.special import gammaln

    shape, rate, logs = _hazard_grid()
    for item in tallies:
        count = item.failures
        logs = logs + gammaln(shape + count) - gammaln(shape)
        logs = logs - shape * np.log1p(item.hours_h / rate) - count * np.log(rate + item.hours_h)
    return _normal(logs)


def _start_weights(printers: dict[str, tuple[int, int]]) -> NDArray[np.float64]:
    """Weights by the beta-binomial likelihood of all printers."""
    from scipy.special import betaln

    a, b, logs = _start_grid()
    for _, (failed, held) in sorted(printers.items()):
        logs = logs + betaln(a + failed, b + held) - betaln(a, b)
    return _normal(logs)


def _normal(logs: NDArray[np.float64]) -> NDArray[np.float64]:
    weight = np.exp(logs - logs.max())
    return np.asarray(weight / weight.sum())


def _frozen(array: NDArray[np.float64]) -> NDArray[np.float64]:
    array.flags.writeable = False
    return array


def _root(below: Callable[[float], float], share: float, low: float, high: float) -> float:
    """Where an increasing function reaches a share, sought in the logarithm."""
    from scipy.optimize import brentq

    if not 0.0 < share < 1.0:
        raise InputError(f"quantile: share {share} found; above 0 and below 1 allowed")
    if below(low) >= share:
        return low
    at = brentq(lambda u: below(math.exp(u)) - share, math.log(low), math.log(high), xtol=1e-10)
    return math.exp(at)
