"""Wall beads: known lengths by hand, closure by an independent measure, slits, refusals."""

import numpy as np
import pytest
from rings import layers_from_polygons
from shapely import Point, Polygon, box
from wall_samples import (
    BEAD_MM,
    WALL_SHAPES,
    WALLS_MM,
    bead_area,
    bead_lengths,
    border_area,
    closure,
    odd_widths,
    path_arrays,
    wall_recipe,
)

from buildplan.errors import InputError
from buildplan.process.roles import Role
from buildplan.process.walls import plan_walls, wall_advice


def lay(*shapes, **changes):
    layers = layers_from_polygons(shapes, 0.2)
    return plan_walls(layers, wall_recipe(**changes)), layers


def test_a_square_gets_two_rings_at_half_a_bead_and_one_and_a_half():
    walls, _ = lay(box(0, 0, 40, 30))
    assert walls.path_role.tolist() == [Role.OUTLINE, Role.WALL]
    assert walls.path_closed.tolist() == [1, 1]
    by_hand = 2 * (70 - 4 * 0.225) + 2 * (70 - 4 * 0.675)
    assert bead_lengths(walls)[0] == pytest.approx(by_hand, rel=1e-12)
    assert walls.border_area_mm2[0] == pytest.approx((40 - 1.8) * (30 - 1.8), rel=1e-12)
    assert walls.wall_area_mm2[0] == pytest.approx(BEAD_MM * by_hand, rel=1e-12)
    assert walls.thin_mm[0] == np.inf


def test_a_hole_gets_its_own_rings_outside_of_it():
    walls, _ = lay(box(0, 0, 40, 30) - box(10, 10, 20, 20))
    by_hand = 2 * (70 - 0.9) + 2 * (70 - 2.7) + 4 * (10 + 0.45) + 4 * (10 + 1.35)
    assert bead_lengths(walls)[0] == pytest.approx(by_hand, rel=1e-12)


@pytest.mark.parametrize(
    ("wall_mm", "beads"), [(0.45, 1), (0.9, 2), (1.35, 3), (1.0, 2), (1.3, 3), (1.8, 4), (2.25, 5)]
)
def test_a_thin_bar_is_filled_by_whole_beads_of_equal_width(wall_mm, beads):
    walls, _ = lay(box(0, 0, 40, wall_mm))
    assert walls.thin_mm[0] == pytest.approx(wall_mm)
    np.testing.assert_allclose(walls.width_mm, wall_mm / beads, rtol=2e-3)
    y = np.concatenate([path_arrays(walls, path)[1] for path in range(len(walls.path_role))])
    lines = np.unique(np.round(y / wall_mm * beads - 0.5, 2))
    assert set(range(beads)) <= set(np.round(lines).astype(int).tolist())
    assert (Role.CENTRE in walls.path_role) == (beads % 2 == 1)
    assert border_area(walls, 0) < 0.02


def test_a_single_bead_runs_the_whole_length_of_a_bar():
    walls, _ = lay(box(0, 0, 40, 0.5))
    assert walls.path_role.tolist() == [Role.CENTRE]
    assert bead_lengths(walls)[0] == pytest.approx(40.0, abs=1e-6)
    np.testing.assert_allclose(walls.y_mm, 0.25, atol=1e-9)


@pytest.mark.parametrize("slit_fill", ["sparse", "dense"])
@pytest.mark.parametrize("shape", WALL_SHAPES)
def test_walls_from_0_3_to_6_mm_close_within_half_a_percent(shape, slit_fill):
    polygons = [WALL_SHAPES[shape](wall_mm) for wall_mm in WALLS_MM]
    walls, _ = lay(*polygons, slit_fill=slit_fill)
    areas = np.array([polygon.area for polygon in polygons])
    assert np.abs(closure(walls, areas)).max() < 0.005
    assert odd_widths(walls).tolist() == []
    assert not walls.fallback.any()


def test_the_areas_in_the_result_are_those_of_its_paths_and_border():
    walls, _ = lay(*(WALL_SHAPES["wedge"](wall_mm) for wall_mm in (0.5, 1.1, 2.0, 3.0)))
    for island in range(4):
        assert walls.wall_area_mm2[island] == pytest.approx(bead_area(walls, island), rel=1e-9)
        assert walls.border_area_mm2[island] == pytest.approx(border_area(walls, island), abs=0.05)


def test_dense_fills_a_slit_that_sparse_leaves():
    ring = WALL_SHAPES["annulus"](3.0)
    sparse, _ = lay(ring)
    dense, _ = lay(ring, slit_fill="dense")
    assert sparse.slit_mm2[0] == pytest.approx(ring.area * 1.2 / 3.0, rel=0.01)
    assert dense.slit_mm2[0] == 0.0
    assert dense.border_area_mm2[0] < 0.01 * ring.area
    assert dense.wall_area_mm2[0] == pytest.approx(ring.area, rel=0.005)


def test_the_inside_of_a_solid_part_is_no_slit():
    walls, _ = lay(box(0, 0, 40, 30))
    assert walls.slit_mm2[0] == 0.0


def test_advice_names_the_whole_number_of_beads_below_a_3_mm_wall():
    ring = WALL_SHAPES["annulus"](3.0)
    walls, layers = lay(ring, ring, ring)
    (advice,) = wall_advice(walls, layers, wall_recipe())
    assert advice.wall_mm == pytest.approx(3.0, abs=0.03)
    assert advice.whole_beads == 6
    assert advice.better_mm == pytest.approx(2.7)
    assert advice.beads_needed == 3
    assert advice.slit_mm == pytest.approx(1.2, abs=0.03)
    assert advice.length_mm == pytest.approx(3 * 2 * np.pi * 20, rel=0.01)
    assert advice.slit_mm3 == pytest.approx(0.2 * walls.slit_mm2.sum(), rel=0.05)


@pytest.mark.parametrize("shape", [box(0, 0, 40, 30), box(0, 0, 40, 1.8)])
def test_no_advice_where_no_slit_is_left(shape):
    walls, layers = lay(shape)
    assert wall_advice(walls, layers, wall_recipe()) == ()


def test_a_refused_island_falls_back_and_still_closes():
    # a neck of two blobs: the fast border would cross itself there
    neck = Point(0, 0).buffer(2.0, 8) | Point(2.6, -1.6).buffer(1.15, 8)
    spike = Polygon([(0, 0), (20, 0), (20, 8), (10, 8), (9.9, 22), (9.8, 8), (0, 8)])
    walls, _ = lay(neck, spike, box(0, 0, 10, 10))
    areas = np.array([neck.area, spike.area, 100.0])
    assert np.abs(closure(walls, areas)).max() < 0.01
    assert odd_widths(walls).tolist() == []


def test_paths_stand_by_island_and_arrays_are_fixed():
    walls, _ = lay(box(0, 0, 9, 9) | box(20, 0, 29, 1), box(0, 0, 9, 9))
    assert walls.island_path_off[-1] == len(walls.path_role) == len(walls.path_off) - 1
    assert walls.path_off[-1] == len(walls.x_mm) == len(walls.y_mm) == len(walls.width_mm)
    assert walls.border_ring_off[-1] == len(walls.border_xy_mm)
    assert walls.border_island_off[-1] == len(walls.border_ring_off) - 1
    arrays = [getattr(walls, name) for name in walls.__slots__]
    assert all(not a.flags.writeable for a in arrays if isinstance(a, np.ndarray))


def test_no_layers_give_no_walls():
    walls, layers = lay(Polygon(), Polygon())
    assert len(walls.path_role) == 0
    assert len(walls.fallback) == 0
    assert wall_advice(walls, layers, wall_recipe()) == ()


@pytest.mark.parametrize("change", [{"bead_mm": 0.0}, {"wall_beads": 0}])
def test_an_impossible_recipe_is_refused_with_its_numbers(change):
    with pytest.raises(InputError, match="wall_beads >= 1"):
        lay(box(0, 0, 9, 9), **change)


@pytest.mark.parametrize("wall_beads", [1, 2, 3, 5])
def test_more_wall_beads_leave_less_to_fill(wall_beads):
    walls, _ = lay(box(0, 0, 40, 30), wall_beads=wall_beads)
    away = wall_beads * BEAD_MM
    assert walls.border_area_mm2[0] == pytest.approx((40 - 2 * away) * (30 - 2 * away), rel=1e-12)
