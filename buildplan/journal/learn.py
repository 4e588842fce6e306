"""How much longer and heavier prints turn out than predicted, with how sure that is.

log(actual / predicted) = all + printer + printer since its last new nozzle + feedstock + pair
(since its last new batch) + slope of the printer times (walls - usual walls) + noise. Walls are the
share of the predicted hours in beads along walls: corners are there, and machines differ in how
they take them. All terms are normal with known prior deviations in units of the noise's; the
noise's variance has an inverse-gamma prior. The posterior is then closed form and the next print
follows a Student t. A print counts decay_frac less for every later one of its printer, so that the
log follows a machine that changes.

Only finished prints say something about hours and grams; failed ones feed the failure model.

Source: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., ch. 14 (normal linear model,
conjugate prior); West and Harrison (1997), Bayesian Forecasting and Dynamic Models, 2nd ed.,
section 6.3 (discounting old data).
"""

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.findings import Spread
from buildplan.journal.model import LoggedPrint, Outcome, PrintLog

FEW_PRINTS = 5
"""Up to here every answer says that it rests on a wide assumption."""

DECAY_FRAC = 0.07
"""Weight a print loses with every later one of its printer: a memory of about 14 prints.

Source: ours, by simulation: coverage after a step of 20 % and when nothing changes (tests).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorPrior:
    """What is assumed of log(actual / predicted) before anything is logged.

    Attributes:
        all_sd: Standard deviation of what all printers share; the others of what is their own.
        nozzle_sd: Of what changes with a new nozzle or a new batch of feedstock.
        noise_sd: Of one print about its own mean.
        noise_df: How sure noise_sd is, as a number of earlier prints.
        walls_sd: Of a printer's slope over the share of walls; 0 leaves the slope out.
    """

    all_sd: float
    printer_sd: float
    nozzle_sd: float
    feedstock_sd: float
    pair_sd: float
    noise_sd: float
    noise_df: float = 6.0
    walls_sd: float = 0.0


WALLS_USUAL_FRAC = 0.35
"""Share of the hours along walls of a usual part: ours; a print without the share counts as one."""

TIME_PRIOR = FactorPrior(
    all_sd=0.25,
    printer_sd=0.15,
    nozzle_sd=0.06,
    feedstock_sd=0.06,
    pair_sd=0.04,
    noise_sd=0.08,
    walls_sd=0.30,
)
"""Ours: machines of the same table row differ by 30 %, prints on one machine by 8 %."""

MASS_PRIOR = FactorPrior(
    all_sd=0.08, printer_sd=0.05, nozzle_sd=0.04, feedstock_sd=0.04, pair_sd=0.02, noise_sd=0.05
)
"""Ours: common practice, no source: grams are met within 10 to 15 % before anything is weighed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """One finished print: what it took over what was predicted.

    Attributes:
        weight_frac: 1 for the newest print of its printer, less for older ones.
        nozzle: The printer's nozzle, counted from 0 by its changes.
        batch: The feedstock's batch on that printer, likewise.
    """

    printer: str
    feedstock: str
    nozzle: int
    batch: int
    ratio_frac: float
    weight_frac: float
    walls_frac: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Factors:
    """The posterior of one kind of factor (hours or grams).

    Attributes:
        names: Of the terms, ("all",), ("printer", p), ...
        mean: (k,) posterior mean of the terms.
        precision: (k, k) posterior precision in units of the noise's variance.
        shape, rate: Of the noise variance's inverse gamma.
        prints: Finished prints that were used, by (printer, feedstock).
        newest: Nozzle of every printer and batch of every (printer, feedstock) that had a change.
    """

    prior: FactorPrior
    names: tuple[tuple[str, ...], ...]
    mean: NDArray[np.float64]
    precision: NDArray[np.float64]
    shape: float
    rate: float
    prints: tuple[tuple[str, str, int], ...]
    newest: tuple[tuple[str, str, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedFactor:
    """What to multiply a prediction by, for one printer and feedstock.

    Attributes:
        likely_frac: Half of all prints come out below.
        log_mean, log_scale, degrees: The Student t of log(actual / predicted) of the next print.
        prints: Finished prints in the whole log that were used.
        own_prints: Those on this printer; pair_prints: with this feedstock too.
        wide: Fewer than five prints on this printer: mostly assumption.
    """

    likely_frac: float
    spread_frac: Spread
    log_mean: float
    log_scale: float
    degrees: float
    prints: int
    own_prints: int
    pair_prints: int
    wide: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """Time and mass factors of a whole log."""

    time: Factors
    mass: Factors


def learn(
    log: PrintLog,
    *,
    time_prior: FactorPrior = TIME_PRIOR,
    mass_prior: FactorPrior = MASS_PRIOR,
    decay_frac: float = DECAY_FRAC,
) -> Learned:
    """Time and mass factors from a log; the order of its rows plays no part, their dates do.

    Raises:
        InputError: decay_frac is not from 0 to below 1, or a deviation is not above 0.
    """
    nozzles = _newest(log)
    time = _observations(log, lambda p: _ratio(p.outcome, p.attempt.predicted_h, "h"), decay_frac)
    mass = _observations(log, lambda p: _ratio(p.outcome, p.attempt.predicted_g, "g"), decay_frac)
    return Learned(
        time=fit_factors(time, time_prior, nozzles), mass=fit_factors(mass, mass_prior, nozzles)
    )


def fit_factors(
    seen: tuple[Observation, ...],
    prior: FactorPrior,
    newest: tuple[tuple[str, str, int], ...] = (),
) -> Factors:
    """Posterior of the factors: weighted conjugate normal linear model.

    Raises:
        InputError: A prior deviation is not above 0 or a ratio not above 0.
    """
    if min(prior.all_sd, prior.printer_sd, prior.noise_sd, prior.noise_df) <= 0.0:
        raise InputError(f"learning: deviations above 0 are needed, found {prior}")
    if any(item.ratio_frac <= 0.0 for item in seen):
        raise InputError("learning: actual over predicted must be above 0")
    terms = [_terms(item, prior) for item in seen]
    names = tuple(sorted({name for row in terms for name in row} | {("all",)}))
    place = {name: k for k, name in enumerate(names)}
    rows = np.zeros((len(seen), len(names)))
    for k, row in enumerate(terms):
        rows[k, [place[name] for name in row]] = list(row.values())
    weight = np.array([item.weight_frac for item in seen])
    logs = np.log([item.ratio_frac for item in seen]) if seen else np.zeros(0)
    precision = np.diag([(prior.noise_sd / _sd(prior, name)) ** 2 for name in names])
    precision = precision + rows.T @ (weight[:, None] * rows)
    moment = rows.T @ (weight * logs)
    mean = np.linalg.solve(precision, moment)
    half = prior.noise_df / 2.0
    left = max(float(weight @ (logs * logs) - moment @ mean), 0.0)
    for array in (mean, precision):
        array.flags.writeable = False
    counts = Counter((item.printer, item.feedstock) for item in seen)
    return Factors(
        prior=prior,
        names=names,
        mean=mean,
        precision=precision,
        shape=half + float(weight.sum()) / 2.0,
        rate=half * prior.noise_sd**2 + left / 2.0,
        prints=tuple((*pair, count) for pair, count in sorted(counts.items())),
        newest=newest,
    )


def factor_for(
    factors: Factors, printer: str, feedstock: str, walls_frac: float | None = None
) -> LearnedFactor:
    """The factor of the next print on a printer with a feedstock.

    Terms that were never seen enter with their prior, so a new printer gets what all share, wider.
    walls_frac is the print's share of predicted hours along walls; None: a usual part.
    """
    from scipy.stats import t as student

    newest = {pair[:2]: pair[2] for pair in factors.newest}
    ahead = Observation(
        printer=printer,
        feedstock=feedstock,
        nozzle=newest.get((printer, ""), 0),
        batch=newest.get((printer, feedstock), 0),
        ratio_frac=1.0,
        weight_frac=1.0,
        walls_frac=walls_frac,
    )
    row = np.zeros(len(factors.names))
    unseen = 0.0
    for name, value in _terms(ahead, factors.prior).items():
        if name in factors.names:
            row[factors.names.index(name)] = value
        else:
            unseen += (value * _sd(factors.prior, name) / factors.prior.noise_sd) ** 2
    variance = 1.0 + unseen + float(row @ np.linalg.solve(factors.precision, row))
    location = float(row @ factors.mean)
    scale = math.sqrt(factors.rate / factors.shape * variance)
    degrees = 2.0 * factors.shape
    reach = float(student.ppf(0.9, degrees)) * scale
    own = sum(count for p, _, count in factors.prints if p == printer)
    pair = sum(count for p, f, count in factors.prints if (p, f) == (printer, feedstock))
    return LearnedFactor(
        likely_frac=math.exp(location),
        spread_frac=Spread(
            low=math.exp(location - reach),
            likely=math.exp(location),
            high=math.exp(location + reach),
        ),
        log_mean=location,
        log_scale=scale,
        degrees=degrees,
        prints=sum(count for _, _, count in factors.prints),
        own_prints=own,
        pair_prints=pair,
        wide=own < FEW_PRINTS,
    )


def interval_frac(factor: LearnedFactor, share_frac: float = 0.9) -> tuple[float, float]:
    """Limits between which a share of all next prints falls, the same share left out on each side.

    Raises:
        InputError: The share is not between 0 and 1.
    """
    from scipy.stats import t as student

    if not 0.0 < share_frac < 1.0:
        raise InputError(f"interval: share {share_frac} found; above 0 and below 1 allowed")
    reach = float(student.ppf(0.5 + share_frac / 2.0, factor.degrees)) * factor.log_scale
    return math.exp(factor.log_mean - reach), math.exp(factor.log_mean + reach)


def draw_factors(factor: LearnedFactor, draws: int, seed: int) -> NDArray[np.float64]:
    """Factors of next prints, drawn from the Student t: (draws,)."""
    generator = np.random.default_rng([seed, 0x71])
    return np.asarray(
        np.exp(factor.log_mean + factor.log_scale * generator.standard_t(factor.degrees, draws))
    )


def _ratio(outcome: Outcome | None, predicted: float | None, kind: str) -> float | None:
    if outcome is None or outcome.end != "done" or predicted is None:
        return None
    actual = outcome.ran_h if kind == "h" else outcome.mass_g
    return actual / predicted if actual else None


def _when(item: LoggedPrint) -> tuple[str, str]:
    return item.attempt.started_utc, item.attempt.uid


def _observations(
    log: PrintLog, ratio_of: Callable[[LoggedPrint], float | None], decay_frac: float
) -> tuple[Observation, ...]:
    """Finished prints, oldest first, weighted by how many of their printer came later."""
    if not 0.0 <= decay_frac < 1.0:
        raise InputError(f"learning: decay {decay_frac} found; 0 to below 1 allowed")
    later: Counter[str] = Counter()
    found = []
    for item in sorted(log.prints, key=_when, reverse=True):
        ratio = ratio_of(item)
        if ratio is None:
            continue
        printer, feedstock = item.attempt.printer, item.attempt.feedstock
        before = [c for c in log.changes if c.at_utc <= item.attempt.started_utc]
        found.append(
            Observation(
                printer=printer,
                feedstock=feedstock,
                nozzle=sum(c.kind == "nozzle" and c.printer == printer for c in before),
                batch=sum((c.printer, c.feedstock) == (printer, feedstock) for c in before),
                ratio_frac=ratio,
                weight_frac=(1.0 - decay_frac) ** later[printer],
                walls_frac=item.attempt.walls_frac,
            )
        )
        later[printer] += 1
    return tuple(reversed(found))


def _newest(log: PrintLog) -> tuple[tuple[str, str, int], ...]:
    """How often each printer's nozzle ("" as feedstock) and each feedstock on it was changed."""
    counts = Counter(
        (change.printer, "" if change.kind == "nozzle" else change.feedstock)
        for change in log.changes
    )
    return tuple((*pair, count) for pair, count in sorted(counts.items()))


def _terms(item: Observation, prior: FactorPrior) -> dict[tuple[str, ...], float]:
    """Terms of a print with what they are multiplied by."""
    names: tuple[tuple[str, ...], ...] = (
        ("all",),
        ("printer", item.printer),
        ("nozzle", item.printer, str(item.nozzle)),
        ("feedstock", item.feedstock),
        ("batch", item.printer, item.feedstock, str(item.batch)),
    )
    found = dict.fromkeys(names, 1.0)
    if prior.walls_sd > 0.0 and item.walls_frac is not None:
        found["walls", item.printer] = item.walls_frac - WALLS_USUAL_FRAC
    return found


def _sd(prior: FactorPrior, name: tuple[str, ...]) -> float:
    return {
        "all": prior.all_sd,
        "printer": prior.printer_sd,
        "nozzle": prior.nozzle_sd,
        "feedstock": prior.feedstock_sd,
        "batch": prior.pair_sd,
        "walls": prior.walls_sd,
    }[name[0]]
