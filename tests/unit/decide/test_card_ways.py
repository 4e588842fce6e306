"""The card with every way: closed forms against drawn days, runs of pieces, reels, sentences."""

import math
import re
from datetime import date
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildplan.decide.card import (
    Chances,
    bad_day_card,
    hours_of_tries,
    run_of_estimates,
    run_of_row,
    runs_of_plan,
    spool_of,
    way_sentences,
)
from buildplan.decide.card.exact import (
    Doubt,
    any_failure_frac,
    doubt_of,
    endless_mean_h,
    gives_up_frac,
    mean_h,
    shown_h,
)
from buildplan.decide.sending import QuoteTable, SentFacts, SentPart, ServiceTable, send_rows
from buildplan.errors import InputError
from buildplan.journal import draw_odds, fit_failures
from buildplan.journal.failures import Mixture, Tally
from buildplan.segments.restart import FailureOdds, expected_time_h, spread_of_run

NOTHING = fit_failures(())
LOGGED = fit_failures(
    (
        Tally(
            printer="p",
            feedstock="f",
            starts_held=20,
            starts_failed=1,
            hours_h=190.0,
            failures=3,
            start_hours_h=0.4,
            prints=21,
        ),
    )
)


def one(*pair):
    return Mixture(weight=np.ones(1), first=np.array([pair[0]]), second=np.array([pair[1]]))


def known(hazard=0.01, start=0.05, **more):
    """All but certain: gamma and beta of a million."""
    sure = 1e8
    given = {"start_loss_h": 0.5, "recovery_h": 0.25, "logged_h": 1e6, "prints": 100, **more}
    start_mix = one(max(start, 1e-12) * sure, (1.0 - start) * sure)
    return Doubt(hazard=one(sure, sure / max(hazard, 1e-12)), start=start_mix, **given)


def estimate_of(hours, layers=100, name="shell"):
    return SimpleNamespace(
        part=name,
        printer="p",
        feedstock="f",
        time_h=hours,
        mass_g=40.0 * hours + 5.0,
        feedstock_cost=hours,
        energy_cost=0.05 * hours,
        machine_cost=0.2 * hours,
        own_time_cost=3.0,
        own_time_h=0.25,
        total_cost=1.25 * hours + 3.0,
        layer_z_mm=0.2 * np.arange(1, layers + 1),
        layer_time_s=np.full(layers, (hours - 1.0 / 3.0) * 3600.0 / layers),
        layer_mass_g=np.full(layers, 40.0 * hours / layers),
    )


def row_of(pieces, alone, longest, **more):
    given = {
        "pieces": pieces,
        "alone_h": alone,
        "longest_h": longest,
        "mass_g": 40.0 * alone,
        "print_cost": 1.25 * alone + 12.0,
        "own_min": 60.0,
        "reason": "",
    }
    return SimpleNamespace(**{**given, **more})


@pytest.mark.parametrize("model", [NOTHING, LOGGED], ids=["nothing logged", "190 h logged"])
@pytest.mark.parametrize("times", [[20.0], [12.0, 8.0], [5.0] * 4])
@pytest.mark.parametrize("tries", [1, 3, 5])
def test_means_and_chances_agree_with_drawn_days(model, times, tries):
    """Three standard errors of 60 000 days drawn from the same posterior."""
    doubt = doubt_of(model, "p", "f")
    hazard, start = draw_odds(model, "p", "f", 60_000, seed=4)
    chances = Chances(
        hazard_frac_h=hazard,
        start_fail_frac=start,
        start_loss_h=doubt.start_loss_h,
        recovery_h=doubt.recovery_h,
        logged_h=doubt.logged_h,
        prints=doubt.prints,
    )
    days = hours_of_tries(times, chances, tries=tries, seed=9)
    error = 3.0 * days.total_h.std() / math.sqrt(len(hazard))
    assert mean_h(doubt, times, tries) == pytest.approx(days.total_h.mean(), abs=error)
    # a print that gave up was tried, so every one counts here
    chance = any_failure_frac(doubt, times)
    drawn = np.isfinite(days.lost_at_h).any(axis=(1, 2)).mean()
    error = 3.0 * math.sqrt(chance * (1.0 - chance) / len(hazard))
    assert chance == pytest.approx(drawn, abs=error)
    if len(times) == 1:
        up = gives_up_frac(doubt, times[0], tries)
        error = 3.0 * math.sqrt(up * (1.0 - up) / len(hazard))
        assert up == pytest.approx(days.gave_up.mean(), abs=error)


@pytest.mark.parametrize("hazard", [1e-6, 0.005, 0.02])
@pytest.mark.parametrize("start", [0.0, 0.15])
def test_sure_chances_give_the_restart_theory(hazard, start):
    """Asmussen and others (2008), as in segments.restart; ten tries leave out next to nothing."""
    odds = FailureOdds(hazard_frac_h=hazard, start_fail_frac=start)
    doubt = known(hazard, start)
    exact = expected_time_h(20.0, odds)
    assert endless_mean_h(doubt, 20.0) == pytest.approx(exact, rel=1e-5)
    assert mean_h(doubt, [20.0], 10) == pytest.approx(exact, rel=1e-2)
    assert mean_h(doubt, [20.0], 10) <= exact * (1.0 + 1e-9)
    run = spread_of_run([20.0], odds)
    assert any_failure_frac(doubt, [20.0]) == pytest.approx(run.any_failure_frac, abs=1e-6)


@pytest.mark.parametrize("between_h", [100, 50])
def test_the_published_restart_time_without_starts(reference, between_h):
    """(e^(l T) - 1) / l of reference_values.toml, as a gamma of a million about 1 / between."""
    doubt = known(1.0 / between_h, 0.0, start_loss_h=0.0, recovery_h=0.0)
    entry = reference["failure", f"restart_time_T20_M{between_h}"]
    assert endless_mean_h(doubt, 20.0) == pytest.approx(entry["expected"], rel=1e-6)


@pytest.mark.parametrize(("shape", "said"), [(3.0, 24.00), (1.0, None)])
def test_a_gamma_hazard_gives_its_closed_mean(shape, said):
    """b / (a - 1) ((b / (b - t))^(a - 1) - 1), and -b ln(1 - t / b) at a = 1.

    findings/segments.md, part 5: 24.00 h for a = 3, b = 190, t = 20 with 1 / 3 h of joint; 23.85 at
    the mean hazard, which is too hopeful.
    """
    rate, hours = 190.0, 20.0
    doubt = Doubt(
        hazard=one(shape, rate),
        start=one(1e-12, 1e8),
        start_loss_h=0.0,
        recovery_h=0.0,
        logged_h=190.0,
        prints=20,
    )
    formula = (
        -rate * math.log1p(-hours / rate)
        if shape == 1.0
        else rate / (shape - 1.0) * ((rate / (rate - hours)) ** (shape - 1.0) - 1.0)
    )
    found = endless_mean_h(doubt, hours)
    assert found == pytest.approx(formula, rel=1e-9)
    if said is not None:
        assert found + 1.0 / 3.0 == pytest.approx(said, abs=0.005)
        at_mean = expected_time_h(
            hours, FailureOdds(hazard_frac_h=shape / rate, start_fail_frac=0.0, recovery_h=0.0)
        )
        assert at_mean + 1.0 / 3.0 == pytest.approx(23.85, abs=0.005)


@pytest.mark.parametrize(("hours", "exists"), [(189.9, True), (190.0, False), (400.0, False)])
def test_no_mean_exists_from_the_rate_of_the_gamma_on(hours, exists):
    doubt = Doubt(
        hazard=one(3.0, 190.0),
        start=one(1.0, 20.0),
        start_loss_h=0.5,
        recovery_h=0.25,
        logged_h=190.0,
        prints=20,
    )
    assert math.isfinite(endless_mean_h(doubt, hours)) is exists
    assert math.isfinite(mean_h(doubt, [hours], 5))


def test_a_start_that_may_always_fail_has_no_mean_either():
    doubt = Doubt(
        hazard=one(3.0, 1e6),
        start=one(2.0, 0.9),
        start_loss_h=0.5,
        recovery_h=0.25,
        logged_h=1e6,
        prints=2,
    )
    assert math.isinf(endless_mean_h(doubt, 1.0))


@settings(max_examples=60)
@given(
    shape=st.floats(0.05, 30.0),
    rate=st.floats(0.5, 500.0),
    start=st.tuples(st.floats(0.05, 20.0), st.floats(1.05, 60.0)),
    hours=st.floats(0.01, 80.0),
    more=st.floats(0.01, 40.0),
)
def test_longer_prints_and_more_tries_never_take_less(shape, rate, start, hours, more):
    doubt = Doubt(
        hazard=one(shape, rate),
        start=one(*start),
        start_loss_h=0.5,
        recovery_h=0.25,
        logged_h=rate,
        prints=9,
    )
    ups = [gives_up_frac(doubt, hours, tries) for tries in range(1, 11)]
    assert all(later <= before + 1e-9 for before, later in pairwise(ups))
    fails = any_failure_frac(doubt, [hours])
    assert ups[0] == pytest.approx(fails, abs=1e-9)
    # Jensen: a printer that may be bad fails m times in a row more often than a known one
    assert ups[4] >= fails**5 - 1e-9
    assert any_failure_frac(doubt, [hours + more]) >= fails - 1e-12
    assert any_failure_frac(doubt, [hours, more]) >= any_failure_frac(doubt, [hours + more]) - 1e-12
    capped = mean_h(doubt, [hours], 4)
    assert capped <= endless_mean_h(doubt, hours) * (1.0 + 1e-7) + 1e-7
    assert 0.0 <= capped <= 4.0 * (hours + 0.25) + 1e-9
    two = mean_h(doubt, [hours, more], 4)
    assert two == pytest.approx(capped + mean_h(doubt, [more], 4), rel=1e-12)


@given(share=st.floats(0.0, 1.0), hours=st.floats(0.1, 60.0))
def test_shares_of_failures_come_in_order(share, hours):
    doubt = known(0.02, 0.1)
    at = shown_h(doubt, hours, share)
    assert 0.0 <= at <= hours + 1e-9
    assert at <= shown_h(doubt, hours, min(share + 0.1, 1.0)) + 1e-6 * hours


def test_hour_by_which_half_of_all_failures_have_come():
    """Without failed starts: 1 - e^(-l u) = half of 1 - e^(-l t)."""
    expected = -math.log1p(-0.5 * -math.expm1(-0.02 * 20.0)) / 0.02
    assert shown_h(known(0.02, 0.0), 20.0, 0.5) == pytest.approx(expected, abs=1e-3)


def test_bad_day_hours_of_the_needs_table():
    """findings/needs.md, part 1: 20 h at 5 % starts and 2 % an hour, 3 % more for each joint.

    Mean 25.0 / 23.6 / 24.4 h, 1 day in 20 over 43.9 / 32.3 / 29.1 h, a failed try .36 / .40 / .47,
    with 0.25 h to set up each try. Own computation of that table, here by other code.
    """
    count = 200_000
    chances = Chances(
        hazard_frac_h=np.full(count, 0.02),
        start_fail_frac=np.full(count, 0.05),
        start_loss_h=0.5,
        recovery_h=0.25,
        logged_h=1e6,
        prints=100,
    )
    table = {1: (25.0, 43.9, 0.36), 2: (23.6, 32.3, 0.40), 4: (24.4, 29.1, 0.47)}
    for pieces, (mean, high, chance) in table.items():
        times = [20.0 * (1.0 + 0.03 * (pieces - 1)) / pieces] * pieces
        days = hours_of_tries(times, chances, tries=30)
        # the set-up of the try that holds is not among the hours of failed ones
        total = days.total_h + 0.25 * pieces
        assert total.mean() == pytest.approx(mean, rel=0.01)
        assert np.quantile(total, 0.95) == pytest.approx(high, rel=0.015)
        assert any_failure_frac(known(0.02, 0.05), times) == pytest.approx(chance, abs=0.01)


def card_of(model=LOGGED, hours=20.0, **more):
    given = {"pack_g": 1000.0, "draws": 4000, **more}
    return bad_day_card(estimate_of(hours), model, **given)


def test_a_card_holds_one_piece_then_pieces():
    rows = [row_of(2, 21.0, 11.0), row_of(4, 22.0, 6.0)]
    runs = [run_of_row(row, own_cost_h=12.0, set_up_h=0.25) for row in rows]
    card = card_of(in_pieces=runs)
    assert [way.label for way in card.home] == ["in one piece", "in 2 pieces", "in 4 pieces"]
    whole, two, four = card.home
    assert whole.usual_h == 20.0
    assert whole.exact
    assert not two.exact
    assert whole.high_h > two.high_h > four.high_h
    assert whole.any_failure_frac < two.any_failure_frac < four.any_failure_frac
    assert whole.high_lost_cost > four.high_lost_cost
    assert whole.mean_h == pytest.approx(mean_h(doubt_of(LOGGED, "p", "f"), [20.0], 5))
    assert whole.mean_h == pytest.approx(card.day.mean_h, rel=0.02)
    assert two.usual_cost == rows[0].print_cost


def test_evenly_spent_losses_agree_with_those_by_layers():
    """One print with even layers, once by its layers and once as a run: 20 minutes ahead apart."""
    run = run_of_estimates([estimate_of(20.0)], pieces=1)
    card = card_of(in_pieces=[run], draws=40_000)
    by_layers, evenly = card.home
    assert evenly.lost_g == pytest.approx(by_layers.lost_g, rel=0.05)
    assert evenly.lost_cost == pytest.approx(by_layers.lost_cost, rel=0.03)
    assert evenly.high_h == by_layers.high_h


def test_a_row_shares_its_sums_among_its_prints():
    row = row_of(3, 21.0, 11.0)
    run = run_of_row(row, own_cost_h=12.0, set_up_h=0.25)
    assert run.times_h == (11.0, 5.0, 5.0)
    assert sum(run.masses_g) == pytest.approx(row.mass_g)
    assert sum(run.running_costs) == pytest.approx(row.print_cost - 12.0)
    assert run.again_costs == (3.0, 3.0, 3.0)
    many = run_of_row(row_of(2, 30.0, 11.0), own_cost_h=0.0, set_up_h=0.0)
    assert max(many.times_h) == 11.0
    assert sum(many.times_h) == pytest.approx(30.0)


@given(
    real=st.lists(st.floats(0.5, 12.0), min_size=2, max_size=8).map(
        lambda hours: sorted(hours, reverse=True)
    )
)
@settings(max_examples=30)
def test_shared_out_hours_give_nearly_the_mean_of_the_real_ones(real):
    """E is convex in the hours: even ones give at most the real mean; it lacks under 4 %."""
    doubt = doubt_of(LOGGED, "p", "f")
    row = row_of(len(real), sum(real), real[0])
    guessed = run_of_row(row, own_cost_h=0.0, set_up_h=0.0).times_h
    assert sum(guessed) == pytest.approx(sum(real))
    assert mean_h(doubt, guessed, 5) == pytest.approx(mean_h(doubt, real, 5), rel=0.04)


def test_the_chosen_row_takes_the_hours_of_its_own_pieces():
    pieces = [SimpleNamespace(estimate=estimate_of(h)) for h in (9.0, 8.0)]
    loose = [SimpleNamespace(estimate=estimate_of(0.5, layers=4))]
    table = (row_of(1, 16.0, 16.0), row_of(2, 17.5, 9.0), row_of(3, 18.0, 7.0))
    plan = SimpleNamespace(table=table, chosen=1, pieces=pieces, loose=loose)
    runs = runs_of_plan(plan, own_cost_h=12.0, set_up_h=0.25)
    assert [run.pieces for run in runs] == [2, 3]
    assert runs[0].times_h == (9.0, 8.0, 0.5)
    assert runs[0].exact
    assert not runs[1].exact
    assert runs[0].own_h == pytest.approx(1.0)


def test_marks_lie_in_the_print_and_rise():
    card = card_of()
    hours = [mark.after_h for mark in card.marks]
    assert hours == sorted(hours)
    assert card.marks[0].after_h >= 0.3
    for mark in card.marks:
        assert 1 <= mark.layer <= 100
        done = 1.0 / 3.0 + mark.layer * (20.0 - 1.0 / 3.0) / 100
        assert mark.after_h <= done + 1e-6
        assert mark.lost_g <= 40.0 * 20.0


@pytest.mark.parametrize(
    ("need", "lost", "on_hand", "short", "packs", "high_packs"),
    [
        (800.0, 100.0, 1000.0, 0.0, 0, 0),
        (800.0, 300.0, 1000.0, 0.0, 0, 1),
        (800.0, 300.0, 400.0, 420.0, 1, 1),
        (980.0, 0.0, 1000.0, 0.0, 0, 0),
        (1961.0, 0.0, 0.0, 1961.0, 3, 3),
        (10.0, 0.0, 5.0, 10.0, 1, 1),
    ],
)
def test_reels_on_hand_against_one_try_and_a_bad_day(need, lost, on_hand, short, packs, high_packs):
    """20 g at the end of every reel are not printed."""
    spool = spool_of(need, lost, pack_g=1000.0, on_hand_g=on_hand)
    assert (spool.short_g, spool.packs, spool.high_packs) == (short, packs, high_packs)


def test_a_short_log_says_that_no_mean_exists():
    card = card_of(NOTHING)
    assert math.isinf(card.endless_mean_h)
    assert "No average exists" in card.mean_words
    assert f"The median is {card.day.median_h:.1f} h" in card.mean_words
    long = card_of(LOGGED)
    assert math.isfinite(long.endless_mean_h)
    assert "No average" not in long.mean_words


def test_sentences_name_every_way_and_what_splitting_changes():
    services = [
        ServiceTable(name="Service Oak", lead_d=5.0, lead_high_d=9.0, feedstocks=("PETG",)),
        ServiceTable(name="Service Elm", lead_d=3.0, largest_mm=(50.0, 50.0, 50.0)),
        ServiceTable(name="Service Fir", lead_d=3.0, terms="no refund after a warning."),
    ]
    facts = SentFacts(
        name="shell",
        size_mm=(200.0, 100.0, 50.0),
        least_wall_mm=2.0,
        feedstocks=("PETG",),
        closed=True,
    )
    sent = send_rows(
        [SentPart(facts=facts, volume_cm3=300.0)],
        services,
        [QuoteTable(service="Service Oak", part="shell", cost=80.0)],
        today=date(2031, 3, 17),
        own_cost_h=12.0,
    )
    rows = [run_of_row(row_of(2, 21.0, 11.0), own_cost_h=12.0, set_up_h=0.25)]
    rows.append(run_of_row(row_of(3, 22.0, 9.0, reason="too long"), own_cost_h=12.0, set_up_h=0.25))
    said = way_sentences(card_of(in_pieces=rows, sent=sent, on_hand_g=300.0), "EUR")
    text = "\n".join(said)
    assert said[0].startswith("In one piece: usually 20.0 h")
    assert said[1].startswith("In 2 pieces: usually about 21.0 h")
    assert said[2] == "In 3 pieces: not possible, too long."
    assert "Sent to Service Oak: EUR 80.00 with shipping" in text
    assert "(1 time in 10 over 9)" in text
    assert "Sent to Service Elm: not as it is: shell is larger" in text
    assert "Sent to Service Fir: no price yet; no quote there" in text
    assert "the bad day is" in text
    assert "525 g are missing" in text
    assert not re.search(r"\b1 times", text)
    assert "Half of all failures have come after" in text
    assert all(line.endswith(".") and "  " not in line for line in said)


def test_the_same_seed_gives_the_same_card():
    rows = [run_of_row(row_of(2, 21.0, 11.0), own_cost_h=12.0, set_up_h=0.25)]
    assert card_of(in_pieces=rows) == card_of(in_pieces=rows)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"pack_g": 0.0}, "a pack above 0"),
        ({"on_hand_g": -1.0}, "0 or more on hand"),
        ({"draws": 3}, "100 to"),
        ({"tries": 0}, "1 to 10"),
        ({"tries": 11}, "1 to 10"),
        ({"hours": -1.0}, "0 or more"),
    ],
)
def test_a_card_of_what_cannot_be_is_refused(more, said):
    with pytest.raises(InputError, match=said):
        card_of(**more)


def test_shares_beyond_one_are_refused():
    with pytest.raises(InputError, match="0 to 1"):
        shown_h(known(), 20.0, 1.2)
