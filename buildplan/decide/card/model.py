"""What a bad-day card holds."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chances:
    """How the next print may fail, not known for sure: draws from what the log leaves open.

    Attributes:
        hazard_frac_h: (n,) chance of a failure per hour of printing.
        start_fail_frac: (n,) chance that a start fails.
        start_loss_h: Hours that a failed start burns.
        recovery_h: Hours until a failure is noticed and the platform cleared.
        logged_h: Hours in the log on this printer with this feedstock.
        prints: Tries in the log on this printer.
    """

    hazard_frac_h: NDArray[np.float64]
    start_fail_frac: NDArray[np.float64]
    start_loss_h: float
    recovery_h: float
    logged_h: float
    prints: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TryHours:
    """Drawn outcomes of prints that begin again after a failure, up to a number of tries.

    Attributes:
        total_h: (n,) hours until all have succeeded or one was given up.
        lost_at_h: (n, prints, tries) hours at which a try failed; NaN where it did not.
        gave_up: (n,) whether a print failed in every try.
    """

    total_h: NDArray[np.float64]
    lost_at_h: NDArray[np.float64]
    gave_up: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """A moment at which a look at the print is worth the walk.

    Attributes:
        after_h: Hours from the start.
        layer: Number of the layer that is then laid, from 1.
        z_mm: Its height.
        why: What to look for.
    """

    after_h: float
    layer: int
    z_mm: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BadDay:
    """A print on a good day, a middling one and a bad one.

    Attributes:
        usual_h: Hours of one try that holds.
        median_h, high_h: Until it has succeeded or is given up: every second day, 1 day in 20.
        mean_h: Likewise, the average.
        any_failure_frac: Chance of at least one failed try.
        gives_up_frac: Chance that every try fails.
        tries: How many are counted.
        lost_g, lost_cost: Average loss in failed tries; high_lost_g, high_lost_cost: 1 day in 20.
        reels: Reels or bottles that one try needs.
        need_g: Grams of one try; have_g: on the reel at its start.
        mean_exists: Whether the average would exist without a limit on tries.
        looks: When to look, in order.
        basis: What the chances rest on, in words.
    """

    part: str
    printer: str
    feedstock: str
    usual_h: float
    median_h: float
    high_h: float
    mean_h: float
    any_failure_frac: float
    gives_up_frac: float
    tries: int
    lost_g: float
    lost_cost: float
    high_lost_g: float
    high_lost_cost: float
    reels: int
    need_g: float
    have_g: float
    mean_exists: bool
    looks: tuple[Look, ...]
    basis: str
