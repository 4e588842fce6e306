"""The cheapest packs for a need: whole packs, a least quantity, lower prices for more."""

from dataclasses import replace
from decimal import Decimal

import pytest
from wanted import wanted

from buildplan.bill import PriceBreak, bill_line
from buildplan.errors import InputError


def breaks(*rows):
    return tuple(PriceBreak(from_quantity=Decimal(q), pack_cost=Decimal(cost)) for q, cost in rows)


def test_a_lower_price_for_more_is_taken_where_more_costs_less():
    want = wanted(need="45", pack="1", pack_cost="0.06", breaks=breaks(("50", "0.045")))
    line = bill_line(want)
    # 45 at 0.06 are 2.70; 50 at 0.045 are 2.25
    assert (line.packs, line.cost) == (50, Decimal("2.25"))
    few = bill_line(replace(want, need=Decimal(30)))
    assert (few.packs, few.cost) == (30, Decimal("1.80"))


def test_what_is_on_hand_is_not_bought_and_spares_are():
    line = bill_line(wanted(need="38", pack="10", spare_frac="0.1", on_hand="5"))
    # 38 x 1.1 - 5 = 36.8
    assert line.packs == 4
    assert line.to_next_pack == Decimal("3.2")


def test_the_least_that_is_sold_at_once_is_bought():
    assert bill_line(wanted(need="3", least="8")).packs == 8
    assert bill_line(wanted(need="0", least="8")).packs == 0


def test_what_you_have_costs_nothing_more():
    line = bill_line(wanted(need="3", state="have"))
    assert (line.packs, line.cost) == (0, Decimal("0.00"))
    assert bill_line(wanted(need="3", state="ordered")).cost == Decimal("3.00")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"on_hand": "-1"}, "on_hand is -1; 0 or more is needed"),
        ({"need_low": "12"}, "need runs from 12 over 10 to 0; low <= likely <= high"),
        ({"pack_high_cost": "0.50"}, "price runs from 0 over 1.00 to 0.50"),
        ({"breaks": breaks(("50", "0.9"), ("20", "0.8"))}, "price breaks from 50, 20; give rising"),
    ],
)
def test_what_cannot_be_bought_is_refused_with_the_numbers(more, said):
    with pytest.raises(InputError, match="screw") as found:
        bill_line(wanted(**more))
    assert said in str(found.value)
