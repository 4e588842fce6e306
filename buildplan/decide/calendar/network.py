"""Whether prints, steps and order hold together, and what hangs behind each."""

from collections import Counter
from collections.abc import Sequence
from functools import lru_cache

from buildplan.decide.calendar.model import Job, Step
from buildplan.errors import InputError


def items_of(jobs: tuple[Job, ...], steps: tuple[Step, ...]) -> tuple[Job | Step, ...]:
    """Prints, then steps, in the order that all arrays of items follow."""
    return (*jobs, *steps)


def check_network(
    jobs: tuple[Job, ...], steps: tuple[Step, ...], printers: tuple[str, ...], order: Sequence[int]
) -> None:
    """Refuse names twice, names unknown, a ring of steps, a print without printer, a bad order.

    Raises:
        InputError: With the name.
    """
    counts = Counter(item.name for item in items_of(jobs, steps))
    if not counts:
        raise InputError("calendar: no print and no step found; one is needed")
    twice = [name for name, count in counts.items() if count > 1]
    if twice:
        raise InputError(f"calendar: the name {twice[0]!r} stands twice; give each its own")
    for step in steps:
        for name in step.after:
            if name not in counts:
                raise InputError(
                    f"calendar: step {step.name!r} comes after {name!r}, which is neither a print "
                    "nor a step; correct the name"
                )
    for job in jobs:
        if not set(job.printers) & set(printers):
            raise InputError(
                f"calendar: print {job.name!r} may run on {', '.join(job.printers) or 'none'}; "
                f"printers here: {', '.join(printers) or 'none'}; name one of them"
            )
        if job.print_h <= 0.0 or min(job.set_up_h, job.removal_h, job.hazard_frac_h) < 0.0:
            raise InputError(
                f"calendar: print {job.name!r} needs hours above 0 and no number below"
            )
    if sorted(order) != list(range(len(jobs))):
        raise InputError(
            f"calendar: order {list(order)} found; each of 0 to {len(jobs) - 1} once is needed"
        )
    step_order(jobs, steps)


@lru_cache(maxsize=64)
def step_order(jobs: tuple[Job, ...], steps: tuple[Step, ...]) -> tuple[int, ...]:
    """Places of the steps, each after the steps that it waits for (documented cache).

    Raises:
        InputError: Steps wait for each other in a ring.
    """
    known = {job.name for job in jobs}
    left, found = list(range(len(steps))), []
    while left:
        free = [k for k in left if known.issuperset(steps[k].after)]
        if not free:
            names = ", ".join(steps[k].name for k in left)
            raise InputError(f"calendar: {names} wait for each other in a ring; break it")
        found += free
        known |= {steps[k].name for k in free}
        left = [k for k in left if k not in free]
    return tuple(found)


@lru_cache(maxsize=64)
def tails_h(jobs: tuple[Job, ...], steps: tuple[Step, ...]) -> dict[str, float]:
    """Longest attended hours and rests behind each item, its own included for a step (cached)."""
    tails: dict[str, float] = {}
    for k in reversed(step_order(jobs, steps)):
        step = steps[k]
        later = [tails[other.name] for other in steps if step.name in other.after]
        tails[step.name] = step.work_h + step.cure_h + max(later, default=0.0)
    for job in jobs:
        behind = [tails[step.name] for step in steps if job.name in step.after]
        tails[job.name] = max(behind, default=0.0)
    return tails
