"""What sets the date: the calendar played again without one thing at a time, with the same luck."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

import numpy as np

from buildplan.decide.calendar.batch import simulate
from buildplan.decide.calendar.model import NO_DELIVERY, Finish, Job, Posterior, Step
from buildplan.decide.calendar.windows import Windows, windows_from
from buildplan.errors import NoPlanError

HoldKind = Literal[
    "delivery", "deliveries", "print", "printer", "prints", "work", "cure", "hours"
]  # fmt: skip

NO_TIME_H = 1e-9
"""What a print takes that is thought away; the calendar asks for more than 0."""

LEAST_H = 0.1
"""What holds the finish up by less is not told. Source: ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """One thing, and how much sooner everything would be done without it.

    Attributes:
        kind: A delivery, or all deliveries, there at once; a print, all prints of a printer, or all
            prints, that take no time and never fail; work by hand, or its glue, that takes none;
            somebody there at every hour ("hours").
        name: Of the step, the print or the printer; empty for "deliveries", "prints" and "hours".
        lead: The step or print in it that lies on the chain most often; empty for "hours".
        sooner_p50_h: The median finish as planned, minus the one without it.
        without_day: The day of the median finish without it.
        chain_frac: Share of the outcomes in which the lead lies on the chain that sets the finish;
            of "hours" 0, since it is no item of the chain.
    """

    kind: HoldKind
    name: str
    lead: str
    sooner_p50_h: float
    without_day: date
    chain_frac: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """The calendar with one thing thought away."""

    kind: HoldKind
    name: str
    items: tuple[str, ...]
    jobs: tuple[Job, ...]
    steps: tuple[Step, ...]
    windows: Windows


def what_holds_up(  # noqa: PLR0913 (as simulate)
    jobs: tuple[Job, ...],
    steps: tuple[Step, ...],
    windows: Windows,
    printers: tuple[str, ...],
    order: Sequence[int],
    planned: Finish,
    draws: int = 10_000,
    seed: int = 0,
    posterior: Posterior | None = None,
) -> tuple[Hold, ...]:
    """What holds the finish up, the most hours first; what holds it up by nothing is left out.

    Each is thought away alone while all else keeps its luck, its order and its outcomes, so that a
    difference is not chance. What lies on the chain of no outcome is not tried: without it the
    chain stands as it is. Two deliveries side by side show little each, since the finish then
    waits for the other one: so all deliveries, and all prints, are also thought away together.

    ``planned`` comes from simulate with the same arguments.

    Source: what-if on the drawn network with common random numbers, Law (2015), Simulation Modeling
        and Analysis, 5th ed., section 11.2; share of outcomes on the chain as in Van Slyke (1963),
        Monte Carlo Methods and the PERT Problem.
    """
    shares = {item.name: item.critical_frac for item in planned.items}
    found = []
    for case in _cases(jobs, steps, windows):
        lead = max(case.items, key=lambda name: shares[name], default="")
        chain = shares.get(lead, 0.0)
        if lead and chain == 0.0:
            continue
        try:
            other = simulate(
                case.jobs, case.steps, case.windows, printers, order, draws, seed, posterior
            )
        except NoPlanError:
            continue
        sooner_h = planned.p50_h - other.p50_h
        if sooner_h >= LEAST_H:
            found.append(
                Hold(
                    kind=case.kind,
                    name=case.name,
                    lead=lead,
                    sooner_p50_h=sooner_h,
                    without_day=other.p50_day,
                    chain_frac=chain,
                )
            )
    return tuple(sorted(found, key=lambda hold: -hold.sooner_p50_h))


def _cases(jobs: tuple[Job, ...], steps: tuple[Step, ...], windows: Windows) -> list[_Case]:
    """Every delivery, work, cure, print, groups of them, and the attended hours."""
    always = _always(windows)
    made = [
        _Case(kind=kind, name=name, items=items, jobs=jobs, steps=changed, windows=windows)
        for kind, name, items, changed in _step_cases(steps)
    ]
    for kind, name, items in _print_groups(jobs):
        gone = tuple(_without_time(job) if job.name in items else job for job in jobs)
        made.append(
            _Case(kind=kind, name=name, items=items, jobs=gone, steps=steps, windows=windows)
        )
    made.append(_Case(kind="hours", name="", items=(), jobs=jobs, steps=steps, windows=always))
    return made


def _step_cases(
    steps: tuple[Step, ...],
) -> Iterator[tuple[HoldKind, str, tuple[str, ...], tuple[Step, ...]]]:
    """Kind, name, items and the steps without that delivery, work or cure."""
    arriving = tuple(step.name for step in steps if step.arrives.high > 0.0)
    if len(arriving) > 1:
        yield (
            "deliveries",
            "",
            arriving,
            tuple(replace(step, arrives=NO_DELIVERY) for step in steps),
        )
    for place, step in enumerate(steps):
        changes: list[tuple[HoldKind, Step]] = []
        if step.arrives.high > 0.0:
            changes.append(("delivery", replace(step, arrives=NO_DELIVERY)))
        if step.work_h > 0.0:
            changes.append(("work", replace(step, work_h=0.0)))
        if step.cure_h > 0.0:
            changes.append(("cure", replace(step, cure_h=0.0)))
        for kind, gone in changes:
            yield kind, step.name, (step.name,), (*steps[:place], gone, *steps[place + 1 :])


def _print_groups(jobs: tuple[Job, ...]) -> Iterator[tuple[HoldKind, str, tuple[str, ...]]]:
    """Every print, printers with several, and all prints where there is more than one printer."""
    for job in jobs:
        yield "print", job.name, (job.name,)
    names = tuple(dict.fromkeys(name for job in jobs for name in job.printers))
    for name in names:
        held = tuple(job.name for job in jobs if job.printers == (name,))
        if len(held) > 1:
            yield "printer", name, held
    if len(names) > 1:
        yield "prints", "", tuple(job.name for job in jobs)


def _without_time(job: Job) -> Job:
    """The same print at no time on the printer; its set-up and removal stay."""
    return replace(
        job,
        print_h=NO_TIME_H,
        dry_h=0.0,
        wash_h=0.0,
        cure_h=0.0,
        hazard_frac_h=0.0,
        start_fail_frac=0.0,
        attended_only=False,
    )


def _always(windows: Windows) -> Windows:
    """Somebody there at every hour of the days looked at."""
    ends = np.array(windows.day_end_h)
    return windows_from(
        [(0.0, float(ends[-1]))],
        first_day=windows.first_day,
        day_end_h=ends,
        time_zone=windows.time_zone,
    )
