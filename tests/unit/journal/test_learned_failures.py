import dataclasses
import math
import random

import numpy as np
import pytest
from logs import attempt, day, done, failed, log_of

from buildplan.errors import InputError
from buildplan.journal import (
    Tally,
    draw_odds,
    fail_frac,
    fit_failures,
    next_odds,
    odds_for,
    odds_words,
    tally_log,
)
from buildplan.journal.failures import (
    START_H,
    hazard_mixture,
    hazard_quantile,
    start_mixture,
    start_quantile,
)
from buildplan.segments.restart import FailureOdds, expected_time_h

HERE = ("north bench", "PETG")


def tally(printer="north bench", feedstock="PETG", **other):
    known = {
        "starts_held": 0,
        "starts_failed": 0,
        "hours_h": 0.0,
        "failures": 0,
        "start_hours_h": 0.0,
        "prints": 0,
    }
    return Tally(printer=printer, feedstock=feedstock, **(known | other))


def ended(*outcomes):
    return log_of([(attempt(f"u{k}", started_utc=day(k)), o) for k, o in enumerate(outcomes)])


def test_hours_count_however_a_print_ended():
    running = dataclasses.replace(done(2.5), end="running")
    stopped = dataclasses.replace(done(6.5), end="aborted")
    early = dataclasses.replace(done(0.2), end="aborted")
    void = dataclasses.replace(done(50.0), end="void")
    log = ended(done(8.5), failed(3.5), failed(0.3), running, stopped, early, void, None)
    assert tally_log(log) == (
        tally(
            starts_held=4,
            starts_failed=1,
            hours_h=8.0 + 3.0 + 2.0 + 6.0,
            failures=1,
            start_hours_h=0.3,
            prints=5,
        ),
    )


def test_a_short_print_that_ended_well_is_a_start_that_held():
    assert tally_log(ended(done(0.2)))[0].starts_held == 1


def test_the_odds_fit_the_restart_formulas():
    found = odds_for(fit_failures(tally_log(ended(done(9.0), failed(0.25)))), *HERE)
    assert isinstance(found.odds, FailureOdds)
    assert found.odds.start_loss_h == pytest.approx((0.25 + 2 * 0.5) / 3)
    assert expected_time_h(20.0, found.odds) > 20.0
    short = next_odds(fit_failures(tally_log(ended(done(9.0), failed(0.25)))), *HERE)
    assert short == found.odds


def test_the_assumption_before_any_print_is_wide_and_says_so():
    model = fit_failures(())
    found = odds_for(model, *HERE)
    assert found.wide
    assert found.odds.hazard_frac_h == pytest.approx(1 / 70, rel=0.03)
    hazard = hazard_mixture(model, *HERE)
    low, high = (hazard_quantile(hazard, share) for share in (0.05, 0.95))
    assert 1 - math.exp(-20 * low) < 0.04
    assert 1 - math.exp(-20 * high) > 0.5
    assert found.odds.start_fail_frac == pytest.approx(1 / 15, rel=0.05)
    assert "wide assumptions" in odds_words(found, *HERE)


def test_the_words_count_prints_hours_and_failures():
    many = [done(8.5)] * 5 + [failed(4.5)]
    text = odds_words(odds_for(fit_failures(tally_log(ended(*many))), *HERE), *HERE)
    assert "From your 6 prints on north bench: 1 failure in 44 h of PETG" in text
    assert "assumption" not in text
    few = odds_words(odds_for(fit_failures(tally_log(ended(*many[:3]))), *HERE), *HERE)
    assert "fewer than 5 prints" in few
    other = odds_words(odds_for(fit_failures(tally_log(ended(*many))), "x", "PLA"), "x", "PLA")
    assert "No print ended on x yet" in other


def test_a_success_never_raises_the_mean_of_its_own_printer():
    rng = random.Random(4)
    for _ in range(40):
        log = [
            (
                attempt(str(k), printer=rng.choice("ab"), feedstock=rng.choice(("P", "Q"))),
                rng.choice((done, failed))(rng.choice((0.2, 3.0, 11.0, 25.0))),
            )
            for k in range(rng.randrange(12))
        ]
        better = [*log, (attempt("new", printer="a", feedstock="P"), done(rng.uniform(0.1, 30)))]
        before = fit_failures(tally_log(log_of(log)))
        after = fit_failures(tally_log(log_of(better)))
        one, other = (odds_for(m, "a", "P").odds for m in (before, after))
        assert other.hazard_frac_h <= one.hazard_frac_h * (1 + 1e-12)
        assert other.start_fail_frac <= one.start_fail_frac
        assert fail_frac(after, "a", "P", 20.0) <= fail_frac(before, "a", "P", 20.0)


def test_a_failure_never_lowers_it():
    before = fit_failures((tally(hours_h=40.0, failures=1, starts_held=5),))
    after = fit_failures((tally(hours_h=40.0, failures=2, starts_held=5),))
    assert odds_for(after, *HERE).odds.hazard_frac_h > odds_for(before, *HERE).odds.hazard_frac_h


def test_the_order_of_the_rows_plays_no_part():
    rows = [
        (attempt(f"{k}", printer="ab"[k % 2]), (done, failed)[k % 3 == 0](0.3 * k + 0.1))
        for k in range(20)
    ]
    before = tally_log(log_of(rows))
    for seed in range(5):
        random.Random(seed).shuffle(rows)
        assert tally_log(log_of(rows)) == before


def test_printers_teach_each_other_but_keep_their_own():
    bad = tally("a", "P", hours_h=100.0, failures=10, starts_held=20, starts_failed=6)
    good = tally("b", "P", hours_h=300.0, failures=0, starts_held=30)
    model = fit_failures((bad, good))
    rates = [odds_for(model, printer, "P").odds for printer in ("a", "c", "b")]
    assert rates[0].hazard_frac_h > rates[1].hazard_frac_h > rates[2].hazard_frac_h
    assert rates[0].start_fail_frac > rates[1].start_fail_frac > rates[2].start_fail_frac


def simulated(rng):
    """Three printers with two feedstocks each, hyper-parameters drawn as the model assumes."""
    mean = rng.exponential(1 / 70)
    cv = 0.7 * math.exp(0.5 * rng.normal())
    hazards = rng.gamma(1 / cv**2, mean * cv**2, 6)
    share, weight = rng.beta(1.0, 14.0), 20.0 * math.exp(0.8 * rng.normal())
    starts = rng.beta(share * weight, (1 - share) * weight, 3)
    rows = []
    for k in range(6):
        for _ in range(12):
            length = rng.choice((2.0, 6.0, 20.0))
            if rng.random() < starts[k // 2]:
                outcome = failed(0.3)
            else:
                life = START_H + rng.exponential(1 / hazards[k])
                outcome = done(length) if life >= length else failed(life)
            printer, feedstock = str(k // 2), str(k % 2)
            rows.append((attempt(str(len(rows)), printer=printer, feedstock=feedstock), outcome))
    return hazards, starts, tally_log(log_of(rows))


def test_nine_in_ten_true_hazards_and_starts_fall_into_the_interval():
    rng = np.random.default_rng(8)
    hazards_in, starts_in = [], []
    for _ in range(150):
        hazards, starts, tallies = simulated(rng)
        model = fit_failures(tallies)
        k = int(rng.integers(6))
        mixture = hazard_mixture(model, str(k // 2), str(k % 2))
        low, high = (hazard_quantile(mixture, share) for share in (0.05, 0.95))
        hazards_in.append(low <= hazards[k] <= high)
        begins = start_mixture(model, str(k // 2))
        low, high = (start_quantile(begins, share) for share in (0.05, 0.95))
        starts_in.append(low <= starts[k // 2] <= high)
    assert 0.86 <= np.mean(hazards_in) <= 0.94
    assert 0.86 <= np.mean(starts_in) <= 0.94


@pytest.mark.slow
def test_over_three_thousand_simulated_logs_it_is_nine_in_ten():
    rng = np.random.default_rng(9)
    hazards_in, starts_in = [], []
    for _ in range(1000):
        hazards, starts, tallies = simulated(rng)
        model = fit_failures(tallies)
        for k in (0, 3, 5):
            mixture = hazard_mixture(model, str(k // 2), str(k % 2))
            low, high = (hazard_quantile(mixture, share) for share in (0.05, 0.95))
            hazards_in.append(low <= hazards[k] <= high)
            begins = start_mixture(model, str(k // 2))
            low, high = (start_quantile(begins, share) for share in (0.05, 0.95))
            starts_in.append(low <= starts[k // 2] <= high)
    assert 0.88 <= np.mean(hazards_in) <= 0.92
    assert 0.88 <= np.mean(starts_in) <= 0.92


def test_draws_follow_the_mixture_and_the_chance_of_failing():
    model = fit_failures((tally(hours_h=120.0, failures=2, starts_held=14, starts_failed=1),))
    hazards, starts = draw_odds(model, *HERE, 200_000, seed=3)
    odds = odds_for(model, *HERE).odds
    assert hazards.mean() == pytest.approx(odds.hazard_frac_h, rel=0.01)
    assert starts.mean() == pytest.approx(odds.start_fail_frac, rel=0.01)
    chance = 1 - np.mean((1 - starts) * np.exp(-20 * hazards))
    assert fail_frac(model, *HERE, 20.0) == pytest.approx(chance, rel=0.01)


def test_impossible_numbers_are_refused():
    with pytest.raises(InputError, match="below 0"):
        fit_failures((tally(hours_h=-1.0),))
    with pytest.raises(InputError, match="0 or more"):
        fail_frac(fit_failures(()), *HERE, -1.0)
