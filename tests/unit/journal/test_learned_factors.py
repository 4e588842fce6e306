import dataclasses
import math
import random

import numpy as np
import pytest
from logs import attempt, day, done, failed, log_of

from buildplan.errors import InputError
from buildplan.journal import (
    MachineChange,
    basis_words,
    draw_factors,
    factor_for,
    factor_words,
    interval_frac,
    learn,
)
from buildplan.journal.learn import DECAY_FRAC, TIME_PRIOR, Observation, fit_factors

HERE = ("north bench", "PETG")


def history(ratios, printer="north bench", feedstock="PETG", first=0):
    return [
        (
            attempt(
                f"{printer}{k}",
                printer=printer,
                feedstock=feedstock,
                started_utc=day(first + k),
                predicted_g=50.0,
            ),
            done(8.0 * ratio, mass_g=50.0 * ratio),
        )
        for k, ratio in enumerate(ratios)
    ]


def time_factor(rows, changes=(), pair=HERE):
    return factor_for(learn(log_of(rows, changes)).time, *pair)


def nozzle(on, number=0, printer="north bench"):
    return MachineChange(
        number=number, uid=f"c{on}", at_utc=day(on), kind="nozzle", printer=printer
    )


def width(factor):
    low, high = interval_frac(factor)
    return high / low


def terms(prior):
    return (prior.all_sd, prior.printer_sd, prior.nozzle_sd, prior.feedstock_sd, prior.pair_sd)


def coverage(prints, decay, step=None, tries=1500):
    """Share of next prints inside the 90 % interval, machines and noise drawn from the prior."""
    rng, prior, inside = np.random.default_rng(3), TIME_PRIOR, 0
    half = prior.noise_df / 2
    for _ in range(tries):
        sd = math.sqrt(1 / rng.gamma(half, 1 / (half * prior.noise_sd**2)))
        offset = sum(rng.normal(0, x) for x in terms(prior)) * sd / prior.noise_sd
        logs = offset + rng.normal(0, sd, prints + 1)
        if step is not None:
            logs[step:] += math.log(1.2)
        seen = tuple(
            Observation(
                printer="a",
                feedstock="p",
                nozzle=0,
                batch=0,
                ratio_frac=math.exp(logs[k]),
                weight_frac=(1 - decay) ** (prints - 1 - k),
            )
            for k in range(prints)
        )
        low, high = interval_frac(factor_for(fit_factors(seen, prior), "a", "p"))
        inside += low <= math.exp(logs[prints]) <= high
    return inside / tries


@pytest.mark.parametrize("prints", [0, 1, 5, 30])
def test_nine_in_ten_next_prints_fall_into_the_interval(prints):
    assert 0.88 <= coverage(prints, 0.0) <= 0.92


def test_they_still_do_when_old_prints_fade():
    assert 0.88 <= coverage(60, DECAY_FRAC) <= 0.92


def test_ten_prints_after_a_step_of_a_fifth_they_do_again():
    assert 0.88 <= coverage(60, DECAY_FRAC, step=50) <= 0.92
    assert coverage(60, 0.0, step=50) < 0.8


def test_twenty_and_thirty_prints_after_the_step_the_interval_is_rather_too_wide():
    for after in (20, 30):
        assert 0.90 <= coverage(50 + after, DECAY_FRAC, step=50, tries=800) <= 0.96


def test_the_interval_of_one_printer_is_the_closed_form_of_a_normal_mean():
    prior = dataclasses.replace(
        TIME_PRIOR, printer_sd=1e-9, nozzle_sd=1e-9, feedstock_sd=1e-9, pair_sd=1e-9
    )
    logs = [0.1, 0.2, 0.15]
    seen = tuple(
        Observation(
            printer="a", feedstock="p", nozzle=0, batch=0, ratio_frac=math.exp(y), weight_frac=1.0
        )
        for y in logs
    )
    got = factor_for(fit_factors(seen, prior), "a", "p")
    k0 = (prior.noise_sd / prior.all_sd) ** 2
    kn, mean = k0 + 3, sum(logs) / (k0 + 3)
    rate = prior.noise_df / 2 * prior.noise_sd**2 + (sum(y * y for y in logs) - kn * mean**2) / 2
    shape = prior.noise_df / 2 + 1.5
    assert got.log_mean == pytest.approx(mean, rel=1e-9)
    assert got.log_scale == pytest.approx(math.sqrt(rate / shape * (1 + 1 / kn)), rel=1e-9)
    assert got.degrees == 2 * shape


def test_the_order_of_the_rows_plays_no_part():
    rows = history([1.1, 1.05, 1.2, 0.9]) + history([0.8, 0.85], "south bench", "PLA")
    changes = [nozzle(2, 1), nozzle(3, 2, "south bench")]
    before = learn(log_of(rows, changes))
    for seed in range(5):
        random.Random(seed).shuffle(rows)
        changes.reverse()
        after = learn(log_of(rows, changes))
        for kind in ("time", "mass"):
            one, other = getattr(before, kind), getattr(after, kind)
            assert one.mean.tobytes() == other.mean.tobytes()
            assert one.prints == other.prints
            assert one.rate == other.rate


def test_prints_on_one_printer_narrow_another_that_has_none():
    alone = time_factor([], pair=("new", "ASA"))
    helped = time_factor(history([1.1] * 20), pair=("new", "ASA"))
    assert width(helped) < 0.8 * width(alone)
    assert helped.likely_frac > 1.02
    assert helped.wide
    assert width(time_factor(history([1.1] * 20))) < width(helped)


def test_a_changed_nozzle_widens_and_lets_go_of_the_old_prints():
    rows = history([1.2] * 12)
    before, after = time_factor(rows), time_factor(rows, [nozzle(300)])
    assert width(after) > width(before)
    assert 1.0 < after.likely_frac < before.likely_frac
    more = rows + history([1.0] * 3, first=301)
    more = [(dataclasses.replace(a, uid=f"{a.uid}{a.started_utc}"), o) for a, o in more]
    assert time_factor(more, [nozzle(300)]).likely_frac < time_factor(more).likely_frac
    assert time_factor(rows, [nozzle(300, printer="south bench")]) == before


def test_a_changed_feedstock_counts_for_its_own_printer_and_feedstock_only():
    rows = history([1.2] * 12)
    change = MachineChange(
        number=1,
        uid="c",
        at_utc=day(300),
        kind="feedstock",
        printer="north bench",
        feedstock="PETG",
    )
    assert width(time_factor(rows, [change])) > width(time_factor(rows))
    other = dataclasses.replace(change, feedstock="PLA")
    assert time_factor(rows, [other]) == time_factor(rows)


def test_only_finished_prints_teach_hours_and_only_weighed_ones_grams():
    rows = history([1.1, 1.2])
    more = [
        (attempt("x", started_utc=day(5)), failed(3.0)),
        (attempt("y", started_utc=day(6)), None),
        (attempt("z", started_utc=day(7)), dataclasses.replace(done(1.0), end="void")),
    ]
    assert time_factor(rows + more) == time_factor(rows)
    unweighed = [(attempt("w", started_utc=day(9), predicted_g=9.0), done(8.0))]
    assert learn(log_of(rows + unweighed)).mass.prints == learn(log_of(rows)).mass.prints


def test_five_prints_end_the_warning_and_the_words_count_them():
    four, five = time_factor(history([1.1] * 4)), time_factor(history([1.1] * 5))
    assert four.wide
    assert not five.wide
    assert basis_words(four, "north bench") == (
        "from your 4 prints on north bench; the range stays wide until 5 are logged"
    )
    assert basis_words(five, "north bench") == "from your 5 prints on north bench"
    assert basis_words(time_factor([]), "x") == "from the tables alone: nothing is logged yet"
    other = time_factor(history([1.1]), pair=("south bench", "PLA"))
    assert "from your 1 print on other printers" in basis_words(other, "south bench")


def test_the_sentence_gives_change_range_and_basis():
    text = factor_words(time_factor(history([1.1] * 9)), *HERE, "hours")
    assert text.startswith("Prints take +10 % against the prediction in PETG on north bench (8 in")
    assert text.endswith("from your 9 prints on north bench.")
    assert "nothing is logged yet" in factor_words(time_factor([]), *HERE, "grams")


def test_drawn_factors_follow_the_spread():
    factor = time_factor(history([1.1, 1.15, 1.05]))
    drawn = draw_factors(factor, 20_000, seed=1)
    low, high = np.quantile(drawn, [0.1, 0.9])
    assert low == pytest.approx(factor.spread_frac.low, rel=0.01)
    assert high == pytest.approx(factor.spread_frac.high, rel=0.01)
    assert np.array_equal(drawn, draw_factors(factor, 20_000, seed=1))


def test_impossible_requests_are_refused():
    with pytest.raises(InputError, match="share 1"):
        interval_frac(time_factor([]), 1.0)
    with pytest.raises(InputError, match="decay"):
        learn(log_of([]), decay_frac=1.0)
    with pytest.raises(InputError, match="deviations"):
        learn(log_of([]), time_prior=dataclasses.replace(TIME_PRIOR, all_sd=0.0))
