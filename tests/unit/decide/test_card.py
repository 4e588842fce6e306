"""Bad-day card: drawn days against closed forms, and when to look against the layers."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildplan.decide.card import Chances, bad_day, hours_of_tries, looks_of
from buildplan.errors import InputError
from buildplan.segments.restart import FailureOdds, spread_of_run


def sure(hazard, start=0.05, count=200_000, **more):
    given = {"start_loss_h": 0.5, "recovery_h": 0.25, "logged_h": 1e6, "prints": 100, **more}
    return Chances(
        hazard_frac_h=np.full(count, hazard), start_fail_frac=np.full(count, start), **given
    )


@pytest.fixture(scope="module")
def estimate():
    """20 h in 100 layers of 11.8 minutes and 8 g, 20 minutes ahead."""
    layers = 100
    return SimpleNamespace(
        part="shell",
        printer="p",
        feedstock="f",
        time_h=20.0,
        mass_g=805.0,
        feedstock_cost=20.0,
        energy_cost=1.0,
        machine_cost=4.0,
        own_time_cost=6.0,
        layer_z_mm=0.2 * np.arange(1, layers + 1),
        layer_time_s=np.full(layers, 708.0),
        layer_mass_g=np.full(layers, 8.0),
    )


@pytest.mark.parametrize("hazard", [0.002, 0.01, 0.03])
@pytest.mark.parametrize("hours", [2.0, 20.0])
def test_sure_chances_give_the_theory_of_restarts(hazard, hours):
    """Asmussen and others (2008), as in segments.restart, with tries that hardly end."""
    days = hours_of_tries([hours], sure(hazard), tries=40)
    exact = spread_of_run([hours], FailureOdds(hazard_frac_h=hazard))
    error = 5.0 * exact.sd_h / math.sqrt(len(days.total_h))
    assert days.total_h.mean() == pytest.approx(exact.expected_h, abs=error)
    assert np.quantile(days.total_h, 0.95) == pytest.approx(exact.high_h, rel=0.02, abs=0.02)
    assert np.isfinite(days.lost_at_h).any(axis=(1, 2)).mean() == pytest.approx(
        exact.any_failure_frac, abs=0.005
    )


def test_a_doubtful_hazard_gives_the_mean_of_the_gamma():
    """E over l of (e^(l t) - 1) / l for a gamma of shape a and rate b, a > 1, t < b.

    b / (a - 1) ((b / (b - t))^(a - 1) - 1), derived by integrating; a = 3, b = 190 gives 23.67 h
    for 20 h, and no failed start.
    """
    shape, rate, hours = 3.0, 190.0, 20.0
    draws = np.random.default_rng(5).gamma(shape, 1.0 / rate, 400_000)
    chances = replace(sure(0.0, start=0.0, count=len(draws), recovery_h=0.0), hazard_frac_h=draws)
    found = hours_of_tries([hours], chances, tries=60).total_h.mean()
    exact = rate / (shape - 1.0) * ((rate / (rate - hours)) ** (shape - 1.0) - 1.0)
    assert found == pytest.approx(exact, rel=0.004)


def test_two_halves_shorten_the_bad_day():
    """20 h at 5 % failed starts and 2 % an hour: 1 day in 20 over 43 h, in halves over 31 h."""
    chances = sure(0.02, start=0.05, recovery_h=0.25)
    whole = np.quantile(hours_of_tries([20.0], chances, tries=40).total_h, 0.95)
    halves = np.quantile(hours_of_tries([10.0, 10.0], chances, tries=40).total_h, 0.95)
    assert halves < 0.8 * whole


@given(
    hazard=st.floats(0.0, 0.2),
    start=st.floats(0.0, 1.0),
    hours=st.floats(0.0, 60.0),
    tries=st.integers(1, 6),
)
def test_more_tries_never_give_up_more_often(hazard, start, hours, tries):
    few = hours_of_tries([hours], sure(hazard, start, 500), tries=tries)
    assert (few.total_h >= np.where(few.gave_up, 0.0, hours)).all()
    fails = 1.0 - (1.0 - start) * math.exp(-hazard * hours)
    spread = 6.0 * math.sqrt(max(fails**tries * (1.0 - fails**tries), 1e-9) / 500) + 0.01
    assert few.gave_up.mean() == pytest.approx(fails**tries, abs=spread)
    longest = tries * (max(hours, 0.0) + 0.25)
    assert (few.total_h <= longest + hours + 1e-9).all()


def test_grams_and_money_lost_follow_the_layers(estimate):
    """Every start fails at 0.5 h, twice of two tries: 0.5 h is 10 minutes of layers, 6.8 g."""
    card = bad_day(estimate, sure(0.0, start=1.0, count=10), pack_g=1000.0, tries=2)
    laid = 8.0 * (0.5 - 1.0 / 3.0) * 3600.0 / 708.0
    assert card.lost_g == pytest.approx(2.0 * laid, rel=1e-9)
    cost = 2.0 * laid * 20.0 / 800.0 + 2.0 * 0.5 * 5.0 / 20.0 + 2.0 * 6.0
    assert card.lost_cost == pytest.approx(cost, rel=1e-9)
    assert card.gives_up_frac == 1.0
    assert card.median_h == pytest.approx(2.0 * 0.75)


def test_when_to_look_follows_from_the_layers(estimate):
    looks = looks_of(estimate, pack_g=300.0, overhang_z_mm=(0.1, 9.05, 14.0))
    why = [look.why.split(":")[0] for look in looks]
    assert why == [
        "first layers",
        "change of reel 1",
        "first overhang",
        "change of reel 2",
        "the end",
    ]
    by_why = dict(zip(why, looks, strict=True))
    assert by_why["first layers"].after_h == pytest.approx(1.0 / 3.0 + 3 * 708.0 / 3600.0)
    assert by_why["change of reel 1"].layer == 35  # 280 g of 8 g a layer
    assert by_why["change of reel 2"].layer == 70
    assert by_why["first overhang"].z_mm >= 9.05
    assert by_why["the end"].after_h == pytest.approx(20.0)
    part_used = looks_of(estimate, pack_g=1000.0, have_g=100.0)
    assert [look.layer for look in part_used if "reel" in look.why] == [10]


def test_reels_of_a_try_and_a_short_log(estimate):
    card = bad_day(estimate, sure(0.01, count=50, logged_h=12.0, prints=3), pack_g=500.0)
    assert card.reels == 2
    assert not card.mean_exists
    assert "mostly assumption" in card.basis


@pytest.mark.parametrize(
    ("times", "chances", "tries", "said"),
    [
        ([], sure(0.1, count=3), 3, "at least one"),
        ([-1.0], sure(0.1, count=3), 3, "0 or more"),
        ([1.0], sure(0.1, count=3), 0, "1 to 100"),
        ([1.0], sure(-0.1, count=3), 3, "hazards 0 or more"),
        ([1.0], sure(0.1, start=1.5, count=3), 3, "starts from 0 to 1"),
        ([1.0], sure(0.1, count=0), 3, "0 hazards"),
    ],
)
def test_chances_that_are_none_are_refused(times, chances, tries, said):
    with pytest.raises(InputError, match=said):
        hours_of_tries(times, chances, tries=tries)
