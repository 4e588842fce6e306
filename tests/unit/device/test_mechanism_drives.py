"""Drives: locks against a scan, torque and force against statics, refusals with numbers."""

import math

import linkages
import numpy as np
import pytest

from buildplan.device.mechanism import (
    CableDrive,
    Hinge,
    cable_drive,
    cable_locks,
    direct_drive,
    hinge_load,
    rod_buckling_n,
    rod_drive,
    rod_linkage,
    rod_locks,
)
from buildplan.device.mechanism.rod import poses_of
from buildplan.errors import InputError


def scanned_locks(linkage, step_deg=0.02):
    """First angle out of reach, and every angle at which the rod's lever changes its sign."""
    angle = np.arange(0.0, 359.9, step_deg)
    poses = poses_of(linkage, angle)
    lost = np.flatnonzero(np.abs(poses.cos_horn) > 1.0)
    end = int(lost[0]) if len(lost) else len(angle)
    arm = poses.lid_arm_mm[:end]
    turns = np.flatnonzero(arm[1:] * arm[:-1] < 0.0)
    return (angle[end] if len(lost) else None), angle[turns]


def test_locks_in_closed_form_are_those_of_a_scan():
    """150 random linkages, scanned every 0.02 degrees."""
    rng = np.random.default_rng(3)
    worst = 0.0
    for _ in range(150):
        linkage = linkages.random_rod(rng)
        end, turns = scanned_locks(linkage)
        locks = rod_locks(linkage)
        ends = [lk.at_deg for lk in locks if lk.kind.startswith("horn") and lk.at_deg >= 0.0]
        assert (end is None) == (not ends)
        limit = 360.0 if end is None else end
        if end is not None:
            worst = max(worst, abs(min(ends) - end))
        found = sorted(
            lk.at_deg for lk in locks if lk.kind.startswith("rod") and 0.0 < lk.at_deg < limit
        )
        assert len(found) == len(turns)
        worst = max([worst, *np.abs(np.array(found) - turns)])
    assert worst <= 0.02 + 1e-9


def test_a_cable_loses_its_lever_where_lid_point_hinge_and_guide_are_in_line():
    locks = cable_locks((100.0, 0.0), (-10.0, 30.0))
    assert [round(lock.at_deg, 4) for lock in locks] == [-71.5651, 108.4349]


def test_direct_drive_asks_for_the_load_itself():
    load = linkages.load_of(linkages.plain_lid(), friction_n_mm=7.0)
    drive = direct_drive(load)
    assert (drive.servo_n_mm == load.opening_n_mm).all()
    assert (drive.closing_servo_n_mm == load.closing_n_mm).all()
    assert drive.servo_deg[-1] == 60.0
    assert drive.hinge_pin_n == pytest.approx(0.2 * 9.80665)


def test_the_link_and_the_weight_balance_about_the_hinge():
    load = linkages.load_of(linkages.plain_lid(), friction_n_mm=5.0, gust_m_s=3.0)
    drives = (
        rod_drive(load, linkages.rod(bx=56.5, by=-11.2, sx=91, sy=-53, horn=42, shut=-127)),
        cable_drive(load, CableDrive(lid_point_mm=(80, 0), guide_mm=(-10, 30), drum_mm=10)),
    )
    for drive in drives:
        along = drive.pin_mm - drive.tip_mm
        along /= np.linalg.norm(along, axis=1, keepdims=True)
        along *= -1.0 if drive.kind == "cable" else 1.0
        push = along * drive.link_n[:, None]
        moment = drive.pin_mm[:, 0] * push[:, 1] - drive.pin_mm[:, 1] * push[:, 0]
        assert np.abs(moment - load.opening_n_mm).max() < 1e-9
        angle = np.radians(load.angle_deg)
        wind = load.gust_n * np.column_stack((np.sin(angle), -np.cos(angle)))
        pin = np.linalg.norm(push + wind + np.array(load.weight_n), axis=1)
        assert drive.hinge_pin_n == pytest.approx(pin)


def test_a_low_guide_makes_a_far_lid_point_useless():
    lid, hinge = linkages.pane_lid()
    load = hinge_load(lid, hinge)

    def peak(out, rise):
        cable = CableDrive(
            lid_point_mm=(out, 0), guide_mm=(-10, rise), drum_mm=10, guide_loss_frac=1.25
        )
        return np.abs(cable_drive(load, cable).servo_n_mm).max() / linkages.KG_CM

    assert peak(12, 6) == pytest.approx(19.45, abs=0.01)
    assert peak(100, 6) == pytest.approx(11.27, abs=0.01)
    assert peak(100, 30) == pytest.approx(2.33, abs=0.01)


def test_a_rod_as_made_turns_the_horn_to_it():
    drawn = linkages.rod()
    other = rod_linkage(
        servo_mm=drawn.servo_mm,
        horn_mm=drawn.horn_mm,
        horn_shut_deg=drawn.horn_shut_deg + 0.4,
        lid_pin_mm=drawn.lid_pin_mm,
        rod_mm=drawn.rod_mm,
    )
    assert other.horn_shut_deg == pytest.approx(drawn.horn_shut_deg, abs=1e-9)
    assert other.rod_mm == pytest.approx(drawn.rod_mm)


def test_a_linkage_that_cannot_close_is_refused_with_its_reach():
    with pytest.raises(InputError, match=r"59.51 mm apart .* reach only 10.00 to 50.00 mm"):
        rod_linkage(servo_mm=(20, -60), horn_mm=20, horn_shut_deg=0, lid_pin_mm=(45, -6), rod_mm=30)
    with pytest.raises(InputError, match=r"wants the horn at .* degrees .* found 0; give rod_mm"):
        rod_linkage(servo_mm=(20, -60), horn_mm=20, horn_shut_deg=0, lid_pin_mm=(45, -6), rod_mm=60)


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        ({"horn": 0.0}, "horn 0 mm"),
        ({"horn": math.nan}, "finite"),
        ({"bx": 0.0, "by": 0.0}, "0 mm from the hinge axis"),
        ({"bx": 20.0, "by": -60.0}, "servo axis 0 mm"),
        ({"bx": 20.0, "by": -25.0, "shut": 90.0}, "in line within"),
    ],
)
def test_pins_that_fall_together_or_stand_in_line_are_refused(numbers, said):
    with pytest.raises(InputError, match=said):
        linkages.rod(**numbers)


def test_a_travel_past_a_lock_is_refused_with_its_angle():
    linkage = linkages.rod(sx=90.9935, sy=-52.9657, horn=22.0, shut=-140.0, bx=28.0, by=-11.2)
    load = linkages.load_of(linkages.plain_lid())
    lock = min(lk.at_deg for lk in rod_locks(linkage) if lk.at_deg > 0.0)
    with pytest.raises(InputError, match=rf"locks at {lock:.2f} degrees .* travel of 0 to 60"):
        rod_drive(load, linkage)
    cable = CableDrive(lid_point_mm=(100, 0), guide_mm=(20, 30), drum_mm=10)
    with pytest.raises(InputError, match=r"locks at 56.31 degrees .*cable in line"):
        cable_drive(load, cable)


def test_a_cable_that_pulls_shut_is_refused_with_its_lever():
    load = linkages.load_of(linkages.plain_lid())
    with pytest.raises(InputError, match=r"lever is -\d+.\d+ mm at"):
        cable_drive(load, CableDrive(lid_point_mm=(100, 0), guide_mm=(50, -30), drum_mm=10))
    with pytest.raises(InputError, match="drum 0 mm"):
        cable_drive(load, CableDrive(lid_point_mm=(100, 0), guide_mm=(0, 30), drum_mm=0))


def test_a_travel_that_starts_open_counts_from_its_start():
    load = hinge_load(linkages.plain_lid(), Hinge(from_deg=20.0, to_deg=50.0))
    drive = rod_drive(load, linkages.rod(bx=56.5, by=-11.2, sx=91, sy=-53, horn=42, shut=-127))
    whole = rod_drive(
        linkages.load_of(linkages.plain_lid()),
        linkages.rod(bx=56.5, by=-11.2, sx=91, sy=-53, horn=42, shut=-127),
    )
    at_20, at_50 = np.interp((20.0, 50.0), whole.angle_deg, whole.servo_deg)
    assert drive.servo_deg[0] == 0.0
    assert drive.servo_deg[-1] == pytest.approx(at_50 - at_20, abs=1e-9)


def test_results_are_closed_to_writing():
    drive = direct_drive(linkages.load_of(linkages.plain_lid()))
    with pytest.raises(ValueError, match="read-only"):
        drive.servo_n_mm[0] = 1.0


def test_a_steel_rod_of_1_5_mm_and_59_mm_buckles_at_141_newtons():
    assert rod_buckling_n(rod_mm=59.0, wire_mm=1.5) == pytest.approx(140.9, abs=0.1)
