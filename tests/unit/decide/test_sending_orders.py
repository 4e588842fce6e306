"""Orders in exact cents, quotes that are old or odd, every part at every service."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildplan.decide.choice import evaluate
from buildplan.decide.choice.model import Case, PartOptions, SentOut, Service
from buildplan.decide.sending import (
    OrderItem,
    QuoteTable,
    SentFacts,
    SentPart,
    ServiceTable,
    fit_services,
    order_cost,
    predict_price,
    quote_findings,
    send_rows,
)
from buildplan.decide.sending.order import cents_of, share_cents
from buildplan.errors import InputError

TODAY = date(2031, 3, 17)

SERVICE = ServiceTable(
    name="Service Oak",
    lead_d=5.0,
    lead_high_d=8.0,
    shipping_cost=6.90,
    least_order_cost=25.00,
    free_from_cost=100.00,
    feedstocks=("PETG", "ASA"),
    finish_h=0.5,
    terms="claims within 7 days",
)

cents = st.integers(0, 100_000)


def money(low, high):
    return st.integers(low, high).map(lambda value: value / 100.0)


@pytest.mark.parametrize(
    ("prices", "goods", "top_up", "shipping", "total", "to_free"),
    [
        ([1000], 1000, 1500, 690, 3190, 9000),
        ([1000, 1500], 2500, 0, 690, 3190, 7500),
        ([9999], 9999, 0, 690, 10689, 1),
        ([10000], 10000, 0, 0, 10000, 0),
    ],
)
def test_least_order_and_one_shipping(prices, goods, top_up, shipping, total, to_free):
    items = [OrderItem(part=f"p{i}", cents=price) for i, price in enumerate(prices)]
    order = order_cost(SERVICE, items)
    assert (order.goods, order.top_up, order.shipping) == (goods, top_up, shipping)
    assert (order.total, order.to_free) == (total, to_free)


def test_duty_handling_and_tax_stand_in_their_own_lines():
    """100.00 of goods, 10.00 shipping, 4.7 % duty, 12.00 handling, 20 % tax on goods, way, duty."""
    far = ServiceTable(
        name="Service Far", lead_d=14.0, shipping_cost=10.0, import_frac=0.047, import_cost=12.0
    )
    order = order_cost(far, [OrderItem(part="a", cents=10_000)], untaxed_frac=0.20)
    assert (order.duty, order.handling) == (470, 1200)
    assert order.tax == 2294
    assert order.total == 10_000 + 1000 + 470 + 1200 + 2294


@given(
    items=st.lists(st.tuples(cents, st.integers(1, 9)), min_size=1, max_size=6),
    shipping=money(0, 3000),
    least=money(0, 20_000),
    free=money(0, 50_000),
    duty=st.integers(0, 300).map(lambda value: value / 1000.0),
    tax=st.integers(0, 27).map(lambda value: value / 100.0),
)
def test_every_cent_of_an_order_is_accounted_for(items, shipping, least, free, duty, tax):
    service = ServiceTable(
        name="s",
        lead_d=1.0,
        shipping_cost=shipping,
        least_order_cost=least,
        free_from_cost=free,
        import_frac=duty,
    )
    lines = [OrderItem(part=str(i), cents=c, quantity=n) for i, (c, n) in enumerate(items)]
    order = order_cost(service, lines, untaxed_frac=tax)
    parts = (order.goods, order.top_up, order.shipping, order.duty, order.handling, order.tax)
    assert order.total == sum(parts) == sum(order.shares)
    assert min(*parts, *order.shares) >= 0
    assert order.goods + order.top_up >= cents_of(least)
    # one order is never dearer than two, unless it misses nothing: shipping and least order shared
    apart = [order_cost(service, [line], untaxed_frac=tax).total for line in lines]
    assert order.total <= sum(apart) + 2 * len(lines)


@given(
    prices=st.lists(cents, min_size=1, max_size=5),
    shipping=st.integers(0, 3000),
    least=st.integers(0, 20_000),
    free=st.integers(1, 50_000),
)
def test_orders_cost_what_the_choice_counts(prices, shipping, least, free):
    """Two pieces of code that must agree to the cent: the order here, the choice's evaluate."""
    service = ServiceTable(
        name="s",
        lead_d=3.0,
        shipping_cost=shipping / 100.0,
        least_order_cost=least / 100.0,
        free_from_cost=free / 100.0,
    )
    items = [OrderItem(part=str(i), cents=price) for i, price in enumerate(prices)]
    parts = tuple(
        PartOptions(name=str(i), options=(SentOut(service="s", cents=price, lead_d=3),))
        for i, price in enumerate(prices)
    )
    shop = Service(name="s", shipping_cents=shipping, least_cents=least, free_from_cents=free)
    totals = evaluate(Case(parts=parts, services=(shop,)), [0] * len(prices))
    assert order_cost(service, items).total == totals.sent + totals.shipping


@given(total=st.integers(0, 10**7), weights=st.lists(cents, min_size=1, max_size=8))
def test_shares_lie_within_a_cent_of_the_exact_ones(total, weights):
    shares = share_cents(total, weights)
    assert sum(shares) == total
    used = weights if any(weights) else [1] * len(weights)
    for share, weight in zip(shares, used, strict=True):
        assert abs(share - Fraction(total * weight, sum(used))) < 1


@pytest.mark.parametrize(
    ("cost", "expected"), [(1.005, 101), (0.1 + 0.2, 30), (2.675, 268), (0.0, 0), (19.99, 1999)]
)
def test_cents_are_those_of_the_written_number(cost, expected):
    assert cents_of(cost) == expected


@pytest.mark.parametrize(
    ("items", "tax", "said"),
    [
        ([], 0.0, "nothing is in it"),
        ([OrderItem(part="a", cents=-1)], 0.0, "0 or more"),
        ([OrderItem(part="a", cents=5, quantity=0)], 0.0, "quantity of 1"),
        ([OrderItem(part="a", cents=5)], 1.5, "0 to 1"),
    ],
)
def test_orders_that_cannot_be_are_refused(items, tax, said):
    with pytest.raises(InputError, match=said):
        order_cost(SERVICE, items, untaxed_frac=tax)


def quote(**more):
    return QuoteTable(**{"service": "Service Oak", "part": "lid", "cost": 20.0, **more})


NAMES = {"lid": ("petg", "PETG")}


def test_a_fresh_quote_for_what_is_offered_passes():
    quotes = [quote(), quote(said_on="2031-03-17"), quote(said_on="2031-02-15")]
    assert quote_findings(quotes, [SERVICE], NAMES, TODAY) == ()


@pytest.mark.parametrize(
    ("given", "severity", "said"),
    [
        ({"said_on": "2031-02-14"}, "caution", "is 31 days old"),
        ({"said_on": "2031-03-18"}, "caution", "a day to come"),
        ({"feedstock": "PA12"}, "stop", "for PA12, which it does not print"),
    ],
)
def test_quotes_to_settle_before_they_count(given, severity, said):
    (finding,) = quote_findings([quote(**given)], [SERVICE], NAMES, TODAY)
    assert finding.severity == severity
    assert said in finding.what
    assert "Service Oak" in finding.where.text


def part(name="lid", volume=60.0, **more):
    facts = SentFacts(
        name=name,
        size_mm=(200.0, 120.0, 30.0),
        least_wall_mm=1.2,
        feedstocks=("PETG",),
        closed=True,
    )
    return SentPart(facts=facts, volume_cm3=volume, **more)


def rows(parts, quotes):
    return send_rows(parts, [SERVICE], quotes, today=TODAY, own_cost_h=12.0)


def test_a_quoted_part_costs_its_quote_and_one_order():
    (row,) = rows([part(quantity=2)], [quote(cost=20.0)])
    assert row.goods_cost.low == row.goods_cost.high == 40.0
    assert row.order_cost.likely == 46.90
    assert (row.lead_d.likely, row.lead_d.high) == (5.0, 8.0)
    assert (row.own_h, row.finish_cost) == (1.0, 12.0)
    assert row.quoted
    assert row.stops == ()
    assert row.terms == "claims within 7 days"


def test_an_old_quote_still_counts_and_says_so():
    (row,) = rows([part()], [quote(said_on="2030-12-01")])
    assert row.goods_cost.likely == 20.0
    assert row.basis == "quote of 2030-12-01, ask again"


def test_a_part_without_a_quote_is_guessed_from_three_others():
    quoted = [part("a", 10.0), part("b", 60.0), part("c", 200.0)]
    asked = [quote(part="a", cost=7.0), quote(part="b", cost=22.5), quote(part="c", cost=63.0)]
    *_, row = rows([*quoted, part("lid", 100.0)], asked)
    model = fit_services(quoted, asked)["Service Oak"]
    assert row.goods_cost == predict_price(model, 100.0)
    assert not row.quoted
    assert row.basis == "guessed from 3 quotes for other parts there"
    assert row.order_cost.low <= row.order_cost.likely <= row.order_cost.high
    *_, far = rows([*quoted, part("shell", 500.0)], asked)
    assert "of 10 to 200 cm3, and this one has 500: ask" in far.basis


@pytest.mark.parametrize(
    ("quotes", "said"),
    [
        ([], "no quote there"),
        ([quote(part="a")], "only 1 quote there"),
        ([quote(part="a"), quote(part="b")], "only 2 quotes there"),
    ],
)
def test_too_few_quotes_give_no_price(quotes, said):
    row = rows([part("a"), part("b"), part()], quotes)[-1]
    assert row.goods_cost is None
    assert row.order_cost is None
    assert row.basis.startswith(said)


def test_a_quote_in_another_feedstock_teaches_nothing():
    parts = [part(name, volume) for name, volume in (("a", 10.0), ("b", 20.0), ("c", 40.0))]
    asked = [quote(part=name) for name in "ab"] + [quote(part="c", feedstock="ASA")]
    assert fit_services(parts, asked) == {"Service Oak": None}


@pytest.mark.parametrize("wrong", [{"quantity": 0}, {"volume": 0.0}, {"volume": float("nan")}])
def test_parts_that_cannot_be_sent_are_refused(wrong):
    with pytest.raises(InputError, match="sending out lid"):
        rows([part(**wrong)], [])
