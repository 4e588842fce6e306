"""The best push rod: against a grid, the bound, other seeds; its tolerance."""

import math

import linkages
import numpy as np
import pytest

from buildplan.device.mechanism import best_rod, hinge_load, rod_drive, rod_tolerance
from buildplan.device.mechanism.judge import POSES, judge
from buildplan.device.mechanism.load import greatest_n_mm
from buildplan.errors import InputError, NoPlanError


@pytest.fixture(scope="module")
def load():
    return hinge_load(*linkages.pane_lid())


@pytest.fixture(scope="module")
def best(load):
    return best_rod(load, linkages.pane_limits())


def peak_of(load, linkage):
    drive = rod_drive(load, linkage)
    return max(np.abs(drive.servo_n_mm).max(), np.abs(drive.closing_servo_n_mm).max())


def test_the_best_rod_keeps_every_limit_and_its_peak_is_real(load, best):
    limits = linkages.pane_limits()
    drive = rod_drive(load, best.linkage)
    assert drive.lid_transmission_deg.min() >= limits.least_transmission_deg - 0.05
    assert drive.horn_transmission_deg.min() >= limits.least_horn_deg - 0.05
    assert np.ptp(drive.servo_deg) <= limits.sweep_deg + 0.01
    assert peak_of(load, best.linkage) == pytest.approx(best.peak_n_mm, rel=2e-3)


def test_it_lies_within_a_sixth_of_what_any_mechanism_could_do(best):
    assert 0.0 < best.excess_frac < 1.0 / 6.0
    assert best.least_peak_n_mm / best.bound.least_n_mm - 1.0 == pytest.approx(0.14, abs=0.002)


def test_the_second_stage_halves_the_force_for_two_percent_of_torque(best):
    assert best.peak_n_mm <= 1.0201 * best.least_peak_n_mm
    assert best.link_n < 0.6 * best.first_link_n


def test_two_seeds_agree(load, best):
    other = best_rod(load, linkages.pane_limits(), seed=5)
    assert other.least_peak_n_mm == pytest.approx(best.least_peak_n_mm, rel=1e-4)
    assert other.link_n == pytest.approx(best.link_n, rel=0.05)


def test_no_design_of_a_grid_is_better(load):
    """Servo given; 11 horns, 72 directions, 21 x 4 lid pins: 66 528 designs."""
    limits = linkages.pane_limits(servo_forward_mm=(60.0, 60.0), servo_up_mm=(-60.0, -60.0))
    found = best_rod(load, limits, ease_frac=0.0)
    angle = np.linspace(0.0, 65.0, POSES)
    need = np.interp(angle, load.angle_deg, greatest_n_mm(load))
    horns, pins = np.linspace(12, 30, 11), np.linspace(25, 140, 21)
    least = math.inf
    for horn in horns:
        for up in np.linspace(-15, 0, 4):
            turn, out = np.meshgrid(np.linspace(-math.pi, math.pi, 73)[:-1], pins)
            rows = np.column_stack((turn.ravel(), out.ravel()))
            fixed = np.tile((60.0, -60.0, horn), (len(rows), 1))
            designs = np.column_stack((fixed, rows, np.full(len(rows), up)))
            judged = judge(designs, need, np.radians(angle), limits)
            kept = (judged.margins >= 0.0).all(axis=1) & (judged.reaches >= 0.0)
            if kept.any():
                least = min(least, float(judged.torque_n_mm[kept].max(axis=1).min()))
    assert math.isfinite(least)
    assert found.peak_n_mm <= least * (1.0 + 1e-6)
    assert found.peak_n_mm >= 0.9 * least


def test_of_a_horns_holes_the_best_is_taken(load):
    found = best_rod(load, linkages.pane_limits(), holes_mm=(12.0, 20.0, 25.0), ease_frac=0.0)
    assert found.linkage.horn_mm in (20.0, 25.0)


def test_what_no_rod_can_do_is_said_with_the_horn_that_it_takes(load):
    limits = linkages.pane_limits(
        horn_mm=(12.0, 12.0), lid_forward_mm=(60.0, 140.0), sweep_deg=90.0
    )
    with pytest.raises(NoPlanError, match=r"horn of 27.9 mm or more .* 12 mm is allowed"):
        best_rod(load, limits)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"servo_up_mm": (-35.0, -90.0)}, "servo_up_mm runs from -35 to -90"),
        ({"horn_mm": (0.0, 10.0)}, "horn_mm begins at 0"),
        ({"sweep_deg": 400.0}, "sweep_deg is 400"),
    ],
)
def test_limits_that_cannot_be_are_refused(load, change, said):
    with pytest.raises(InputError, match=said):
        best_rod(load, linkages.pane_limits(**change))


def test_pins_off_by_half_a_millimetre_change_the_peak_by_a_few_percent(load, best):
    off = rod_tolerance(load, best.linkage, pivot_mm=0.5)
    assert off.fails_frac == 0.0
    assert off.peak_n_mm.low < best.peak_n_mm < off.peak_n_mm.high * 1.01
    assert off.rare_peak_n_mm < 1.06 * best.peak_n_mm
    assert off.samples == 10_000


def test_no_error_gives_the_linkage_as_drawn(load, best):
    exact = rod_tolerance(load, best.linkage, pivot_mm=0.0, samples=100)
    assert exact.peak_n_mm.low == pytest.approx(best.peak_n_mm, rel=1e-3)
    assert exact.peak_n_mm.high == exact.peak_n_mm.low


def test_one_sample_is_one_linkage(load, best):
    """The batch against linkages made one by one with the same errors."""
    off = np.random.default_rng(0).normal(0.0, 0.15, (100, 5))
    peaks = []
    for errors in off:
        sx, sy = best.linkage.servo_mm
        bx, by = best.linkage.lid_pin_mm
        linkage = linkages.rod(
            sx + errors[0],
            sy + errors[1],
            best.linkage.horn_mm + errors[2],
            best.linkage.horn_shut_deg,
            bx + errors[3],
            by + errors[4],
        )
        peaks.append(peak_of(load, linkage))
    batch = rod_tolerance(load, best.linkage, pivot_mm=0.3, samples=100)
    assert batch.peak_n_mm.likely == pytest.approx(float(np.median(peaks)), rel=2e-3)


def test_a_tolerance_that_cannot_be_is_refused(load, best):
    with pytest.raises(InputError, match="pivot_mm -1"):
        rod_tolerance(load, best.linkage, pivot_mm=-1.0)
