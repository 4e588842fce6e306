"""Time two ways in turn and compare them, so that a busy machine slows both."""

from dataclasses import dataclass
from statistics import median
from time import perf_counter


@dataclass(frozen=True)
class Row:
    """One line of the table that a benchmark run ends with."""

    what: str
    reference: str
    measured: float
    required: float


ROWS = []


def seconds(call):
    """Wall time of one call."""
    start = perf_counter()
    call()
    return perf_counter() - start


def ratio(ours, reference, rounds=15, ours_per_round=1):
    """Median time of the reference over that of ours: how many times faster ours is.

    The two run in turn in one process; ours is called once before, so that it is compiled.
    """
    ours()
    own, other = [], []
    for _ in range(rounds):
        own += [seconds(ours) for _ in range(ours_per_round)]
        other.append(seconds(reference))
    return median(other) / median(own)


def record(what, reference, measured, required):
    """Put a ratio into the table and hold it to what is required."""
    ROWS.append(Row(what, reference, measured, required))
    assert measured >= required, f"{what}: {measured:.3g} times {reference}, required {required:g}"
