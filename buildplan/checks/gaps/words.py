"""What is said about gaps, holes and pins: one finding for those that are alike."""

from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.gaps.model import Gap, PrintedHole, ThinPin
from buildplan.checks.marks import Mark
from buildplan.errors import TableError
from buildplan.findings import Finding, Place, Severity
from buildplan.tables import source_of
from buildplan.tables.rules import Rules

MOST = 8
"""Groups of one kind that get a finding of their own; what is left is summed up in one more."""

TOUCH_MM = 0.05
"""Nobody draws a clearance this narrow: bodies so near each other are meant to touch (ours)."""

SNAPS_DIAMETERS = 2.0
"""An upright pin at least so many diameters long breaks between two layers; stubs do not (ours)."""

Item = TypeVar("Item", Gap, PrintedHole, ThinPin)


def gap_marks(gaps: Sequence[Gap], rules: Rules) -> tuple[Mark, ...]:
    """Findings about gaps: those that close first, then those that are too narrow to move."""
    groups = _alike(gaps, lambda gap: (gap.two_bodies, gap.fused, _touches(gap)))
    order = sorted(groups, key=lambda same: (not same[0].fused, not same[0].two_bodies))
    return tuple(_gap_mark(same, rules) for same in order)


def _touches(gap: Gap) -> bool:
    return gap.two_bodies and gap.low_mm < TOUCH_MM


def _gap_mark(same: list[Gap], rules: Rules) -> Mark:
    gap = min(same, key=lambda one: one.low_mm)
    size = f"{gap.low_mm:.2f} mm"
    more = _more(len(same) - 1, "gap")
    severity: Severity
    if _touches(gap):
        severity = "caution"
        area_mm2 = 0.5 * gap.area_mm2
        what = f"two bodies touch over {area_mm2:.0f} mm² and print as one{more}"
        remedy = (
            "Join them in the drawing if they are to be one, or move them at least "
            f"{rules.gap_moving_mm:g} mm apart."
        )
    elif gap.two_bodies:
        severity = "stop" if gap.fused else "caution"
        fate = "closes up: they print as one" if gap.fused else "is too narrow to move freely"
        what = f"the gap of {size} between two bodies {fate}{more}"
        remedy = (
            f"Make the gap at least {rules.gap_moving_mm:g} mm where they must move, or print them "
            "apart; join them in the drawing if they are to be one."
        )
    else:
        severity = "caution" if gap.fused else "note"
        fate = "closes up" if gap.fused else "may close in places"
        what = f"a gap of {size} over {0.5 * gap.area_mm2:.0f} mm² {fate}{more}"
        remedy = (
            f"Make it at least {rules.gap_moving_mm:g} mm wide if it must stay open or move; "
            "where nothing must move it does no harm."
        )
    field = "gap_fused_mm" if gap.fused else "gap_moving_mm"
    needed = f"at least {rules.gap_moving_mm:g} mm to move"
    return Mark(
        finding=Finding(
            check="gaps",
            severity=severity,
            what=what,
            where=_place(gap),
            measured=f"{size} wide, {sum(0.5 * one.area_mm2 for one in same):.0f} mm² in all",
            required=f"more than {rules.gap_fused_mm:g} mm, {needed}" if gap.fused else needed,
            remedy=remedy,
            source=_source(rules, field),
        ),
        facets=_facets(same),
    )


def hole_marks(holes: Sequence[PrintedHole], rules: Rules) -> tuple[Mark, ...]:
    """Findings about holes: those that close up first, then the narrowest."""
    groups = _alike(
        holes,
        lambda hole: (round(hole.drawn_mm, 1), hole.upright, hole.through, hole.printed_mm > 0.0),
    )
    groups.sort(key=lambda same: (same[0].printed_mm > 0.0, same[0].drawn_mm, not same[0].upright))
    marks = [_hole_mark(same, rules) for same in groups[:MOST]]
    rest = [hole for same in groups[MOST:] for hole in same]
    if rest:
        marks.append(_rest_mark(rest, rules))
    return tuple(marks)


def _hole_mark(same: list[PrintedHole], rules: Rules) -> Mark:
    hole = same[0]
    way = "an upright" if hole.upright else "a lying"
    end = "through" if hole.through else f"{hole.depth_mm:.1f} mm deep, blind"
    more = _more(len(same) - 1, "hole")
    field = "hole_shrink_mm" if hole.upright else "hole_lying_shrink_mm"
    drill = f"{hole.drawn_mm:.1f} mm drill"
    if hole.printed_mm <= 0.0:
        field = "hole_least_mm"
        severity: Severity = "caution"
        what = f"{way} hole of {hole.drawn_mm:.2f} mm ({end}) closes up{more}"
        required = f"at least {rules.hole_least_mm:g} mm"
        remedy = (
            f"Draw it at least {rules.hole_least_mm:g} mm wide, or leave it out and drill it "
            f"afterwards with a {drill}."
        )
        measured = f"{hole.drawn_mm:.2f} mm as drawn"
    else:
        severity = "note"
        what = (
            f"{way} hole of {hole.drawn_mm:.2f} mm ({end}) prints about {hole.printed_mm:.2f} mm "
            f"wide{more}"
        )
        required = f"{hole.drawn_mm:.2f} mm, where the fit matters"
        wider = 2.0 * hole.drawn_mm - hole.printed_mm
        remedy = f"Draw it {wider:.2f} mm wide, or ream it with a {drill}, where the fit matters."
        measured = f"{hole.printed_mm:.2f} mm expected"
    return Mark(
        finding=Finding(
            check="holes",
            severity=severity,
            what=what,
            where=_place(hole),
            measured=measured,
            required=required,
            remedy=remedy,
            source=_source(rules, field),
        ),
        facets=_facets(same),
    )


def _rest_mark(rest: list[PrintedHole], rules: Rules) -> Mark:
    least, most = min(one.drawn_mm for one in rest), max(one.drawn_mm for one in rest)
    shrink = max(one.drawn_mm - one.printed_mm for one in rest)
    return Mark(
        finding=Finding(
            check="holes",
            severity="note",
            what=(
                f"{len(rest)} more holes of {least:.1f} to {most:.1f} mm print narrower than drawn"
            ),
            where=_place(rest[0]),
            measured=f"up to {shrink:.2f} mm narrower",
            required="the diameter drawn, where the fit matters",
            remedy=f"Draw them {shrink:.2f} mm wider, or ream them, where the fit matters.",
            source=_source(rules, "hole_shrink_mm"),
        ),
        facets=_facets(rest),
    )


def pin_marks(pins: Sequence[ThinPin], bead_mm: float | None, rules: Rules) -> tuple[Mark, ...]:
    """Findings about pins, the thinnest first; walls tell of those thinner than one bead."""
    told = [pin for pin in pins if bead_mm is None or pin.diameter_mm >= bead_mm]
    groups = _alike(told, lambda pin: (round(pin.diameter_mm, 1), pin.upright, _snaps(pin)))
    groups.sort(key=lambda same: same[0].diameter_mm)
    return tuple(_pin_mark(same, bead_mm, rules) for same in groups[:MOST])


def _snaps(pin: ThinPin) -> bool:
    return pin.upright and pin.length_mm >= SNAPS_DIAMETERS * pin.diameter_mm


def _pin_mark(same: list[ThinPin], bead_mm: float | None, rules: Rules) -> Mark:
    pin = min(same, key=lambda one: one.diameter_mm)
    too_thin = bead_mm is not None and pin.diameter_mm < 2.0 * bead_mm
    if too_thin:
        fate = "is thinner than two beads and prints as a string of blobs"
    elif _snaps(pin):
        fate = "snaps off between two layers"
    else:
        fate = "is weak"
    way = "an upright" if pin.upright else "a lying"
    beads = f" ({2.0 * bead_mm:g} mm are two beads)" if bead_mm is not None else ""
    return Mark(
        finding=Finding(
            check="pins",
            severity="caution" if too_thin or _snaps(pin) else "note",
            what=(
                f"{way} pin of {pin.diameter_mm:.2f} mm, {pin.length_mm:.1f} mm long, {fate}"
                f"{_more(len(same) - 1, 'pin')}"
            ),
            where=_place(pin),
            measured=f"{pin.diameter_mm:.2f} mm across",
            required=f"at least {rules.pin_least_mm:g} mm{beads}",
            remedy=(
                f"Make it at least {rules.pin_least_mm:g} mm thick, or draw a hole and put a metal "
                "pin or a screw in."
            ),
            source=_source(rules, "pin_least_mm"),
        ),
        facets=_facets(same),
    )


def _alike(items: Iterable[Item], key: Callable[[Item], object]) -> list[list[Item]]:
    """Items grouped by a key, in the order in which the keys appear."""
    groups: dict[object, list[Item]] = {}
    for item in items:
        groups.setdefault(key(item), []).append(item)
    return list(groups.values())


def _more(count: int, noun: str) -> str:
    return f"; {count} more {noun}{'s' if count > 1 else ''} like it" if count else ""


def _place(item: Gap | PrintedHole | ThinPin) -> Place:
    x, y, z = item.point_mm
    return Place(
        text=f"near ({x:.1f}, {y:.1f}, {z:.1f}) mm", point_mm=item.point_mm, box_mm=item.box_mm
    )


def _facets(same: Sequence[Gap | PrintedHole | ThinPin]) -> NDArray[np.int64]:
    joined = np.unique(np.concatenate([one.facets for one in same]))
    joined.flags.writeable = False
    return joined


def _source(rules: Rules, field: str) -> str:
    try:
        return f"rule {rules.key}, {field}: {source_of('rule', rules.key, field)}"
    except TableError:
        return f"rule {rules.key} of the build file, {field}"
