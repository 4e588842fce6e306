"""What must hold for every view, on random scenes."""

import math
from dataclasses import replace

import numpy as np
import pytest
import view_scenes as vs
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from buildplan.device.view.aims import cone_solid_angle
from buildplan.device.view.best import best_aim
from buildplan.device.view.distance import height_table, view_cone
from buildplan.device.view.optics import opening_mm, size_opening, view_through
from buildplan.device.view.scene import NOTHING, build_scene, hinge_pose
from buildplan.device.view.sights import SEEN, sight_lines, view_target
from buildplan.device.view.target import cut_target

seeds = st.integers(0, 10_000)
angles = st.floats(5.0, 160.0)


def crowd(seed, count=5):
    """Blocks and balls between a camera at about (0, 0, 120) and the square below."""
    rng = np.random.default_rng(seed)
    made = []
    for i in range(count):
        size = rng.uniform(5, 40, 3)
        solid = Manifold.sphere(size[0] / 2, 16) if i % 2 else Manifold.cube(size, True)
        solid = solid.rotate(rng.uniform(0, 360, 3)).translate(
            rng.uniform((-90, -90, 5), (90, 90, 70))
        )
        made.append(vs.body(solid, f"body {i}"))
    return made


def eye(seed):
    rng = np.random.default_rng(seed + 1)
    point = rng.uniform((-60, -60, 105), (60, 60, 160))
    toward = rng.uniform((-60, -60, 0), (60, 60, 0)) - point
    return vs.camera(point_mm=tuple(point), look=tuple(toward), wide_deg=66.0, high_deg=52.0)


@settings(max_examples=25, deadline=None)
@given(seed=seeds)
def test_every_cell_is_what_trying_every_facet_says(seed):
    bodies, camera, target = crowd(seed), eye(seed), cut_target(vs.SQUARE, cells=14)
    rays = target.points_mm - np.array(camera.point_mm)
    length = np.linalg.norm(rays, axis=1)
    distance, which = vs.brute_first(bodies, np.array(camera.point_mm), rays / length[:, None])
    expected = np.where(distance < length * (1 - 1e-6), which, NOTHING)
    assert (sight_lines(build_scene(bodies), camera.point_mm, target) == expected).all()


@settings(max_examples=25, deadline=None)
@given(seed=seeds)
def test_scene_and_camera_turned_together_show_the_same(seed):
    bodies, camera = crowd(seed), eye(seed)
    turn, shift = vs.random_turn(seed)
    moved = replace(
        camera,
        point_mm=tuple(turn @ camera.point_mm + shift),
        look=tuple(turn @ camera.look),
        up=tuple(turn @ (0.0, 0.0, 1.0)),
        target_mm=tuple(tuple(turn @ corner + shift) for corner in vs.SQUARE),
    )
    here = view_target(camera, build_scene(bodies), cut_target(camera.target_mm, cells=40))
    there = view_target(
        moved,
        build_scene([vs.turned(body, turn, shift) for body in bodies]),
        cut_target(moved.target_mm, cells=40),
    )
    assert here.codes.shape == there.codes.shape
    # a sight within rounding of an edge may fall on either side
    assert (here.codes != there.codes).mean() <= 1.5 / 1600
    assert here.seen_frac == pytest.approx(there.seen_frac, abs=2 / 1600)


@settings(max_examples=25, deadline=None)
@given(seed=seeds)
def test_shares_add_up_and_one_more_part_never_shows_more(seed):
    bodies, camera, target = crowd(seed), eye(seed), cut_target(vs.SQUARE, cells=40)
    seen, clear = 1.0, 1.0
    before = None
    for count in range(1, len(bodies) + 1):
        view = view_target(camera, build_scene(bodies[:count]), target)
        assert view.seen_frac + view.hidden_frac + view.outside_frac == pytest.approx(1.0)
        assert sum(h.share_frac for h in view.hidden_by) == pytest.approx(view.hidden_frac)
        assert view.seen_frac <= min(seen, view.clear_frac, 1 - view.outside_frac) + 1e-12
        assert view.clear_frac <= clear
        if before is not None:
            assert not ((view.codes == SEEN) & (before != SEEN)).any()
        seen, clear, before = view.seen_frac, view.clear_frac, view.codes


@settings(max_examples=25, deadline=None)
@given(seed=seeds, wide=angles, high=angles, more=st.floats(0.0, 10.0))
def test_a_wider_picture_never_shows_less(seed, wide, high, more):
    target, scene = cut_target(vs.SQUARE, cells=40), build_scene(crowd(seed))
    camera = replace(eye(seed), wide_deg=wide, high_deg=high)
    wider = replace(camera, wide_deg=wide + more, high_deg=high + more)
    less, most = view_target(camera, scene, target), view_target(wider, scene, target)
    assert not ((less.codes == SEEN) & (most.codes != SEEN)).any()
    assert best_aim(wider, scene, target).seen_frac >= less.seen_frac - 1e-12


@settings(max_examples=20, deadline=None)
@given(seed=seeds, cone=st.floats(10.0, 120.0), more=st.floats(0.0, 30.0))
def test_a_wider_cone_never_meets_less_of_the_parts(seed, cone, more):
    scene, place = build_scene(crowd(seed)), eye(seed)
    met = []
    for full in (cone, cone + more):
        sensor = vs.sensor(point_mm=place.point_mm, look=place.look, cone_deg=full)
        view = view_cone(sensor, scene, rays=6000)
        met.append(view.own_frac * cone_solid_angle(full))
        assert 0.0 <= view.own_frac + view.ground_frac <= 1.0 + 1e-12
        assert sum(h.share_frac for h in view.own_by) == pytest.approx(view.own_frac)
    assert met[1] >= met[0] - 0.02 * cone_solid_angle(cone + more)


@settings(max_examples=20, deadline=None)
@given(
    lean=st.floats(20.0, 60.0),
    reach=st.floats(2.0, 6.0),
    stops=st.lists(st.floats(0, 1), min_size=2),
)
def test_a_lid_that_opens_toward_the_camera_never_hides_more(lean, reach, stops):
    lid = vs.plate(100, 4000, (50, 0, 0), "lid", moves_with="hinge")
    turn = math.radians(lean)
    point = (100 * reach * math.cos(turn), 0.0, 100 * reach * math.sin(turn))
    corners = ((0, -5, 0), (100, -5, 0), (100, 5, 0), (0, 5, 0))
    corners = tuple((x, y, -0.01) for x, y, _ in corners)
    scene, target = vs.scene(lid), cut_target(corners, cells=300)
    free = []
    for stop in sorted(stops):
        pose = {"hinge": hinge_pose((0, 0, 0), (0, -1, 0), stop * lean)}
        free.append((sight_lines(scene, point, target, poses=pose) == NOTHING).mean())
    assert (np.diff(free) >= 0).all()


@settings(max_examples=40, deadline=None)
@given(seed=seeds, height=st.floats(0.0, 90.0), step=st.floats(0.0, 9.0))
def test_taller_ground_reads_nearer(seed, height, step):
    lean = np.random.default_rng(seed).uniform(-0.5, 0.5, 2)
    sensor = vs.sensor(look=(lean[0], lean[1], -1.0), cone_deg=30.0)
    far = vs.scene(vs.plate(1, 1, (0, 0, 9000)))
    low, high = height_table(sensor, far, heights_mm=(height, height + step), rays=500)
    assert high.first_mm <= low.first_mm
    assert high.axis_mm <= low.axis_mm
    assert high.mean_mm <= low.mean_mm
    assert low.first_mm <= low.axis_mm
    assert low.first_mm <= low.mean_mm * (1 + 1e-9)


@given(
    pupil=st.floats(0.0, 20.0),
    depth=st.floats(0.01, 50.0),
    view=st.floats(1.0, 170.0),
    more=st.floats(0.0, 5.0),
)
def test_openings_grow_with_depth_and_angle_and_turn_back_into_the_angle(pupil, depth, view, more):
    hole = opening_mm(pupil, depth, view)
    assert view_through(hole, pupil, depth) == pytest.approx(view, abs=1e-6)
    assert opening_mm(pupil, depth + more, view) >= hole
    assert opening_mm(pupil, depth, min(170.0, view + more)) >= hole
    straight = size_opening(
        pupil_mm=pupil, gap_mm=depth / 3, wall_mm=2 * depth / 3, view_deg=view, hole_mm=hole
    )
    assert straight.passes
    assert straight.chamfer_mm == pytest.approx(0.0, abs=1e-6)
