"""When to order: the last day for every supplier, and the order that holds all up."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from wanted import wanted

from buildplan.bill import Order, bill_line, holds_up, order_by, still_open

FERN = Order(
    supplier="Fern",
    items=("board",),
    goods_cost=Decimal("62.00"),
    shipping_cost=Decimal("3.90"),
    import_cost=Decimal("0.00"),
    short_cost=Decimal("0.00"),
    lead_d=4.0,
)
MOSS = replace(FERN, supplier="Moss", lead_d=9.5)


def test_the_longest_wait_is_ordered_first_and_a_part_of_a_day_is_a_day():
    rows = order_by([FERN, MOSS], today=date(2026, 3, 2), needed=date(2026, 3, 16))
    assert [(row.supplier, row.by) for row in rows] == [
        ("Moss", date(2026, 3, 6)),
        ("Fern", date(2026, 3, 12)),
    ]
    assert all(row.late_d == 0.0 for row in rows)


def test_an_order_that_cannot_be_there_in_time_says_by_how_much():
    rows = order_by([MOSS], today=date(2026, 3, 2), needed=date(2026, 3, 6))
    assert rows[0].late_d == 6.0


def test_the_order_with_the_longest_wait_holds_all_up():
    assert holds_up([FERN, MOSS]) == MOSS
    assert holds_up([replace(FERN, lead_d=0.0)]) is None


def test_what_is_ordered_or_there_is_no_longer_open():
    lines = [
        bill_line(wanted(item=state, state=state))
        for state in ("to order", "ordered", "arrived", "have")
    ]
    assert [line.wanted.item for line in still_open(lines)] == ["to order"]
