"""Failure statistics against published examples.

NIST/SEMATECH e-Handbook of Statistical Methods 8.4.5.1; MIL-HDBK-781; Johnson, Ott and Dogucu,
Bayes Rules!, chapter 5 (gamma-Poisson); the textbook estimate of an exponential life from a test
that ended before all items failed.
"""

import numpy as np
import pytest
from logs import attempt, done, failed, log_of

from buildplan.journal import mean_life_interval_h, tally_log
from buildplan.journal.failures import START_H, FailureModel, fit_failures, hazard_mixture


def test_the_mean_life_interval_is_the_handbooks(reference):
    entry = reference["failure", "nist_mtbf_ci"]
    given = entry["inputs"]
    got = mean_life_interval_h(given["T_h"], given["r"], given["conf"])
    assert got == pytest.approx(entry["expected"], rel=entry["tolerance"]["rel"])


@pytest.mark.parametrize("failures", [1, 2, 3, 5, 10])
def test_the_interval_factors_are_the_handbooks_table(reference, failures):
    entry = reference["failure", f"nist_factors_r{failures}"]
    got = [
        limit
        for share in (0.6, 0.8, 0.9, 0.95)
        for limit in mean_life_interval_h(float(failures), failures, share)
    ]
    assert got == pytest.approx(entry["expected"], rel=entry["tolerance"]["rel"])


def test_without_a_failure_the_lower_limit_is_the_handbooks(reference):
    given = reference["failure", "nist_zero_fail"]["inputs"]
    low, high = mean_life_interval_h(given["T_h"], 0, 1.0 - 2.0 * given["a"])
    assert reference.agrees("failure", "nist_zero_fail", low)
    assert high == np.inf


def test_hours_per_failure_are_the_censored_estimate(reference):
    given = reference["failure", "mle_censored_a"]["inputs"]
    rows = [
        (attempt(str(k)), (failed if event else done)(START_H + hours))
        for k, (hours, event) in enumerate(zip(given["t_h"], given["event"], strict=True))
    ]
    (tally,) = tally_log(log_of(rows))
    assert reference.agrees("failure", "mle_censored_a", tally.hours_h / tally.failures)


def one_cell(shape, rate, tallies):
    """The posterior gamma of one cell of the grid that has this prior."""
    model = FailureModel(tallies=tallies, hazard_weight=np.ones(1), start_weight=np.ones(1))
    mixture = hazard_mixture(model, "north bench", "PETG")
    free = hazard_mixture(fit_failures(()), "north bench", "PETG")
    return shape + (mixture.first - free.first)[0], rate + (mixture.second - free.second)[0]


def test_the_update_of_the_hazard_is_the_gamma_poisson_one(reference):
    entry = reference["failure", "gamma_poisson_text"]
    given = entry["inputs"]
    # each count is what failed in one hour after the start
    rows = [
        (attempt(f"{hour}-{k}"), failed(START_H + 1.0 / count))
        for hour, count in enumerate(given["counts"])
        for k in range(count)
    ]
    shape, rate = one_cell(given["shape"], given["rate"], tally_log(log_of(rows)))
    assert round(shape, 9) == entry["expected"]["shape"]
    assert round(rate, 9) == entry["expected"]["rate"]
    assert shape / rate == pytest.approx(entry["expected"]["mean"])


def test_two_failures_in_three_hundred_hours_give_the_stated_hazard(reference):
    given = reference["failure", "gamma_poisson_print"]["inputs"]
    rows = [(attempt(str(k)), done(START_H + 50.0)) for k in range(4)]
    rows += [(attempt(f"f{k}"), failed(START_H + 50.0)) for k in range(given["n"])]
    shape, rate = one_cell(given["a"], given["b_h"], tally_log(log_of(rows)))
    assert reference.agrees("failure", "gamma_poisson_print", shape / rate)
