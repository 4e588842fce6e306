"""Directions weighed over all facets: closed forms, and every direction against plain numpy."""

import math

import hanging_solids as hs
import numpy as np
import pytest
import solids

from buildplan.checks.orientation.candidates import (
    MOST_FACES,
    candidate_axes,
    flat_faces,
    spread_axes,
)
from buildplan.checks.orientation.weigh import weigh_directions
from buildplan.kernels.orientations import FLAT_COS, facet_table, list_hanging
from buildplan.part import part_from_mesh

SIN_45 = math.sin(math.radians(45.0))
ONLY_Z = np.array([[0.0, 0.0, 1.0]])


def table_of(part):
    return facet_table(part.vertices_mm, part.facets)


def weigh(part, axes=ONLY_Z, limit=SIN_45, contact_height_mm=1e-4, workers=1):
    return weigh_directions(
        part,
        table_of(part),
        np.ascontiguousarray(axes),
        limit=limit,
        contact_height_mm=contact_height_mm,
        workers=workers,
    )


def by_numpy(part, up, limit, contact_height_mm):
    """Height, overhang, column, contact and plan area of one direction, the plain way."""
    corners = part.vertices_mm[part.facets]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice = np.linalg.norm(normal, axis=1)
    q = normal @ up / twice
    area = 0.5 * twice
    z = part.vertices_mm @ up
    height = corners.mean(axis=1) @ up - z.min()
    lies = (q < -FLAT_COS) & (height < contact_height_mm)
    hangs = (q < -limit) & ~lies
    return (
        np.ptp(z),
        area[hangs].sum(),
        (area * -q * height)[hangs].sum(),
        area[lies].sum(),
        (area * np.abs(q)).sum(),
    )


def random_part(seed):
    """Three hulls of random points, joined: flat and leaning facets, hollows between them."""
    from manifold3d import Manifold

    dice = np.random.default_rng(seed)
    body = Manifold()
    for _ in range(3):
        points = dice.normal(size=(40, 3)) * dice.uniform(5, 30, 3) + dice.uniform(-20, 20, 3)
        body += Manifold.hull_points(points)
    vertices, facets = solids.arrays(body)
    return part_from_mesh(vertices, facets, name=f"random {seed}", health="quick")


def test_a_tee_hangs_by_864_mm2_over_17280_mm3_and_stands_on_36_mm2():
    weighed = weigh(hs.as_part(solids.tee()))
    assert weighed.overhang_mm2[0] == pytest.approx(30.0**2 - 6.0**2, rel=1e-12)
    assert weighed.column_mm3[0] == pytest.approx(864.0 * 20.0, rel=1e-12)
    assert weighed.contact_mm2[0] == pytest.approx(36.0, rel=1e-12)
    assert weighed.height_mm[0] == pytest.approx(24.0, rel=1e-12)
    upside_down = {name: getattr(weighed, name)[1] for name in ("overhang_mm2", "column_mm3")}
    assert upside_down == {"overhang_mm2": 0.0, "column_mm3": 0.0}
    assert weighed.contact_mm2[1] == pytest.approx(900.0, rel=1e-12)


def test_a_ball_hangs_by_its_cap_and_columns_fill_the_space_under_it():
    radius = 20.0
    across = radius * SIN_45
    cap = 2.0 * math.pi * radius**2 * (1.0 - math.cos(math.radians(45.0)))
    under = math.pi * radius * across**2 - 2.0 * math.pi / 3.0 * (
        radius**3 - (radius**2 - across**2) ** 1.5
    )
    assert (cap, under) == pytest.approx((736.1, 1735.0), rel=5e-4)
    weighed = weigh(hs.as_part(solids.sphere(radius, 512)), axes=spread_axes(100))
    assert np.abs(weighed.overhang_mm2 / cap - 1.0).max() < 5e-3
    assert np.abs(weighed.column_mm3 / under - 1.0).max() < 5e-3


def test_a_wall_that_leans_as_far_as_allowed_holds_and_one_that_leans_further_does_not():
    limit = math.sin(math.radians(45.1))
    assert weigh(hs.as_part(hs.wedge(45.0)), limit=limit).overhang_mm2[0] == 0.0
    leaning = weigh(hs.as_part(hs.wedge(46.0)), limit=limit).overhang_mm2[0]
    assert leaning == pytest.approx(30.0 * 10.0 / math.cos(math.radians(46.0)), rel=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_every_direction_agrees_with_plain_numpy(seed):
    part = random_part(seed)
    faces = flat_faces(table_of(part), max(part.size_mm))
    weighed = weigh(part, candidate_axes(faces, 150), contact_height_mm=0.1)
    assert len(weighed.up) == 2 * (3 + len(faces.normals) + 75)
    assert (weighed.contact_mm2 > 0.0).any()
    for row, up in enumerate(weighed.up):
        height, overhang, column, contact, plan = by_numpy(part, up, SIN_45, 0.1)
        assert weighed.height_mm[row] == pytest.approx(height, rel=1e-12)
        assert weighed.overhang_mm2[row] == pytest.approx(overhang, rel=1e-10, abs=1e-9)
        assert weighed.column_mm3[row] == pytest.approx(column, rel=1e-10, abs=1e-8)
        assert weighed.contact_mm2[row] == pytest.approx(contact, rel=1e-10, abs=1e-9)
        assert weighed.plan_mm2[row] == pytest.approx(plan, rel=1e-10)


def test_the_facets_listed_as_hanging_are_those_that_were_weighed():
    part = random_part(7)
    table = table_of(part)
    weighed = weigh(part, candidate_axes(flat_faces(table, 50.0), 60), contact_height_mm=0.1)
    for row, up in enumerate(weighed.up):
        facets, downward = list_hanging(table, up, float(weighed.lowest_mm[row]), SIN_45, 0.1)
        assert table[3, facets].sum() == pytest.approx(weighed.overhang_mm2[row], abs=1e-9)
        np.testing.assert_allclose(downward, -(up @ table[:3, facets]), rtol=1e-12)
        assert (np.diff(facets) > 0).all()


def test_a_limit_beyond_the_flatness_of_a_contact_gives_no_negative_overhang():
    weighed = weigh(hs.as_part(solids.box()), limit=math.sin(math.radians(89.9)))
    assert weighed.overhang_mm2[0] == 0.0
    assert weighed.contact_mm2[0] == pytest.approx(400.0)


def test_threads_do_not_change_a_bit():
    part = random_part(9)
    one, three = (weigh(part, spread_axes(900), workers=workers) for workers in (1, 3))
    for name in ("lowest_mm", "height_mm", "overhang_mm2", "column_mm3", "contact_mm2"):
        np.testing.assert_array_equal(getattr(one, name), getattr(three, name))


def test_the_lowest_point_may_be_a_vertex_that_no_facet_faces():
    part = hs.as_part(hs.cone(60.0))
    axes = spread_axes(64)
    weighed = weigh(part, axes)
    np.testing.assert_allclose(
        weighed.lowest_mm, (part.vertices_mm @ weighed.up.T).min(axis=0), rtol=1e-12
    )


def test_spread_axes_cover_the_sphere_evenly():
    axes = spread_axes(2000)
    np.testing.assert_allclose(np.linalg.norm(axes, axis=1), 1.0, rtol=1e-12)
    directions = np.vstack([axes, -axes])
    dice = np.random.default_rng(1)
    probes = dice.normal(size=(500, 3))
    probes /= np.linalg.norm(probes, axis=1, keepdims=True)
    farthest = np.degrees(np.arccos((probes @ directions.T).max(axis=1))).max()
    assert farthest < 3.3  # a cell of 4 pi / 2000 is 4.5 degrees across


def test_flat_faces_join_the_feet_of_a_table_and_come_largest_first():
    faces = flat_faces(table_of(hs.as_part(hs.table())), 40.0)
    np.testing.assert_allclose(faces.normals[0], [0, 0, 1], atol=1e-12)
    assert faces.areas_mm2[0] == pytest.approx(1600.0)
    feet = (faces.normals[:, 2] < -0.99) & (np.abs(faces.areas_mm2 - 64.0) < 1e-6)
    assert feet.sum() == 1
    assert (np.diff(faces.areas_mm2) <= 0.0).all()
    assert len(flat_faces(table_of(hs.as_part(hs.ball())), 40.0).normals) == MOST_FACES


def test_turning_the_part_turns_its_faces_with_it():
    turned = hs.as_part(hs.table().rotate((31.0, -47.0, 12.0)))
    faces = flat_faces(table_of(turned), 40.0)
    weighed = weigh(turned, candidate_axes(faces, 2), contact_height_mm=0.1)
    assert weighed.contact_mm2.max() == pytest.approx(1600.0, rel=1e-9)


def quartered(vertices, facets):
    """The same surface with four facets for each."""
    a, b, c = (vertices[facets[:, i]] for i in range(3))
    ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
    triangles = np.stack([[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]])
    corners = triangles.transpose(0, 2, 1, 3).reshape(-1, 3)
    whole, place = np.unique(corners.round(9), axis=0, return_inverse=True)
    return whole, place.reshape(-1, 3)


@pytest.mark.parametrize("change", ["turned", "moved far", "quartered"])
def test_turning_moving_or_splitting_facets_changes_nothing_that_is_flagged(change):
    solid = solids.tub(segments=96)
    vertices, facets = solids.arrays(solid)
    axes = spread_axes(200)
    before = weigh(part_from_mesh(vertices, facets, name="tub", health="quick"), axes)
    if change == "turned":
        turn = np.linalg.qr(np.random.default_rng(5).normal(size=(3, 3)))[0]
        turn *= np.linalg.det(turn)
        vertices, axes = vertices @ turn.T, axes @ turn.T
    elif change == "moved far":
        vertices = vertices + np.array([1e5, -1e5, 1e5])
    else:
        vertices, facets = quartered(vertices, facets)
    after = weigh(part_from_mesh(vertices, facets, name="tub", health="quick"), axes)
    for name in ("height_mm", "overhang_mm2", "column_mm3", "plan_mm2"):
        np.testing.assert_allclose(getattr(after, name), getattr(before, name), rtol=1e-3)
