"""Lines, orders and budget of the bill as plain objects."""

from typing import Any

from buildplan.bill import BillLine, Budget, RollUp
from buildplan.plan.model import DerivedBill
from buildplan.report.as_json.values import finding_object, money, number


def line_object(line: BillLine, currency: str) -> dict[str, Any]:
    """A line of the bill; money as text with two decimals, so that no cent is lost.

    ``pack_cost`` and the breaks are in ``currency``; ``cost`` is in the line's currency as well.
    """
    wanted = line.wanted
    return {
        "kind": wanted.kind,
        "item": wanted.item,
        "need": float(wanted.need),
        "need_low": float(wanted.need_low or wanted.need),
        "need_high": float(wanted.need_high or wanted.need),
        "unit": wanted.unit,
        "pack": float(wanted.pack),
        "least": float(wanted.least),
        "on_hand": float(wanted.on_hand),
        "packs": line.packs,
        "spare": float(line.spare),
        "pack_cost": money(wanted.pack_cost),
        "price_breaks": "; ".join(
            f"{float(one.from_quantity):g}: {one.pack_cost}" for one in wanted.breaks
        ),
        "cost": money(line.cost),
        "currency": wanted.currency or currency,
        "tax_frac": float(wanted.tax_frac),
        "supplier": wanted.supplier,
        "lead_d": wanted.lead_d,
        "state": wanted.state,
        "used_in": wanted.used_in,
        "asked_by": wanted.asked_by,
    }


def derived_object(derived: DerivedBill) -> dict[str, Any]:
    """What asks for itself, with its reasons; what machine and energy come to, part by part."""
    return {
        "needs": [
            {
                "kind": need.kind,
                "item": need.item,
                "need": float(need.quantity),
                "need_low": float(need.low),
                "need_high": float(need.high),
                "unit": need.unit,
                "pack": float(need.pack),
                "least": float(need.least),
                "used_in": need.used_in,
                "why": need.why,
                "source": need.source,
                "asked_by": need.asked_by,
            }
            for need in derived.needs
        ],
        "shares": [
            {
                "item": line.wanted.item,
                "printer": line.wanted.used_in,
                "time_h": float(line.wanted.need),
                "cost": money(line.wanted.pack_cost),
            }
            for line in derived.shares
        ],
        "findings": [finding_object(finding) for finding in derived.findings],
    }


def orders_object(orders: RollUp) -> dict[str, Any]:
    """The bill by supplier; every sum of money as text, so that no cent is lost."""
    return {
        "goods_cost": money(orders.goods_cost),
        "net_cost": money(orders.net_cost),
        "tax_cost": money(orders.tax_cost),
        "shipping_cost": money(orders.shipping_cost),
        "import_cost": money(orders.import_cost),
        "total_cost": money(orders.total_cost),
        "by_supplier": [
            {
                "supplier": order.supplier,
                "items": list(order.items),
                "goods_cost": money(order.goods_cost),
                "shipping_cost": money(order.shipping_cost),
                "import_cost": money(order.import_cost),
                "short_cost": money(order.short_cost),
                "lead_d": number(order.lead_d),
            }
            for order in orders.orders
        ],
    }


def budget_object(budget: Budget) -> dict[str, Any]:
    """The total of the bill as a spread: low and high are passed 1 time in 10 on either side."""
    return {
        "low_cost": number(budget.low_cost),
        "median_cost": number(budget.median_cost),
        "high_cost": number(budget.high_cost),
        "plain_cost": number(budget.plain_cost),
        "plain_frac": number(budget.plain_frac),
        "shape": budget.shape,
        "swings": [
            {
                "item": swing.item,
                "what": swing.what,
                "low_cost": number(swing.low_cost),
                "high_cost": number(swing.high_cost),
                "share_frac": number(swing.share_frac),
            }
            for swing in budget.swings
        ],
    }
