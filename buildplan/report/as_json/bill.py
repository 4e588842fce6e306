"""Lines, orders and budget of the bill as plain objects."""

from typing import Any

from buildplan.bill import BillLine, Budget, RollUp
from buildplan.report.as_json.values import money, number


def line_object(line: BillLine) -> dict[str, Any]:
    """A line of the bill; money as text with two decimals, so that no cent is lost."""
    wanted = line.wanted
    return {
        "kind": wanted.kind,
        "item": wanted.item,
        "need": float(wanted.need),
        "unit": wanted.unit,
        "pack": float(wanted.pack),
        "packs": line.packs,
        "spare": float(line.spare),
        "pack_cost": money(wanted.pack_cost),
        "cost": money(line.cost),
        "supplier": wanted.supplier,
        "lead_d": wanted.lead_d,
        "used_in": wanted.used_in,
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
