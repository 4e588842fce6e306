"""The sprout house: roof and push rod against the body, screws of the plate and of the computer."""

import importlib.util
import sys
from dataclasses import replace

import numpy as np
import pytest
import solids
import swings

from buildplan.build import load_build
from buildplan.demo import demo_folder
from buildplan.device.clearance import (
    ComponentPlace,
    ScrewPlace,
    Swing,
    TouchZone,
    pins_in_device,
    plan_assembly,
    reach_screws,
    sweep_hinge,
    sweep_rod,
)
from buildplan.device.clearance.solids import solid_of_part, turn_pose
from buildplan.device.mechanism.lid import hinge_frame
from buildplan.device.mechanism.rod import poses_of, rod_linkage
from buildplan.part.read import read_part
from buildplan.part.turn import turn_part

AXIS_YZ = (202.27, 119.936)
NAMES = ("base_shell", "roof_vent", "bottom_plate", "camera_arm", "sensor_cowl")


@pytest.fixture(scope="module")
def build():
    return load_build(demo_folder())


@pytest.fixture(scope="module")
def parts(build):
    """The parts where they sit in the shut device, by name."""
    placed = {}
    for request in build.parts:
        if request.name in NAMES:
            part = read_part(request.path, unit=request.unit, name=request.name, health="quick")
            placed[request.name] = turn_part(part, request.poses[0])
    return placed


@pytest.fixture(scope="module")
def swing(build):
    hinge = build.sections["mechanism"]["hinge"]
    return Swing(
        point_mm=tuple(hinge["point_mm"]),
        axis=tuple(hinge["axis"]),
        from_deg=hinge["from_deg"],
        to_deg=hinge["to_deg"],
    )


@pytest.fixture(scope="module")
def linkage():
    """The module that places the demo's linkage, by its own path."""
    folder = str(demo_folder())
    sys.path.insert(0, folder)
    try:
        names = {"dimensions", "shapes", "linkage"} - set(sys.modules)
        spec = importlib.util.spec_from_file_location("linkage", demo_folder() / "linkage.py")
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
    finally:
        sys.path.remove(folder)
        for name in names:
            sys.modules.pop(name, None)
    return module


def knuckles(radius=7.0):
    """The two hinge stations, 44 mm of axis each."""
    return [
        TouchZone(
            name=f"hinge at x = {x}",
            point_mm=(x - 22.0, *AXIS_YZ),
            end_mm=(x + 22.0, *AXIS_YZ),
            radius_mm=radius,
        )
        for x in (40.0, 168.0)
    ]


def test_the_roof_clears_the_body_by_the_knuckles_axial_play(parts, swing):
    clearance = sweep_hinge([parts["base_shell"]], [parts["roof_vent"]], swing)
    (pair,) = clearance.pairs
    # KNUCKLE_GAP of dimensions.py, at every angle
    assert pair.least_mm == pytest.approx(0.3, abs=1e-4)
    assert pair.proven_mm >= 0.29 - 1e-9
    assert abs(pair.place_mm[1] - AXIS_YZ[0]) < 6.0
    assert abs(pair.place_mm[2] - AXIS_YZ[1]) < 6.0
    assert not pair.violated
    assert clearance.findings[0].severity == "note"
    assert "roof_vent keeps 0.30 mm from base_shell between 0 and 60" in clearance.findings[0].what


def test_without_the_knuckles_the_seal_gap_of_the_shut_roof_is_the_least(parts, swing):
    fixed = [parts[name] for name in NAMES if name != "roof_vent"]
    clearance = sweep_hinge(fixed, [parts["roof_vent"]], swing, touch_zones=knuckles())
    gaps = {pair.fixed: pair for pair in clearance.pairs}
    shell = gaps["base_shell"]
    # SEAL of dimensions.py
    assert shell.least_mm == pytest.approx(0.4, abs=1e-3)
    assert shell.at_deg == 0.0
    assert shell.proven_mm >= 0.39
    # the arm's foot stands 3.5 mm beside the roof's flank
    assert gaps["camera_arm"].least_mm == pytest.approx(3.5, abs=1e-3)
    assert gaps["sensor_cowl"].at_deg == 0.0
    assert gaps["bottom_plate"].beyond
    assert all(not pair.violated for pair in clearance.pairs)
    assert "tightest of 4 pairs" in clearance.findings[0].what


def test_an_invented_thicker_body_is_hit_in_an_interval_that_bisection_confirms(parts, swing):
    # a rail from the partition over the roof's flank: the roof starts in it and lifts out of it
    body = solid_of_part(parts["base_shell"]) + solids.box(12, 40, 40, (203.0, 30.0, 62.0))
    thick = swings.as_part(body, "thick_shell")
    clearance = sweep_hinge([thick], [parts["roof_vent"]], swing, touch_zones=knuckles())
    (pair,) = clearance.pairs
    first = pair.violated[0]
    assert first.from_deg == 0.0
    assert first.overlap_mm3 > 500.0
    roof, still = solid_of_part(parts["roof_vent"]), solid_of_part(thick)

    def gap(angle):
        return roof.transform(turn_pose(swing, angle)).min_gap(still, 5.0)

    low, high = 0.0, 60.0
    assert gap(low) < 0.3 - 0.01 < gap(high)
    for _ in range(20):
        middle = (low + high) / 2.0
        low, high = (middle, high) if gap(middle) < 0.295 else (low, middle)
    assert pair.violated[-1].to_deg == pytest.approx(high, abs=0.03)
    overlap = (roof.transform(turn_pose(swing, first.at_deg)) ^ still).volume()
    assert first.overlap_mm3 == pytest.approx(overlap, rel=1e-2)
    stop = clearance.findings[0]
    assert stop.severity == "stop"
    assert "roof_vent runs into thick_shell from 0 to" in stop.what


def test_the_push_rod_clears_the_body_by_its_way_past_the_soil_dam(parts, linkage):
    angles = np.linspace(0.0, 60.0, 121)
    tips, pins = [], []
    for angle in angles:
        _, tip, pin = linkage.crank_and_pins(angle)
        tips.append((199.7, *linkage.from_hinge(tip)))
        pins.append((199.7, *linkage.from_hinge(pin)))
    fixed = [parts[name] for name in NAMES if name != "roof_vent"]
    clearance = sweep_rod(fixed, angle_deg=angles, start_mm=tips, end_mm=pins, radius_mm=5.5)
    gaps = {pair.fixed: pair for pair in clearance.pairs}
    # 199.7 - 191.8 (dam) - 5.5 (half an eye) = 2.4 mm while its lower end is below the dam's top
    assert gaps["base_shell"].least_mm == pytest.approx(2.4, abs=1e-4)
    assert gaps["base_shell"].at_deg == 0.0
    assert gaps["base_shell"].place_mm[0] == pytest.approx(191.8 + 1.2, abs=1e-3)
    assert all(not pair.violated for pair in clearance.pairs)


def test_the_mechanisms_pins_are_those_that_the_demo_is_drawn_with(build, linkage):
    hinge, rod = build.sections["mechanism"]["hinge"], build.sections["mechanism"]["linkage"]
    frame = hinge_frame(
        point_mm=hinge["point_mm"], axis=hinge["axis"], forward=hinge["forward"], up=hinge["up"]
    )
    row = rod["long_crank"]
    drive = rod_linkage(
        servo_mm=tuple(row["servo_at_mm"]),
        horn_mm=row["horn_mm"],
        horn_shut_deg=row["horn_shut_deg"],
        lid_pin_mm=tuple(row["roof_pin_mm"]),
        rod_mm=row["rod_mm"],
    )
    angles = np.linspace(0.0, 60.0, 13)
    poses = poses_of(drive, angles)
    tips = pins_in_device(frame, poses.tip_mm, along_mm=-199.7)
    pins = pins_in_device(frame, poses.pin_mm, along_mm=-199.7)
    for angle, tip, pin in zip(angles, tips, pins, strict=True):
        _, drawn_tip, drawn_pin = linkage.crank_and_pins(angle)
        assert tip == pytest.approx((199.7, *linkage.from_hinge(drawn_tip)), abs=0.01)
        assert pin == pytest.approx((199.7, *linkage.from_hinge(drawn_pin)), abs=0.01)


def test_the_plate_screws_are_reached_and_the_computer_asks_for_a_bent_key(parts):
    plate = [
        ScrewPlace(name=f"plate {i}", screw="M3", seat_mm=(x, y, -3.0), axis=(0.0, 0.0, 1.0))
        for i, (x, y) in enumerate(((11.5, 11.5), (220.0, 188.0), (289.7, 10.3)))
    ]
    low = ScrewPlace(
        name="computer low", screw="M3", seat_mm=(224.6, 96.0, 33.0), axis=(-1.0, 0.0, 0.0)
    )
    key = replace(low, name="computer low, bent key", handle_mm=0.0, blade_mm=60.0)
    around = [parts[name] for name in NAMES]
    reached = {found.name: found for found in reach_screws([*plate, low, key], around)}
    assert all(reached[screw.name].access == "reached" for screw in plate)
    # bay from the head at 224.6 to the right wall at 297: no room for blade and handle
    assert reached["computer low"].access == "blocked"
    assert reached["computer low"].blockers[0].part == "base_shell"
    assert reached["computer low"].blockers[0].after_mm == pytest.approx(297.0 - 224.6, abs=1e-3)
    assert reached["computer low, bent key"].access == "reached"


def test_the_bay_is_filled_from_below_before_its_plate_goes_on(parts):
    # 88 x 58 mm, on bosses that end at x = 223: straight up it grazes a boss of the plate
    computer = ComponentPlace(name="computer", box_mm=(223.2, 12.0, 29.0, 243.0, 100.0, 87.0))
    fan = ComponentPlace(name="fan", box_mm=(262.0, 80.0, 40.0, 280.0, 120.0, 60.0))
    plan = plan_assembly(
        [parts["base_shell"], parts["bottom_plate"]],
        [computer, fan],
        goes_on={"bottom_plate": ((0.0, 0.0, 1.0),)},
    )
    assert plan.base == ("base_shell",)
    assert [step.name for step in plan.order] == ["computer", "fan", "bottom_plate"]
    assert plan.order[0].direction == plan.order[1].direction == (0.0, 0.0, 1.0)
    # so it goes up beside the boss and then on to its own, against the partition
    assert plan.order[0].then == (-1.0, 0.0, 0.0)
    assert plan.order[1].then == ()
