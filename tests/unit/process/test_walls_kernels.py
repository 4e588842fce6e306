"""Kernels of the wall stage against results by hand."""

import numpy as np
import pytest
from rings import layers_from_polygons
from shapely import box
from wall_samples import WALL_SHAPES

from buildplan.kernels import certify, thickness, thin_beads
from buildplan.process.roles import Role


def rings(shape):
    layers = layers_from_polygons([shape], 0.2)
    return layers.xy_mm, layers.ring_off


def radii(shape, step=1.0, most=3.0):
    points, ring_off, _ = thickness.refine_rings(*rings(shape), step)
    unit, length, reach = thickness.piece_directions(points, ring_off)
    return (
        *thickness.local_radii(points, ring_off, unit, length, reach, most, 2.0),
        points,
        ring_off,
    )


def test_the_codes_of_roles_agree():
    assert (thin_beads.OUTLINE, thin_beads.WALL, thin_beads.CENTRE) == (
        Role.OUTLINE,
        Role.WALL,
        Role.CENTRE,
    )


def test_the_local_thickness_of_a_ring_is_its_wall():
    radius, partner, _, _, _ = radii(WALL_SHAPES["annulus"](2.0))
    assert (partner >= 0).all()
    np.testing.assert_allclose(2.0 * radius, 2.0, rtol=2e-3)


def test_a_square_corner_is_not_thin():
    _, partner, _, _, _ = radii(box(0, 0, 40, 40))
    assert (partner == thickness.NONE).all()


def test_refined_rings_keep_their_shape_in_equal_pieces():
    xy, ring_off = rings(box(0, 0, 10, 4))
    fine, fine_off, inserted = thickness.refine_rings(xy, ring_off, 2.0)
    assert fine_off.tolist() == [0, 14]
    assert inserted.sum() == 10
    step = np.hypot(*(np.roll(fine, -1, 0) - fine).T)
    np.testing.assert_allclose(step, 2.0)
    assert certify.ring_area(fine, 0, 14) == pytest.approx(40.0)


def test_a_bow_tie_crosses_and_a_square_does_not():
    off = np.array([0, 4])
    square = np.array([[0.0, 0], [9, 0], [9, 9], [0, 9]])
    assert not certify.edges_cross(square, off, 2.0)
    assert certify.edges_cross(square[[0, 2, 1, 3]], off, 2.0)


def test_a_hole_outside_its_island_stands_on_the_wrong_side():
    outer = np.array([[0.0, 0], [9, 0], [9, 9], [0, 9]])
    hole = np.array([[2.0, 2], [2, 4], [4, 4], [4, 2]])
    off = np.array([0, 4, 8])
    assert certify.sides_are_right(np.concatenate([outer, hole]), off)
    assert not certify.sides_are_right(np.concatenate([outer, hole + 20.0]), off)
    assert not certify.sides_are_right(np.concatenate([outer, hole[::-1]]), off)


def test_the_scanned_area_counts_a_double_loop_by_the_even_odd_rule():
    square = np.array([[0.0, 0], [9, 0], [9, 9], [0, 9]])
    off = np.array([0, 4])
    assert certify.even_odd_area(square, off, 0.01, 0.61) == pytest.approx(81.0, rel=1e-4)
    twice = np.concatenate([square, square])
    assert certify.even_odd_area(twice, np.array([0, 8]), 0.01, 0.61) == pytest.approx(
        0.0, abs=1e-6
    )
