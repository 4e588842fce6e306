"""Restart and checkpoint theory.

Asmussen et al. (2008), Asymptotic behavior of total times for jobs that must start over if a
failure occurs, Math. Oper. Res. 33, 932-944; Young (1974), CACM 17, 530-531; Daly (2006), Future
Gener. Comput. Syst. 22, 303-312.
"""

import math

import pytest

from buildplan.segments.restart import (
    FailureOdds,
    best_piece_h,
    daly_piece_h,
    expected_time_h,
    hazard_of,
    success_frac,
    young_piece_h,
)


def plain(between_h):
    return FailureOdds(
        hazard_frac_h=1.0 / between_h, start_fail_frac=0.0, start_loss_h=0.0, recovery_h=0.0
    )


@pytest.mark.parametrize("between_h", [100, 50])
def test_expected_hours_of_a_restarted_job(reference, between_h):
    found = expected_time_h(20.0, plain(between_h))
    assert reference.agrees("failure", f"restart_time_T20_M{between_h}", found)


@pytest.mark.parametrize("between_h", [100, 50, 20])
def test_chance_tries_and_loss_of_one_try(reference, between_h):
    odds = plain(between_h)
    success = success_frac(20.0, odds)
    lost = (expected_time_h(20.0, odds) - 20.0) * success / (1.0 - success)
    assert reference.agrees("failure", f"success_T20_M{between_h}", success)
    assert reference.agrees("failure", f"attempts_T20_M{between_h}", 1.0 / success)
    assert reference.agrees("failure", f"lost_per_failure_T20_M{between_h}", lost)


def test_daly_comes_nearer_to_the_exact_optimum_than_young():
    """20 h with a chance of 25 % to fail, 20 minutes a joint: 6.60 h exact, 6.81 Young, 6.59 Daly.

    The exact one solves e^(lt) (lt - 1) = lc - 1, the zero of the derivative of the cost per hour.
    """
    hazard, joint_h = hazard_of(0.25, 20.0), 1.0 / 3.0
    exact = best_piece_h(hazard, joint_h)
    x = hazard * exact
    assert math.exp(x) * (x - 1.0) == pytest.approx(hazard * joint_h - 1.0, abs=1e-12)
    assert exact == pytest.approx(6.60, abs=0.005)
    young, daly = young_piece_h(hazard, joint_h), daly_piece_h(hazard, joint_h)
    assert young == pytest.approx(6.81, abs=0.005)
    assert daly == pytest.approx(6.59, abs=0.005)
    assert abs(daly - exact) < 0.1 * abs(young - exact)


@pytest.mark.parametrize("joint_h", [1e-3, 1e-2, 0.1])
def test_young_is_the_limit_for_cheap_joints(joint_h):
    """Young's interval is of first order in sqrt(l c / 2); the error falls with its root."""
    hazard = 0.01
    share = math.sqrt(hazard * joint_h / 2.0)
    assert young_piece_h(hazard, joint_h) == pytest.approx(best_piece_h(hazard, joint_h), rel=share)
