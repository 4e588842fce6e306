"""The bill of materials: lines, orders, the budget with its spread, dates and revisions."""

from buildplan.bill.budget import Budget, Swing, budget, draw_range, range_ends
from buildplan.bill.dates import OrderBy, holds_up, order_by, still_open
from buildplan.bill.lines import (
    STATES,
    BillLine,
    PriceBreak,
    State,
    Wanted,
    bill_line,
    cents,
    total_cost,
)
from buildplan.bill.revisions import (
    Changes,
    CheckChange,
    LineChange,
    LineRow,
    PartChange,
    PartRow,
    Revision,
    compare_revisions,
    revision_mark,
)
from buildplan.bill.shops import Order, RollUp, Shop, roll_up, share_cents

__all__ = [
    "STATES",
    "BillLine",
    "Budget",
    "Changes",
    "CheckChange",
    "LineChange",
    "LineRow",
    "Order",
    "OrderBy",
    "PartChange",
    "PartRow",
    "PriceBreak",
    "Revision",
    "RollUp",
    "Shop",
    "State",
    "Swing",
    "Wanted",
    "bill_line",
    "budget",
    "cents",
    "compare_revisions",
    "draw_range",
    "holds_up",
    "order_by",
    "range_ends",
    "revision_mark",
    "roll_up",
    "share_cents",
    "still_open",
    "total_cost",
]
