"""What the calendar is made of: prints, steps, their bars, and when all is finished."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.findings import Spread
from buildplan.journal.failures import FailureModel
from buildplan.journal.learn import Factors

BarKind = Literal[
    "set-up",
    "print",
    "waits for a person",
    "removal",
    "feedstock dries",
    "wash",
    "cure",
    "delivery",
    "assembly",
    "glue cures",
]

NO_DELIVERY = Spread(low=0.0, likely=0.0, high=0.0)

YOU, DELIVERIES, REST = "you", "deliveries", "dries, cures"
"""Lanes beside the printers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One print: a build cycle on one of some printers.

    Attributes:
        name: Its own; the random draws hang on it.
        printers: Where it may run; it goes to the one that is free first.
        feedstock: As the print log names it; the posterior asks for it.
        print_h: Usual hours; half of all prints take less.
        log_sd_frac: Spread of the hours: standard deviation of their logarithm.
        set_up_h, removal_h: Somebody must be there, without a break.
        dry_h: The feedstock dries for so long before, from the first attended moment on.
        wash_h, cure_h: After the removal, one after the other, off the printer; nobody is needed.
        hazard_frac_h, start_fail_frac, start_loss_h: As segments.restart.FailureOdds has them.
        not_before_h: Earliest start (the feedstock arrives).
        attended_only: The whole print, set-up and removal must lie in one attended window.
    """

    name: str
    printers: tuple[str, ...]
    feedstock: str = ""
    print_h: float
    log_sd_frac: float = 0.0
    set_up_h: float = 0.2
    removal_h: float = 0.1
    dry_h: float = 0.0
    wash_h: float = 0.0
    cure_h: float = 0.0
    hazard_frac_h: float = 0.01
    start_fail_frac: float = 0.05
    start_loss_h: float = 0.5
    not_before_h: float = 0.0
    attended_only: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A delivery, a step of the assembly, or both.

    Attributes:
        name: Its own, also among the prints.
        after: Prints and steps that must be ready before.
        arrives: Hours from hour 0 until it is delivered, 1 time in 10 below low and above high.
        work_h: Attended hours; they may be split over windows. 0: nobody is needed.
        cure_h: Rest after it before it counts as ready (glue); nobody is needed.
    """

    name: str
    after: tuple[str, ...] = ()
    arrives: Spread = NO_DELIVERY
    work_h: float = 0.0
    cure_h: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """What the print log says: rates and time factors are drawn anew for every outcome.

    Attributes:
        failures: From journal.failures.fit_failures.
        time: From journal.learn.learn(log).time.
    """

    failures: FailureModel
    time: Factors


@dataclass(frozen=True, slots=True, kw_only=True)
class DayChance:
    """Share of the outcomes in which all is finished by the end of a day."""

    day: date
    chance_frac: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemShare:
    """What a print or a step does in the outcomes.

    Attributes:
        critical_frac: Share of the outcomes in which it lies on the chain that sets the finish.
        tries: Mean number of tries; 1 for a step.
    """

    name: str
    critical_frac: float
    tries: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """When all is finished, over many outcomes.

    Attributes:
        by_day: From the first day on which it can be finished to the last.
        p50_h, p90_h: Hours by which half, and 9 in 10, of the outcomes are finished.
        p50_day, p90_day: The days in which they lie.
        mean_h: Mean over the outcomes that end within the windows.
        items: Prints, then steps, in the order given.
        waiting_h: Mean hours that finished prints wait for somebody to take them off.
        failed_waiting_h: Mean hours until somebody sees a failed print.
        unattended_h: Mean hours of printing while nobody is there.
        finish_h: (draws,) every outcome.
        ready_h: (items, draws) when each item is ready.
    """

    by_day: tuple[DayChance, ...]
    p50_h: float
    p90_h: float
    p50_day: date
    p90_day: date
    mean_h: float
    items: tuple[ItemShare, ...]
    waiting_h: float
    failed_waiting_h: float
    unattended_h: float
    finish_h: NDArray[np.float64]
    ready_h: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar of the calendar.

    Attributes:
        lane: A printer, or "you", "deliveries", "dries, cures".
        task: The print or step.
        start_h, end_h: Hours from the start of the first day.
        failed: A print that failed here.
        critical_frac: As ItemShare has it.
    """

    lane: str
    task: str
    kind: BarKind
    start_h: float
    end_h: float
    failed: bool = False
    critical_frac: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One way the work goes, with one person for everything.

    Attributes:
        finish_h: When the last item is ready.
        ready_h: (items,) when each item is ready, prints first.
        bars: Sorted by start.
        waiting_h: Hours that finished prints wait for somebody.
        unattended_h: Hours of printing while nobody is there.
    """

    finish_h: float
    ready_h: NDArray[np.float64]
    bars: tuple[Bar, ...]
    waiting_h: float
    unattended_h: float
