"""The whole plan on the terminal: verdict, parts, what to do first, where the files are."""

from collections.abc import Iterable
from pathlib import Path

from rich.console import Console
from rich.text import Text

from buildplan.decide.card import BadDayCard
from buildplan.findings import worst
from buildplan.plan import PartPlan, Plan
from buildplan.plan.revision import mark_of
from buildplan.plan.takes import takes_of, where_got
from buildplan.report import numbers
from buildplan.report.calendar_section import calendar_heading, calendar_lines
from buildplan.report.card_words import card_sentences, look_rows
from buildplan.report.choice_section import choice_heading, choice_sentences, reason_lines
from buildplan.report.cycles_section import names_in, own_saved_h
from buildplan.report.device_text import print_needs
from buildplan.report.gather import written
from buildplan.report.readiness_text import print_readiness
from buildplan.report.terminal import WIDE, hanging, sign, table
from buildplan.report.verdict import verdict_sentence, what_sets_the_date
from buildplan.report.ways_section import ways_heading

FIRST_SHOWN = 6


def print_plan(to: Console, plan: Plan, files: Iterable[Path] = ()) -> None:
    """Verdict first, then a row for each part, then what to do, then the files written."""
    head = Text.assemble((plan.name, "head"))
    if plan.revision:
        head.append(f" revision {plan.revision}")
    head.append(f"   {Path(plan.file).name} {plan.sha256[:4]} {plan.sha256[4:8]}", style="quiet")
    head.append(f"   to emboss: {mark_of(plan)}", style="quiet")
    to.print(head)
    to.print()
    to.print(Text.assemble(sign(plan.verdict), "  ", (verdict_sentence(plan), "head")))
    to.print(Text(numbers.plain(_money_sentence(plan))))
    if plan.calendar is not None:
        to.print(Text(numbers.plain(f"{calendar_heading(plan.calendar)}.")))
        if said := what_sets_the_date(plan):
            to.print(Text(said))
    to.print()
    _print_parts(to, plan)
    _print_cycles(to, plan)
    _print_pieces(to, plan)
    _print_choice(to, plan)
    if plan.device is not None:
        to.print(Text("Device", style="head"))
        print_needs(to, plan.device)
    turned = any(item.orientations.marks for item in plan.parts)
    to.print(
        Text.assemble(sign("note" if turned else None), f"  {numbers.plain(ways_heading(plan))}.")
    )
    to.print()
    _print_first(to, plan)
    _print_decisions(to, plan)
    for path in files:
        to.print(Text(str(path), style="quiet"), soft_wrap=True)


def _print_choice(to: Console, plan: Plan) -> None:
    """How each part is best got, and what would change it."""
    choice = plan.choice
    if choice is None:
        return
    to.print(Text("At home or sent out", style="head"))
    to.print(Text(numbers.plain(choice_heading(choice, plan.currency) + ".")))
    for line in (*reason_lines(choice, plan.currency), *choice_sentences(choice, plan.currency)):
        to.print(hanging(Text("-"), Text(numbers.plain(line))))
    for finding in choice.findings:
        said = numbers.plain(f"{finding.what}: {finding.remedy}")
        to.print(hanging(sign(finding.severity), Text(said)))
    to.print()


def _print_decisions(to: Console, plan: Plan) -> None:
    """When it is done and why, and what to try before the longest print."""
    if plan.calendar is not None:
        to.print(Text("When it is done", style="head"))
        for line in calendar_lines(plan.calendar):
            to.print(Text(numbers.plain(line)))
        to.print()
    for one in plan.ready[:1]:
        to.print(Text(f"Before the print of the {one.part.replace('_', ' ')}", style="head"))
        for line in card_sentences(one.card, plan.currency):
            to.print(Text(numbers.plain(line)))
        _print_looks(to, one.card)
        print_readiness(to, one.readiness, brief=True)
        to.print()


def _print_looks(to: Console, card: BadDayCard) -> None:
    made = table(
        ("look after", "h", True), ("layer", "", True), ("at", "mm", True), ("for", "", False)
    )
    for row in look_rows(card):
        made.add_row(*(numbers.plain(cell) for cell in row))
    to.print(made)
    to.print()


def _money_sentence(plan: Plan) -> str:
    printing = numbers.money(float(plan.print_cost), plan.currency)
    bill = numbers.money(float(plan.bill_cost), plan.currency)
    said = f"Printing takes {printing} of feedstock, energy, wear and own time; to buy: {bill}."
    if plan.logged:
        said += (
            f" Hours and grams are put right by your {numbers.count(plan.logged, 'logged print')}."
        )
    return said


def _print_parts(to: Console, plan: Plan) -> None:
    wide = to.width >= WIDE
    made = table(
        ("part", "", False),
        ("printer", "", False),
        ("usual", "h", True),
        ("1 in 10 over", "h", True),
        ("mass", "g", True),
        ("cost", plan.currency, True),
        ("look at", "", False),
    )
    for item in plan.parts:
        made.add_row(*_part_row(item, plan, wide))
    made.add_section()
    made.add_row(
        Text("all parts", style="head"),
        "",
        Text(_plain(plan.time_h.likely, 1), style="head"),
        Text(_plain(plan.time_h.high, 1), style="head"),
        Text(_plain(plan.mass_g.likely, 0), style="head"),
        Text(_plain(float(plan.print_cost), 2), style="head"),
        "",
    )
    to.print(made)
    to.print()


def _print_cycles(to: Console, plan: Plan) -> None:
    """What shares a platform, and what a failure costs; those parts that share nothing in brief."""
    if not plan.cycles:
        return
    wide = to.width >= WIDE
    columns = [
        ("build cycle", "", False),
        ("pieces", "", False),
        ("usual", "h", True),
        ("own time saved", "min", True) if wide else ("saved", "min", True),
        ("lost at a failure, mean", "h", True) if wide else ("lost, mean", "h", True),
        ("at worst", "h", True),
    ]
    columns += [("mean", plan.currency, True), ("at worst", plan.currency, True)] if wide else []
    made = table(*columns)
    for one in plan.cycles:
        for cycle in one.cycles:
            mean, worst_loss = cycle.at_stake.mean, cycle.at_stake.worst
            money = [_plain(mean.cost, 2), _plain(worst_loss.cost, 2)] if wide else []
            made.add_row(
                Text(f"{one.printer.key.replace('_', ' ')} {cycle.number}", style="head"),
                numbers.plain(names_in(cycle)),
                _plain(cycle.time_h, 1),
                _plain(60.0 * own_saved_h(cycle), 0),
                _plain(mean.time_h, 1),
                _plain(worst_loss.time_h, 1),
                *money,
            )
    to.print(made)
    for one in plan.cycles:
        for left in one.left_out:
            line = f"left out on {one.printer.name}: {left.name.replace('_', ' ')}, {left.reason}"
            to.print(hanging(sign("caution"), written(line)))
    to.print()


def _part_row(item: PartPlan, plan: Plan, wide: bool) -> list[Text | str]:
    takes, copies = takes_of(item, plan.splits), item.quantity
    label = item.name.replace("_", " ") + (f" x {copies}" if copies > 1 else "")
    severity = worst(item.findings)
    look = sign(severity)
    if wide and severity is not None:
        gravest = next(f for f in item.findings if f.severity == severity)
        more = len(item.findings) - 1
        look.append(f"  {written(gravest.what)}" + (f"; {more} more" if more else ""))
    where = where_got(item, plan.splits)
    if item.sent is not None:
        goods = item.sent.goods_cost
        price = "ask" if goods is None else _plain(goods.likely, 2)
        return [Text(label, style="head"), where, "theirs", "theirs", "theirs", price, look]
    return [
        Text(label, style="head"),
        where,
        _plain(copies * takes.time_h.likely, 1),
        _plain(copies * takes.time_h.high, 1),
        _plain(copies * takes.mass_g.likely, 0),
        _plain(copies * takes.cost, 2),
        look,
    ]


def _print_pieces(to: Console, plan: Plan) -> None:
    """Parts in pieces, one line each, and coupons that prove a feature before a long print."""
    for answer in plan.splits:
        if answer.plan is not None:
            said = f"{numbers.plain(answer.plan.summary)} `buildplan split` writes them."
            to.print(Text.assemble((answer.part.replace("_", " "), "head"), f"  {said}"))
    if plan.coupons:
        made = table(
            ("coupon first", "", False),
            ("proves", "", False),
            ("usual", "min", True),
            ("mass", "g", True),
        )
        for planned in plan.coupons:
            alike = f" and {planned.alike} alike" if planned.alike else ""
            made.add_row(
                planned.part.replace("_", " "),
                f"{planned.kind}: {planned.coupon.feature}{alike}",
                _plain(60.0 * planned.estimate.time_h, 0),
                _plain(planned.estimate.mass_g, 1),
            )
        to.print(made)
    if plan.splits or plan.coupons:
        to.print()


def _print_first(to: Console, plan: Plan) -> None:
    if not plan.first:
        return
    to.print(Text("First", style="head"))
    for index, sentence in enumerate(plan.first[:FIRST_SHOWN], 1):
        to.print(hanging(Text(f"{index} ", style="head"), written(sentence)))
    if len(plan.first) > FIRST_SHOWN:
        more = len(plan.first) - FIRST_SHOWN
        to.print(Text(f"   and {more} more in report.html and plan.json", style="quiet"))
    to.print()


def _plain(value: float, digits: int) -> str:
    return numbers.plain(numbers.num(value, digits))
