"""The order of the prints: an iterated local search over swaps and moves, many orders at once.

Every order of a neighbourhood is one column of the same arithmetic; what is sought is the hour at
which the last print and the work behind it are done, with usual hours and no failure.
Source: Lourenco, Martin, Stutzle (2003), Iterated local search, in Handbook of Metaheuristics.
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.decide.calendar.batch import first_start_h
from buildplan.decide.calendar.model import Job, Step
from buildplan.decide.calendar.network import check_network, tails_h
from buildplan.decide.calendar.windows import Windows

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
    tail = np.array([tails_h(jobs, steps)[job.name] for job in jobs])
    length = np.array([job.set_up_h + job.print_h + job.removal_h for job in jobs])
    starts = [np.argsort(-(length + tail), kind="stable"), np.argsort(-tail, kind="stable")]
    starts += [chance.permutation(len(jobs)) for _ in range(STARTS - 2)]
    best, least = _descend(starts[0], jobs, windows, printers, tail)
    for start in starts[1:]:
        found, score = _descend(start, jobs, windows, printers, tail)
        if score < least:
            best, least = found, score
    here, here_score = best, least
    for _ in range(KICKS if len(jobs) > 3 else 0):
        start = _kicked(here, chance)
        found, score = _descend(start, jobs, windows, printers, tail)
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
    tail = np.array([tails_h(jobs, steps)[job.name] for job in jobs])
    return np.asarray(_ends_h(orders, jobs, windows, printers, tail).max(axis=1))


def _ends_h(
    orders: Orders,
    jobs: tuple[Job, ...],
    windows: Windows,
    printers: tuple[str, ...],
    tail: Hours,
) -> Hours:
    """When each place of each order is done with what hangs behind it: (m, jobs)."""
    rows = np.arange(len(orders))
    may = np.array([[name in job.printers for name in printers] for job in jobs])
    begin = np.array([first_start_h(job, windows) for job in jobs])
    set_up = np.array([job.set_up_h for job in jobs])
    print_h = np.array([job.print_h for job in jobs])
    removal = np.array([job.removal_h for job in jobs])
    rest = np.array([job.wash_h + job.cure_h for job in jobs])
    alone = np.array([job.attended_only for job in jobs])
    need = set_up + np.where(alone, print_h + removal, 0.0)
    free = np.zeros((len(orders), len(printers)))
    done = np.empty(orders.shape)
    for place in range(orders.shape[1]):
        job = orders[:, place]
        open_h = np.where(may[job], np.maximum(free, begin[job][:, None]), math.inf)
        chosen = np.argmin(open_h, axis=1)
        start = _fit_kinds(windows, open_h[rows, chosen], need, job)
        end = start + set_up[job] + print_h[job]
        off = _fit_kinds(windows, end, removal, job) + removal[job]
        free[rows, chosen] = off
        done[:, place] = off + rest[job]
    flat = orders.ravel()
    ends: Hours = windows.work(done.ravel(), tail[flat]).reshape(done.shape)
    return ends


def _fit_kinds(windows: Windows, times: Hours, need: Hours, job: Orders) -> Hours:
    """Fit with one search for each length that occurs, or a walk where there are many."""
    lengths = np.unique(need)
    if len(lengths) == 1:
        return windows.fit(times, float(lengths[0]))
    return windows.fit(times, need[job])


def _score(ends: Hours) -> Hours:
    late = np.minimum(ends, 1e9)
    return np.asarray(late.max(axis=1) + SUM_WEIGHT * late.sum(axis=1))


def _descend(
    order: Orders,
    jobs: tuple[Job, ...],
    windows: Windows,
    printers: tuple[str, ...],
    tail: Hours,
) -> tuple[Orders, float]:
    """Take the best swap or move until none is better."""
    moves = _moves(len(jobs))
    score = float(_score(_ends_h(order[None], jobs, windows, printers, tail))[0])
    while True:
        near = order[moves]
        scores = _score(_ends_h(near, jobs, windows, printers, tail))
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
