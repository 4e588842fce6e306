"""The whole chain on the sprout house: every answer feeds the next, and all fit together."""

import dataclasses

import numpy as np
import pytest

from buildplan.device.chain.gaps import enclosing_radius_mm
from buildplan.device.chain.motion import motion_of, turn_of
from buildplan.device.chain.run import study_device
from buildplan.device.chain.shape import DeviceTables
from buildplan.device.power import power_budget


def test_copies_of_a_part_get_names_of_their_own(demo_placed):
    names = [one.name for one in demo_placed]
    assert "hinge_pin 1" in names
    assert "hinge_pin 2" in names
    assert len(set(names)) == len(names) == 10
    assert next(one for one in demo_placed if one.name == "camera_ring").clear


def test_the_needs_come_in_the_order_in_which_they_feed_each_other(demo_study):
    steps = [need.step for need in demo_study.needs]
    assert steps == [
        "travel",
        "load",
        "drive",
        "volts",
        "supply",
        "heat",
        "feedstock",
        "gaps",
        "together",
        "views",
    ]
    known = {""}
    for need in demo_study.needs:
        assert need.takes in known
        known.add(need.step)


def test_revision_b_is_built_and_revision_a_fails_beside_it(demo_study):
    by_name = {study.name: study for study in demo_study.drives}
    assert demo_study.linkage == "long_crank"
    worst = {name: study.findings[0].severity for name, study in by_name.items()}
    assert worst == {"long_crank": "caution", "near_pin": "stop", "direct": "stop"}
    assert demo_study.verdict == "caution"
    assert not any("near_pin" in finding.where.text for finding in demo_study.findings)


def test_the_servos_computed_current_is_what_the_supply_carries(demo_study, demo_build):
    servo = demo_study.servo
    # 6 V rail less its tolerance and the drop of 220 mm AWG 24
    assert servo.volts_v == pytest.approx(5.84, abs=0.01)
    assert servo.amps_a == pytest.approx(0.678, abs=0.005)
    load = next(one for one in demo_study.power.power.load if one.name == "roof servo")
    assert load.mode_a["actuate"] == servo.amps_a
    typed = power_budget(demo_build.device.power, energy_cost_kwh=0.32)
    assert demo_study.power.day.day_wh < typed.day.day_wh  # 0.70 A were typed


def test_at_its_volts_the_servo_is_slower_and_nearer_to_its_stall(demo_study):
    label = next(one for one in demo_study.drives if one.name == "long_crank")
    moved = demo_study.moved
    assert moved.opening.time_s > label.opening.time_s
    assert moved.opening.peak_frac == pytest.approx(
        label.opening.peak_frac * 6.0 / demo_study.servo.volts_v, rel=1e-6
    )


def test_every_moving_group_is_swept_and_keeps_its_drawn_gap(demo_study):
    least = {
        one.what: min((pair.least_mm, pair.fixed) for pair in one.clearance.pairs)
        for one in demo_study.gaps
    }
    # KNUCKLE_GAP and the washers of dimensions.py are 0.3 mm; findings of the demo: shell-arm 4.20
    assert least["lid"] == (pytest.approx(0.3, abs=1e-3), "base_shell")
    assert least["horn"] == (pytest.approx(4.2, abs=1e-2), "base_shell")
    assert least["rod on lid"] == (pytest.approx(0.3, abs=1e-3), "roof_vent")
    assert least["rod on horn"] == (pytest.approx(0.3, abs=1e-3), "servo_arm")
    assert 1.0 < least["rod"][0] < 4.9  # the bar that encloses the rod is thicker than the rod


def test_a_rod_in_the_way_of_the_lid_is_found(demo_build, demo_placed):
    device = dataclasses.replace(demo_build.device.device, gap_mm=0.35)
    study = study_device(
        DeviceTables(device=device, mechanism=demo_build.device.mechanism), demo_placed
    )
    tight = [finding for finding in study.findings if finding.check == "clearance"]
    assert any("push_rod" in finding.what and "roof_vent" in finding.what for finding in tight)
    assert study.power is None
    assert study.views is None


def test_the_poses_carry_rod_pins_where_horn_and_lid_carry_them(demo_study):
    motion = motion_of(demo_study.mechanism.frame, demo_study.moved, steps=7)
    linkage = demo_study.moved.linkage
    frame = demo_study.mechanism.frame
    axes = np.array([frame.forward, frame.up])
    pin = np.append(np.array(frame.point_mm) + np.array(linkage.lid_pin_mm) @ axes, 1.0)
    shut = np.radians(linkage.horn_shut_deg)
    tip = np.array(linkage.servo_mm) + linkage.horn_mm * np.array([np.cos(shut), np.sin(shut)])
    tip = np.append(np.array(frame.point_mm) + tip @ axes, 1.0)
    for i in range(7):
        rod, lid, horn = (motion.poses[group][i] for group in ("coupler", "hinge", "servo"))
        assert np.allclose(rod @ pin, lid @ pin, atol=1e-9)
        assert np.allclose(rod @ tip, horn @ tip, atol=1e-9)
    for group in motion.poses:
        assert np.allclose(motion.poses[group][0], np.eye(4), atol=1e-12)


def test_turns_are_told_without_jumps():
    angle = np.radians(np.arange(170.0, 200.0, 5.0))
    vectors = np.column_stack([np.cos(angle), np.sin(angle)])
    assert turn_of(vectors, vectors[0]) == pytest.approx(np.arange(0.0, 30.0, 5.0))


def test_the_enclosing_bar_holds_every_corner():
    corners = np.array([[0.0, 3.0, 4.0], [5.0, 0.0, 0.0], [14.0, 0.0, 3.0]])
    radius = enclosing_radius_mm(corners, np.zeros(3), np.array([10.0, 0.0, 0.0]))
    assert radius == pytest.approx(5.0)


def test_cautions_are_said_once_with_what_calls_for_them(demo_study):
    keys = [one.key for one in demo_study.cautions]
    assert len(set(keys)) == len(keys)
    assert keys == ["mains", "hot", "pinch"]
    assert all(one.trigger and one.head.endswith(".") for one in demo_study.cautions)


def test_a_build_without_device_tables_asks_nothing():
    assert DeviceTables().empty
    study = study_device(DeviceTables(), ())
    assert study.needs == study.findings == study.drives == ()
    assert study.verdict is None


def test_heat_takes_the_watts_that_the_supply_says(demo_study):
    heat, budget = demo_study.heat, demo_study.power
    board = heat.case.power_w["count"]["single-board computer with heat sink"]
    assert board == pytest.approx(7.59, abs=0.02)
    assert {mode for mode, _ in heat.case.modes} == {mode.name for mode in budget.power.mode}


def test_the_lid_opens_farther_than_the_chamber_asks(demo_study):
    assert demo_study.travel_deg == pytest.approx(44.6, abs=0.2)
    travel = next(need for need in demo_study.needs if need.step == "travel")
    assert travel.verdict == "within"
    assert travel.needs.startswith("45 degrees")
