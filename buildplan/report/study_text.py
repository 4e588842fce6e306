"""A study of many combinations as a table on the terminal and as CSV."""

import csv
from collections.abc import Iterable, Sequence
from io import StringIO
from pathlib import Path

from rich.console import Console
from rich.text import Text

from buildplan.plan.study import StudyRow
from buildplan.report import numbers
from buildplan.report.files import safe_cell
from buildplan.report.sections import words
from buildplan.report.terminal import hanging, sign, table

SHOWN = 6
"""Combinations of one part that the terminal shows."""

COLUMNS = (
    "part", "way", "recipe", "feedstock", "printer", "fits", "how", "time_h", "mass_g", "support_g",
    "cost", "currency", "refused",
)  # fmt: skip


def print_study(
    to: Console, rows: Sequence[StudyRow], currency: str, written: Path | None = None
) -> None:
    """The cheapest combinations of each part, then what does not fit or cannot be computed."""
    to.print(Text(study_heading(rows), style="head"))
    to.print()
    made = table(
        ("part", "", False),
        ("way up", "", False),
        ("feedstock", "", False),
        ("printer", "", False),
        ("usual", "h", True),
        ("mass", "g", True),
        ("cost", currency, True),
    )
    hidden = 0
    for name in dict.fromkeys(row.part for row in rows):
        own = best_first(row for row in rows if row.part == name)
        hidden += max(len(own) - SHOWN, 0)
        for place, row in enumerate(own[:SHOWN]):
            made.add_row(
                Text(words(name) if place == 0 else "", style="head"),
                way_words(row.way),
                words(row.feedstock),
                words(row.printer),
                numbers.plain(numbers.num(row.time_h, 1)),
                numbers.plain(numbers.num(row.mass_g, 0)),
                numbers.plain(numbers.num(row.cost, 2)),
            )
    to.print(made)
    for line in lost_lines(rows):
        to.print(hanging(sign("note"), numbers.plain(line)))
    if hidden:
        more = numbers.count(hidden, "more combination")
        to.print(f"{more} that fit: --csv FILE writes all of them.")
    if written is not None:
        to.print(str(written))


def best_first(rows: Iterable[StudyRow]) -> list[StudyRow]:
    """Those that fit and could be computed, the cheapest first, then the quickest."""
    able = [row for row in rows if row.fits and not row.refused]
    return sorted(able, key=lambda row: (round(row.cost, 6), row.time_h))


def study_heading(rows: Sequence[StudyRow]) -> str:
    """How many combinations there are and how many of them can be printed."""
    able = sum(row.fits and not row.refused for row in rows)
    parts = numbers.count(len({row.part for row in rows}), "part")
    return f"{able} of {len(rows)} combinations of {parts} can be printed as they stand"


def way_words(way: int) -> str:
    """A way up in words."""
    return "as oriented" if way == 0 else f"other way {way}"


def lost_lines(rows: Sequence[StudyRow]) -> list[str]:
    """What does not fit, and why combinations could not be computed, each reason once."""
    outside = sum(not row.fits and not row.refused for row in rows)
    said = []
    if outside:
        many = "combination does" if outside == 1 else "combinations do"
        said = [f"{outside} {many} not fit the platform"]
    reasons: dict[str, int] = {}
    for row in rows:
        if row.refused:
            reasons[row.refused] = reasons.get(row.refused, 0) + 1
    return [*said, *(f"{count} left out: {reason}" for reason, count in reasons.items())]


def study_csv(rows: Sequence[StudyRow], currency: str) -> str:
    """Every combination; no cell can start a formula in a spreadsheet."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        known = {name: getattr(row, name) for name in COLUMNS if name != "currency"}
        cells = {**known, "currency": currency, "fits": "yes" if row.fits else "no"}
        writer.writerow([safe_cell(cells[name]) for name in COLUMNS])
    return out.getvalue()
