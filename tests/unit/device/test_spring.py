"""Balance springs against a grid, torsion springs against their own formulas."""

import math

import linkages
import numpy as np
import pytest

from buildplan.device.mechanism import hinge_load
from buildplan.device.spring import (
    HelpSpring,
    balance_spring,
    music_wire_modulus_mpa,
    music_wire_strength_mpa,
    spring_n_mm,
    torsion_springs,
    torsion_stress_mpa,
)
from buildplan.errors import InputError, NoPlanError


@pytest.fixture(scope="module")
def load():
    return hinge_load(*linkages.pane_lid())


def test_the_best_spring_is_that_of_a_grid(load):
    angle, weight = load.angle_deg[::20], load.weight_n_mm[::20]
    found = balance_spring(angle, weight, keep_shut_n_mm=80.0)
    shut = np.linspace(0.0, weight[0] - 80.0, 301)[:, None, None]
    share = np.linspace(0.0, 1.0, 301)[None, :, None]
    rate = np.maximum(shut / angle[-1] * share, shut / 540.0)
    left = np.abs(weight - shut + rate * angle).max(axis=2)
    assert found.peak_n_mm <= left.min() + 1e-6
    assert found.peak_n_mm == pytest.approx(left.min(), rel=0.01)
    assert found.kept_shut_n_mm == pytest.approx(80.0)
    assert found.wound_deg <= 540.0 + 1e-6
    assert found.without_n_mm == pytest.approx(weight.max())


def test_a_winding_limit_keeps_the_spring_real():
    """A torque that never falls wants a spring without rate, which no coil has."""
    angle = np.linspace(0.0, 60.0, 61)
    weight = np.full(61, 100.0)
    loose = balance_spring(angle, weight, most_wound_deg=1e6)
    tight = balance_spring(angle, weight, most_wound_deg=180.0)
    assert loose.peak_n_mm < 0.1
    assert tight.wound_deg == pytest.approx(180.0)
    # at best the spring gives 120 N mm shut and 80 N mm open; 100 N mm is all the lid bears
    assert tight.spring.shut_n_mm == pytest.approx(100.0)
    assert tight.peak_n_mm == pytest.approx(100.0 / 3.0)


def test_a_weighting_is_the_drives_leverage(load):
    half = np.full_like(load.angle_deg, 0.5)
    plain = balance_spring(load.angle_deg, load.weight_n_mm)
    weighted = balance_spring(load.angle_deg, load.weight_n_mm, weighting=half)
    assert weighted.peak_n_mm == pytest.approx(0.5 * plain.peak_n_mm)


def test_a_spring_of_the_weight_itself_leaves_nothing():
    angle = np.linspace(0.0, 60.0, 61)
    weight = 300.0 - 2.0 * angle
    found = balance_spring(angle, weight)
    assert found.peak_n_mm == pytest.approx(0.0, abs=1e-6)
    rest = weight - spring_n_mm(found.spring, angle)
    assert np.abs(rest).max() < 1e-6


def test_springs_that_cannot_be_are_refused_with_numbers(load):
    with pytest.raises(NoPlanError, match=r"pulls 41\d.\d N mm and 500 are to keep it shut"):
        balance_spring(load.angle_deg, load.weight_n_mm, keep_shut_n_mm=500.0)
    with pytest.raises(InputError, match=r"shape \(2,\) and weights \(3,\)"):
        balance_spring([0.0, 1.0], [1.0, 2.0, 3.0])
    with pytest.raises(InputError, match="1 springs of 0 N mm"):
        torsion_springs(HelpSpring(shut_n_mm=0.0, rate_n_mm_deg=1.0), pin_mm=4.0)
    with pytest.raises(NoPlanError, match=r"nearest, \d.* stressed to .* of its strength"):
        torsion_springs(HelpSpring(shut_n_mm=50_000.0, rate_n_mm_deg=5.0), pin_mm=4.0)
    with pytest.raises(InputError, match="music wire of 9 mm"):
        music_wire_strength_mpa(9.0)


def test_torsion_springs_keep_stress_pin_and_length():
    """The demo pane's pair: 1.2 mm wire, 7.05 turns, 1067 MPa, 0.495 of its strength."""
    spring = HelpSpring(shut_n_mm=332.0, rate_n_mm_deg=2.8014)
    made = torsion_springs(spring, pin_mm=4.0, springs=2)
    first = made[0]
    assert (first.wire_mm, first.coil_mm) == pytest.approx((1.2, 10.8))
    assert first.turns == pytest.approx(7.05, abs=0.01)
    assert first.stress_mpa == pytest.approx(1067.0, abs=1.0)
    sizes = [coil.body_mm * coil.coil_mm**2 for coil in made]
    assert sizes == sorted(sizes)
    for coil in made:
        assert coil.stress_frac <= 0.5
        assert coil.inside_mm >= 1.1 * 4.0
        assert coil.body_mm <= 60.0
        assert coil.turns >= 2.0
        assert coil.torque_n_mm == pytest.approx(166.0)
        assert coil.wound_deg * coil.rate_n_mm_deg == pytest.approx(coil.torque_n_mm)
        stress = torsion_stress_mpa(
            wire_mm=coil.wire_mm, coil_mm=coil.coil_mm, torque_n_mm=coil.torque_n_mm
        )
        assert coil.stress_mpa == pytest.approx(stress)
        rate = music_wire_modulus_mpa(coil.wire_mm) * coil.wire_mm**4
        rate /= 10.8 * coil.coil_mm * coil.turns * 360.0
        assert rate == pytest.approx(coil.rate_n_mm_deg)
        # the wire keeps its length: fewer turns on a wider coil, more turns on a narrower one
        wound_turns = coil.turns + coil.wound_deg / 360.0
        wound_mean = coil.inside_mm + coil.wire_mm
        length = math.pi * coil.coil_mm * coil.turns
        assert math.pi * wound_mean * wound_turns == pytest.approx(length)


def test_a_slack_spring_gives_no_torque():
    spring = HelpSpring(shut_n_mm=100.0, rate_n_mm_deg=5.0)
    assert spring_n_mm(spring, [0.0, 10.0, 20.0, 30.0]).tolist() == [100.0, 50.0, 0.0, 0.0]
    assert spring_n_mm(None, [0.0, 1.0]).tolist() == [0.0, 0.0]
