"""Buying equals brute force, cents add up, and the order of lines changes nothing."""

import math
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st
from wanted import wanted

from buildplan.bill import PriceBreak, Shop, bill_line, cents, roll_up, share_cents

PRICES = st.integers(1, 500).map(lambda n: Decimal(n) / 100)


@st.composite
def wants(draw):
    steps = sorted(draw(st.sets(st.integers(2, 300), max_size=3)))
    return wanted(
        need=str(draw(st.integers(0, 200))),
        pack=str(draw(st.sampled_from([1, 5, 10, 25]))),
        pack_cost=str(draw(PRICES)),
        least=str(draw(st.sampled_from([0, 0, 30]))),
        on_hand=str(draw(st.sampled_from([0, 7]))),
        breaks=tuple(
            PriceBreak(from_quantity=Decimal(step), pack_cost=draw(PRICES)) for step in steps
        ),
    )


def price_of(want, packs):
    """Price of so many packs, read off the list of breaks from the top."""
    quantity = want.pack * packs
    unit = want.pack_cost
    for one in want.breaks:
        if quantity >= one.from_quantity:
            unit = one.pack_cost
    return unit * packs


@given(wants())
def test_no_other_number_of_packs_is_cheaper(want):
    line = bill_line(want)
    open_need = max(want.need - want.on_hand, 0)
    if open_need == 0:
        assert line.packs == 0
        return
    enough = [
        count
        for count in range(1, 400)
        if want.pack * count >= open_need and want.pack * count >= want.least
    ]
    assert line.cost == min(price_of(want, count) for count in enough)
    assert line.cost == price_of(want, line.packs)
    assert line.packs in enough


@given(st.lists(st.decimals("0", "50", places=5), max_size=30))
def test_rounded_amounts_add_up_and_none_moves_by_a_cent(amounts):
    shared = share_cents(amounts)
    assert sum(shared, Decimal(0)) == cents(sum(amounts, Decimal(0)))
    assert all(abs(a - b) < Decimal("0.01") for a, b in zip(amounts, shared, strict=True))


@given(st.lists(st.tuples(PRICES, st.sampled_from(["A", "B", ""])), min_size=1, max_size=8))
def test_the_total_is_that_of_its_lines_and_orders_in_any_order(rows):
    shops = {"A": Shop(name="A", shipping_cost=Decimal("3.00"), free_from_cost=Decimal("6.00"))}
    lines = [
        bill_line(wanted(item=f"i{n}", need="1", pack_cost=str(price), supplier=shop))
        for n, (price, shop) in enumerate(rows)
    ]
    found = roll_up(lines, shops=shops)
    assert sum(found.line_costs) == found.goods_cost
    assert sum(order.total_cost for order in found.orders) == found.total_cost
    assert found.net_cost + found.tax_cost == found.goods_cost
    assert roll_up(lines[::-1], shops=shops).total_cost == found.total_cost


@given(st.integers(0, 10_000), st.integers(1, 400))
def test_packs_are_the_fewest_that_hold_the_need(need, pack):
    line = bill_line(wanted(need=str(need), pack=str(pack)))
    assert line.packs == math.ceil(need / pack)
