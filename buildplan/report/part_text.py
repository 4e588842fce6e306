"""One part on the terminal: what it is, hours and grams, fit, what to look at."""

from rich.console import Console
from rich.text import Text

from buildplan.findings import worst
from buildplan.plan import PartPlan, chosen_option
from buildplan.process.compare import FeedstockComparison
from buildplan.report import numbers
from buildplan.report.gather import (
    check_words,
    hole_sizes,
    holes_line,
    note_line,
    tell,
    written,
)
from buildplan.report.terminal import WIDE, finding_block, hanging, note_row, sign, table
from buildplan.report.ways_section import ways_line

NAME_WIDTH = 10
"""Letters of a sign and its word, as before a finding."""


def print_part(to: Console, planned: PartPlan, currency: str) -> None:
    """Head line, the printers side by side, where the hours go, then the findings."""
    _print_head(to, planned)
    _print_options(to, planned, currency)
    _print_roles(to, planned)
    if planned.comparison:
        _print_materials(to, planned.comparison, currency)
    _print_findings(to, planned)
    first = Text.assemble(sign("note" if planned.orientations.marks else None))
    first.pad_right(NAME_WIDTH - len(first))
    line = numbers.plain(ways_line(planned.orientations))
    to.print(hanging(first, Text.assemble(("Ways up: ", "head"), f"{line}.")))


def _print_findings(to: Console, planned: PartPlan) -> None:
    """Stops, cautions and single notes in full; many notes of one check, and holes, in one line."""
    told = [one for one in tell(planned) if one.check != "orientation"]  # the ways up say it
    for one in told:
        if len(one.marks) == 1:
            to.print(finding_block(one.marks[0].finding))
        else:
            to.print(
                note_row(check_words(one.check), f"{note_line(one)}; see the report or --json")
            )
    holes = holes_line(hole_sizes(planned))
    if holes:
        to.print(note_row("holes", f"{holes}; each size is in the report and in --json"))
    if not told and not holes:
        to.print(sign(None), Text("       Nothing found to look at."), sep="")


def _print_head(to: Console, planned: PartPlan) -> None:
    part = planned.part
    facts = (
        f"{planned.feedstock.name}, recipe {planned.recipe.name}, {numbers.size(part.size_mm)}, "
        f"{numbers.num(part.volume_mm3 / 1000, 1, 'cm³')}, mesh {part.health.grade}"
    )
    to.print(
        Text.assemble((part.name, "head"), f"   {numbers.plain(facts)}   ", (part.source, "quiet"))
    )
    to.print()


def _print_options(to: Console, planned: PartPlan, currency: str) -> None:
    wide = to.width >= WIDE
    columns = [
        ("printer", "", False),
        ("usual", "h", True),
        ("9 times in 10", "under h", True),
        ("mass", "g", True),
        ("cost", currency, True),
        ("fit", "", False),
    ]
    if wide:
        columns.append(("room left x, y, z", "mm", True))
    made = table(*columns)
    for index, option in enumerate(planned.options):
        estimate, fit = option.estimate, option.fit
        style = "head" if index == planned.chosen else ""
        row = [
            Text(("› " if index == planned.chosen else "  ") + _words(option.printer), style=style),
            Text(numbers.plain(numbers.num(estimate.time_h, 1)), style=style),
            Text(numbers.plain(numbers.num(estimate.time_spread_h.high, 1)), style=style),
            Text(numbers.plain(numbers.num(estimate.mass_g, 1)), style=style),
            Text(numbers.plain(numbers.num(estimate.total_cost, 2)), style=style),
            Text.assemble(sign(None if fit.fits else "stop"), f"  {_fit_words(fit.how)}"),
        ]
        if wide:
            room = ", ".join(numbers.num(x, 0) for x in fit.slack_mm)
            row.append(Text(numbers.plain(room), style="quiet"))
        made.add_row(*row)
    to.print(made)
    to.print()


def _print_roles(to: Console, planned: PartPlan) -> None:
    estimate = chosen_option(planned).estimate
    made = table(("where the hours go", "", False), ("time", "h", True), ("share", "%", True))
    made.add_column(Text("length\nm", style="quiet"), justify="right", no_wrap=True)
    made.add_column(Text("mass\ng", style="quiet"), justify="right", no_wrap=True)
    total_h = max(estimate.time_h, 1e-12)
    for share in sorted(estimate.by_role, key=lambda s: -s.time_h):
        made.add_row(
            _words(share.role),
            numbers.plain(numbers.num(share.time_h, 2)),
            numbers.plain(numbers.num(100 * share.time_h / total_h, 0)),
            numbers.plain(numbers.num(share.length_m, 1)),
            numbers.plain(numbers.num(share.mass_g, 1)),
        )
    to.print(made)
    energy = numbers.num(estimate.energy_kwh, 2, "kWh")
    own = numbers.hours(estimate.own_time_h)
    to.print(
        Text(
            numbers.plain(
                f"{numbers.count(estimate.layers, 'layer')}, {energy}, {own} of your own"
            ),
            style="quiet",
        )
    )
    to.print()


def _print_materials(
    to: Console, comparison: tuple[FeedstockComparison, ...], currency: str
) -> None:
    wide = to.width >= WIDE
    columns = [
        ("feedstock", "", False),
        ("usual", "h", True),
        ("mass", "g", True),
        ("cost", currency, True),
        ("holds", "°C", True),
        ("good for", "", False),
    ]
    if wide:
        columns.append(("bad for", "", False))
    made = table(*columns)
    for row in comparison:
        if row.runs:
            cells = [
                numbers.num(row.time_h, 1),
                numbers.num(row.mass_g, 0),
                numbers.num(row.total_cost, 2),
            ]
        else:
            cells = ["", "", ""]
        words = written(row.good_for) if row.runs else f"not on this printer: {row.reason}"
        line = [row.name, *map(numbers.plain, cells), numbers.num(row.service_c, 0), words]
        made.add_row(*line, *([written(row.bad_for) if row.runs else ""] if wide else []))
    to.print(made)
    to.print()


def _fit_words(how: str) -> str:
    return {"not found": "does not fit"}.get(how, how)


def _words(name: str) -> str:
    return {"floor_roof": "floor and roof"}.get(name, name.replace("_", " "))


def part_severity(planned: PartPlan) -> Text:
    """Sign of the gravest finding of a part."""
    return sign(worst(planned.findings))
