"""Prices fitted to a few quotes, and parts against a service's own limits."""

import numpy as np
import pytest

from buildplan.decide.sending import (
    SentFacts,
    ServiceTable,
    fit_prices,
    predict_price,
    preflight,
)
from buildplan.errors import InputError


def test_prices_on_a_line_are_found_exactly():
    volumes = [10.0, 60.0, 200.0, 410.0]
    model = fit_prices(volumes, [4.0 + 0.3 * v for v in volumes])
    assert model.fixed_cost == pytest.approx(4.0)
    assert model.rate_cost_cm3 == pytest.approx(0.3)
    assert model.error_frac == pytest.approx(0.0, abs=1e-12)
    assert predict_price(model, 100.0).likely == pytest.approx(34.0)


def test_eight_quotes_in_ten_lie_in_the_range():
    """Simulated services: the range of a next quote covers 0.8 of them, from 3 quotes on."""
    rng = np.random.default_rng(3)
    for quotes in (3, 5, 12):
        within = 0
        for _ in range(2000):
            volumes = np.exp(rng.normal(4.0, 0.8, quotes + 1))
            costs = (8.0 + 0.3 * volumes) * rng.normal(1.0, 0.08, quotes + 1)
            model = fit_prices(volumes[:-1], costs[:-1])
            spread = predict_price(model, volumes[-1])
            within += spread.low <= costs[-1] <= spread.high
        assert within / 2000 == pytest.approx(0.8, abs=0.04), quotes


def test_no_part_of_a_price_comes_out_negative():
    model = fit_prices([10.0, 20.0, 40.0], [50.0, 40.0, 30.0])
    assert model.rate_cost_cm3 == 0.0
    assert model.fixed_cost > 0.0
    steep = fit_prices([10.0, 20.0, 40.0], [1.0, 8.0, 30.0])
    assert steep.fixed_cost == 0.0


def test_more_quotes_that_agree_narrow_the_range():
    rng = np.random.default_rng(1)
    volumes = np.linspace(10.0, 300.0, 20)
    costs = (5.0 + 0.2 * volumes) * rng.normal(1.0, 0.05, 20)
    few = predict_price(fit_prices(volumes[::7], costs[::7]), 150.0)
    many = predict_price(fit_prices(volumes, costs), 150.0)
    assert many.high - many.low < few.high - few.low


@pytest.mark.parametrize(
    ("volumes", "costs", "said"),
    [
        ([1.0, 2.0], [1.0, 2.0], "2 quotes"),
        ([1.0, 2.0, 3.0], [1.0, 2.0], "2 quotes for 3"),
        ([1.0, 2.0, 3.0], [1.0, 0.0, 2.0], "not above 0"),
        ([1.0, 2.0, float("nan")], [1.0, 1.0, 2.0], "not above 0"),
    ],
)
def test_too_little_to_fit_is_refused(volumes, costs, said):
    with pytest.raises(InputError, match=said):
        fit_prices(volumes, costs)


def part(**more):
    given = {
        "name": "lid",
        "size_mm": (200.0, 120.0, 30.0),
        "least_wall_mm": 1.2,
        "feedstocks": ("PETG", "petg"),
        "closed": True,
    }
    return SentFacts(**{**given, **more})


SERVICE = ServiceTable(
    name="Service Oak",
    lead_d=5.0,
    feedstocks=("PETG", "ASA"),
    largest_mm=(130.0, 210.0, 100.0),
    least_wall_mm=1.0,
    tolerance_mm=0.3,
    tolerance_frac=0.002,
)


def test_a_part_within_all_limits_passes():
    assert preflight(part(), SERVICE) == ()
    assert preflight(part(size_mm=(30.0, 200.0, 120.0)), SERVICE) == ()


@pytest.mark.parametrize(
    ("facts", "severity", "said"),
    [
        (part(size_mm=(211.0, 120.0, 30.0)), "stop", "larger than Service Oak takes"),
        (part(size_mm=(200.0, 131.0, 30.0)), "stop", "larger"),
        (part(feedstocks=("PLA",)), "stop", "does not print PLA"),
        (part(closed=False), "stop", "not closed"),
        (part(least_wall_mm=0.8), "caution", "thinnest wall"),
        (part(fit_mm=0.2), "caution", "promises 0.40 mm"),
    ],
)
def test_each_broken_limit_is_one_finding(facts, severity, said):
    (finding,) = preflight(facts, SERVICE)
    assert finding.severity == severity
    assert said in finding.what
    assert "Service Oak" in finding.source


def test_what_a_service_does_not_state_is_not_judged():
    silent = ServiceTable(name="Service Elm", lead_d=5.0)
    assert preflight(part(size_mm=(900.0,) * 3, least_wall_mm=0.1, fit_mm=0.01), silent) == ()
