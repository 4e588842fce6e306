"""Wire by the metre: every run with its allowance, added up by gauge, cut from whole reels."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from buildplan.bill.derived.model import (
    Need,
    exact,
    listed,
    mark_of_rows,
    pack_for,
    spread_of,
    whole,
)

SLACK_FRAC = 0.10
"""Wire lies in bends: so much more than in the build file (common practice, no source)."""

SLACK_HIGH_FRAC = 0.25
"""Likewise, passed 1 time in 10 (common practice, no source)."""

END_MM = 20.0
"""Cut off at each end: stripped, tried on, done again (common practice, no source)."""

REELS_M = (1.0, 2.0, 5.0, 10.0, 25.0, 50.0, 100.0)
"""Lengths on sale (common practice, no source)."""

PLUG_CLASSES_A = (3.0, 5.0, 10.0, 15.0, 30.0)
"""Current ratings of small plugs on sale (common practice, no source)."""

PLUG_SHARE = 0.75
"""Steady current as a share of a plug's rating (common practice, as for fuses)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One wire run of a device.

    Attributes:
        name: The part at its end.
        feed: The part at its start.
        rail: Its volts in words ("5 V").
        gauge: "20 AWG" or "0.5 mm2".
        length_mm: Of one conductor, as the build file has it.
        conductors: How many there are: 2 for power, more with signals.
        plugs: Plug pairs in it that are typed in.
        peak_a: Most that it carries; 0 where not known.
    """

    name: str
    feed: str
    rail: str
    gauge: str
    length_mm: float
    conductors: int = 2
    plugs: int = 0
    peak_a: float = 0.0


def cut_m(run: Run, *, slack_frac: float = SLACK_FRAC, end_mm: float = END_MM) -> float:
    """Length of one conductor as it is cut: length (1 + slack) and both ends."""
    return (run.length_mm * (1.0 + slack_frac) + 2.0 * end_mm) / 1000.0


def reel_m(pieces_m: Sequence[float], pack_m: float) -> float:
    """Wire to buy so that every piece can be cut from reels of one length.

    The sum where it fits on one reel; else each reel but one may lose as much as the longest piece.

    Args:
        pieces_m: Length of every piece.
        pack_m: Length of a reel; pieces longer than it are counted as a reel each.
    """
    total = math.fsum(pieces_m)
    longest = max(pieces_m, default=0.0)
    if total <= pack_m:
        return total
    if longest >= pack_m / 2.0:
        return pack_m * sum(math.ceil(piece / pack_m) for piece in pieces_m)
    reels = math.ceil(total / (pack_m - longest))
    return total + (reels - 1) * longest


def wire_needs(runs: Iterable[Run]) -> tuple[Need, ...]:
    """One need a gauge: all conductors of all its runs, with slack and ends."""
    by_gauge: dict[str, list[Run]] = {}
    for run in runs:
        if run.length_mm > 0.0 and run.conductors > 0:
            by_gauge.setdefault(run.gauge, []).append(run)
    return tuple(_wire_need(gauge, rows) for gauge, rows in by_gauge.items())


def _wire_need(gauge: str, runs: Sequence[Run]) -> Need:
    pieces = [cut_m(run) for run in runs for _ in range(run.conductors)]
    pack = pack_for(exact(math.fsum(pieces)), REELS_M)
    likely = reel_m(pieces, float(pack))
    low = math.fsum(run.conductors * run.length_mm for run in runs) / 1000.0
    high = math.fsum(run.conductors * cut_m(run, slack_frac=SLACK_HIGH_FRAC) for run in runs)
    least, middle, most = spread_of(low, likely, max(high, likely), "m")
    said = [
        f"{run.rail} to {run.name}: {run.conductors} x {whole(run.length_mm)} mm" for run in runs
    ]
    return Need(
        kind="wire",
        item=f"wire {gauge}",
        quantity=middle,
        low=least,
        high=most,
        unit="m",
        pack=pack,
        used_in=listed(run.name for run in runs),
        asked_by=mark_of_rows(runs),
        why=f"{'; '.join(said)}; {SLACK_FRAC:.0%} slack and {END_MM:g} mm at each end",
        source="lengths of the build file; slack by common practice, no source",
    )


def plug_needs(runs: Iterable[Run]) -> tuple[Need, ...]:
    """Plug pairs by number of poles and current, as many as the runs say."""
    by_kind: dict[tuple[int, float], list[Run]] = {}
    for run in runs:
        if run.plugs > 0:
            by_kind.setdefault((run.conductors, plug_class_a(run.peak_a)), []).append(run)
    return tuple(
        _plug_need(poles, rating, rows) for (poles, rating), rows in sorted(by_kind.items())
    )


def plug_class_a(peak_a: float) -> float:
    """The smallest usual rating that carries a current at three quarters of it."""
    able = [rating for rating in PLUG_CLASSES_A if peak_a <= PLUG_SHARE * rating]
    return able[0] if able else math.ceil(peak_a / PLUG_SHARE)


def _plug_need(poles: int, rating_a: float, runs: Sequence[Run]) -> Need:
    count = exact(sum(run.plugs for run in runs))
    return Need(
        kind="wire",
        item=f"plug pair, {poles} poles, {rating_a:g} A",
        quantity=count,
        low=count,
        high=count,
        unit="piece",
        pack=pack_for(count, (1.0, 5.0, 10.0, 20.0, 50.0)),
        used_in=listed(run.name for run in runs),
        asked_by=mark_of_rows(runs),
        why="plugs of the power tables; "
        + ", ".join(f"{run.name} {run.plugs}, {run.peak_a:.2g} A at most" for run in runs),
        source="ratings at three quarters: common practice, no source",
    )
