"""The order of the prints: an iterated local search over swaps and moves, many orders at once.

Every order of a neighbourhood is one column of the same arithmetic; what is sought is the hour at
which the last print and the work behind it are done, with usual hours and no failure.
Source: Lourenco, Martin, Stutzle (2003), Iterated local search, in Handbook of Metaheuristics.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.decide.calendar.batch import first_start_h
from buildplan.decide.calendar.model import Job, Step
from buildplan.decide.calendar.network import check_network, tails_h
from buildplan.decide.calendar.windows import Windows
from buildplan.kernels.dealing import deal_orders

Orders = NDArray[np.int64]
Hours = NDArray[np.float64]

SUM_WEIGHT = 1e-5
"""Weight of the sum of all finishes beside the last one: it leads across plateaus."""

STARTS, KICKS = 6, 30


def schedule(
    jobs: tuple[Job, ...],
    steps: tuple[Step, ...],
    windows: Windows,
    printers: tuple[str, ...],
    seed: int = 0,
) -> tuple[int, ...]:
    """A good order of the prints for simulate and replay.

    Args:
        jobs: Prints.
        steps: What hangs behind each print draws it forward.
        windows: From make_windows.
        printers: All printers that may be used.
        seed: Same seed, same order.

    Raises:
        InputError: Names or precedence do not hold together.
    """
    check_network(jobs, steps, printers, range(len(jobs)))
    if len(jobs) < 2:
        return tuple(range(len(jobs)))
    chance = np.random.default_rng([seed, 0x75])
    task, moves = _task_of(jobs, steps, windows, printers), _moves(len(jobs))
    tail = task.tail_h
    length = np.array([job.set_up_h + job.print_h + job.removal_h for job in jobs])
    starts = [np.argsort(-(length + tail), kind="stable"), np.argsort(-tail, kind="stable")]
    starts += [chance.permutation(len(jobs)) for _ in range(STARTS - 2)]
    best, least = _descend(starts[0], moves, task)
    for start in starts[1:]:
        found, score = _descend(start, moves, task)
        if score < least:
            best, least = found, score
    here, here_score = best, least
    for _ in range(KICKS if len(jobs) > 3 else 0):
        start = _kicked(here, chance)
        found, score = _descend(start, moves, task)
        if score <= here_score:
            here, here_score = found, score
        if score < least:
            best, least = found, score
    return tuple(int(k) for k in best)


def last_hours_h(
    orders: Orders,
    jobs: tuple[Job, ...],
    steps: tuple[Step, ...],
    windows: Windows,
    printers: tuple[str, ...],
) -> Hours:
    """Hour at which the last print and the work behind it are done: (m,) of (m, jobs) orders."""
    task = _task_of(jobs, steps, windows, printers)
    return np.asarray(_ends_h(orders, task).max(axis=1))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    """What stays the same over all orders, as the kernel takes it.

    Attributes:
        may: (jobs, printers) whether a print may run there.
        hours: (jobs, 6), as in deal_orders.
        tail_h: (jobs,) work behind each print.
        spans: (w, 2) attended windows.
    """

    windows: Windows
    may: NDArray[np.bool_]
    hours: Hours
    tail_h: Hours
    spans: Hours
    same_need: bool
    same_removal: bool


def _task_of(
    jobs: tuple[Job, ...], steps: tuple[Step, ...], windows: Windows, printers: tuple[str, ...]
) -> _Task:
    tails = tails_h(jobs, steps)
    hours = np.array(
        [
            (
                first_start_h(job, windows),
                job.set_up_h + (job.print_h + job.removal_h if job.attended_only else 0.0),
                job.set_up_h,
                job.print_h,
                job.removal_h,
                job.wash_h + job.cure_h,
            )
            for job in jobs
        ]
    )
    return _Task(
        windows=windows,
        may=np.array([[name in job.printers for name in printers] for job in jobs]),
        hours=hours,
        tail_h=np.array([tails[job.name] for job in jobs]),
        spans=np.column_stack((windows.start_h, windows.end_h)),
        same_need=len(np.unique(hours[:, 1])) == 1,
        same_removal=len(np.unique(hours[:, 4])) == 1,
    )


def _ends_h(orders: Orders, task: _Task) -> Hours:
    """When each place of each order is done with what hangs behind it: (m, jobs)."""
    done = deal_orders(orders, task.may, task.hours, task.spans, task.same_need, task.same_removal)
    tails = task.tail_h[orders.ravel()]
    ends: Hours = task.windows.work(done.ravel(), tails).reshape(done.shape)
    return ends


def _score(ends: Hours) -> Hours:
    late = np.minimum(ends, 1e9)
    return np.asarray(late.max(axis=1) + SUM_WEIGHT * late.sum(axis=1))


def _descend(order: Orders, moves: Orders, task: _Task) -> tuple[Orders, float]:
    """Take the best swap or move until none is better."""
    score = float(_score(_ends_h(order[None], task))[0])
    while True:
        near = order[moves]
        scores = _score(_ends_h(near, task))
        best = int(np.argmin(scores))
        if scores[best] >= score - 1e-9:
            return order, score
        order, score = near[best], float(scores[best])


def _moves(count: int) -> Orders:
    """All swaps of two places and all moves of one to another: (m, count) places."""
    rows = []
    for a in range(count):
        for b in range(count):
            if a < b:
                swap = list(range(count))
                swap[a], swap[b] = b, a
                rows.append(swap)
            if a not in (b, b + 1):
                move = [k for k in range(count) if k != a]
                move.insert(b, a)
                rows.append(move)
    return np.array(rows)


def _kicked(order: Orders, chance: np.random.Generator) -> Orders:
    """Three random swaps away."""
    kicked = order.copy()
    for _ in range(3):
        a, b = chance.choice(len(order), 2, replace=False)
        kicked[[a, b]] = kicked[[b, a]]
    return kicked
