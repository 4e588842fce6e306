"""Sights and best aim against trimesh's rays and against trying every facet.

The scene is the demo's: 32 000 facets in 11 bodies, 3540 sights from its camera.
"""

import tomllib

import numpy as np
import pytest
import view_scenes as vs
from benchmarks.ratio import ratio, record

from buildplan.demo import demo_folder
from buildplan.device.view.best import best_aim
from buildplan.device.view.scene import NOTHING, Body, build_scene
from buildplan.device.view.shape import read_views
from buildplan.device.view.sights import sight_lines, view_target
from buildplan.device.view.target import cut_target
from buildplan.part.read import read_part
from buildplan.part.turn import turn_part

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def demo():
    """Bodies at rest, the camera and its target."""
    data = tomllib.loads((demo_folder() / "build.toml").read_text("utf-8"))
    bodies = [
        Body(
            name=row["name"],
            part=turn_part(
                read_part(demo_folder() / row["file"], unit=row.get("unit"), name=row["name"]),
                np.ravel(pose),
            ),
            moves_with=row.get("moves_with", ""),
        )
        for row in data["part"]
        for pose in row["poses"]
    ]
    camera = read_views(data["view"])[0].camera
    return bodies, camera, cut_target(camera.target_mm)


def rays_of(camera, target):
    rays = target.points_mm - np.array(camera.point_mm)
    return rays / np.linalg.norm(rays, axis=1, keepdims=True)


def test_sights_are_faster_than_trimesh_with_the_same_answer(demo):
    import trimesh
    from trimesh.ray.ray_triangle import RayMeshIntersector

    bodies, camera, target = demo
    scene = build_scene(bodies)
    whole = trimesh.util.concatenate(
        [trimesh.Trimesh(body.part.vertices_mm, body.part.facets, process=False) for body in bodies]
    )
    tree, rays = RayMeshIntersector(whole), rays_of(camera, target)[::10]
    starts = np.broadcast_to(camera.point_mm, rays.shape).copy()
    points = target.points_mm[::10]

    def reference():
        where, which, _ = tree.intersects_location(starts, rays, multiple_hits=True)
        hidden = np.zeros(len(rays), dtype=bool)
        reach = np.linalg.norm(points - starts, axis=1)[which]
        hidden[which[np.linalg.norm(where - starts[which], axis=1) < reach * (1 - 1e-6)]] = True
        return hidden

    got = sight_lines(scene, camera.point_mm, target)[::10] != NOTHING
    assert (got != reference()).sum() == 0
    per_sight = ratio(
        lambda: sight_lines(scene, camera.point_mm, target), reference, rounds=3, ours_per_round=3
    )
    measured = per_sight * len(target.points_mm) / len(points)
    record("3540 sights in the demo", "trimesh's own rays, per sight", measured, 20.0)


def test_sights_are_faster_than_trying_every_facet(demo):
    bodies, camera, target = demo
    scene, rays = build_scene(bodies), rays_of(camera, target)[::60]
    point = np.array(camera.point_mm)
    measured = ratio(
        lambda: sight_lines(scene, camera.point_mm, target),
        lambda: vs.brute_first(bodies, point, rays),
        rounds=3,
    )
    record(
        "3540 sights in the demo",
        "every facet in numpy, per sight",
        measured * len(target.points_mm) / len(rays),
        100.0,
    )


def test_the_best_aim_costs_less_than_casting_for_every_aim(demo):
    bodies, camera, target = demo
    scene = build_scene(bodies)
    tried = best_aim(camera, scene, target).tried
    measured = ratio(
        lambda: best_aim(camera, scene, target),
        lambda: view_target(camera, scene, target),
        rounds=5,
    )
    record("best aim", f"{tried} views, each cast anew", measured * tried, 50.0)
