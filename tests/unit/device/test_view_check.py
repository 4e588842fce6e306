"""Tables of a build file in, findings with numbers out."""

import math
import tomllib
from dataclasses import replace

import numpy as np
import pytest
import view_scenes as vs
from manifold3d import Manifold

from buildplan.demo import demo_folder
from buildplan.device.view.best import mount_table
from buildplan.device.view.check import check_views
from buildplan.device.view.judge import camera_findings
from buildplan.device.view.scene import hinge_pose
from buildplan.device.view.shape import Camera, DistanceSensor, Views, Window, read_views
from buildplan.device.view.target import cut_target

FAR_AWAY = vs.plate(1.0, 1.0, (0, 0, 9000.0), "far away")


def demo_table():
    return tomllib.loads((demo_folder() / "build.toml").read_text("utf-8"))["view"]


def test_the_demos_table_is_read_as_it_stands():
    views, faults = read_views(demo_table())
    assert faults == ()
    assert isinstance(views.camera, Camera)
    assert isinstance(views.distance_sensor, DistanceSensor)
    assert views.camera.wide_deg == 66.0
    assert views.camera.target_mm[2] == (186.0, 184.0, 42.0)
    assert views.distance_sensor.soil_z_mm == 42.0
    assert views.distance_sensor.window == ()


def test_either_sensor_may_be_missing_and_a_window_may_be_there():
    table = demo_table()
    table["distance_sensor"]["window"] = [{"gap_mm": 0.5, "thick_mm": 1.0, "apart_mm": 3.0}]
    views, faults = read_views({"distance_sensor": table["distance_sensor"]})
    assert faults == ()
    assert views.camera is None
    assert views.distance_sensor.window == (Window(gap_mm=0.5, thick_mm=1.0, apart_mm=3.0),)
    assert check_views(Views(), [FAR_AWAY]).findings == ()


def test_wrong_tables_are_told_with_the_key_the_number_and_what_is_allowed():
    table = demo_table()
    table["camera"]["wide_deg"] = 180.0
    table["camera"]["point_mm"] = [1.0, 2.0]
    table["distance_sensor"]["cone_dag"] = table["distance_sensor"].pop("cone_deg")
    table["camrea"] = {}
    _, faults = read_views(table)
    texts = "\n".join(f"{fault.path} {fault.text}" for fault in faults)
    assert "wide_deg 180 is out of range. Allowed: 0.5 to 170" in texts
    assert "point_mm must hold 3 values, found 2" in texts
    assert "cone_deg" in texts
    assert "camrea" in texts
    assert len(faults) == 4
    views, faults = read_views({"camera": 3})
    assert views.camera is None
    assert faults[0].text == "camera must be a table, found 3"


def one_finding(findings, *words):
    found = [f for f in findings if all(word in f.what for word in words)]
    assert len(found) == 1, [f.what for f in findings]
    assert found[0].check == "view"
    return found[0]


def test_a_hidden_target_names_the_part_and_what_cutting_it_gives():
    views = Views(camera=vs.camera())
    report = check_views(views, [vs.plate(40, 80, (0, 0, 50), "lamp")])
    finding = one_finding(report.findings, "lamp hides 32.0 %")
    assert finding.severity == "caution"
    assert finding.measured == "68.0 % seen"
    assert finding.required == "at least 90.0 %"
    assert "cut back lamp (up to 32.0 % more seen)" in finding.remedy
    assert "no aim shows more than 68.0 %" in finding.remedy
    dark = check_views(views, [vs.plate(900, 900, (0, 0, 50), "lamp")])
    assert one_finding(dark.findings, "sees 0.0 %").severity == "stop"


def test_a_wrong_look_names_the_turn_and_the_lens_that_would_do():
    camera = vs.camera(look=(0.5, 0, -1), wide_deg=95.0, high_deg=95.0)
    finding = one_finding(check_views(Views(camera=camera), [FAR_AWAY]).findings, "outside")
    assert "turn the camera by 27 deg" in finding.remedy.lower()
    assert "(100.0 % seen)" in finding.remedy
    from_above = camera_findings(
        camera,
        check_views(Views(camera=camera), [FAR_AWAY]).camera[0].rest,
        check_views(Views(camera=replace(camera, look=vs.DOWN)), [FAR_AWAY]).camera[0].aim,
        mounts=mount_table(camera, vs.scene(FAR_AWAY), cut_target(vs.SQUARE), shifts_mm=(0, 30)),
    )
    assert "mount it" not in from_above[0].remedy  # the turn alone already shows everything


def test_a_lens_that_would_hold_the_target_does():
    camera = vs.camera(look=(0.2, 0.1, -1), wide_deg=60.0, high_deg=60.0)
    finding = one_finding(check_views(Views(camera=camera), [FAR_AWAY]).findings, "outside")
    wide, high = finding.remedy.split("lens of at least ")[1].split(" deg")[0].split(" by ")
    fits = replace(camera, wide_deg=float(wide), high_deg=float(high))
    assert check_views(Views(camera=fits), [FAR_AWAY]).camera[0].rest.outside_frac == 0.0
    for less in ({"wide_deg": float(wide) - 2}, {"high_deg": float(high) - 2}):
        tight = replace(fits, **less)
        assert check_views(Views(camera=tight), [FAR_AWAY]).camera[0].rest.outside_frac > 0.0


def test_a_moving_lid_names_its_worst_angle_and_the_good_ones():
    lid = vs.plate(200, 200, (0, 0, 20), "lid", moves_with="hinge")
    angles = (0.0, 45.0, 90.0, 135.0)
    turns = [hinge_pose((0, 100, 20), (-1, 0, 0), angle) for angle in angles]
    report = check_views(
        Views(camera=vs.camera()), [lid], angles_deg=angles, poses={"hinge": np.stack(turns)}
    )
    finding = one_finding(report.findings, "of the travel")
    assert finding.severity == "note"
    assert "at 0 deg" in finding.what
    assert finding.remedy == "Take pictures only at 45, 90, 135 deg"
    rest = one_finding(report.findings, "parts at rest")
    assert "take pictures at 45 deg of the travel (100.0 % seen)" in rest.remedy.lower()


def test_a_sensor_inside_a_wall_is_a_stop_with_the_way_out():
    block = vs.body(Manifold.cube((40.0, 40.0, 40.0), True).translate((0, 0, 83)), "block")
    views = Views(camera=vs.camera(), distance_sensor=vs.sensor())
    findings = check_views(views, [block]).findings
    for what in ("camera", "distance sensor"):
        finding = one_finding(findings, f"the {what} lies 3.0 mm inside block")
        assert finding.severity == "stop"
        assert "Move it more than 3.2 mm along (0" in finding.remedy or "3.2 mm along (-0" in (
            finding.remedy
        )
    assert len(findings) == 2


def test_a_bar_in_the_cone_names_the_turn_and_the_cone_that_clear_it():
    bar = vs.plate(40, 400, (25, 0, 60), "bar")
    finding = one_finding(
        check_views(Views(distance_sensor=vs.sensor(cone_deg=30.0)), [bar]).findings, "bar"
    )
    assert "40.3 mm away" in finding.what or "40.4 mm away" in finding.what
    assert "Turn the sensor by" in finding.remedy
    cone = float(finding.remedy.split("at most ")[1].split(" deg")[0])
    assert cone == pytest.approx(2 * math.degrees(math.atan(5 / 40)), abs=0.4)
    assert not check_views(Views(distance_sensor=vs.sensor(cone_deg=cone)), [bar]).findings


def test_a_rod_that_swings_into_the_cone_names_the_angle_and_the_good_ones():
    rod = vs.plate(10, 60, (80, 0, 60), "rod", moves_with="crank")
    angles = (0.0, 90.0, 180.0, 270.0)
    # about an upright line at x = 40: the rod passes below the sensor half a turn on
    turns = np.stack([hinge_pose((40, 0, 0), (0, 0, 1), angle) for angle in angles])
    views = Views(distance_sensor=vs.sensor(cone_deg=20.0))
    report = check_views(views, [rod], angles_deg=angles, poses={"crank": turns})
    finding = one_finding(report.findings, "at 180 deg of the travel rod takes up")
    assert finding.remedy == "Measure only at 0, 90, 270 deg"
    assert "40.0 mm away" in finding.what
    assert [cone.own_frac > 0.3 for cone in report.distance_sensor[0].travel] == [
        angle == 180.0 for angle in angles
    ]


def test_heights_that_cannot_be_measured_name_the_move():
    views = Views(distance_sensor=vs.sensor(near_mm=30.0, far_mm=90.0))
    findings = check_views(views, [FAR_AWAY], heights_mm=(0.0, 20.0, 75.0)).findings
    near = one_finding(findings, "1 of 3 heights", "at 75.0 mm the ground is 25.0 mm away")
    assert near.required == "at least 30 mm"
    assert near.remedy == "Mount the sensor 5.0 mm farther from the ground"
    far = one_finding(findings, "at 0.0 mm the ground is 100.0 mm away")
    assert far.remedy == "Mount the sensor 10.0 mm nearer to the ground"
    report = check_views(Views(distance_sensor=vs.sensor(near_mm=30.0)), [FAR_AWAY])
    assert report.findings == ()
    assert report.distance_sensor[0].tallest_mm == pytest.approx(70.0)
    assert report.distance_sensor[0].heights[-1].reading == "good"
    upward = check_views(Views(distance_sensor=vs.sensor(look=(0, 0, 1))), [FAR_AWAY])
    assert "toward the ground" in upward.findings[0].remedy


def test_a_hole_that_clips_names_chamfer_wall_and_width_and_these_cure_it():
    camera = vs.camera(wide_deg=100.0, high_deg=100.0, opening_mm=7.0, opening_depth_mm=2.0)
    finding = one_finding(check_views(Views(camera=camera), [FAR_AWAY]).findings, "clips")
    assert finding.measured == "7.0 mm"
    wide = float(finding.remedy.split("widen it to ")[1].split(" mm")[0])
    thin = float(finding.remedy.split("thin the wall to ")[1].split(" mm")[0])
    wider = replace(camera, opening_mm=wide)
    thinner = replace(camera, opening_depth_mm=thin - 0.05)
    for cured in (wider, thinner):
        assert not check_views(Views(camera=cured), [FAR_AWAY]).findings
    tiny = replace(camera, opening_mm=1.5)
    finding = one_finding(check_views(Views(camera=tiny), [FAR_AWAY]).findings, "clips")
    assert "too small even at the near face (2.0 mm needed)" in finding.remedy


def test_a_pane_with_cross_talk_names_the_gap_that_has_none():
    pane = Window(gap_mm=1.0, thick_mm=1.0, apart_mm=3.0)
    sensor = vs.sensor(cone_deg=90.0, window=(pane,))
    finding = one_finding(
        check_views(Views(distance_sensor=sensor), [FAR_AWAY]).findings, "pane in front"
    )
    assert finding.severity == "note"
    gap = float(finding.remedy.split("within ")[1].split(" mm")[0])
    assert gap == pytest.approx(0.71, abs=0.001)
    near = replace(sensor, window=(replace(pane, gap_mm=gap),))
    assert not check_views(Views(distance_sensor=near), [FAR_AWAY]).findings
    thick = replace(sensor, window=(replace(pane, thick_mm=3.0),))
    finding = one_finding(
        check_views(Views(distance_sensor=thick), [FAR_AWAY]).findings, "pane in front"
    )
    assert "Put a rib" in finding.remedy
    assert "a pane of at most 0.46 mm" in finding.remedy
