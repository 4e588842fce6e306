import dataclasses

import numpy as np
import pytest
import rows
import solids
from bare_parts import bare_part
from logs import day, done, log_of

from buildplan.journal import attempt_of, factor_for, learn, learned_estimate, walls_frac_of
from buildplan.process.estimate import estimate_print


@pytest.fixture(scope="module")
def estimate():
    part = bare_part(*solids.arrays(solids.box(20.0, 20.0, 6.0)), name="tub")
    return estimate_print(part, rows.printer(), rows.feedstock(), rows.recipe())


def learned_from(estimate, count, hours_frac, grams_frac):
    prints = [
        (
            attempt_of(estimate, uid=str(k), started_utc=day(k)),
            done(estimate.time_h * hours_frac, mass_g=estimate.mass_g * grams_frac),
        )
        for k in range(count)
    ]
    return learn(log_of(prints))


def test_with_an_empty_log_the_estimate_stays_as_it_is(estimate):
    assert learned_estimate(estimate, learn(log_of([]))) is estimate


def test_an_attempt_carries_what_the_estimator_said(estimate):
    attempt = attempt_of(estimate, uid="u", started_utc="2031-01-01", piece=2)
    assert attempt.predicted_h == estimate.time_h
    assert attempt.predicted_g == estimate.mass_g
    assert attempt.walls_frac == walls_frac_of(estimate)
    assert 0.1 < attempt.walls_frac < 0.9
    assert (attempt.part, attempt.piece, attempt.printer) == ("tub", 2, "test-printer")


def test_hours_and_grams_follow_the_log_and_everything_still_adds_up(estimate):
    learned = learned_from(estimate, 12, 1.2, 0.9)
    got = learned_estimate(estimate, learned)
    assert got.time_h == pytest.approx(1.2 * estimate.time_h, rel=0.02)
    assert got.mass_g == pytest.approx(0.9 * estimate.mass_g, rel=0.02)
    assert got.time_spread_h.likely == pytest.approx(got.time_h)
    assert got.mass_spread_g.low < got.mass_g < got.mass_spread_g.high
    assert sum(share.time_h for share in got.by_role) == pytest.approx(got.time_h)
    ratio = got.layer_time_s.sum() / estimate.layer_time_s.sum()
    assert ratio == pytest.approx(got.time_h / estimate.time_h)
    costs = (got.feedstock_cost, got.energy_cost, got.machine_cost, got.own_time_cost)
    assert got.total_cost == pytest.approx(sum(costs))
    assert got.own_time_cost == estimate.own_time_cost
    assert not got.layer_mass_g.flags.writeable
    assert np.all(got.layer_z_mm == estimate.layer_z_mm)


def test_more_prints_of_the_same_kind_narrow_the_spread(estimate):
    spreads = [
        learned_estimate(estimate, learned_from(estimate, n, 1.1, 1.0)).time_spread_h
        for n in (1, 3, 10)
    ]
    widths = [spread.high / spread.low for spread in spreads]
    assert widths == sorted(widths, reverse=True)


def test_a_machine_slow_in_corners_is_learned_by_the_share_of_walls(estimate):
    prints = []
    for k, walls in enumerate((0.1, 0.7, 0.2, 0.6, 0.15, 0.65, 0.3, 0.5)):
        attempt = attempt_of(estimate, uid=str(k), started_utc=day(k))
        prints.append(
            (
                dataclasses.replace(attempt, walls_frac=walls),
                done(estimate.time_h * np.exp(0.2 * (walls - 0.35))),
            )
        )
    learned = learn(log_of(prints)).time
    place = (estimate.printer, estimate.feedstock)
    few, many = (factor_for(learned, *place, share).likely_frac for share in (0.1, 0.7))
    assert np.log(many / few) == pytest.approx(0.2 * 0.6, rel=0.25)
