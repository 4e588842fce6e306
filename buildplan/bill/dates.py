"""When to order: the last day on which each item may be ordered, and the one that holds all up."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from buildplan.bill.lines import BillLine
from buildplan.bill.shops import Order


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderBy:
    """An order and its last day.

    Attributes:
        by: Last day on which it may be ordered and still be there in time; in the past where it
            comes late.
        late_d: Days by which it comes late when ordered on the first day; 0 where it does not.
    """

    supplier: str
    items: tuple[str, ...]
    lead_d: float
    by: date
    late_d: float


def order_by(orders: Sequence[Order], *, today: date, needed: date) -> tuple[OrderBy, ...]:
    """Last day to order from every supplier, the most pressing first.

    Args:
        orders: Of the roll-up.
        today: When the plan is made.
        needed: When everything must be there.
    """
    rows = []
    for order in orders:
        days = -(-order.lead_d // 1)  # a part of a day is a day
        by = needed - timedelta(days=days)
        late = max(float((today - by).days), 0.0)
        rows.append(
            OrderBy(
                supplier=order.supplier, items=order.items, lead_d=order.lead_d, by=by, late_d=late
            )
        )
    return tuple(sorted(rows, key=lambda row: (row.by, row.supplier)))


def holds_up(orders: Sequence[Order]) -> Order | None:
    """The order with the longest wait, or None where nothing is bought."""
    waiting = [order for order in orders if order.lead_d > 0.0]
    return max(waiting, key=lambda order: order.lead_d) if waiting else None


def still_open(lines: Sequence[BillLine]) -> tuple[BillLine, ...]:
    """The lines that nobody has ordered yet."""
    return tuple(line for line in lines if line.packs and line.wanted.state == "to order")
