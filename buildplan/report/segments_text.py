"""A split part, a coupon and a ladder on the terminal: one screen each."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from rich.console import Console
from rich.text import Text

from buildplan.findings import SEVERITIES
from buildplan.process.estimate import PrintEstimate
from buildplan.report import numbers
from buildplan.report.terminal import WIDE, print_findings, sign, table
from buildplan.segments.assembly import assembly_steps, bought_for
from buildplan.segments.coupon import Coupon
from buildplan.segments.ladder import Ladder
from buildplan.segments.model import Piece, SegmentPlan, SplitRow

REJECTED_SHOWN = 3
FINDINGS_SHOWN = 3

HOW = {
    "as placed": "as the part stands",
    "cut face down": "on its cut face",
    "turned to fit": "laid over, so that it fits",
    "flat": "flat",
}


def print_segments(
    to: Console, plan: SegmentPlan, currency: str, files: Iterable[Path] = ()
) -> None:
    """Summary, the table by number of pieces, pieces, joints, refused planes, findings, files."""
    to.print(Text.assemble((plan.part, "head"), ("   cut into pieces", "quiet")))
    to.print(Text.assemble(sign(None), "  ", (numbers.plain(plan.summary), "head")))
    to.print()
    _print_table(to, plan, currency)
    _print_pieces(to, plan)
    _print_joints(to, plan)
    _print_rejected(to, plan)
    shown = sorted(plan.findings, key=lambda finding: SEVERITIES.index(finding.severity))
    shown = [finding for finding in shown if finding.severity != "note"][:FINDINGS_SHOWN]
    if shown:
        print_findings(to, shown)
    if len(plan.findings) > len(shown):
        rest = numbers.count(len(plan.findings) - len(shown), "finding")
        to.print(Text(f"{rest} more on the pieces in segments.json", style="quiet"))
    for path in files:
        to.print(Text(str(path), style="quiet"), soft_wrap=True)


def print_coupon(
    to: Console, coupon: Coupon, estimate: PrintEstimate, currency: str, files: Iterable[Path] = ()
) -> None:
    """What a coupon is, what it takes, what was left out or put under it."""
    facts = (
        f"{numbers.size(coupon.part.size_mm)}, {100.0 * coupon.volume_frac:.1f} % of {coupon.of}, "
        f"{coupon.margin_mm:.1f} mm kept around the box"
    )
    to.print(Text.assemble((coupon.part.name, "head"), f"   {numbers.plain(facts)}"))
    _print_takes(to, [estimate], currency)
    if coupon.has_base:
        to.print("It stands on too little by itself, so a base was put under it: cut it off after.")
    if coupon.dropped:
        loose = numbers.count(coupon.dropped, "loose splinter")
        to.print(f"{loose} of {coupon.dropped_mm3:.1f} mm³ in all left out.")
    for path in files:
        to.print(Text(str(path), style="quiet"), soft_wrap=True)


def print_ladder(
    to: Console,
    ladder: Ladder,
    estimates: Sequence[PrintEstimate],
    currency: str,
    files: Iterable[Path] = (),
) -> None:
    """A ladder's rungs, what it takes and what to do with it."""
    to.print(Text(ladder.name, style="head"))
    rungs = table(("notches", "", True), ("step", "mm", True))
    for notches, step in enumerate(ladder.rungs_mm, 1):
        rungs.add_row(str(notches), numbers.plain(numbers.num(step, 2)))
    to.print(rungs)
    _print_takes(to, estimates, currency)
    to.print(ladder.how)
    for path in files:
        to.print(Text(str(path), style="quiet"), soft_wrap=True)


def _print_takes(to: Console, estimates: Sequence[PrintEstimate], currency: str) -> None:
    hours = numbers.hours(sum(estimate.time_h for estimate in estimates))
    mass = numbers.grams(sum(estimate.mass_g for estimate in estimates))
    cost = numbers.money(sum(estimate.total_cost for estimate in estimates), currency)
    to.print(numbers.plain(f"It takes {hours}, {mass} of feedstock and {cost} in all."))


def _print_table(to: Console, plan: SegmentPlan, currency: str) -> None:
    wide = to.width >= WIDE
    made = table(
        ("pieces", "", True),
        ("expected", "h", True),
        ("1 in 20 over", "h", True),
        ("longest", "h", True),
        ("own time", "min", True),
        *([("feedstock", "g", True), ("printing", currency, True)] if wide else []),
        ("weighed", currency, True),
        ("", "", False),
    )
    for index, row in enumerate(plan.table):
        style = "head" if index == plan.chosen else "" if row.fits else "quiet"
        mark = "› " if index == plan.chosen else "  "
        cells = [f"{mark}{row.pieces}", *_row_numbers(row, wide=wide)]
        words = "chosen" if index == plan.chosen else _why(row)
        made.add_row(*(Text(cell, style=style) for cell in cells), Text(words, style=style))
    to.print(made)
    if not all(row.joints_in for row in plan.table):
        to.print(
            Text(
                "Rows not chosen: cut, joined and estimated too, the hours without the joints' own "
                "holes and tabs.",
                style="quiet",
            )
        )
    to.print()


def _row_numbers(row: SplitRow, *, wide: bool) -> list[str]:
    values = [(row.run.expected_h, 1), (row.run.high_h, 1), (row.longest_h, 1), (row.own_min, 0)]
    if wide:
        values += [(row.mass_g, 0), (row.print_cost, 2)]
    values.append((row.cost, 2))
    return [numbers.plain(numbers.num(value, digits)) for value, digits in values]


def _why(row: SplitRow) -> str:
    """Why a row cannot be taken, in a few words; the reason in full stands in segments.json."""
    if row.fits:
        return ""
    if "does not fit" in row.reason:
        return "too large"
    return "too long" if "are allowed" in row.reason else "no joint holds"


def _short(reason: str) -> str:
    return reason.split(";")[0]


def _print_pieces(to: Console, plan: SegmentPlan) -> None:
    wide = to.width >= WIDE
    made = table(
        ("print", "", False),
        ("hours", "h", True),
        ("mass", "g", True),
        ("size", "mm", True),
        ("how it lies", "", False),
    )
    for piece in (*plan.pieces, *plan.loose):
        made.add_row(
            piece.name,
            numbers.plain(numbers.num(piece.estimate.time_h, 1)),
            numbers.plain(numbers.num(piece.estimate.mass_g, 1)),
            " x ".join(numbers.num(x, 0) for x in piece.part.size_mm),
            _lies(piece) if wide else HOW[piece.laid],
        )
    to.print(made)
    to.print()


def _lies(piece: Piece) -> str:
    turned = ", turned on the platform" if piece.fit.how == "turned about z" else ""
    return HOW[piece.laid] + turned


def _print_joints(to: Console, plan: SegmentPlan) -> None:
    if not plan.joints:
        return
    for step in assembly_steps(plan):
        to.print(Text.assemble((f"{step.joint}  ", "head"), f"{step.text}."))
    bought = [
        f"{piece.quantity:g} {'x' if piece.unit == 'piece' else piece.unit} {piece.item}"
        for piece in bought_for(plan.joints)
    ]
    if bought:
        to.print(Text.assemble(("to buy  ", "quiet"), ", ".join(bought)))
    to.print()


def _print_rejected(to: Console, plan: SegmentPlan) -> None:
    if not plan.rejected:
        return
    shown = [f"{entry.plane.words()}: {_short(entry.reason)}" for entry in plan.rejected]
    for line in shown[:REJECTED_SHOWN]:
        to.print(Text(f"not cut at {line}", style="quiet"))
    if len(shown) > REJECTED_SHOWN:
        to.print(Text(f"and {len(shown) - REJECTED_SHOWN} more planes refused", style="quiet"))
    to.print()
