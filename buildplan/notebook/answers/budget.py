"""What is to buy, what it may come to, from whom and by when; how far each order is."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, get_args

from buildplan.bill import BillLine, Order
from buildplan.bill.lines import STATES, State
from buildplan.build import Build
from buildplan.build.keep_many import keep_values
from buildplan.errors import InputError
from buildplan.notebook.answers.answer import Answer, figure, sentences, table, template
from buildplan.notebook.answers.memory import current, plan_of
from buildplan.plan import Plan
from buildplan.report import numbers
from buildplan.report.bill_section import bill_heading, bill_section
from buildplan.report.budget_picture import draw_budget
from buildplan.report.sections import words
from buildplan.tables.wording import normal_key, not_known

OWN_STATE = ("bought", "joint")
"""Kinds of lines that stand as [[bought]] in the build file and so have a state of their own."""


def show_bill(build: Build) -> Answer:
    """Every line of the bill: need, whole packs, what is left over, cost, days, supplier."""
    plan = plan_of(build)
    bill = bill_section(plan) | {"orders": [], "swings": [], "tax": "", "heading": "", "sub": ""}
    return Answer(
        heading=bill_heading(plan),
        html=template("bill.html.j2", bill=bill, currency=plan.currency),
    )


def show_budget(build: Build) -> Answer:
    """What the bill may come to: 1 time in 10 below, as often above as below, 1 in 10 above."""
    plan = plan_of(build)
    budget = plan.budget
    if not budget.high_cost > budget.low_cost:
        known = numbers.money(budget.plain_cost, plan.currency)
        return Answer(
            heading=f"{known}, every price taken as known",
            html=sentences(
                [
                    "For a range write price_low_cost and price_high_cost, each passed 1 time in "
                    "10, into the [[bought]] items whose price you do not know for sure."
                ]
            ),
            severity="note",
        )
    caption = (
        "The band holds 8 times in 10. The diamond is the sum of all likely prices; where it lies "
        "left of the bold stroke, the plain sum is more often too little than too much."
    )
    swings = bill_section(plan)["swings"]
    html = figure(draw_budget(budget, plan.currency), "budget", caption)
    if swings:
        html += template("swings.html.j2", bill={"swings": swings}, currency=plan.currency)
    plain = numbers.money(budget.plain_cost, plan.currency)
    percent = numbers.num(100.0 * budget.plain_frac, 0)
    said = f"Whole packs, with the shipping of each order. {plain}, the plain sum, is kept "
    enough = f"{plan.currency}{numbers.FIXED_SPACE}{numbers.num(math.ceil(budget.high_cost), 0)}"
    return Answer(
        heading=f"Have {enough} ready: 9 times in 10 that is enough",
        html=html + sentences([f"{said}{percent} times in 100."], "muted"),
    )


def show_orders(build: Build) -> Answer:
    """One order a supplier, the most pressing first, with its last day and how far it is."""
    plan = plan_of(build)
    rows = order_rows(plan)
    if not rows:
        return Answer(heading="Nothing is to buy", html="", severity="ok")
    html = table(
        (
            ("by", "order by", ""),
            ("supplier", "from", ""),
            ("items", "still to order", ""),
            ("goods", "goods", plan.currency),
            ("extra", "shipping, duty", plan.currency),
            ("total", "order", plan.currency),
            ("lead", "comes in", "days"),
            ("state", "how far", ""),
        ),
        rows,
        right=("goods", "extra", "total", "lead"),
    )
    notes = [row["short"] for row in rows if row["short"]]
    if plan.calendar is None:
        notes.append(
            "There are no order-by days: the build file does not say when you are there. "
            "Write [attended] with first_day and times."
        )
    first = next((row for row in rows if row["by"]), None)
    if first is not None:
        heading = f"Order from {first['supplier']} first, by {first['by']}"
    elif any(row["open"] for row in rows):
        still = ", ".join(row["items"] for row in rows if row["open"])
        heading = f"Still to order, without a last day: {still}"
    else:
        heading = "Everything is ordered"
    return Answer(heading=heading, html=html + sentences(notes))


def order_rows(plan: Plan) -> list[dict[str, Any]]:
    """A row an order, those with a last day first, in the order of their days."""
    by_item = {line.wanted.item: line for line in plan.bill}
    last = last_days(plan)
    rows = []
    for order in plan.orders.orders:
        if not order.items:
            continue
        lines = [by_item[item] for item in order.items if item in by_item]
        still = [line for line in lines if line.wanted.state == "to order"]
        day = last.get(order.supplier) if still else None
        rows.append((day or date.max, order, still, _order_row(order, lines, still, day)))
    rows.sort(key=lambda row: (row[0], not row[2], row[1].supplier))
    return [row for *_, row in rows]


def last_days(plan: Plan) -> dict[str, date]:
    """The last day to order from each supplier, where there is a calendar."""
    lines = plan.calendar.orders if plan.calendar is not None else ()
    return {line.name.partition(": ")[0]: line.by for line in lines}


def keep_states(build: Build, states: Mapping[str, str] | None = None) -> Answer:
    """Write how far items are into the build file, and show how far everything is.

    Writing the same again changes nothing.

    Args:
        build: Its build file is written.
        states: "to order", "ordered", "arrived" or "have", by name of an item, or of a supplier for
            all that is bought there.

    Raises:
        InputError: A name or a state is not known; nothing is written then.
    """
    now = current(build)
    wanted = _states_by_item(now, states or {})
    kept = {item.name: item.state for item in now.bought}
    changes = [
        (("bought", name), "state", state) for name, state in wanted.items() if kept[name] != state
    ]
    if changes:
        now = keep_values(now.path, changes)
    plan = plan_of(now)
    lines = [line for line in plan.bill if line.wanted.kind in OWN_STATE]
    counts = Counter(line.wanted.state for line in lines)
    said = _counts_words(counts)
    if changes:
        heading = f"Kept in {now.path.name}: {numbers.count(len(changes), 'item')} changed; {said}"
    else:
        heading = f"{numbers.count(len(lines), 'item')}: {said}" if lines else "Nothing is bought"
    html = table(
        (
            ("state", "how far", ""),
            ("item", "item", ""),
            ("supplier", "from", ""),
            ("packs", "packs", ""),
            ("cost", "cost", plan.currency),
            ("lead", "comes in", "days"),
        ),
        [_state_row(line) for line in sorted(lines, key=_state_rank)],
        right=("packs", "cost", "lead"),
    )
    where = f"Kept as state of each [[bought]] item in {now.path.absolute()}."
    return Answer(heading=heading, html=html + sentences([where], "muted"))


def _states_by_item(build: Build, states: Mapping[str, str]) -> dict[str, State]:
    """States by item; a supplier stands for all its items."""
    items = {normal_key(item.name): item.name for item in build.bought}
    shops: dict[str, list[str]] = {}
    for item in build.bought:
        if item.supplier and item.needed:
            shops.setdefault(normal_key(item.supplier), []).append(item.name)
    found: dict[str, State] = {}
    for name, state in states.items():
        known = next((one for one in get_args(State) if one == state), None)
        if known is None:
            raise InputError(f"{name}: {not_known('state', state, STATES)}")
        key = normal_key(name)
        if key not in items and key not in shops:
            raise InputError(not_known("item or supplier", name, [*items.values(), *shops]))
        for item_name in [items[key]] if key in items else shops[key]:
            found[item_name] = known
    return found


def _order_row(
    order: Order, lines: Sequence[BillLine], still: Sequence[BillLine], day: date | None
) -> dict[str, Any]:
    named = order.supplier not in order.items
    counts = Counter(line.wanted.state for line in lines)
    short = ""
    if order.short_cost and still:
        lacks = numbers.num(float(order.short_cost), 2)
        short = f"{order.supplier} takes no order so small: {lacks} more are needed."
    return {
        "by": _kept_together(f"{day:%a %d %b}") if day is not None else "",
        "supplier": order.supplier if named else _kept_together("not named"),
        "items": ", ".join(words(line.wanted.item) for line in still) or "nothing",
        "goods": numbers.num(float(order.goods_cost), 2),
        "extra": numbers.num(float(order.shipping_cost + order.import_cost), 2),
        "total": numbers.num(float(order.total_cost), 2),
        "lead": numbers.num(order.lead_d, 0) if order.lead_d else "at hand",
        "state": _kept_together(_counts_words(counts)),
        "open": len(still),
        "short": short,
    }


def _state_row(line: BillLine) -> dict[str, str]:
    wanted = line.wanted
    comes = wanted.state in ("to order", "ordered") and wanted.lead_d
    return {
        "state": _state_words(wanted.state),
        "item": words(wanted.item),
        "supplier": wanted.supplier or "not named",
        "packs": str(line.packs),
        "cost": numbers.num(float(line.cost), 2),
        "lead": numbers.num(wanted.lead_d, 0) if comes else "at hand",
    }


def _state_rank(line: BillLine) -> tuple[int, str, str]:
    return STATES.index(line.wanted.state), line.wanted.supplier, line.wanted.item


def _counts_words(counts: Mapping[State, int]) -> str:
    told = [f"{counts[state]} {_state_words(state)}" for state in STATES if counts[state]]
    return ", ".join(told)


def _kept_together(text: str) -> str:
    """Words that no line break parts."""
    return ",".join(part.replace(" ", numbers.FIXED_SPACE) for part in text.split(", ")).replace(
        ",", ", "
    )


def _state_words(state: State) -> str:
    return "at hand" if state == "have" else state
