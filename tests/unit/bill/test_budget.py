"""The budget's spread: drawn ranges keep their tenths, and whole packs damp what they can."""

from decimal import Decimal

import numpy as np
import pytest
from wanted import wanted

from buildplan.bill import PriceBreak, Shop, bill_line, budget, draw_range, range_ends, roll_up
from buildplan.errors import InputError

RANGES = ((1.0, 2.0, 3.0), (14.0, 17.5, 26.0), (45.0, 58.0, 85.0), (5.0, 5.0, 9.0))


@pytest.mark.parametrize("shape", ["pert", "triangular"])
@pytest.mark.parametrize("values", RANGES)
def test_a_tenth_lies_on_either_side_of_low_and_high(values, shape):
    found = draw_range(values, shape, 200_000, np.random.default_rng(1))
    # 3 standard errors of a share of 0.1 in 200 000 draws are 0.002
    assert (found < values[0]).mean() == pytest.approx(0.1, abs=0.003)
    assert (found > values[2]).mean() == pytest.approx(0.1, abs=0.003)


@pytest.mark.parametrize("values", RANGES)
def test_the_mean_is_that_of_the_beta_with_weight_four(values):
    # Malcolm et al., "Application of a technique for research and development program
    # evaluation", Operations Research 7(5), 1959: (a + 4 m + b) / 6
    first, last = range_ends(values, "pert")
    found = draw_range(values, "pert", 400_000, np.random.default_rng(2))
    expected = (first + 4.0 * values[1] + last) / 6.0
    assert found.mean() == pytest.approx(expected, abs=4.0 * found.std() / 400_000**0.5)


def test_a_known_bill_has_no_spread():
    lines = [bill_line(wanted(need="3", pack_cost="2.50"))]
    found = budget(lines)
    assert found.low_cost == found.high_cost == found.plain_cost == 7.5
    assert found.swings == ()


def lines_of_a_device():
    return [
        bill_line(wanted(item="board", need="1", pack_cost="58.00", pack_low_cost="45.00",
                         pack_high_cost="85.00", supplier="Fern")),
        bill_line(wanted(item="servo", need="1", pack_cost="17.50", pack_low_cost="14.00",
                         pack_high_cost="26.00", supplier="Fern")),
        bill_line(wanted(item="feedstock", need="1500", need_low="1350", need_high="1900",
                         pack="1000", pack_cost="22.90", unit="g")),
    ]  # fmt: skip


def test_the_sum_of_likely_values_is_below_the_middle_where_prices_lean_up():
    found = budget(lines_of_a_device())
    assert found.low_cost < found.median_cost < found.high_cost
    assert found.plain_frac < 0.5
    assert found.plain_cost == pytest.approx(58.0 + 17.5 + 2 * 22.9)


def test_the_dearest_doubt_stands_first_and_whole_packs_have_none():
    swings = budget(lines_of_a_device()).swings
    assert [swing.item for swing in swings] == ["board", "servo", "feedstock"]
    assert swings[0].low_cost == pytest.approx(-13.0)
    assert swings[0].high_cost == pytest.approx(27.0)
    # 1350 to 1900 g are two packs either way
    assert (swings[2].low_cost, swings[2].high_cost) == (0.0, 0.0)
    assert 0.9 < sum(swing.share_frac for swing in swings) < 1.1


def test_the_careful_shape_is_wider_in_the_middle():
    lines = lines_of_a_device()[:2]
    pert, triangle = budget(lines), budget(lines, shape="triangular")
    assert triangle.median_cost == pytest.approx(pert.median_cost, rel=0.02)


def test_the_same_seed_gives_the_same_budget_and_a_new_line_leaves_other_draws_alone():
    lines = lines_of_a_device()
    assert budget(lines, seed=3) == budget(lines, seed=3)
    more = [*lines, bill_line(wanted(item="box", need="1", pack_cost="10.00"))]
    assert budget(more, seed=3).low_cost == pytest.approx(budget(lines, seed=3).low_cost + 10.0)


def test_without_ranges_the_arrays_come_to_the_exact_roll_up():
    shop = Shop(
        name="Fern", shipping_cost=Decimal("5.90"), free_from_cost=Decimal("60.00"), currency="USD",
        import_frac=Decimal("0.1"), import_cost=Decimal("2.00"),
    )  # fmt: skip
    breaks = (PriceBreak(from_quantity=Decimal(50), pack_cost=Decimal("0.05")),)
    lines = [
        bill_line(
            wanted(item="screw", need="45", pack_cost="0.06", breaks=breaks, supplier="Fern")
        ),
        bill_line(wanted(item="box", need="2", pack_cost="20.00", with_tax=False, tax_frac="0.2")),
        bill_line(wanted(item="nut", need="2", pack_cost="3.00", shipping_cost="1.50")),
    ]
    terms = {"shops": {"Fern": shop}, "currency": "EUR", "rates": {"USD": Decimal("0.9")}}
    exact = roll_up(lines, **terms).total_cost
    assert budget(lines, **terms).median_cost == pytest.approx(float(exact), abs=0.011)


def test_a_wrong_shape_and_too_few_draws_are_refused():
    with pytest.raises(InputError, match="shape 'normal' with 20000 draws"):
        budget(lines_of_a_device(), shape="normal")
    with pytest.raises(InputError, match="with 10 draws"):
        budget(lines_of_a_device(), draws=10)
