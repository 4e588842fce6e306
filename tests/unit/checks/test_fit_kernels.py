"""The kernels under the fit: least circles, outermost points, the grid of rotations."""

import numpy as np
import pytest
import shapely

from buildplan.kernels.rotations import (
    excess_turned,
    least_circle,
    outermost_points,
    search_rotations,
)


@pytest.mark.parametrize("n", [2, 3, 4, 7, 30, 500])
def test_least_circles_agree_with_shapely(n):
    rng = np.random.default_rng(n)
    for spread in ((1.0, 1.0), (1.0, 0.01), (1.0, 0.0)):
        for _ in range(20):
            xy = rng.normal(size=(n, 2)) * spread + 50.0
            x, y, radius = least_circle(xy)
            true = shapely.minimum_bounding_radius(shapely.MultiPoint(xy))
            assert radius == pytest.approx(true, rel=1e-7)
            assert np.hypot(xy[:, 0] - x, xy[:, 1] - y).max() <= radius * (1 + 1e-12)


def test_the_least_circle_of_a_regular_ring_is_the_ring():
    turn = 2.0 * np.pi * np.arange(720) / 720
    x, y, radius = least_circle(np.column_stack([3 + 40 * np.cos(turn), 40 * np.sin(turn)]))
    assert (x, y, radius) == (pytest.approx(3.0), pytest.approx(0.0, abs=1e-9), pytest.approx(40.0))


def test_outermost_points_are_those_of_a_plain_product():
    rng = np.random.default_rng(1)
    points, directions = rng.normal(size=(300, 3)), rng.normal(size=(50, 3))
    got = outermost_points(points, directions)
    np.testing.assert_array_equal(got, (points @ directions.T).argmax(axis=0))


@pytest.mark.parametrize("depth", [3.0, -1.0])
def test_the_grid_search_agrees_with_every_rotation_tried_one_by_one(depth):
    rng = np.random.default_rng(4)
    points = rng.normal(size=(60, 3)) * (2.0, 1.0, 0.4)
    up = rng.normal(size=(40, 3))
    up /= np.linalg.norm(up, axis=1)[:, None]
    angles = np.pi / 30 * np.arange(30)
    room = np.array([4.0, depth, 2.0])
    keep = 5
    excess, angle, across, along = search_rotations(
        points, up, np.cos(angles), np.sin(angles), room, keep
    )
    plain = np.empty(len(up))
    angle_agrees = np.zeros(len(up), bool)
    for k in range(len(up)):
        turns = []
        for a in angles:
            x = np.cos(a) * across[k] + np.sin(a) * along[k]
            turns.append(np.stack([x, np.cross(up[k], x), up[k]]))
        every = [excess_turned(points, turn, room) for turn in turns]
        plain[k] = min(every)
        angle_agrees[k] = every[angle[k]] <= plain[k] + 1e-9
    best = np.argsort(plain)[:keep]
    np.testing.assert_allclose(excess[best], plain[best], rtol=1e-9)
    assert depth < 0 or angle_agrees[best].all()
    assert (excess[np.argsort(plain)[keep:]] >= plain[best[-1]] - 1e-9).all()


def test_excess_is_the_worst_axis():
    cube = np.array([[x, y, z] for x in (0, 10) for y in (0, 20) for z in (0, 30)], dtype=float)
    assert excess_turned(cube, np.eye(3), np.array([11.0, 22.0, 33.0])) == -1.0
    assert excess_turned(cube, np.eye(3), np.array([8.0, 22.0, 33.0])) == 2.0
    got = excess_turned(cube, np.eye(3), np.array([20.0, -1.0, 33.0]))
    assert got == pytest.approx(np.hypot(10, 20) - 20.0)
