"""The sprout house: what its camera and its distance sensor see, roof shut and opening."""

import tomllib
from dataclasses import replace

import numpy as np
import pytest

from buildplan.demo import demo_folder
from buildplan.device.view.best import best_aim
from buildplan.device.view.check import check_views
from buildplan.device.view.scene import Body, build_scene, hinge_pose
from buildplan.device.view.shape import read_views
from buildplan.device.view.sights import view_target
from buildplan.device.view.target import cut_target
from buildplan.part.read import read_part
from buildplan.part.turn import turn_part

ANGLES = np.arange(0.0, 61.0, 10.0)


@pytest.fixture(scope="module")
def data():
    return tomllib.loads((demo_folder() / "build.toml").read_text("utf-8"))


@pytest.fixture(scope="module")
def views(data):
    return read_views(data["view"])[0]


@pytest.fixture(scope="module")
def bodies(data):
    found = []
    for row in data["part"]:
        part = read_part(demo_folder() / row["file"], unit=row.get("unit"), name=row["name"])
        for pose in row["poses"]:
            turned = turn_part(part, np.ravel(pose))
            group = row.get("moves_with", "")
            found.append(Body(name=row["name"], part=turned, moves_with=group))
    return found


@pytest.fixture(scope="module")
def poses(data):
    """Roof, servo arm and rod at every angle: the crank's end is where two circles meet."""
    hinge, link = data["mechanism"]["hinge"], data["mechanism"]["linkage"]["long_crank"]
    axis = np.array(hinge["axis"])
    frame = np.array([hinge["forward"], hinge["up"]])
    pivot, pin = np.array(link["servo_at_mm"]), np.array(link["roof_pin_mm"])
    shut = np.radians(link["horn_shut_deg"])
    end = pivot + link["horn_mm"] * np.array([np.cos(shut), np.sin(shut)])

    def in_device(point):
        return np.array(hinge["point_mm"]) + point @ frame

    stacks = {"hinge": [], "servo": [], "coupler": []}
    crank_deg, rod_deg, was = 0.0, 0.0, pin
    for angle in ANGLES:
        turn = np.radians(angle)
        now = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) @ pin
        reach = now - pivot
        d = np.hypot(*reach)
        along = (link["horn_mm"] ** 2 - link["rod_mm"] ** 2 + d * d) / (2 * d)
        off = np.sqrt(link["horn_mm"] ** 2 - along**2)
        aside = np.array([-reach[1], reach[0]]) / d
        meets = [pivot + along * reach / d + side * off * aside for side in (1, -1)]
        here = min(meets, key=lambda p: np.hypot(*(p - end)))
        crank_deg += _turned(end - pivot, here - pivot)
        rod_deg += _turned(was - end, now - here)
        end, was = here, now
        stacks["hinge"].append(hinge_pose(hinge["point_mm"], axis, angle))
        stacks["servo"].append(hinge_pose(in_device(pivot), axis, crank_deg))
        spin = hinge_pose(in_device(pin), axis, rod_deg)
        spin[:3, 3] += in_device(now) - in_device(pin)
        stacks["coupler"].append(spin)
    return {group: np.stack(stack) for group, stack in stacks.items()}


def _turned(before, after):
    """Angle in degrees from one plane vector to another."""
    cross = before[0] * after[1] - before[1] * after[0]
    return float(np.degrees(np.arctan2(cross, before @ after)))


@pytest.fixture(scope="module")
def report(views, bodies, poses):
    return check_views(views, bodies, angles_deg=ANGLES, poses=poses)


def shares(view):
    return {hidden.name: hidden.share_frac for hidden in view.hidden_by}


def test_the_rod_stays_on_crank_and_roof(poses, data):
    # the rod's far end, carried by the coupler, is where the roof carries its pin
    hinge, link = data["mechanism"]["hinge"], data["mechanism"]["linkage"]["long_crank"]
    frame = np.array([hinge["forward"], hinge["up"]])
    pin = np.append(np.array(hinge["point_mm"]) + np.array(link["roof_pin_mm"]) @ frame, 1.0)
    pivot = np.array(link["servo_at_mm"])
    shut = np.radians(link["horn_shut_deg"])
    end = pivot + link["horn_mm"] * np.array([np.cos(shut), np.sin(shut)])
    crank = np.append(np.array(hinge["point_mm"]) + end @ frame, 1.0)
    for i in range(len(ANGLES)):
        assert np.allclose(poses["coupler"][i] @ pin, poses["hinge"][i] @ pin, atol=1e-3)
        assert np.allclose(poses["coupler"][i] @ crank, poses["servo"][i] @ crank, atol=2e-3)


def test_with_the_roof_shut_the_camera_sees_80_percent_of_the_bed(report):
    rest = report.camera[0].rest
    assert rest.seen_frac == pytest.approx(0.803, abs=0.01)
    assert rest.outside_frac == 0.0
    assert rest.inside == ""
    assert shares(rest) == pytest.approx({"roof_vent": 0.123, "sensor_cowl": 0.074}, abs=0.01)


def test_the_bed_is_seen_best_fully_open_and_worst_half_way(report):
    travel = report.camera[0].travel
    seen = dict(zip(travel.angles_deg, travel.seen_frac, strict=True))
    assert seen[60.0] == pytest.approx(0.92, abs=0.015)
    assert min(seen, key=seen.get) == 40.0
    assert seen[40.0] == pytest.approx(0.48, abs=0.02)
    assert shares(travel.views[4])["roof_vent"] > 0.4
    assert "roof_vent" not in shares(travel.views[6])
    assert shares(travel.views[6])["sensor_cowl"] == pytest.approx(0.078, abs=0.01)


def test_the_findings_say_when_to_take_pictures_and_that_no_aim_helps(report):
    what = {f.what.split(":")[0]: f for f in report.findings}
    rest = what["the camera sees 80.3 % of its target, parts at rest"]
    assert rest.severity == "caution"
    assert "take pictures at 60 deg of the travel (9" in rest.remedy.lower()
    aim = report.camera[0].aim
    assert aim.seen_frac == aim.clear_frac == pytest.approx(aim.now_frac)
    assert any("at 40 deg of the travel" in text for text in what)
    assert len(report.findings) == 2


def test_the_distance_sensor_is_free_of_its_cowl_and_reads_up_to_30_mm(report):
    sensor = report.distance_sensor[0]
    assert sensor.cone.own_frac == 0.0
    assert sensor.cone.ground_frac == 1.0
    assert sensor.cone.inside == ""
    assert [cone.own_frac for cone in sensor.travel] == [0.0] * len(ANGLES)
    assert sensor.tallest_mm == pytest.approx(30.0)
    soil = sensor.heights[0]
    assert soil.axis_mm == pytest.approx(40.0)
    assert soil.mean_mm == pytest.approx(40.48, abs=0.01)
    assert soil.footprint_mm == pytest.approx(17.7, abs=0.05)


def test_without_roof_and_cowl_nothing_hides_more_than_the_linkage(views, bodies):
    bare = [body for body in bodies if body.name not in ("roof_vent", "sensor_cowl")]
    view = view_target(views.camera, build_scene(bare), cut_target(views.camera.target_mm))
    assert view.seen_frac > 0.99


def test_a_shorter_mast_sees_less(views, bodies):
    low = replace(views.camera, point_mm=(232.0, 98.0, 170.0))
    rest = [body for body in bodies if body.name not in ("camera_arm", "camera_ring")]
    scene, target = build_scene(rest), cut_target(low.target_mm)
    assert best_aim(low, scene, target).seen_frac < best_aim(views.camera, scene, target).seen_frac
