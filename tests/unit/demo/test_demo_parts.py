"""The demo's meshes: the script still makes them, and they are what the build file says."""

import json
import os
import subprocess
import sys
import tomllib
from itertools import combinations

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold, Mesh64
from scipy.optimize import brentq
from scipy.spatial import cKDTree

from buildplan.demo import demo_folder

FOLDER = demo_folder()

# name: (volume cm3, size as printed mm, triangles); measured when the device was designed
TABLE = {
    "base_shell": (502.84, (300.0, 207.8, 125.4), 19_312),
    "roof_vent": (65.11, (213.5, 225.5, 22.2), 1_438),
    "push_rod": (3.389, (86.8, 14.0, 6.0), 744),
    "servo_arm": (4.306, (47.0, 48.4, 4.8), 1_188),
    "bottom_plate": (134.51, (300.0, 196.0, 12.0), 5_060),
    "camera_arm": (38.14, (53.3, 143.3, 42.0), 2_904),
    "sensor_cowl": (11.96, (59.0, 44.0, 24.0), 846),
    "hinge_pin": (0.6245, (44.4, 8.4, 5.9), 244),
    "camera_ring": (1.737, (28.0, 28.0, 5.6), 560),
}


def run_script(*arguments):
    environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(
        [sys.executable, str(FOLDER / "make_parts.py"), *arguments],
        check=True,
        capture_output=True,
        text=True,
        env=environment,
    ).stdout


def load(path):
    mesh = trimesh.load(path, force="mesh", process=False)
    mesh.merge_vertices()
    return mesh


def solid(mesh, pose):
    points = mesh.vertices @ pose[:3, :3].T + pose[:3, 3]
    return Manifold(Mesh64(vert_properties=points, tri_verts=mesh.faces.astype(np.uint64)))


@pytest.fixture(scope="module")
def build():
    return tomllib.loads((FOLDER / "build.toml").read_text("utf-8"))


@pytest.fixture(scope="module")
def meshes(build):
    return {part["name"]: load(FOLDER / part["file"]) for part in build["part"]}


@pytest.fixture(scope="module")
def poses(build):
    return {part["name"]: [np.array(pose) for pose in part["poses"]] for part in build["part"]}


@pytest.fixture(scope="module")
def placed(meshes, poses):
    """Every copy of every part as a solid in the shut device."""
    return {
        (name, i): solid(meshes[name], pose)
        for name, copies in poses.items()
        for i, pose in enumerate(copies)
    }


def test_the_script_makes_the_committed_meshes_and_twice_the_same_bytes(build, meshes, tmp_path):
    for name in ("once", "twice"):
        run_script(str(tmp_path / name))
    assert len(list((tmp_path / "once").iterdir())) == len(TABLE)
    for part in build["part"]:
        once, twice = (tmp_path / run / part["file"] for run in ("once", "twice"))
        assert once.read_bytes() == twice.read_bytes()
        new, kept = load(once), meshes[part["name"]]
        assert new.volume == pytest.approx(kept.volume, rel=1e-6)
        assert new.area == pytest.approx(kept.area, rel=1e-5)
        for a, b in ((new, kept), (kept, new)):
            distance, _ = cKDTree(a.vertices).query(b.vertices)
            assert distance.max() < 1e-3


def test_meshes_are_small_and_come_in_three_formats(build):
    files = [FOLDER / part["file"] for part in build["part"]]
    assert sum(file.stat().st_size for file in files) < 3_000_000
    endings = [file.suffix for file in files]
    assert (endings.count(".stl"), endings.count(".3mf"), endings.count(".obj")) == (7, 1, 1)


@pytest.mark.parametrize("name", TABLE)
def test_every_part_is_one_closed_solid_of_the_size_in_the_table(name, meshes):
    mesh, (volume_cm3, size_mm, triangles) = meshes[name], TABLE[name]
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.body_count == 1
    assert len(mesh.faces) == triangles
    assert mesh.volume / 1000 == pytest.approx(volume_cm3, rel=1e-3)
    assert np.ptp(mesh.bounds, axis=0) == pytest.approx(size_mm, abs=0.051)
    assert mesh.bounds[0] == pytest.approx((0, 0, 0), abs=1e-4)


def test_the_script_gives_the_poses_of_the_build_file(poses):
    names, given = [], {}
    for line in run_script("--poses").splitlines():
        if line.startswith(" "):
            given[names[-1]].append(np.array(json.loads(line)))
        else:
            names.append(line)
            given[line] = []
    assert names == list(poses)
    for name, copies in poses.items():
        assert np.allclose(given[name], copies, rtol=0, atol=1.1e-6)


def test_placed_parts_touch_but_do_not_overlap(placed):
    for (a, one), (b, other) in combinations(placed.items(), 2):
        assert (one ^ other).volume() < 0.2, f"{a} and {b} overlap"


def test_the_device_stands_261_mm_tall(placed):
    boxes = np.array([solid.bounding_box() for solid in placed.values()])
    assert boxes[:, 5].max() - boxes[:, 2].min() == pytest.approx(261, abs=1.5)


def test_bores_and_pins_lie_on_the_hinge_axis_of_the_build_file(build, meshes, poses):
    y, z = build["mechanism"]["hinge"]["point_mm"][1:]
    for name, radius in (("base_shell", 2.25), ("roof_vent", 2.25), ("hinge_pin", 2.0)):
        for pose in poses[name]:
            points = meshes[name].vertices @ pose[:3, :3].T + pose[:3, 3]
            distance = np.hypot(points[:, 1] - y, points[:, 2] - z)
            near = distance[np.abs(distance - radius) < 0.3]
            assert np.sum(np.abs(near - radius) < 2e-3) >= 40


def test_the_linkage_of_the_build_file_closes_over_the_travel_and_fits_the_bores(
    build, meshes, poses
):
    hinge, rod = build["mechanism"]["hinge"], build["mechanism"]["linkage"]["long_crank"]
    pivot, roof_pin = np.array(rod["servo_at_mm"]), np.array(rod["roof_pin_mm"])
    shut = np.radians(rod["horn_shut_deg"])
    tip = pivot + rod["horn_mm"] * np.array([np.cos(shut), np.sin(shut)])
    assert np.hypot(*(tip - roof_pin)) == pytest.approx(rod["rod_mm"], abs=1e-3)
    for angle in np.radians(np.linspace(hinge["from_deg"], hinge["to_deg"], 61)):
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        reach = np.hypot(*(turn @ roof_pin - pivot))
        assert abs(rod["horn_mm"] - rod["rod_mm"]) < reach < rod["horn_mm"] + rod["rod_mm"]
    point = np.array(hinge["point_mm"])
    forward, up = np.array(hinge["forward"]), np.array(hinge["up"])
    for name, place in (("push_rod", tip), ("push_rod", roof_pin), ("servo_arm", tip)):
        centre = point + place[0] * forward + place[1] * up
        pose = poses[name][0]
        points = meshes[name].vertices @ pose[:3, :3].T + pose[:3, 3]
        distance = np.hypot(points[:, 1] - centre[1], points[:, 2] - centre[2])
        assert np.sum(np.abs(distance - 1.7) < 2e-3) >= 80  # both rims of a 3.4 mm bore


def turned(point, angle):
    """4x4 turn about the line along -x through a point in (y, z): positive opens the roof."""
    cosine, sine = np.cos(-angle), np.sin(-angle)
    matrix = np.eye(4)
    matrix[1:3, 1:3] = [[cosine, -sine], [sine, cosine]]
    matrix[1:3, 3] = point - matrix[1:3, 1:3] @ point
    return matrix


def motions(build, roof_rad):
    """4x4 of every moving group at a roof angle, from the build file's numbers alone."""
    hinge, rod = build["mechanism"]["hinge"], build["mechanism"]["linkage"]["long_crank"]
    axis = np.array(hinge["point_mm"][1:])
    frame = np.array([hinge["forward"][1:], hinge["up"][1:]])
    pivot = np.array(rod["servo_at_mm"])

    def pins(roof, crank):
        cosine, sine = np.cos(roof), np.sin(roof)
        roof_pin = np.array([[cosine, -sine], [sine, cosine]]) @ rod["roof_pin_mm"]
        return pivot + rod["horn_mm"] * np.array([np.cos(crank), np.sin(crank)]), roof_pin

    def miss(crank):
        tip, roof_pin = pins(roof_rad, crank)
        return np.hypot(*(tip - roof_pin)) - rod["rod_mm"]

    shut = np.radians(rod["horn_shut_deg"])
    toward_pin = np.arctan2(*(pins(roof_rad, shut)[1] - pivot)[::-1]) - 2 * np.pi
    crank = brentq(miss, toward_pin, shut, xtol=1e-14) if roof_rad else shut
    (tip0, pin0), (tip, pin) = pins(0.0, shut), pins(roof_rad, crank)
    bearing0, bearing = (np.arctan2(*(b - a)[::-1]) for a, b in ((tip0, pin0), (tip, pin)))
    coupler = turned(axis + tip0 @ frame, bearing - bearing0)
    coupler[1:3, 3] += (tip - tip0) @ frame
    servo = turned(axis + pivot @ frame, crank - shut)
    return {"hinge": turned(axis, roof_rad), "coupler": coupler, "servo": servo, "": np.eye(4)}


@pytest.mark.parametrize("roof_deg", [0, 9, 20, 40, 60])
def test_moving_parts_stay_clear_of_all_others_over_the_travel(build, placed, roof_deg):
    motion = motions(build, np.radians(roof_deg))
    group = {part["name"]: part.get("moves_with", "") for part in build["part"]}
    now = {key: solid.transform(motion[group[key[0]]][:3]) for key, solid in placed.items()}
    for (a, one), (b, other) in combinations(now.items(), 2):
        if group[a[0]] != group[b[0]]:
            assert (one ^ other).volume() < 1e-6, f"{a} and {b} overlap at {roof_deg} deg"


def test_the_least_gap_at_the_hinge_is_a_quarter_millimetre(placed):
    gap = placed["roof_vent", 0].min_gap(placed["hinge_pin", 0], 2.0)
    assert 0.24 < gap < 0.25  # the bores have 0.25 mm of radial play, their facets take a little
    assert placed["push_rod", 0].min_gap(placed["servo_arm", 0], 2.0) == pytest.approx(
        0.3, abs=2e-3
    )


def test_a_cut_at_118_gives_two_whole_pieces_that_fit_the_small_printer(placed):
    shell = placed["base_shell", 0]
    assert shell.bounding_box()[3] > 250  # too long for any side of 220 x 220 x 250
    right, left = shell.split_by_plane((1.0, 0.0, 0.0), 118.0)
    for piece in (left, right):
        x0, y0, z0, x1, y1, z1 = piece.bounding_box()
        assert len(piece.decompose()) == 1
        assert x1 - x0 < 214
        assert y1 - y0 < 214
        assert z1 - z0 < 250


def test_revision_a_keeps_its_known_boss_faults(meshes):
    """Computer boss at y 16, z 33 on the partition: 8.4 mm across, blind bore 6.0 mm deep."""
    points = meshes["base_shell"].vertices
    distance = np.hypot(points[:, 1] - 16.0, points[:, 2] - 33.0)
    near_wall = (points[:, 0] > 215.5) & (points[:, 0] < 223.5)
    bore = points[near_wall & (np.abs(distance - 2.0) < 2e-3), 0]
    rim = points[near_wall & (np.abs(distance - 4.2) < 2e-3), 0]
    assert np.ptp(bore) == pytest.approx(6.0, abs=1e-3)
    assert rim.max() == pytest.approx(223.0, abs=1e-3)
    assert not np.any(near_wall & (distance > 4.3) & (distance < 5.0) & (points[:, 0] > 222))
