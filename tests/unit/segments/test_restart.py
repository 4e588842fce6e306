"""Hours until success: closed forms against simulation, limits and order."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildplan.errors import InputError
from buildplan.segments.restart import (
    FailureOdds,
    best_piece_h,
    expected_time_h,
    hazard_of,
    spread_of_run,
    success_frac,
    time_variance_h2,
)

PLAIN = FailureOdds(hazard_frac_h=0.0144, start_fail_frac=0.0, start_loss_h=0.0, recovery_h=0.0)
FULL = FailureOdds(hazard_frac_h=0.02, start_fail_frac=0.1, start_loss_h=0.5, recovery_h=0.25)


def simulate(times_h, odds, n=100_000, seed=1):
    """Total hours of n runs, drawn try by try."""
    rng = np.random.default_rng(seed)
    total = np.zeros(n)
    for time_h in times_h:
        todo = np.arange(n)
        while len(todo):
            starts = rng.random(len(todo)) >= odds.start_fail_frac
            fails_at = rng.exponential(1.0 / odds.hazard_frac_h, len(todo))
            runs = starts & (fails_at >= time_h)
            lost = np.where(starts, fails_at, odds.start_loss_h) + odds.recovery_h
            total[todo] += np.where(runs, time_h, lost)
            todo = todo[~runs]
    return total


@pytest.mark.parametrize("odds", [PLAIN, FULL], ids=["hazard only", "starts fail too"])
@pytest.mark.parametrize("pieces", [1, 3])
def test_mean_deviation_and_quantiles_agree_with_a_simulation(odds, pieces):
    times = [20.0 / pieces] * pieces
    drawn = simulate(times, odds)
    spread = spread_of_run(times, odds)
    assert abs(spread.expected_h - drawn.mean()) < 4.0 * drawn.std() / math.sqrt(len(drawn))
    assert spread.sd_h == pytest.approx(drawn.std(), rel=0.02)
    assert spread.high_h == pytest.approx(np.quantile(drawn, 0.95), rel=0.01)
    assert spread.median_h == pytest.approx(np.quantile(drawn, 0.5), rel=0.01)
    assert spread.any_failure_frac == pytest.approx((drawn > 20.0 + 1e-9).mean(), abs=0.006)


@given(time_h=st.floats(0.05, 60.0), hazard=st.floats(1e-7, 0.05))
def test_without_start_failures_the_mean_is_the_renewal_formula(time_h, hazard):
    odds = FailureOdds(hazard_frac_h=hazard, start_fail_frac=0.0, start_loss_h=0.0, recovery_h=1.0)
    expected = math.expm1(hazard * time_h) * (1.0 / hazard + 1.0)
    assert expected_time_h(time_h, odds) == pytest.approx(expected, rel=1e-9)


@given(time_h=st.floats(0.5, 40.0), hazard=st.floats(1e-3, 0.05))
def test_the_variance_is_that_of_the_closed_form(time_h, hazard):
    odds = FailureOdds(hazard_frac_h=hazard, start_fail_frac=0.0, start_loss_h=0.0, recovery_h=0.0)
    x = hazard * time_h
    closed = (math.exp(2 * x) - 2 * x * math.exp(x) - 1.0) / hazard**2
    assert time_variance_h2(time_h, odds) == pytest.approx(closed, rel=1e-6, abs=1e-9)


def test_without_any_failure_the_print_takes_its_own_time():
    odds = FailureOdds(hazard_frac_h=0.0, start_fail_frac=0.0)
    spread = spread_of_run([7.0, 3.0], odds)
    assert (spread.expected_h, spread.median_h, spread.high_h, spread.sd_h) == (10, 10, 10, 0)
    assert spread.any_failure_frac == 0.0
    assert success_frac(7.0, odds) == 1.0


@settings(max_examples=50)
@given(scale=st.floats(0.01, 100.0))
def test_the_unit_of_time_does_not_matter(scale):
    scaled = FailureOdds(
        hazard_frac_h=FULL.hazard_frac_h / scale,
        start_fail_frac=FULL.start_fail_frac,
        start_loss_h=FULL.start_loss_h * scale,
        recovery_h=FULL.recovery_h * scale,
    )
    assert expected_time_h(20.0 * scale, scaled) == pytest.approx(
        scale * expected_time_h(20.0, FULL), rel=1e-9
    )


def test_the_best_number_of_pieces_never_falls_as_prints_fail_more():
    counts = []
    for fail in (0.02, 0.05, 0.10, 0.15, 0.25, 0.40, 0.50, 0.60):
        odds = FailureOdds(
            hazard_frac_h=hazard_of(fail, 20.0),
            start_fail_frac=0.0,
            start_loss_h=0.0,
            recovery_h=0.0,
        )
        hours = [k * (expected_time_h(20.0 / k, odds) + 1.0 / 3.0) for k in range(1, 12)]
        counts.append(1 + int(np.argmin(hours)))
    assert counts == sorted(counts) == [1, 1, 2, 2, 3, 4, 5, 6]


@given(hazard=st.floats(1e-4, 0.1), joint_h=st.floats(0.02, 3.0))
def test_the_best_piece_is_the_least_of_the_cost_per_hour(hazard, joint_h):
    best = best_piece_h(hazard, joint_h)

    def per_hour(time_h):
        return (joint_h + math.expm1(hazard * time_h) / hazard) / time_h

    assert per_hour(best) <= min(per_hour(best * 0.999), per_hour(best * 1.001)) * (1 + 1e-12)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: expected_time_h(-1.0, FULL), "none may be negative"),
        (lambda: expected_time_h(math.nan, FULL), "none may be negative"),
        (lambda: expected_time_h(1.0, FailureOdds(start_fail_frac=1.0)), "0 to below 1"),
        (lambda: spread_of_run([], FULL), "at least one print"),
        (lambda: best_piece_h(0.0, 1.0), "must be above"),
        (lambda: hazard_of(1.0, 20.0), "from 0 to below 1"),
    ],
)
def test_impossible_numbers_are_refused(call, said):
    with pytest.raises(InputError, match=said):
        call()
