"""Ten thousand outcomes of the calendar at once: every array holds one number an outcome.

Prints are dealt in the given order, each to the printer that is free first. Set-up and removal need
somebody there without a break; a failed print is only seen when somebody is there, and starts
anew. Steps are then done one after the other: next comes the one that can start first, and among
equals the one with most work behind it. Set-ups and assembly do not fight for the same person here;
buildplan.decide.calendar.replay counts that too, for the calendar that is shown.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from buildplan.decide.calendar.draws import Draws, Rates, all_rates, arrivals_h, generator_for
from buildplan.decide.calendar.model import DayChance, Finish, ItemShare, Job, Posterior, Step
from buildplan.decide.calendar.network import check_network, items_of, step_order, tails_h
from buildplan.decide.calendar.windows import Windows, day_at
from buildplan.errors import NoPlanError

MOST_TRIES = 40
"""Tries of one print after which an outcome is given up as never finished. Source: ours."""

TIE_H = 1e-6
"""Hours of start that one hour of work behind a step outweighs."""


@dataclass(slots=True, kw_only=True)
class _Printing:
    """What the prints come to, filled print by print; arrays (jobs, draws)."""

    ready_h: Draws
    back: NDArray[np.int64]
    tries: NDArray[np.int64]
    waiting_h: float = 0.0
    failed_waiting_h: float = 0.0
    unattended_h: float = 0.0


def simulate(  # noqa: PLR0913 (the calendar has this many inputs; all are named at the call)
    jobs: tuple[Job, ...],
    steps: tuple[Step, ...],
    windows: Windows,
    printers: tuple[str, ...],
    order: Sequence[int],
    draws: int = 10_000,
    seed: int = 0,
    posterior: Posterior | None = None,
) -> Finish:
    """When all is finished, over many outcomes.

    Args:
        jobs: Prints.
        steps: Deliveries and assembly, each after what it names in ``after``.
        windows: From make_windows.
        printers: All printers that may be used.
        order: Places of the prints in the order in which they are dealt to the printers.
        draws: Outcomes.
        seed: Same seed, same result, to the bit.
        posterior: From the print log; None takes each print's own rates.

    Raises:
        InputError: Names, precedence or order do not hold together.
        NoPlanError: More than 1 in 10 outcomes do not end within the windows.
    """
    check_network(jobs, steps, printers, order)
    printing = _print_all(jobs, windows, printers, order, (draws, seed, posterior))
    arrives = np.array([arrivals_h(step, draws, seed) for step in steps]).reshape(-1, draws)
    ready, back = _do_steps(jobs, steps, windows, printing, arrives)
    return _finish(jobs, steps, windows, printing, ready, back)


def _print_all(
    jobs: tuple[Job, ...],
    windows: Windows,
    printers: tuple[str, ...],
    order: Sequence[int],
    chance: tuple[int, int, Posterior | None],
) -> _Printing:
    draws, seed, posterior = chance
    rates = all_rates(jobs, posterior, draws, seed)
    free = dict.fromkeys(printers, np.zeros(draws))
    last = dict.fromkeys(printers, np.full(draws, -1))
    made = _Printing(
        ready_h=np.zeros((len(jobs), draws)),
        back=np.full((len(jobs), draws), -1),
        tries=np.zeros((len(jobs), draws), np.int64),
    )
    for number in order:
        job = jobs[number]
        where = [name for name in printers if name in job.printers]
        begin = first_start_h(job, windows)
        chosen = np.argmin([np.maximum(free[name], begin) for name in where], axis=0)
        starts = np.choose(chosen, [free[name] for name in where])
        made.back[number] = np.where(
            starts >= begin, np.choose(chosen, [last[name] for name in where]), -1
        )
        mixed = _pick_rates([rates[number, name] for name in where], chosen)
        end = _one_job(number, job, windows, np.maximum(starts, begin), mixed, seed, made)
        for place, name in enumerate(where):
            here = chosen == place
            free[name] = np.where(here, end, free[name])
            last[name] = np.where(here, number, last[name])
    made.waiting_h /= draws
    made.failed_waiting_h /= draws
    made.unattended_h /= draws
    return made


def first_start_h(job: Job, windows: Windows) -> float:
    """Earliest hour of its set-up: feedstock there and dried (somebody starts the drying)."""
    if job.dry_h == 0.0:
        return job.not_before_h
    return float(windows.fit(job.not_before_h, 0.0)) + job.dry_h


def _pick_rates(rates: list[Rates], chosen: NDArray[np.int64]) -> Rates:
    """The rates of the printer that each outcome chose."""
    if len(rates) == 1 or all(one is rates[0] for one in rates):
        return rates[0]

    def mix(arrays: list[Draws]) -> Draws:
        return np.choose(chosen, [np.broadcast_to(array, chosen.shape) for array in arrays])

    return Rates(
        log_factor=mix([one.log_factor for one in rates]),
        log_noise=mix([one.log_noise for one in rates]),
        hazard_frac_h=mix([one.hazard_frac_h for one in rates]),
        start_fail_frac=mix([one.start_fail_frac for one in rates]),
        start_loss_h=rates[0].start_loss_h,
    )


def _one_job(
    number: int,
    job: Job,
    windows: Windows,
    start_h: Draws,
    rates: Rates,
    seed: int,
    made: _Printing,
) -> Draws:
    """Tries until one holds; returns when the printer is free."""
    draws = len(start_h)
    luck = generator_for(job.name, seed)
    log_hours = rates.log_factor + rates.log_noise * luck.standard_normal(draws)
    hours = job.print_h * np.exp(log_hours)
    hazard = np.broadcast_to(rates.hazard_frac_h, draws)
    start_fail = np.broadcast_to(rates.start_fail_frac, draws)
    free = start_h.copy()
    left = np.arange(draws)
    for _ in range(MOST_TRIES):
        lasts = np.full(draws, math.inf)
        np.divide(luck.standard_exponential(draws), hazard, out=lasts, where=hazard > 0.0)
        lasts = np.where(luck.random(draws) < start_fail, rates.start_loss_h, lasts)
        need = job.set_up_h + hours[left] + job.removal_h if job.attended_only else job.set_up_h
        go = windows.fit(free[left], need) + job.set_up_h
        held = lasts[left] >= hours[left]
        end = go + np.where(held, hours[left], lasts[left])
        off = windows.fit(end, job.removal_h)
        _count(made, windows, go, end, off, held)
        free[left] = off + job.removal_h
        made.tries[number, left] += 1
        left = left[~held & np.isfinite(off)]
        if not len(left):
            break
    free[left] = math.inf
    made.ready_h[number] = free + job.wash_h + job.cure_h
    return free


def _count(
    made: _Printing,
    windows: Windows,
    go: Draws,
    end: Draws,
    off: Draws,
    held: NDArray[np.bool_],
) -> None:
    """Add up waits and unattended hours of one try; outcomes beyond the windows do not count."""
    sound = np.isfinite(off)
    if not sound.all():
        go, end, off, held = go[sound], end[sound], off[sound], held[sound]
    wait = off - end
    made.waiting_h += float(wait[held].sum())
    made.failed_waiting_h += float(wait[~held].sum())
    seen = windows.attended_h(end) - windows.attended_h(go)
    made.unattended_h += float(np.sum(end - go - seen))


def _do_steps(
    jobs: tuple[Job, ...],
    steps: tuple[Step, ...],
    windows: Windows,
    printing: _Printing,
    arrives: Draws,
) -> tuple[Draws, NDArray[np.int64]]:
    """Ready hours of prints and steps, and what each waited for last (-1: nothing)."""
    draws, first = printing.ready_h.shape[1], len(jobs)
    ready = np.vstack((printing.ready_h, np.full((len(steps), draws), np.nan)))
    back = np.vstack((printing.back, np.full((len(steps), draws), -1)))
    held = _Held(
        source_h=np.full((len(steps), draws), np.nan),
        begin_h=np.full((len(steps), draws), np.nan),
        whole=np.zeros(len(steps), bool),
    )
    by_hand = np.array([step.work_h > 0.0 for step in steps], bool)
    work = np.array([step.work_h for step in steps])
    cure = np.array([step.cure_h for step in steps])
    tail = np.array([tails_h(jobs, steps)[step.name] for step in steps])[:, None]
    left = np.broadcast_to(by_hand[:, None], (len(steps), draws)).copy()
    person, last, every = np.zeros(draws), np.full(draws, -1), np.arange(draws)
    for _ in range(int(by_hand.sum())):
        _look(jobs, steps, windows, arrives, (ready, back, held))
        at = np.maximum(held.begin_h, windows.fit(person, 0.0))
        rank = np.where(left & ~np.isnan(at), np.minimum(at, 1e30) - TIE_H * tail, math.inf)
        chosen = np.argmin(rank, axis=0)
        end = windows.work(at[chosen, every], work[chosen])
        busy = person > held.source_h[chosen, every]
        back[first + chosen, every] = np.where(busy, last, back[first + chosen, every])
        ready[first + chosen, every] = end + cure[chosen]
        left[chosen, every] = False
        person, last = end, first + chosen
    _look(jobs, steps, windows, arrives, (ready, back, held))
    return ready, back


@dataclass(slots=True, kw_only=True)
class _Held:
    """When steps could begin, (steps, draws); NaN while something before them is not done."""

    source_h: Draws
    begin_h: Draws
    whole: NDArray[np.bool_]


def _look(
    jobs: tuple[Job, ...],
    steps: tuple[Step, ...],
    windows: Windows,
    arrives: Draws,
    state: tuple[Draws, NDArray[np.int64], _Held],
) -> None:
    """Find what can begin now; steps without work are done at once."""
    ready, back, held = state
    place = {item.name: k for k, item in enumerate(items_of(jobs, steps))}
    for k in step_order(jobs, steps):
        if held.whole[k]:
            continue
        step, row = steps[k], len(jobs) + k
        source, came = arrives[k].copy(), np.full(ready.shape[1], -1)
        for name in step.after:
            other = ready[place[name]]
            later = other > source
            came = np.where(later, place[name], came)
            source = np.maximum(source, other)  # NaN stays NaN
        held.source_h[k], held.whole[k] = source, not np.isnan(source).any()
        back[row] = np.where(back[row] == -1, came, back[row])
        if step.work_h == 0.0:
            ready[row] = source + step.cure_h
        else:
            held.begin_h[k] = np.where(np.isnan(source), np.nan, windows.fit(source, 0.0))


def _critical_frac(last_h: Draws, ready: Draws, back: NDArray[np.int64]) -> Draws:
    """Share of the outcomes in which each item lies on the chain behind the last one: (items,)."""
    items, draws = ready.shape
    on_chain = np.zeros((items, draws), bool)
    here, outcome = np.argmax(ready, axis=0), np.flatnonzero(np.isfinite(last_h))
    here = here[outcome]
    while len(outcome):
        on_chain[here, outcome] = True
        here = back[here, outcome]
        outcome, here = outcome[here >= 0], here[here >= 0]
    return np.asarray(on_chain.sum(axis=1) / max(int(np.isfinite(last_h).sum()), 1))


def _finish(
    jobs: tuple[Job, ...],
    steps: tuple[Step, ...],
    windows: Windows,
    printing: _Printing,
    ready: Draws,
    back: NDArray[np.int64],
) -> Finish:
    finish = ready.max(axis=0)
    p50, p90 = np.quantile(finish, [0.5, 0.9], method="inverted_cdf").tolist()
    if not math.isfinite(p90):
        _refuse(jobs, steps, windows, ready)
    critical = _critical_frac(finish, ready, back)
    tries = [*printing.tries.mean(axis=1).tolist(), *([1.0] * len(steps))]
    for array in (finish, ready):
        array.flags.writeable = False
    return Finish(
        by_day=_by_day(finish, windows),
        p50_h=p50,
        p90_h=p90,
        p50_day=day_at(windows, p50),
        p90_day=day_at(windows, p90),
        mean_h=float(finish[np.isfinite(finish)].mean()),
        items=tuple(
            ItemShare(name=item.name, critical_frac=float(critical[k]), tries=tries[k])
            for k, item in enumerate(items_of(jobs, steps))
        ),
        waiting_h=printing.waiting_h,
        failed_waiting_h=printing.failed_waiting_h,
        unattended_h=printing.unattended_h,
        finish_h=finish,
        ready_h=ready,
    )


def _by_day(finish: Draws, windows: Windows) -> tuple[DayChance, ...]:
    """Chance of being finished by the end of each day, from the first day above 0 to the last."""
    ordered = np.sort(finish)
    counts = np.searchsorted(ordered, windows.day_end_h + 1e-9, side="right")
    most = int(counts[-1])
    return tuple(
        DayChance(day=windows.first_day + timedelta(days=k), chance_frac=int(n) / len(finish))
        for k, n in enumerate(counts)
        if n > 0 and (k == 0 or counts[k - 1] < most)
    )


def _refuse(jobs: tuple[Job, ...], steps: tuple[Step, ...], windows: Windows, ready: Draws) -> None:
    """Say which item is the first that does not end.

    Raises:
        NoPlanError: Always.
    """
    ends = np.isfinite(ready).mean(axis=1)
    worst = int(np.argmax(ends < 0.9))
    name = items_of(jobs, steps)[worst].name
    days = len(windows.day_end_h)
    raise NoPlanError(
        f"calendar: {name!r} ends within {days} days and {MOST_TRIES} tries in only "
        f"{100.0 * ends[worst]:.0f} of 100 outcomes; 90 are needed for a date: print it in pieces, "
        "give more attended hours, or let a printer run unattended"
    )
