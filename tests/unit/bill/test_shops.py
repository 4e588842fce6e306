"""One order a supplier: shipping once, tax, duty and currency; every cent accounted for."""

from dataclasses import replace
from decimal import Decimal

import pytest
from wanted import wanted

from buildplan.bill import Shop, bill_line, roll_up
from buildplan.errors import InputError

FERN = Shop(
    name="Fern",
    shipping_cost=Decimal("5.90"),
    free_from_cost=Decimal("50.00"),
    least_order_cost=Decimal("10.00"),
    lead_d=3.0,
)


def line(item, cost, supplier="Fern", **more):
    return bill_line(wanted(item=item, need="1", pack_cost=cost, supplier=supplier, **more))


def test_an_order_pays_its_shipping_once_until_it_is_free():
    small = roll_up([line("a", "20.00"), line("b", "10.00")], shops={"Fern": FERN})
    assert small.total_cost == Decimal("35.90")
    assert [order.items for order in small.orders] == [("a", "b")]
    large = roll_up([line("a", "40.00"), line("b", "10.00")], shops={"Fern": FERN})
    assert large.total_cost == Decimal("50.00")


def test_an_order_below_the_least_says_what_is_missing():
    (order,) = roll_up([line("a", "4.00")], shops={"Fern": FERN}).orders
    assert order.short_cost == Decimal("6.00")
    assert order.lead_d == 3.0


def test_what_has_arrived_is_not_waited_for():
    lines = [line("a", "4.00", lead_d=9.0, state="arrived"), line("b", "4.00", lead_d=2.0)]
    (order,) = roll_up(lines, shops={"Fern": FERN}).orders
    assert order.lead_d == 2.0
    assert order.goods_cost == Decimal("8.00")


def test_without_a_supplier_every_item_ships_by_itself():
    lines = [
        line("a", "1.00", supplier="", shipping_cost="2.00"),
        line("b", "1.00", supplier="", shipping_cost="3.00"),
    ]
    assert roll_up(lines).shipping_cost == Decimal("5.00")


def test_tax_is_added_or_taken_out_and_net_and_gross_differ_by_it():
    lines = [
        line("with", "121.00", tax_frac="0.21"),
        line("without", "100.00", tax_frac="0.21", with_tax=False),
    ]
    found = roll_up(lines)
    assert found.line_costs == (Decimal("121.00"), Decimal("121.00"))
    assert found.net_cost == Decimal("200.00")
    assert found.tax_cost == Decimal("42.00")


def test_a_foreign_order_is_converted_and_pays_duty_and_handling():
    far = Shop(
        name="Far",
        shipping_cost=Decimal("9.00"),
        currency="USD",
        import_frac=Decimal("0.10"),
        import_cost=Decimal("5.00"),
    )
    found = roll_up(
        [line("sensor", "10.00", supplier="Far")],
        shops={"Far": far},
        currency="EUR",
        rates={"USD": Decimal("0.90")},
    )
    assert found.goods_cost == Decimal("9.00")
    assert found.shipping_cost == Decimal("8.10")
    assert found.import_cost == Decimal("5.40")  # 0.90 duty and 4.50 handling


def test_a_currency_without_a_rate_is_refused():
    with pytest.raises(InputError, match="currency USD has no rate over 0 into EUR"):
        roll_up([line("x", "1.00", currency="USD")], currency="EUR")


def test_nothing_bought_ships_nothing():
    have = replace(line("a", "5.00").wanted, state="have")
    assert roll_up([bill_line(have)], shops={"Fern": FERN}).total_cost == Decimal("0.00")
