"""Rays against every facet, bodies that move, points inside bodies."""

import numpy as np
import pytest
import view_scenes as vs
from bare_parts import bare_part
from manifold3d import Manifold

from buildplan.device.view.aims import cap_directions
from buildplan.device.view.scene import (
    NOTHING,
    Body,
    body_around,
    build_scene,
    first_bodies,
    hinge_pose,
)
from buildplan.errors import InputError
from buildplan.part.turn import turn_part


def crowd(seed, count=7):
    """Random boxes, balls and a bored block, turned every way."""
    rng = np.random.default_rng(seed)
    bored = Manifold.cube((60.0, 50.0, 40.0), True) - Manifold.cylinder(90.0, 9.0, 9.0, 24, True)
    kinds = [Manifold.cube((30.0, 20.0, 4.0), True), Manifold.sphere(14.0, 24), bored]
    return [
        vs.body(
            kinds[i % 3].rotate(rng.uniform(0, 360, 3)).translate(rng.uniform(-90, 90, 3)),
            f"body {i}",
        )
        for i in range(count)
    ]


@pytest.mark.parametrize("seed", range(6))
def test_first_bodies_are_those_of_trying_every_facet(seed):
    bodies = crowd(seed)
    rng = np.random.default_rng(100 + seed)
    point = rng.uniform(-150, 150, 3)
    rays = rng.uniform(-80, 80, (400, 3)) - point
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    got, which = first_bodies(build_scene(bodies), point, rays)
    expected, whose = vs.brute_first(bodies, point, rays)
    assert (which == whose).all()
    hit = whose >= 0
    assert 30 < hit.sum() < 400
    assert np.allclose(got[hit], expected[hit], rtol=1e-12, atol=1e-9)
    assert np.isinf(got[~hit]).all()


def test_nothing_beyond_the_farthest_counts():
    scene = vs.scene(vs.plate(20, 20, (0, 0, 50)))
    ray = np.array([vs.DOWN])
    assert first_bodies(scene, (0, 0, 100), ray, farthest_mm=49.9)[1][0] == NOTHING
    assert first_bodies(scene, (0, 0, 100), ray, farthest_mm=50.1)[1][0] == 0


def test_a_moved_body_is_met_as_if_its_mesh_had_been_turned():
    lid = vs.body(Manifold.cube((80.0, 60.0, 4.0)), "lid", moves_with="hinge")
    base = vs.body(Manifold.cube((80.0, 60.0, 4.0)).translate((0, 0, -30)), "base")
    rays = cap_directions((0, 0, -1), 1.2, 3000)
    for angle in (10.0, 45.0, 130.0):
        pose = hinge_pose((0, 60, 0), (-1, 0, 0), angle)
        moved = Body(name="lid", part=turn_part(lid.part, pose.ravel()))
        got = first_bodies(build_scene([lid, base]), (30, 20, 90), rays, poses={"hinge": pose})
        expected = first_bodies(build_scene([moved, base]), (30, 20, 90), rays)
        assert (got[1] == expected[1]).all()
        hit = got[1] >= 0
        assert np.allclose(got[0][hit], expected[0][hit], rtol=1e-12)


def test_a_hinge_pose_keeps_its_line_and_turns_by_the_right_hand():
    pose = hinge_pose((5, 7, 9), (0, 0, 2), 90.0)
    for z in (-3.0, 9.0, 40.0):
        assert np.allclose(pose @ (5, 7, z, 1), (5, 7, z, 1))
    assert np.allclose(pose @ (6, 7, 9, 1), (5, 8, 9, 1))
    assert np.allclose(pose[:3, :3] @ pose[:3, :3].T, np.eye(3), atol=1e-15)


def test_a_point_in_a_wall_is_inside_and_one_in_a_cavity_is_not():
    hollow = Manifold.cube((40.0, 40.0, 40.0), True) - Manifold.cube((30.0, 30.0, 30.0), True)
    scene = vs.scene(vs.body(hollow, "shell"), vs.body(Manifold.sphere(5, 32), "ball"))
    assert body_around(scene, (17.0, 0, 0)) == 0
    assert body_around(scene, (10.0, 3, 0)) == NOTHING
    assert body_around(scene, (1.0, 1.0, 1.0)) == 1
    assert body_around(scene, (25.0, 0, 0)) == NOTHING


def test_what_a_sensor_sits_on_does_not_hide_its_view_but_the_wall_behind_does():
    wall = vs.plate(200, 200, (0, 0, 102), "wall", thick=4.0)  # its lower face is at 100
    down, up = np.array([[0.0, 0.1, -1.0]]), np.array([[0.0, 0.1, 1.0]])
    for ray, hit in ((down, NOTHING), (up, 0)):
        ray = ray / np.linalg.norm(ray)
        assert first_bodies(vs.scene(wall), (3.0, 5.0, 100.0), ray)[1][0] == hit
    for z, around in ((99.9, NOTHING), (100.0, NOTHING), (100.0005, NOTHING), (100.002, 0)):
        assert body_around(vs.scene(wall), (3.0, 5.0, z)) == around


def test_every_call_uses_the_one_specialisation_of_the_kernel():
    from buildplan.kernels.first_hit import first_hits

    scene = vs.scene(vs.plate(20, 20, (0, 0, 50)))
    one = np.array([vs.DOWN])
    one.setflags(write=False)
    for rays in (one, np.asfortranarray(cap_directions(vs.DOWN, 1.0, 7))):
        first_bodies(scene, (1, 2, 100), rays)
    assert len(first_hits.signatures) == 1


def test_a_hinge_axis_of_zero_is_refused_with_its_length():
    with pytest.raises(InputError, match=r"hinge axis .* length 0, at least 1e-9"):
        hinge_pose((0, 0, 0), (0, 0, 0), 10.0)


def test_a_body_without_facets_is_refused_by_name():
    empty = bare_part(np.zeros((3, 3)), np.array([[0, 1, 2]]), name="empty")
    object.__setattr__(empty, "facets", np.empty((0, 3), dtype=np.int64))
    with pytest.raises(InputError, match=r"part empty: .* found 0 facets"):
        build_scene([Body(name="empty", part=empty)])
