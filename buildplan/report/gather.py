"""Findings of a part as a reader takes them in: each stop and caution, notes by check, holes.

Used by the report page and the terminal, so that both say the same.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from buildplan.checks.gaps import PrintedHole
from buildplan.checks.marks import Mark
from buildplan.findings import Finding, Severity
from buildplan.plan import PartPlan
from buildplan.report import numbers

_UNITS = ((re.compile(r"\b([cm]m)2\b"), "\\1²"), (re.compile(r"\b([cm]m)3\b"), "\\1³"))
_DEGREES = re.compile(r"(?<=\d) C\b")
CHECK_WORDS = {"repair": "mesh repair", "health": "mesh", "trapped": "trapped liquid"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What is told together: one stop or caution, or all notes of one check.

    Attributes:
        marks: The first is told in full, the others by their fact only.
    """

    check: str
    severity: Severity
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleSize:
    """Round holes that are alike.

    Attributes:
        drawn_mm: Diameter as drawn, the least of them.
        printed_mm: Diameter to expect; 0 where they close up.
        depth_mm: Least and greatest.
        about: Named features they are in, in words.
    """

    drawn_mm: float
    printed_mm: float
    count: int
    upright: bool
    through: bool
    depth_mm: tuple[float, float]
    about: str


def tell(planned: PartPlan) -> tuple[Told, ...]:
    """Every stop and caution by itself, then the notes check by check; notes on holes left out."""
    told = [
        Told(check=mark.finding.check, severity=mark.finding.severity, marks=(mark,))
        for mark in planned.marks
        if mark.finding.severity != "note"
    ]
    notes = [mark for mark in planned.marks if mark.finding.severity == "note"]
    checks = dict.fromkeys(mark.finding.check for mark in notes if mark.finding.check != "holes")
    told += [
        Told(
            check=check,
            severity="note",
            marks=tuple(mark for mark in notes if mark.finding.check == check),
        )
        for check in checks
    ]
    return tuple(told)


def hole_sizes(planned: PartPlan) -> tuple[HoleSize, ...]:
    """The round holes of a part, alike ones together, the narrowest first."""

    def kind(hole: PrintedHole) -> tuple[float, bool, bool, bool]:
        return round(hole.drawn_mm, 1), not hole.upright, not hole.through, hole.printed_mm <= 0.0

    marks = [mark for mark in planned.marks if mark.finding.check == "holes"]
    sizes = []
    for _, same in groupby(sorted(planned.checks.gaps.holes, key=kind), kind):
        holes = list(same)
        depths = [hole.depth_mm for hole in holes]
        sizes.append(
            HoleSize(
                drawn_mm=min(hole.drawn_mm for hole in holes),
                printed_mm=min(hole.printed_mm for hole in holes),
                count=len(holes),
                upright=holes[0].upright,
                through=holes[0].through,
                depth_mm=(min(depths), max(depths)),
                about=_features(marks, holes[0]),
            )
        )
    return tuple(sizes)


def holes_line(sizes: tuple[HoleSize, ...]) -> str:
    """All holes in one line: how many, of how many sizes, and how much narrower they print."""
    if not sizes:
        return ""
    count = sum(size.count for size in sizes)
    closed = sum(size.count for size in sizes if size.printed_mm <= 0.0)
    shrinks = [size.drawn_mm - size.printed_mm for size in sizes if size.printed_mm > 0.0]
    text = numbers.count(count, "hole")
    if 1 < len(sizes) < count:
        text += f" of {len(sizes)} kinds"
    if shrinks:
        low, high = (numbers.num(x, 1) for x in (min(shrinks), max(shrinks)))
        text += f" print{'s' if count == 1 else ''} about "
        text += f"{low if low == high else f'{low} to {high}'} mm narrower than drawn"
    if closed:
        text += (", " if shrinks else " ") + f"{closed} of them close up"
    return text


def note_line(told: Told) -> str:
    """The notes of one check in one line: the first fact, and how many more there are."""
    more = len(told.marks) - 1
    text = written(told.marks[0].finding.what)
    return f"{text}; {numbers.count(more, 'more note')} of this kind" if more else text


def check_words(check: str) -> str:
    """The name of a check as a person writes it."""
    return CHECK_WORDS.get(check, check)


def written(text: str, names: Iterable[str] = ()) -> str:
    """Units as people write them (mm², cm³, °C), names of parts without underscores."""
    for pattern, sign in _UNITS:
        text = pattern.sub(sign, text)
    text = _DEGREES.sub(" °C", text)
    for name in names:
        if "_" in name:
            text = re.sub(rf"\b{re.escape(name)}\b", name.replace("_", " "), text)
    return text


def place_and_numbers(finding: Finding, names: Iterable[str] = ()) -> str:
    """Where it is, what was measured and what is required, as one sentence."""
    between = "; " if finding.check == "orientation" else "; required: "
    text = f"{finding.measured}{between}{finding.required}"
    return written(f"{finding.where.text}: {text}" if finding.where.text else text, names) + "."


def _features(marks: list[Mark], hole: PrintedHole) -> str:
    for mark in marks:
        if np.isin(hole.facets[:1], mark.facets).any():
            return mark.finding.where.text.partition("touches ")[2]
    return ""
