"""Findings on a lid's drive, each brought about, and each remedy tried."""

from dataclasses import replace

import linkages
import pytest

from buildplan.device.mechanism import (
    CableDrive,
    DirectDrive,
    Hinge,
    Needs,
    study_mechanism,
    study_variant,
)
from buildplan.errors import InputError

LONG = linkages.rod(sx=91, sy=-53, horn=42, shut=-127, bx=56.5, by=-11.2)


def study(linkage, servo=None, hinge=None, **rest):
    return study_mechanism(
        rest.pop("lid", linkages.plain_lid()),
        hinge or Hinge(to_deg=60.0),
        linkage,
        servo or linkages.strong_servo(),
        **rest,
    )


def finding(study, words):
    found = [row for row in study.findings if words in row.what]
    assert len(found) == 1, [row.what for row in study.findings]
    return found[0]


def quiet(study, words):
    return not [row for row in study.findings if words in row.what]


def test_a_servo_above_half_of_stall_is_a_caution_and_a_spring_is_offered():
    weak = linkages.strong_servo(stall_n_mm=250.0)
    row = finding(study(DirectDrive(), weak), "works too near to its stall")
    assert row.severity == "caution"
    assert row.measured == "71 % of stall"
    assert "stalls at 354 N mm" in row.remedy
    assert "a spring of" in row.remedy
    assert quiet(study(DirectDrive(), linkages.strong_servo(stall_n_mm=354.0)), "stall:")


def test_no_class_is_offered_where_none_is_strong_enough():
    heavy = linkages.plain_lid(mass_g=20_000.0)
    row = finding(study(DirectDrive(), lid=heavy), "The servo stalls")
    assert "no hobby class does" in row.remedy


def test_a_servo_that_falls_behind_its_program_is_told_the_time_it_needs():
    slow = linkages.strong_servo(no_load_deg_s=60.0)
    first = study(DirectDrive(), slow)
    row = finding(first, "falls behind a smooth move of 1 s")
    seconds = float(row.remedy.split()[5])
    assert quiet(study(DirectDrive(), slow, needs=Needs(move_s=seconds)), "falls behind")


def test_a_drum_beyond_the_sweep_is_told_its_radius():
    cable = CableDrive(lid_point_mm=(100, 0), guide_mm=(-30, 60), drum_mm=8.0)
    first = study(cable)
    row = finding(first, "would have to turn")
    assert row.severity == "stop"
    radius = float(row.remedy.split()[4])
    wider = replace(cable, drum_mm=radius)
    assert quiet(study(wider), "would have to turn")


def test_a_rod_beyond_the_sweep_is_told_its_horn():
    servo = linkages.strong_servo(sweep_deg=80.0)
    row = finding(study(LONG, servo), "would have to turn")
    horn = float(row.remedy.split()[4])
    longer = linkages.rod(sx=91, sy=-53, horn=horn, shut=-127, bx=56.5, by=-11.2)
    assert quiet(study(longer, servo), "would have to turn")


def test_a_direct_drive_beyond_the_sweep_ends_its_travel_earlier():
    row = finding(study(DirectDrive(), linkages.strong_servo(sweep_deg=45.0)), "have to turn")
    assert row.remedy == "End the travel 15 degrees earlier."


def test_a_lid_past_its_balance_leaves_the_cable_slack_and_names_the_weight():
    lid = linkages.plain_lid(up_mm=40.0)
    cable = CableDrive(lid_point_mm=(100, 0), guide_mm=(-60, 60), drum_mm=20.0)
    hinge = Hinge(to_deg=75.0, friction_n_mm=5.0)
    row = finding(study(cable, hinge=hinge, lid=lid), "does not fall shut by itself")
    grams = float(row.remedy.split()[1])
    heavier = replace(hinge, extra_g=grams, extra_forward_mm=lid.edge_mm)
    assert quiet(study(cable, hinge=heavier, lid=lid), "does not fall shut")
    assert quiet(study(LONG), "does not fall shut")


def test_a_low_cable_loads_the_hinge_and_a_longer_lever_does_not():
    low = CableDrive(lid_point_mm=(12, 0), guide_mm=(-10, 6), drum_mm=10.0)
    row = finding(study(low), "The hinge pin carries")
    lever = float(row.remedy.split()[6])
    high = CableDrive(lid_point_mm=(5 * lever, 0), guide_mm=(-lever, 5 * lever), drum_mm=60.0)
    assert quiet(study(high), "The hinge pin carries")


def test_a_strong_servo_pinches_and_the_limit_that_is_named_lowers_it():
    strong = linkages.strong_servo(stall_n_mm=4000.0)
    first = study(DirectDrive(), strong)
    row = finding(first, "can press")
    assert first.pinch.worst_n > 15.0
    share = float(row.remedy.split()[4]) / 100.0
    limited = study(DirectDrive(), replace(strong, stall_n_mm=4000.0 * share))
    assert quiet(limited, "can press")
    assert finding(limited, "A finger fits").severity == "note"


def test_a_heavy_lid_pinches_by_its_own_weight():
    row = finding(study(DirectDrive(), lid=linkages.plain_lid(mass_g=5000.0)), "can press")
    assert "its own weight alone presses" in row.remedy


def test_a_lock_right_behind_the_travel_is_a_stop_and_ten_degrees_are_none():
    lock = next(lk.at_deg for lk in study(LONG).drive.locks if lk.at_deg > 0)
    near = finding(study(LONG, hinge=Hinge(to_deg=lock - 2.0)), "past the travel")
    assert near.severity == "stop"
    some = finding(study(LONG, hinge=Hinge(to_deg=lock - 8.0)), "past the travel")
    assert some.severity == "caution"
    assert quiet(study(LONG, hinge=Hinge(to_deg=lock - 10.5)), "past the travel")


def test_a_cables_lock_inside_the_travel_is_a_stop():
    cable = CableDrive(lid_point_mm=(100, 0), guide_mm=(20, 30), drum_mm=10)
    row = finding(study(cable), "inside the travel")
    assert row.severity == "stop"
    assert row.measured == "lock at 56.3 degrees"


def test_holding_is_judged_by_the_servos_own_share():
    servo = linkages.strong_servo(stall_n_mm=600.0)
    row = finding(study(DirectDrive(), servo), "Holding the lid asks for")
    assert row.measured == "29 % of stall"
    assert "stalls at 707 N mm" in row.remedy
    assert quiet(study(DirectDrive(), replace(servo, hold_frac=0.3)), "Holding")


def test_findings_come_gravest_first():
    order = [row.severity for row in study(LONG, linkages.strong_servo(stall_n_mm=50)).findings]
    assert order == sorted(order, key=("stop", "caution", "note").index)


def test_needs_that_cannot_be_are_refused():
    with pytest.raises(InputError, match="safety factor 0"):
        study(DirectDrive(), needs=Needs(safety_factor=0.0))
    assert study_variant.__doc__
