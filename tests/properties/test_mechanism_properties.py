"""What must hold for every lid, linkage and spring."""

import math
from dataclasses import replace

import linkages
import numpy as np
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from buildplan.device.mechanism import (
    CableDrive,
    Hinge,
    cable_drive,
    hinge_load,
    rod_drive,
    rod_locks,
    torque_bound,
)
from buildplan.device.mechanism.load import greatest_n_mm
from buildplan.device.mechanism.rod import poses_of, solve_rod
from buildplan.device.spring import HelpSpring
from buildplan.errors import InputError

GENTLE = settings(
    max_examples=80,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)


def real(low, high):
    return st.floats(low, high, allow_nan=False)


def rod_or_none(**numbers):
    """A linkage, or None where it cannot be put together (pins in one place, in line at shut)."""
    try:
        return linkages.rod(**numbers)
    except InputError:
        return None


RODS = st.builds(
    rod_or_none,
    sx=real(-60, 120),
    sy=real(-90, -25),
    horn=real(8, 40),
    shut=real(-180, 180),
    bx=real(20, 150),
    by=real(-30, 10),
).filter(bool)


def driven(linkage, load, least_deg=4.0):
    """The drive of a linkage that works well over the travel; others are no example."""
    try:
        drive = rod_drive(load, linkage)
    except InputError:
        assume(False)
    assume(drive.lid_transmission_deg.min() > least_deg)
    assume(drive.horn_transmission_deg.min() > least_deg)
    return drive


@GENTLE
@given(linkage=RODS)
def test_a_rod_keeps_its_length_and_servo_work_is_lid_work(linkage):
    lid = linkages.plain_lid()
    load = linkages.load_of(lid, poses=601, friction_n_mm=10.0, gust_m_s=2.0)
    drive = driven(linkage, load)
    rods = np.linalg.norm(drive.pin_mm - drive.tip_mm, axis=1)
    assert np.ptp(rods) < 1e-9
    assert np.allclose(drive.servo_n_mm * drive.ratio, load.opening_n_mm, rtol=1e-9)
    angle = np.radians(load.angle_deg)
    height = 90.0 * np.sin(angle) + 3.0 * np.cos(angle)
    energy = 0.2 * 9.80665 * (height[-1] - height[0])
    energy += (10.0 + load.gust_n_mm[0]) * (angle[-1] - angle[0])
    work = np.trapezoid(drive.servo_n_mm, np.radians(drive.servo_deg))
    assert math.isclose(work, energy, rel_tol=1e-3)


@GENTLE
@given(linkage=RODS)
def test_the_ratio_is_the_derivative_of_the_servos_turn(linkage):
    load = linkages.load_of(linkages.plain_lid(), poses=2001)
    drive = driven(linkage, load, least_deg=8.0)
    by_hand = np.gradient(drive.servo_deg, load.angle_deg)[2:-2]
    assert np.abs(by_hand - drive.ratio[2:-2]).max() < 2e-3 * np.abs(drive.ratio).max()


@GENTLE
@given(linkage=RODS)
def test_no_rod_beats_the_virtual_work_bound(linkage):
    load = linkages.load_of(linkages.plain_lid(), poses=601, friction_n_mm=10.0)
    drive = driven(linkage, load)
    bound = torque_bound(load, float(np.ptp(drive.servo_deg)))
    peak = np.maximum(np.abs(drive.servo_n_mm), np.abs(drive.closing_servo_n_mm)).max()
    assert peak >= bound.least_n_mm * (1.0 - 1e-3)


@GENTLE
@given(out=real(10, 200), rise=real(2, 60), back=real(0, 30), drum=real(4, 20))
def test_a_cables_lever_is_below_both_distances_and_its_work_is_lid_work(out, rise, back, drum):
    load = linkages.load_of(linkages.plain_lid(), poses=2001)
    cable = CableDrive(lid_point_mm=(out, 0.0), guide_mm=(-back, rise), drum_mm=drum)
    drive = cable_drive(load, cable)
    assert (drive.lid_arm_mm <= min(out, math.hypot(back, rise)) + 1e-9).all()
    wound = np.gradient(drive.servo_deg, load.angle_deg)[2:-2]
    assert np.allclose(wound, drive.ratio[2:-2], rtol=1e-3, atol=2e-3)
    bound = torque_bound(load, float(drive.servo_deg[-1]))
    assert np.abs(drive.servo_n_mm).max() >= bound.least_n_mm * (1.0 - 1e-3)


@GENTLE
@given(linkage=RODS, scale=real(0.2, 5.0))
def test_lengths_times_k_make_torque_times_k_and_leave_force_and_angles(linkage, scale):
    small = linkages.load_of(linkages.plain_lid())
    drive = driven(linkage, small)
    lid = linkages.plain_lid(200.0, 90.0 * scale, 3.0 * scale, 200.0 * scale)
    larger = linkages.rod(
        *(value * scale for value in linkage.servo_mm),
        linkage.horn_mm * scale,
        linkage.horn_shut_deg,
        *(value * scale for value in linkage.lid_pin_mm),
    )
    other = rod_drive(linkages.load_of(lid), larger)
    assert np.allclose(other.servo_n_mm, scale * drive.servo_n_mm, rtol=1e-6, atol=1e-6 * scale)
    assert np.allclose(other.link_n, drive.link_n, rtol=1e-6, atol=1e-9)
    assert np.allclose(other.servo_deg, drive.servo_deg, atol=1e-6)


@GENTLE
@given(linkage=RODS)
def test_a_mirrored_linkage_turns_the_other_way_with_the_same_levers(linkage):
    angle = np.linspace(0.0, 60.0, 31)
    driven(linkage, linkages.load_of(linkages.plain_lid(), poses=31))
    sx, sy = linkage.servo_mm
    bx, by = linkage.lid_pin_mm
    mirrored = linkages.rod(sx, -sy, linkage.horn_mm, -linkage.horn_shut_deg, bx, -by)
    one, other = poses_of(linkage, angle), poses_of(mirrored, -angle)
    assert np.allclose(one.lid_arm_mm, -other.lid_arm_mm, atol=1e-9)
    assert np.allclose(one.horn_arm_mm, -other.horn_arm_mm, atol=1e-9)
    assert np.allclose(one.horn_rad, -other.horn_rad, atol=1e-9)


@GENTLE
@given(turn_deg=real(-360, 360), forward=real(-50, 150), up=real(-40, 40))
def test_gravity_and_lid_turned_together_weigh_the_same(turn_deg, forward, up):
    """Turning gravity by any angle is the closed form m g (x cos - y sin) shifted by it."""
    turn = math.radians(turn_deg)
    lid = linkages.plain_lid(200.0, forward, up)
    load = linkages.load_of(lid, down=(math.sin(turn), -math.cos(turn)))
    leaning = np.radians(load.angle_deg) - turn
    expected = 0.2 * 9.80665 * (forward * np.cos(leaning) - up * np.sin(leaning))
    assert np.allclose(load.weight_n_mm, expected, atol=1e-9)


@GENTLE
@given(linkage=RODS, turn_deg=real(-180, 180))
def test_a_whole_mechanism_turned_in_its_frame_gives_the_same_torque(linkage, turn_deg):
    turn = math.radians(turn_deg)
    cos, sin = math.cos(turn), math.sin(turn)

    def turned(point):
        return point[0] * cos - point[1] * sin, point[0] * sin + point[1] * cos

    drive = driven(linkage, linkages.load_of(linkages.plain_lid()))
    lid = linkages.plain_lid()
    x, y = turned((lid.centre_forward_mm, lid.centre_up_mm))
    moved = replace(lid, centre_forward_mm=x, centre_up_mm=y)
    other = linkages.rod(
        *turned(linkage.servo_mm),
        linkage.horn_mm,
        linkage.horn_shut_deg + turn_deg,
        *turned(linkage.lid_pin_mm),
    )
    again = rod_drive(linkages.load_of(moved, down=turned((0.0, -1.0))), other)
    assert np.allclose(again.servo_n_mm, drive.servo_n_mm, rtol=1e-6, atol=1e-6)
    assert np.allclose(again.hinge_pin_n, drive.hinge_pin_n, rtol=1e-6, atol=1e-6)


@GENTLE
@given(linkage=RODS)
def test_a_batch_gives_what_single_linkages_give_and_stays_on_the_branch(linkage):
    angle = np.linspace(0.0, 60.0, 31)
    driven(linkage, linkages.load_of(linkages.plain_lid(), poses=31))
    single = poses_of(linkage, angle)
    rows = [np.full((3, 1), value) for value in (*linkage.servo_mm, *linkage.lid_pin_mm)]
    batch = solve_rod(
        np.radians(angle)[None],
        servo_mm=(rows[0], rows[1]),
        horn_mm=np.full((3, 1), linkage.horn_mm),
        horn_shut_rad=np.full((3, 1), math.radians(linkage.horn_shut_deg)),
        lid_pin_mm=(rows[2], rows[3]),
    )
    assert np.allclose(batch.lid_arm_mm, single.lid_arm_mm[None], atol=1e-12)
    assert np.allclose(batch.horn_rad, single.horn_rad[None], atol=1e-12)
    # on one branch the horn's lever never changes its sign before a lock
    assert len(set(np.sign(single.horn_arm_mm))) == 1
    assert np.abs(np.diff(single.horn_rad)).max() < math.radians(60.0)


@GENTLE
@given(linkage=RODS)
def test_levers_vanish_at_the_locks(linkage):
    for lock in rod_locks(linkage):
        poses = poses_of(linkage, np.array([0.0, lock.at_deg]))
        if lock.kind == "horn in line with rod":
            assert abs(abs(poses.cos_horn[1]) - 1.0) < 1e-9
        else:
            assert abs(poses.lid_arm_mm[1]) < 1e-5 * math.hypot(*linkage.lid_pin_mm)


@GENTLE
@given(mass=real(10, 2000), more=real(1.01, 3.0), forward=real(1, 200), up=real(-20, 20))
def test_a_heavier_lid_never_asks_for_less_while_it_leans_out(mass, more, forward, up):
    angle = np.linspace(0.0, 80.0, 41)
    hinge = Hinge(to_deg=80.0, friction_n_mm=5.0)
    light = linkages.plain_lid(mass, forward, up)
    heavy = replace(light, mass_g=mass * more)
    leans = forward * np.cos(np.radians(angle)) - up * np.sin(np.radians(angle)) >= 0.0
    one = hinge_load(light, hinge, angle_deg=angle).opening_n_mm
    two = hinge_load(heavy, hinge, angle_deg=angle).opening_n_mm
    assert (two[leans] >= one[leans] - 1e-9).all()


@GENTLE
@given(share=real(0.1, 1.0))
def test_a_spring_never_pushes_shut_and_takes_its_torque_off_the_drive(share):
    lid = linkages.plain_lid()
    load = linkages.load_of(lid)
    spring = HelpSpring(shut_n_mm=share * float(load.weight_n_mm[0]), rate_n_mm_deg=8.0)
    helped = hinge_load(lid, Hinge(to_deg=60.0), angle_deg=load.angle_deg, spring=spring)
    assert (helped.spring_n_mm >= 0.0).all()
    assert np.allclose(helped.opening_n_mm + helped.spring_n_mm, load.opening_n_mm)
    assert (greatest_n_mm(helped) >= 0.0).all()
