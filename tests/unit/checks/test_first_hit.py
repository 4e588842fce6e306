"""The first facet that a ray meets, against every facet in turn."""

import numpy as np
import pytest
import solids

from buildplan.kernels.facet_tree import build_facet_tree
from buildplan.kernels.first_hit import first_hits

FAR = 1e6


def shoot(vertices, facets, starts, directions, nearest=1e-6, farthest=FAR):
    _, corners, boxes, leaves = build_facet_tree(vertices[facets])
    starts = np.ascontiguousarray(starts, dtype=np.float64)
    directions = np.ascontiguousarray(directions, dtype=np.float64)
    return first_hits(corners, boxes, leaves, starts, directions, nearest, farthest)


def by_numpy(vertices, facets, start, direction, nearest):
    """Moller and Trumbore over all facets."""
    a, b, c = (vertices[facets[:, i]] for i in range(3))
    u, v = b - a, c - a
    p = np.cross(direction, v)
    det = (u * p).sum(axis=1)
    det[det == 0.0] = np.nan
    s = ((start - a) * p).sum(axis=1) / det
    q = np.cross(start - a, u)
    t = q @ direction / det
    distance = (v * q).sum(axis=1) / det
    hits = distance[(s >= 0) & (t >= 0) & (s + t <= 1) & (distance >= nearest)]
    return hits.min() if len(hits) else np.inf


def test_rays_agree_with_every_facet_tried_in_turn():
    vertices, facets = solids.arrays(solids.tub(segments=48))
    dice = np.random.default_rng(3)
    starts = dice.uniform(vertices.min(axis=0) - 20, vertices.max(axis=0) + 20, (400, 3))
    directions = dice.normal(size=(400, 3))
    directions[::4] = [0.0, 0.0, -1.0]
    directions[1::4] = [0.0, 1.0, 0.0]
    directions /= np.linalg.norm(directions, axis=1, keepdims=True)
    found = shoot(vertices, facets, starts, directions)
    wanted = [
        by_numpy(vertices, facets, start, direction, 1e-6)
        for start, direction in zip(starts, directions, strict=True)
    ]
    assert 50 < np.isinf(found).sum() < 350
    np.testing.assert_allclose(found, wanted, rtol=1e-9)


@pytest.mark.parametrize("size", [1e-3, 1.0, 1e4])
def test_a_ray_through_a_box_meets_its_near_side_then_its_far_side(size):
    vertices, facets = solids.arrays(solids.box(size, size, size))
    middle = np.array([[0.4 * size, 0.3 * size, -size]])
    up = [[0.0, 0.0, 1.0]]
    assert shoot(vertices, facets, middle, up)[0] == pytest.approx(size)
    assert shoot(vertices, facets, middle, up, nearest=1.5 * size)[0] == pytest.approx(2 * size)
    assert np.isinf(shoot(vertices, facets, middle, up, farthest=0.9 * size)[0])
    assert np.isinf(shoot(vertices, facets, middle, [[0.0, 0.0, -1.0]])[0])


def test_a_single_facet_is_enough_for_a_tree():
    vertices = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    facets = np.array([[0, 1, 2]])
    assert shoot(vertices, facets, [[0.2, 0.2, 3.0]], [[0.0, 0, -1]])[0] == pytest.approx(3.0)
    assert np.isinf(shoot(vertices, facets, [[0.8, 0.8, 3.0]], [[0.0, 0, -1]])[0])
