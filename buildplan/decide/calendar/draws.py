"""The luck of every print and step, keyed by its name: what one item draws, no other item changes.

Two plans that share a print then share its luck, so that their difference is seen with few draws.
Source: common random numbers, Law (2015), Simulation Modeling and Analysis, 5th ed., section 11.2.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from buildplan.decide.calendar.model import Job, Posterior, Step
from buildplan.journal.failures import draw_odds, next_odds
from buildplan.journal.learn import factor_for

Draws = NDArray[np.float64]
NORMAL_TENTH = 1.2815515655446004
"""Standard normal quantile at 0.9."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """What one printer does to a print, in every outcome.

    Attributes:
        log_factor, log_noise: Logarithm of the time factor that all its prints share, and the
            deviation of one print about it: (draws,) or (1,).
        hazard_frac_h, start_fail_frac: (draws,) or (1,).
        start_loss_h: Hours that a failed start burns.
    """

    log_factor: Draws
    log_noise: Draws
    hazard_frac_h: Draws
    start_fail_frac: Draws
    start_loss_h: float


def key_of(name: str) -> int:
    """A number that only the name decides, the same in every process."""
    return crc32(name.encode())


def generator_for(name: str, seed: int) -> np.random.Generator:
    """The random numbers of one item."""
    return np.random.default_rng([seed, key_of(name)])


def rates_of(job: Job) -> Rates:
    """The rates that the job itself states."""
    return Rates(
        log_factor=np.zeros(1),
        log_noise=np.array([job.log_sd_frac]),
        hazard_frac_h=np.array([job.hazard_frac_h]),
        start_fail_frac=np.array([job.start_fail_frac]),
        start_loss_h=job.start_loss_h,
    )


def learned_rates(
    posterior: Posterior, printer: str, feedstock: str, draws: int, seed: int
) -> Rates:
    """Rates and time factor of a printer with a feedstock, drawn once for every outcome.

    The factor's Student t is a normal whose variance is drawn; the part that all prints of the
    printer share is drawn here, the noise of one print with the print.
    """
    own = key_of(f"{printer}\n{feedstock}") * 2**32 + seed
    hazard, start = draw_odds(posterior.failures, printer, feedstock, draws, own)
    odds = next_odds(posterior.failures, printer, feedstock)
    factor = factor_for(posterior.time, printer, feedstock)
    noise2 = min(posterior.time.rate / posterior.time.shape, factor.log_scale**2)
    generator = np.random.default_rng([own, 0x73])
    wide = np.sqrt(factor.degrees / generator.chisquare(factor.degrees, draws))
    shared = math.sqrt(factor.log_scale**2 - noise2) * generator.standard_normal(draws)
    return Rates(
        log_factor=factor.log_mean + wide * shared,
        log_noise=wide * math.sqrt(noise2),
        hazard_frac_h=hazard,
        start_fail_frac=start,
        start_loss_h=odds.start_loss_h,
    )


def all_rates(
    jobs: tuple[Job, ...], posterior: Posterior | None, draws: int, seed: int
) -> Mapping[tuple[int, str], Rates]:
    """Rates by print (its place) and printer."""
    found: dict[tuple[int, str], Rates] = {}
    learned: dict[tuple[str, str], Rates] = {}
    for number, job in enumerate(jobs):
        for printer in job.printers:
            if posterior is None:
                found[number, printer] = rates_of(job)
                continue
            pair = (printer, job.feedstock)
            if pair not in learned:
                learned[pair] = learned_rates(posterior, *pair, draws, seed)
            found[number, printer] = learned[pair]
    return found


def arrivals_h(step: Step, draws: int, seed: int) -> Draws:
    """When a step's delivery is there: (draws,), two half normals about the likely hour."""
    low, likely, high = step.arrives.low, step.arrives.likely, step.arrives.high
    if low == high:
        return np.full(draws, likely)
    z = generator_for(step.name, seed).standard_normal(draws)
    reach = np.where(z < 0.0, likely - low, high - likely) / NORMAL_TENTH
    return np.maximum(likely + reach * z, 0.0)
