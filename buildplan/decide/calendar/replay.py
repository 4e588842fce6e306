"""One outcome, event by event, with one person for set-ups, removals and assembly.

The calendar that is shown comes from here. Whoever is free does what can begin first: a removal
before a set-up before assembly; assembly is put down for a removal or a set-up and taken up after.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from buildplan.decide.calendar.batch import MOST_TRIES, first_start_h
from buildplan.decide.calendar.model import (
    DELIVERIES,
    REST,
    YOU,
    Bar,
    BarKind,
    Finish,
    Job,
    Outcome,
    Step,
)
from buildplan.decide.calendar.network import check_network, items_of, step_order, tails_h
from buildplan.decide.calendar.windows import Windows
from buildplan.errors import NoPlanError

TINY_H = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Luck:
    """What happens to one print: hours of a try that holds, and after how long others failed."""

    print_h: float
    failed_after_h: tuple[float, ...] = ()


@dataclass(slots=True, kw_only=True)
class _Printer:
    """A printer and its queue of prints.

    Attributes:
        loaded: Whether a print lies on it, done or failed, that waits for its removal.
    """

    name: str
    queue: list[int]
    free_h: float = 0.0
    loaded: bool = False
    tries: int = 0
    ended_h: float = 0.0


@dataclass(slots=True, kw_only=True)
class _Scene:
    """All that changes while an outcome is played."""

    ready_h: dict[str, float]
    bars: list[Bar] = field(default_factory=list)
    left_h: dict[str, float] = field(default_factory=dict)
    person_h: float = 0.0
    waiting_h: float = 0.0
    unattended_h: float = 0.0


def usual_luck(jobs: tuple[Job, ...]) -> dict[str, Luck]:
    """Nothing fails and every print takes its usual hours."""
    return {job.name: Luck(print_h=job.print_h) for job in jobs}


def draw_luck(jobs: tuple[Job, ...], seed: int) -> dict[str, Luck]:
    """Luck by the rates of the prints themselves, drawn afresh print by print."""
    generator = np.random.default_rng([seed, 0x74])
    found = {}
    for job in jobs:
        hours = job.print_h * math.exp(job.log_sd_frac * generator.standard_normal())
        failed: list[float] = []
        while len(failed) < MOST_TRIES:
            lasts = math.inf
            if generator.random() < job.start_fail_frac:
                lasts = job.start_loss_h
            elif job.hazard_frac_h > 0.0:
                lasts = generator.exponential(1.0 / job.hazard_frac_h)
            if lasts >= hours:
                break
            failed.append(lasts)
        found[job.name] = Luck(print_h=hours, failed_after_h=tuple(failed))
    return found


def replay(
    jobs: tuple[Job, ...],
    steps: tuple[Step, ...],
    windows: Windows,
    printers: tuple[str, ...],
    order: Sequence[int],
    luck: Mapping[str, Luck] | None = None,
    *,
    one_person: bool = True,
) -> Outcome:
    """One outcome with its bars.

    Args:
        jobs: Prints.
        steps: Deliveries come at their likely hour.
        windows: From make_windows.
        printers: All printers that may be used.
        order: As simulate takes it.
        luck: By print; None: the usual hours and no failure.
        one_person: False counts set-ups and removals as if somebody else did them, as simulate.

    Raises:
        InputError: Names, precedence or order do not hold together.
        NoPlanError: It does not end within the windows.
    """
    check_network(jobs, steps, printers, order)
    luck = usual_luck(jobs) if luck is None else luck
    queues = _deal(jobs, windows, printers, order, luck)
    scene = _Scene(ready_h={})
    for step in steps:
        scene.left_h[step.name] = step.work_h
    if one_person:
        _play(jobs, steps, windows, (queues, scene, luck))
    else:
        for printer in queues:
            while printer.queue:
                _serve(printer, jobs, windows, (scene, luck), _next_h(printer, jobs, windows, luck))
        _play(jobs, steps, windows, ([], scene, luck))
    ready = np.array([scene.ready_h[item.name] for item in items_of(jobs, steps)])
    ready.flags.writeable = False
    return Outcome(
        finish_h=float(ready.max()),
        ready_h=ready,
        bars=tuple(sorted(scene.bars, key=lambda bar: (bar.start_h, bar.lane, bar.task))),
        waiting_h=scene.waiting_h,
        unattended_h=scene.unattended_h,
    )


def bars(
    jobs: tuple[Job, ...],
    steps: tuple[Step, ...],
    windows: Windows,
    printers: tuple[str, ...],
    order: Sequence[int],
    finish: Finish | None = None,
    luck: Mapping[str, Luck] | None = None,
) -> tuple[Bar, ...]:
    """Rows of the calendar with one person for everything; the shares come from a simulation.

    Raises:
        InputError, NoPlanError: As replay.
    """
    outcome = replay(jobs, steps, windows, printers, order, luck)
    shares = {item.name: item.critical_frac for item in finish.items} if finish else {}
    return tuple(
        Bar(
            lane=bar.lane,
            task=bar.task,
            kind=bar.kind,
            start_h=bar.start_h,
            end_h=bar.end_h,
            failed=bar.failed,
            critical_frac=shares.get(bar.task, 0.0),
        )
        for bar in outcome.bars
    )


def _deal(
    jobs: tuple[Job, ...],
    windows: Windows,
    printers: tuple[str, ...],
    order: Sequence[int],
    luck: Mapping[str, Luck],
) -> list[_Printer]:
    """Each print to the printer that is free first, as if somebody else did the assembly."""
    free = dict.fromkeys(printers, 0.0)
    queues: dict[str, list[int]] = {name: [] for name in printers}
    for number in order:
        job = jobs[number]
        begin = first_start_h(job, windows)
        where = [name for name in printers if name in job.printers]
        name = min(where, key=lambda one: max(free[one], begin))
        free_h = max(free[name], begin)
        for run_h in (*luck[job.name].failed_after_h, luck[job.name].print_h):
            go = _fit(windows, free_h, _set_up_need(job, luck)) + job.set_up_h
            free_h = _fit(windows, go + run_h, job.removal_h) + job.removal_h
        free[name] = free_h
        queues[name].append(number)
    return [_Printer(name=name, queue=queue) for name, queue in queues.items()]


def _fit(windows: Windows, time_h: float, need_h: float) -> float:
    return float(windows.fit(time_h, need_h))


def _set_up_need(job: Job, luck: Mapping[str, Luck]) -> float:
    whole = luck[job.name].print_h + job.removal_h if job.attended_only else 0.0
    return job.set_up_h + whole


def _next_h(
    printer: _Printer,
    jobs: tuple[Job, ...],
    windows: Windows,
    luck: Mapping[str, Luck],
    person_h: float = 0.0,
) -> float:
    """When the next removal or set-up of a printer can begin."""
    job = jobs[printer.queue[0]]
    if printer.loaded:
        return _fit(windows, max(printer.ended_h, person_h), job.removal_h)
    begin = max(printer.free_h, first_start_h(job, windows), person_h)
    return _fit(windows, begin, _set_up_need(job, luck))


def _serve(
    printer: _Printer,
    jobs: tuple[Job, ...],
    windows: Windows,
    state: tuple[_Scene, Mapping[str, Luck]],
    start_h: float,
) -> float:
    """Take off or set up at an hour; returns when the person is free again."""
    scene, luck = state
    job = jobs[printer.queue[0]]
    if not math.isfinite(start_h):
        _no_end(job.name, windows)
    tries = luck[job.name].failed_after_h
    failed = printer.tries < len(tries)
    if printer.loaded:
        _add(scene, printer.name, job.name, "waits for a person", (printer.ended_h, start_h))
        end_h = start_h + job.removal_h
        _add(scene, printer.name, job.name, "removal", (start_h, end_h))
        printer.loaded, printer.free_h = False, end_h
        printer.tries += 1
        if not failed:
            scene.waiting_h += start_h - printer.ended_h
            printer.tries = 0
            printer.queue.pop(0)
            washed = end_h + job.wash_h
            _add(scene, REST, job.name, "wash", (end_h, washed))
            _add(scene, REST, job.name, "cure", (washed, washed + job.cure_h))
            scene.ready_h[job.name] = washed + job.cure_h
        return end_h
    if printer.tries == 0 and job.dry_h > 0.0:
        begin = first_start_h(job, windows)
        _add(scene, REST, job.name, "feedstock dries", (begin - job.dry_h, begin))
    go = start_h + job.set_up_h
    run_h = tries[printer.tries] if failed else luck[job.name].print_h
    _add(scene, printer.name, job.name, "set-up", (start_h, go))
    _add(scene, printer.name, job.name, "print", (go, go + run_h), failed=failed)
    seen = float(windows.attended_h(go + run_h) - windows.attended_h(go))
    scene.unattended_h += run_h - seen
    printer.loaded, printer.ended_h = True, go + run_h
    return go


def _play(
    jobs: tuple[Job, ...],
    steps: tuple[Step, ...],
    windows: Windows,
    state: tuple[list[_Printer], _Scene, Mapping[str, Luck]],
) -> None:
    """The one person does what can begin first, until nothing is left."""
    printers, scene, luck = state
    tails = tails_h(jobs, steps)
    in_hand = ""
    while True:
        _rest_steps(jobs, steps, scene)
        busy = [printer for printer in printers if printer.queue]
        open_steps = [step for step in steps if _is_open(step, scene)]
        if not busy and not open_steps:
            return
        coming = [
            (_next_h(printer, jobs, windows, luck, scene.person_h), not printer.loaded, place)
            for place, printer in enumerate(busy)
        ]
        first = min(coming, default=(math.inf, True, -1))
        ranked = [
            (_step_start_h(step, windows, scene), step.name != in_hand, -tails[step.name], place)
            for place, step in enumerate(open_steps)
        ]
        best = min(ranked, default=(math.inf, True, 0.0, -1))
        if busy and (first[0] <= best[0] + TINY_H or not open_steps):
            scene.person_h = _serve(busy[first[2]], jobs, windows, (scene, luck), first[0])
            continue
        step = open_steps[best[3]]
        in_hand = _work_on(step, windows, scene, best[0], first[0])


def _is_open(step: Step, scene: _Scene) -> bool:
    """Whether somebody could work at a step now or later without anything else being done first."""
    waits = step.name not in scene.ready_h and step.work_h > 0.0
    return waits and all(name in scene.ready_h for name in step.after)


def _source_h(step: Step, scene: _Scene) -> float:
    return max((scene.ready_h[name] for name in step.after), default=0.0)


def _step_start_h(step: Step, windows: Windows, scene: _Scene) -> float:
    begin = max(_source_h(step, scene), step.arrives.likely, scene.person_h)
    return _fit(windows, begin, 0.0)


def _work_on(step: Step, windows: Windows, scene: _Scene, start_h: float, until_h: float) -> str:
    """Work at a step until it is done, the window ends, or a printer calls; what is in hand."""
    if not math.isfinite(start_h):
        _no_end(step.name, windows)
    here = int(np.searchsorted(windows.end_h, start_h, side="right"))
    left = scene.left_h[step.name]
    end_h = min(start_h + left, float(windows.end_h[here]), until_h)
    done = end_h >= start_h + left - TINY_H
    _add(scene, YOU, step.name, "assembly", (start_h, end_h))
    scene.left_h[step.name] = left - (end_h - start_h)
    scene.person_h = end_h
    if done:
        scene.ready_h[step.name] = end_h + step.cure_h
        _add(scene, REST, step.name, "glue cures", (end_h, end_h + step.cure_h))
        return ""
    return step.name


def _rest_steps(jobs: tuple[Job, ...], steps: tuple[Step, ...], scene: _Scene) -> None:
    """Steps without work are ready as soon as what they wait for is."""
    for k in step_order(jobs, steps):
        step = steps[k]
        if step.work_h > 0.0 or step.name in scene.ready_h:
            continue
        if all(name in scene.ready_h for name in step.after):
            begin = max(_source_h(step, scene), step.arrives.likely)
            if step.arrives.likely > 0.0:
                _add(scene, DELIVERIES, step.name, "delivery", (0.0, step.arrives.likely))
            _add(scene, REST, step.name, "glue cures", (begin, begin + step.cure_h))
            scene.ready_h[step.name] = begin + step.cure_h


def _add(
    scene: _Scene,
    lane: str,
    task: str,
    kind: BarKind,
    span_h: tuple[float, float],
    *,
    failed: bool = False,
) -> None:
    """Add a bar unless it has no length."""
    start_h, end_h = span_h
    if end_h - start_h > TINY_H:
        scene.bars.append(
            Bar(lane=lane, task=task, kind=kind, start_h=start_h, end_h=end_h, failed=failed)
        )


def _no_end(name: str, windows: Windows) -> None:
    """Raises NoPlanError: an item finds no window that is long enough."""
    raise NoPlanError(
        f"calendar: {name!r} finds no attended window of the {len(windows.day_end_h)} days ahead; "
        f"the longest has {windows.longest_h:.1f} h: print it in pieces or give more attended hours"
    )
