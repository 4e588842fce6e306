"""Cones against solid angles; readings over height against closed forms."""

import math

import numpy as np
import pytest
import view_scenes as vs

from buildplan.device.view.aims import (
    cone_directions,
    cone_solid_angle,
    in_picture,
    picture_solid_angle,
)
from buildplan.device.view.distance import free_turn, height_table, tallest_mm, view_cone
from buildplan.errors import InputError

FAR_AWAY = vs.plate(1.0, 1.0, (0, 0, 9000.0), "far away")


@pytest.mark.parametrize("cone", [10.0, 25.0, 90.0, 160.0])
def test_rays_fill_their_cone_evenly(cone):
    look = np.array([1.0, -2.0, 0.5]) / math.sqrt(5.25)
    rays = cone_directions(look, cone, 4000)
    cosine = rays @ look
    rim = math.cos(math.radians(cone) / 2)
    assert np.allclose(np.linalg.norm(rays, axis=1), 1.0, atol=1e-14)
    assert cosine.min() >= rim
    # even in solid angle: the cosine is spread evenly between the rim's and 1
    for share in (0.25, 0.5, 0.75):
        assert np.quantile(cosine, share) == pytest.approx(rim + share * (1 - rim), abs=1e-3)
    assert rays.mean(axis=0) == pytest.approx(look * (1 + rim) / 2, abs=2e-3)


@pytest.mark.parametrize("radius", [5.0, 20.0, 60.0])
def test_a_disc_on_the_axis_fills_the_share_of_its_solid_angle(radius):
    cone = view_cone(vs.sensor(cone_deg=120.0), vs.scene(vs.disc(radius, 50.0)), rays=20_000)
    share = (1 - 50 / math.hypot(50, radius)) / (1 - math.cos(math.radians(60)))
    assert cone.own_frac == pytest.approx(share, abs=2e-3)
    assert cone.own_near_mm == pytest.approx(50.0, abs=0.01)
    assert share * cone_solid_angle(120.0) == pytest.approx(
        2 * math.pi * (1 - 50 / math.hypot(50, radius))
    )


@pytest.mark.parametrize(("wide", "deep"), [(20.0, 60.0), (80.0, 80.0), (5.0, 100.0)])
def test_a_rectangle_on_the_axis_fills_the_share_of_its_solid_angle(wide, deep):
    scene = vs.scene(vs.plate(wide, deep, (0, 0, 50)))
    cone = view_cone(vs.sensor(cone_deg=140.0), scene, rays=40_000)
    omega = picture_solid_angle(
        2 * math.degrees(math.atan(wide / 100)), 2 * math.degrees(math.atan(deep / 100))
    )
    # the same by van Oosterom and Strackee's quarter: 4 asin(a b / sqrt((a2 + d2) (b2 + d2)))
    a, b = wide / 2, deep / 2
    assert omega == pytest.approx(
        4 * math.asin(a * b / math.sqrt((a * a + 2500) * (b * b + 2500))), rel=1e-12
    )
    assert cone.own_frac == pytest.approx(omega / cone_solid_angle(140.0), abs=2e-3)


def test_a_picture_holds_its_solid_angle_of_evenly_spread_rays():
    rays = cone_directions(vs.DOWN, 150.0, 40_000)
    frame = np.array([[0.0, -1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, -1.0]])
    camera = vs.camera(wide_deg=66.0, high_deg=52.0)
    inside = in_picture(camera, frame[None], rays)[0].mean()
    assert inside * cone_solid_angle(150.0) == pytest.approx(
        picture_solid_angle(66.0, 52.0), rel=5e-3
    )
    assert picture_solid_angle(90.0, 90.0) == pytest.approx(4 * math.pi / 6, rel=1e-12)


def test_a_part_in_the_cone_is_named_with_its_distance_and_the_cone_that_clears_it():
    bar = vs.plate(10, 400, (20, 0, 60), "bar")  # starts 15 mm aside, 40 mm down
    cone = view_cone(vs.sensor(cone_deg=60.0), vs.scene(bar, FAR_AWAY), rays=20_000)
    assert cone.own_by[0].name == "bar"
    assert cone.own_near_mm == pytest.approx(math.hypot(40, 15), abs=0.3)
    assert cone.clear_cone_deg == pytest.approx(2 * math.degrees(math.atan(15 / 40)), abs=0.5)
    assert view_cone(vs.sensor(cone_deg=40.0), vs.scene(bar)).own_frac == 0.0


def test_a_level_look_reads_the_mean_of_its_cone_by_the_closed_form():
    half = math.radians(20.0)
    rows = height_table(vs.sensor(), vs.scene(FAR_AWAY), heights_mm=(0, 25, 60))
    for row in rows:
        d = 100.0 - row.height_mm
        mean = d * math.log(1 / math.cos(half)) / (1 - math.cos(half))
        assert row.axis_mm == pytest.approx(d, rel=1e-12)
        assert row.first_mm == pytest.approx(d, rel=1e-12)
        assert row.mean_mm == pytest.approx(mean, rel=1e-6)
        assert row.footprint_mm == pytest.approx(2 * d * math.tan(half), rel=1e-12)
        assert row.reading == "good"


def test_a_leaning_look_reads_its_nearest_edge_first():
    lean = math.radians(35.0)
    look = (math.sin(lean), 0.0, -math.cos(lean))
    row = height_table(vs.sensor(look=look), vs.scene(FAR_AWAY), heights_mm=(10,))[0]
    assert row.axis_mm == pytest.approx(90 / math.cos(lean), rel=1e-12)
    assert row.first_mm == pytest.approx(90 / math.cos(math.radians(15)), rel=1e-12)
    trace = 90 * (math.tan(math.radians(55)) - math.tan(math.radians(15)))
    assert row.footprint_mm == pytest.approx(trace, rel=1e-12)
    upright = height_table(vs.sensor(), vs.scene(FAR_AWAY), heights_mm=(10,))[0]
    assert row.mean_mm > upright.mean_mm


def test_readings_say_why_they_fail():
    far = height_table(vs.sensor(far_mm=50.0), vs.scene(FAR_AWAY), heights_mm=(0, 80))
    assert [row.reading for row in far] == ["too far", "good"]
    near = vs.sensor(near_mm=30.0)
    rows = height_table(near, vs.scene(FAR_AWAY), heights_mm=(69, 70, 71))
    assert [row.reading for row in rows] == ["good", "good", "too near"]
    assert tallest_mm(near) == pytest.approx(70.0)
    up = height_table(vs.sensor(look=(0, 0, 1)), vs.scene(FAR_AWAY), heights_mm=(0,))[0]
    assert (up.reading, up.axis_mm, up.first_mm) == ("misses", math.inf, math.inf)
    lamp = vs.scene(vs.plate(40, 40, (20, 0, 70), "lamp"))
    rows = height_table(vs.sensor(), lamp, heights_mm=(0, 71))
    assert [row.reading for row in rows] == ["part in the way", "good"]
    assert rows[0].own_near_mm == pytest.approx(30.0, abs=0.05)


def test_a_wider_cone_never_meets_less_of_a_part():
    bar = vs.plate(10, 400, (20, 0, 60), "bar")
    solid = [
        view_cone(vs.sensor(cone_deg=c), vs.scene(bar), rays=20_000).own_frac * cone_solid_angle(c)
        for c in (10, 30, 50, 70, 90, 120, 150)
    ]
    assert (np.diff(solid) >= -2e-3).all()
    assert solid[0] == 0.0


def test_a_sensor_beside_a_bar_is_turned_away_just_far_enough():
    bar = vs.plate(40, 400, (25, 0, 60), "bar")  # its edge 5 mm aside, 40 mm down
    sensor = vs.sensor(cone_deg=30.0)
    turn = free_turn(sensor, vs.scene(bar))
    least = 15.0 - math.degrees(math.atan(5 / 40))
    assert turn.own_frac == 0.0
    assert least - 0.8 <= turn.turn_deg <= least + 3.0
    assert turn.look[0] < 0.0
    turned = view_cone(vs.sensor(cone_deg=30.0, look=turn.look), vs.scene(bar))
    assert turned.own_frac <= 0.005
    free = free_turn(sensor, vs.scene(FAR_AWAY))
    assert (free.turn_deg, free.own_frac) == (0.0, 0.0)


def test_impossible_sensors_are_refused_with_their_numbers():
    scene = vs.scene(FAR_AWAY)
    with pytest.raises(InputError, match=r"cone: .* up to 170 deg, found 180 deg"):
        view_cone(vs.sensor(cone_deg=180.0), scene)
    with pytest.raises(InputError, match=r"look must point .* length 0"):
        view_cone(vs.sensor(look=(0, 0, 0)), scene)
    with pytest.raises(InputError, match=r"at least 1, found 0"):
        view_cone(vs.sensor(), scene, rays=0)
