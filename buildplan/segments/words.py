"""What a split says: its summary in one line, its finding, and why nothing was found."""

import math
from collections.abc import Sequence

from buildplan.errors import NoPlanError
from buildplan.findings import Finding, Place
from buildplan.segments.model import RejectedPlane, SplitRow
from buildplan.segments.question import Question
from buildplan.segments.rows import Made


def summary_of(rows: Sequence[SplitRow], chosen: int) -> str:
    """Splitting against not splitting, in one line."""
    row = rows[chosen]
    whole = next((r for r in rows if r.pieces == 1), None)
    if row.pieces == 1:
        others = [r for r in rows if r.pieces > 1 and r.fits]
        if not others:
            return f"Print it in one piece: {row.alone_h:.1f} h; no cut was found that helps."
        near = min(others, key=lambda r: r.cost)
        return (
            f"Print it in one piece: {row.run.expected_h:.1f} h expected; {near.pieces} pieces "
            f"would take {near.run.expected_h:.1f} h and {near.own_min - row.own_min:.0f} min "
            "more of your own time."
        )
    if whole is None or not whole.fits:
        why = whole.reason if whole else "it cannot be printed whole"
        return (
            f"{row.pieces} pieces, since {why}: {row.run.expected_h:.1f} h expected, 1 time in 20 "
            f"over {row.run.high_h:.1f} h, {row.own_min:.0f} min of your own time."
        )
    return (
        f"{row.pieces} pieces instead of one: {row.run.expected_h:.1f} h expected instead of "
        f"{whole.run.expected_h:.1f}, 1 time in 20 over {row.run.high_h:.1f} h instead of "
        f"{whole.run.high_h:.1f}, {row.own_min - whole.own_min:.0f} min more of your own time, "
        f"{row.print_cost - whole.print_cost:+.2f} in money when nothing fails."
    )


def findings_of(
    question: Question, rows: Sequence[SplitRow], chosen: int, summary: str
) -> tuple[Finding, ...]:
    """A note that the part goes together from pieces; none for one piece."""
    row = rows[chosen]
    if row.pieces == 1:
        return ()
    limit = question.limits.most_h
    return (
        Finding(
            check="segments",
            severity="note",
            what=f"goes together from {row.pieces} pieces, the longest print {row.longest_h:.1f} h",
            where=Place(text=", ".join(plane.words() for plane in row.cuts)),
            measured=f"{row.run.expected_h:.1f} h expected",
            required=f"at most {limit:g} h a print"
            if math.isfinite(limit)
            else "the least weighted cost",
            remedy=summary,
            source="restart model with the odds of failing given, not learned from a log",
        ),
    )


def no_plan(
    question: Question, made: Sequence[Made], rejected: Sequence[RejectedPlane]
) -> NoPlanError:
    """Why nothing keeps the limits, with the number that comes nearest."""
    name = question.part.name
    if not any(item.joints for item in made):
        reason = rejected[0].reason if rejected else "no plane was found"
        whole = f"; in one piece: {made[0].row.reason}" if made and made[0].row.reason else ""
        return NoPlanError(f"{name}: it cannot be cut: {reason}{whole}")
    near = min(made, key=lambda item: (round(item.excess_mm, 3), item.row.longest_h)).row
    if question.exactly and any(item.row.fits for item in made):
        able = ", ".join(str(item.row.pieces) for item in made if item.row.fits)
        return NoPlanError(
            f"{name}: no cut into exactly {question.exactly} pieces keeps the limits; "
            f"these numbers do: {able}"
        )
    pieces = "one piece" if near.pieces == 1 else f"{near.pieces} pieces"
    return NoPlanError(
        f"{name}: no cut into up to {question.most} pieces keeps the limits; the nearest has "
        f"{pieces}, the longest takes {near.longest_h:.1f} h ({near.reason}); allow more hours or "
        "pieces, or leave fewer boxes whole"
    )
