"""The bill in the report: lines, orders by supplier, the budget with its spread, what moves it."""

from typing import Any

from buildplan.bill import BillLine, Order, Swing, holds_up
from buildplan.bill.derived import Need
from buildplan.plan import Plan
from buildplan.report import numbers
from buildplan.report.device_section import finding_row
from buildplan.report.gather import written
from buildplan.report.sections import words

SWINGS_SHOWN = 6
LEAST_SWING = 0.005
"""A swing below half a cent is none."""


def bill_section(plan: Plan) -> dict[str, Any]:
    """Everything that the bill's part of the page shows, as text."""
    rows = [_row(line) for line in plan.bill]
    return {
        "heading": bill_heading(plan),
        "sub": bill_spread(plan),
        "rows": rows,
        "suppliers": any(row["supplier"] for row in rows),
        "goods": _money(float(plan.orders.goods_cost)),
        "orders": [_order(one) for one in plan.orders.orders if one.items and is_order(one)],
        "findings": [finding_row(finding, []) for finding in plan.derived.findings],
        "asked": [_asked(need, plan) for need in plan.derived.needs],
        "shares": [_share(line) for line in plan.derived.shares],
        "shares_total": _money(float(sum(line.wanted.pack_cost for line in plan.derived.shares))),
        "shipping": _money(float(plan.orders.shipping_cost)),
        "imports": _money(float(plan.orders.import_cost)) if plan.orders.import_cost else "",
        "total": _money(float(plan.bill_cost)),
        "net": _money(float(plan.orders.net_cost)) if plan.orders.tax_cost else "",
        "tax": _money(float(plan.orders.tax_cost)) if plan.orders.tax_cost else "",
        "swings": _swings(plan),
    }


def bill_heading(plan: Plan) -> str:
    """What is to be paid, and which order takes longest to come."""
    total = numbers.money(float(plan.bill_cost), plan.currency)
    slowest = holds_up(plan.orders.orders)
    if slowest is None:
        return f"{total} for what is to buy"
    days = numbers.num(slowest.lead_d, 0)
    lines = [line for line in plan.bill if line.packs]
    late = max(lines, key=lambda line: line.wanted.lead_d or 0.0).wanted.item
    return f"{total} for what is to buy; the {late} takes {days} days to come"


def bill_spread(plan: Plan) -> str:
    """The budget in one or two sentences."""
    budget = plan.budget
    if not budget.high_cost > budget.low_cost + LEAST_SWING:
        return "Whole packs, with the shipping of each order. Every price is taken as known."
    low, high = numbers.num(budget.low_cost, 0), numbers.num(budget.high_cost, 0)
    percent = numbers.num(100.0 * budget.plain_frac, 0)
    return (
        f"Whole packs, with the shipping of each order. 8 times in 10 it comes to between {low} "
        f"and {high} {plan.currency}; the plain sum below is kept {percent} times in 100."
    )


def _row(line: BillLine) -> dict[str, str]:
    wanted = line.wanted
    state = "" if wanted.state == "to order" else wanted.state
    return {
        "item": wanted.item,
        "need": f"{_short(float(wanted.need))} {_unit(line)}",
        "packs": f"{line.packs} of {_short(float(wanted.pack))}" if line.packs else "none",
        "spare": _short(float(line.spare)),
        "cost": _money(float(line.cost)) if line.cost or not line.packs else "no price",
        "lead": _lead(line),
        "state": state,
        "supplier": wanted.supplier,
        "used_in": words(wanted.used_in),
    }


def _lead(line: BillLine) -> str:
    """Days to the door; of a line that nobody priced, nobody knows them either."""
    if line.wanted.lead_d:
        return numbers.num(line.wanted.lead_d, 0)
    return "not known" if line.packs and not line.cost else "at hand"


def is_order(order: Order) -> bool:
    """Whether an order is one: it costs something or takes days."""
    return bool(order.goods_cost or order.lead_d)


def _asked(need: Need, plan: Plan) -> dict[str, str]:
    """A need that no one typed, with its reason."""
    amount = _short(float(need.quantity))
    if need.high > need.low:
        low, high = _short(float(need.low)), _short(float(need.high))
        amount += f" ({low} to {high})" if low != high else ""
    unit = "pieces" if need.unit == "piece" and need.quantity != 1 else need.unit
    opened = {line.wanted.item for line in plan.derived.lines}
    return {
        "item": need.item,
        "need": f"{amount} {unit}",
        "where": "bill" if need.item in opened else "list",
        "why": written(need.why),
        "source": need.source,
        "mark": need.asked_by,
    }


def _share(line: BillLine) -> dict[str, str]:
    wanted = line.wanted
    return {
        "part": wanted.item.partition(", ")[2],
        "printer": words(wanted.used_in),
        "hours": numbers.num(float(wanted.need), 1),
        "cost": _money(float(wanted.pack_cost)),
    }


def _order(order: Order) -> dict[str, str]:
    short = ""
    if order.short_cost:
        short = f"{_money(float(order.short_cost))} short of what it takes at least"
    return {
        "supplier": order.supplier if order.supplier not in order.items else "not named",
        "lines": ", ".join(order.items) if len(order.items) == 1 else f"{len(order.items)} lines",
        "goods": _money(float(order.goods_cost)),
        "shipping": _money(float(order.shipping_cost + order.import_cost)),
        "total": _money(float(order.total_cost)),
        "lead": numbers.num(order.lead_d, 0) if order.lead_d else "at hand",
        "short": short,
    }


def _swings(plan: Plan) -> list[dict[str, str]]:
    """The numbers that move the total, each as a bar from its low to its high end."""
    moving = [one for one in plan.budget.swings if _width(one) > LEAST_SWING][:SWINGS_SHOWN]
    if not moving:
        return []
    span = max(max(abs(one.low_cost), abs(one.high_cost)) for one in moving)
    return [
        {
            "name": f"{one.item}, {one.what}",
            "low": numbers.num(one.low_cost, 2),
            "high": f"+{numbers.num(one.high_cost, 2)}",
            "left": f"{50.0 * (1.0 + min(one.low_cost, 0.0) / span):.1f}",
            "width": f"{50.0 * _width(one) / span:.1f}",
            "share": numbers.num(100.0 * one.share_frac, 0),
        }
        for one in moving
    ]


def _width(swing: Swing) -> float:
    return swing.high_cost - swing.low_cost


def _money(amount: float) -> str:
    return numbers.num(amount, 2)


def _unit(line: BillLine) -> str:
    return "pieces" if line.wanted.unit == "piece" and line.wanted.need != 1 else line.wanted.unit


def _short(value: float) -> str:
    return numbers.num(value, 0 if abs(value - round(value)) < 0.05 else 1)
