"""The servo's line, opening time, programmed moves, jump, pinch and the bound."""

import math

import linkages
import numpy as np
import pytest

from buildplan.device.mechanism import (
    CableDrive,
    Hinge,
    TorqueBound,
    at_voltage,
    cable_drive,
    certificate,
    direct_drive,
    edge_pinch,
    hinge_load,
    inertia_n_mm,
    open_lid,
    power_up_jump,
    programmed_move,
    servo_of,
    torque_bound,
)
from buildplan.errors import InputError
from buildplan.tables import servos


def level_load(torque_n_mm=100.0, to_deg=60.0):
    """A lid without weight whose friction is the whole load."""
    lid = linkages.plain_lid(mass_g=1e-9)
    return lid, linkages.load_of(lid, to_deg=to_deg, friction_n_mm=torque_n_mm)


def test_opening_time_current_and_energy_at_a_constant_torque():
    """A quarter of stall: 0.75 of the speed, 60 / 225 s; 0.3 + 0.25 1.7 = 0.725 A at 5 V."""
    lid, load = level_load()
    servo = linkages.strong_servo(
        stall_n_mm=400.0, no_load_deg_s=300.0, stall_a=2.0, moving_a=0.3, supply_v=5.0
    )
    opening = open_lid(direct_drive(load), servo, lid)
    assert opening.time_s == pytest.approx(60.0 / 225.0)
    assert opening.peak_a == pytest.approx(0.725)
    assert opening.energy_j == pytest.approx(0.725 * 5.0 * 60.0 / 225.0)
    assert opening.peak_frac == pytest.approx(0.25)
    assert not opening.stalls
    assert opening.edge_play_mm == pytest.approx(math.radians(1.0) * 200.0)


def test_voltage_raises_torque_speed_and_stall_current_alike():
    servo = linkages.strong_servo()
    higher = at_voltage(servo, 6.0)
    for name in ("stall_n_mm", "no_load_deg_s", "stall_a"):
        assert getattr(higher, name) == pytest.approx(1.2 * getattr(servo, name))
    assert higher.moving_a == servo.moving_a
    with pytest.raises(InputError, match="at 0 V"):
        at_voltage(servo, 0.0)


def test_a_servo_below_the_load_stalls_and_never_arrives():
    lid, load = level_load(500.0)
    servo = linkages.strong_servo(stall_n_mm=400.0)
    drive = direct_drive(load)
    opening = open_lid(drive, servo, lid)
    assert opening.stalls
    assert opening.time_s == opening.energy_j == math.inf
    move = programmed_move(drive, load, servo, lid, move_s=2.0)
    assert move.least_s == move.speed_frac == math.inf


def test_a_load_that_helps_asks_for_no_torque():
    lid = linkages.plain_lid(forward_mm=-50.0, up_mm=0.0)
    load = linkages.load_of(lid)
    opening = open_lid(direct_drive(load), linkages.strong_servo(), lid)
    assert opening.peak_frac == 0.0
    assert opening.holding_frac > 0.0


def test_the_smoothest_move_peaks_at_ten_over_root_three():
    """Accelerations of 10 t^3 - 15 t^4 + 6 t^5, by differences."""
    lid = linkages.plain_lid()
    t = np.linspace(0.0, 1.0, 200_001)
    path = t**3 * (10.0 - 15.0 * t + 6.0 * t * t)
    peak = np.abs(np.gradient(np.gradient(path, t), t)[2:-2]).max()
    expected = lid.inertia_g_mm2 * 1e-6 * peak * math.radians(60.0) / 0.5**2
    assert inertia_n_mm(lid, move_deg=60.0, move_s=0.5) == pytest.approx(expected, rel=1e-4)
    with pytest.raises(InputError, match="in 0 s"):
        inertia_n_mm(lid, move_deg=60.0, move_s=0.0)


def test_a_slow_move_needs_the_quasi_static_torque_and_a_quick_one_more():
    lid, hinge = linkages.pane_lid()
    load = hinge_load(lid, hinge)
    drive = direct_drive(load)
    servo = linkages.strong_servo()
    slow = programmed_move(drive, load, servo, lid, move_s=60.0)
    assert slow.servo_n_mm == pytest.approx(load.opening_n_mm.max(), rel=1e-4)
    quick = programmed_move(drive, load, servo, lid, move_s=0.5)
    assert quick.servo_n_mm > 1.2 * slow.servo_n_mm
    just = programmed_move(drive, load, servo, lid, move_s=slow.least_s)
    assert max(just.speed_frac, just.torque_frac) <= 1.0
    less = programmed_move(drive, load, servo, lid, move_s=0.99 * slow.least_s)
    assert max(less.speed_frac, less.torque_frac) > 1.0
    assert slow.least_s > open_lid(drive, servo, lid).time_s


def test_a_direct_drive_jumps_as_far_as_its_servo():
    lid, load = level_load()
    jump = power_up_jump(direct_drive(load), linkages.strong_servo(no_load_deg_s=300.0), lid)
    assert jump.lid_deg == pytest.approx(30.0)
    assert jump.edge_m_s == pytest.approx(math.radians(300.0) * 0.2)
    expected = 0.5 * lid.inertia_g_mm2 * 1e-9 * math.radians(300.0) ** 2
    assert jump.energy_j == pytest.approx(expected)


def test_leverage_pinches_harder_and_a_cable_only_by_weight():
    """The figures of one pane: direct 6.1 N, a cable 1.8 N."""
    lid, hinge = linkages.pane_lid()
    load = hinge_load(lid, hinge)
    servo = linkages.strong_servo()
    cable = CableDrive(lid_point_mm=(100, 0), guide_mm=(-10, 30), drum_mm=10)
    direct = edge_pinch(lid, load, direct_drive(load), servo)
    pulled = edge_pinch(lid, load, cable_drive(load, cable), servo)
    assert direct.worst_n == pytest.approx(6.1, abs=0.05)
    assert pulled.worst_n == pytest.approx(1.8, abs=0.05)
    assert pulled.worst_n == pytest.approx(pulled.weight_n)
    # 4 and 25 mm at 225 mm from the hinge: 1.02 and 6.37 degrees
    assert direct.window_from_deg == pytest.approx(1.02, abs=0.01)
    assert direct.window_to_deg == pytest.approx(6.37, abs=0.01)


def test_a_lid_that_never_closes_has_no_finger_window():
    lid = linkages.plain_lid()
    load = hinge_load(lid, Hinge(from_deg=30.0, to_deg=60.0))
    pinch = edge_pinch(lid, load, direct_drive(load), linkages.strong_servo())
    assert pinch.worst_n == 0.0
    assert math.isnan(pinch.window_from_deg)


def test_a_constant_torque_reaches_the_bound():
    _, load = level_load(100.0)
    bound = torque_bound(load, 60.0)
    assert bound.least_n_mm == pytest.approx(100.0)
    assert bound.work_j == pytest.approx(0.1 * math.radians(60.0))
    assert torque_bound(load, 120.0).least_n_mm == pytest.approx(50.0)
    with pytest.raises(InputError, match="sweep 0 degrees"):
        torque_bound(load, 0.0)


def test_the_certificate_rounds_upward():
    bound = TorqueBound(work_j=0.1, sweep_deg=120.0, least_n_mm=100.0)
    assert certificate(114.1, bound).startswith("within 15 % of the best that any mechanism")
    assert certificate(100.0, bound).startswith("within 0 %")
    assert certificate(250.0, bound).startswith("2.5 times the least")


def test_every_servo_class_makes_a_servo():
    for row in servos().values():
        servo = servo_of(row)
        assert servo.name == row.name
        assert servo.stall_n_mm == row.stall_n_mm
        assert servo.hold_frac == row.hold_frac


def test_impossible_servos_are_refused_with_the_number():
    lid, load = level_load()
    with pytest.raises(InputError, match="stall_n_mm is 0"):
        open_lid(direct_drive(load), linkages.strong_servo(stall_n_mm=0.0), lid)
    with pytest.raises(InputError, match="exchanged"):
        open_lid(direct_drive(load), linkages.strong_servo(moving_a=3.0), lid)
