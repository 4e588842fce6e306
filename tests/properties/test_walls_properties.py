"""What must hold for the wall beads of any island."""

import numpy as np
import pytest
from islands import random_islands
from rings import layers_from_polygons, polygons_of, rings_of
from shapely import MultiPolygon, affinity, force_2d
from wall_samples import bead_lengths, wall_recipe

from buildplan.process.walls import plan_walls
from buildplan.process.walls.fallback import lay_with_polygons, path_area

ARRAYS = [
    "x_mm", "y_mm", "width_mm", "path_off", "path_role", "path_closed", "island_path_off",
    "border_xy_mm", "border_ring_off", "border_island_off", "wall_area_mm2", "border_area_mm2",
    "fallback", "thin_mm", "slit_mm2",
]  # fmt: skip


@pytest.fixture(scope="module")
def polygons():
    return random_islands(240, seed=11)


def spread(polygons, per_layer=4):
    """Layers of a few islands each, far apart."""
    moved = [
        affinity.translate(polygon, 100.0 * (k % per_layer)) for k, polygon in enumerate(polygons)
    ]
    groups = [moved[k : k + per_layer] for k in range(0, len(moved), per_layer)]
    return layers_from_polygons([MultiPolygon(group) for group in groups], 0.2)


@pytest.mark.parametrize("slit_fill", ["sparse", "dense"])
def test_two_threads_give_the_same_bytes_as_one(polygons, slit_fill):
    layers = spread(polygons)
    one = plan_walls(layers, wall_recipe(slit_fill=slit_fill))
    for workers in (2, 3):
        other = plan_walls(layers, wall_recipe(slit_fill=slit_fill), workers=workers)
        assert other.key == one.key
        for name in ARRAYS:
            assert getattr(other, name).tobytes() == getattr(one, name).tobytes(), name


def test_the_short_way_for_thick_islands_changes_nothing(polygons):
    layers = spread(polygons)
    short = plan_walls(layers, wall_recipe())
    full = plan_walls(layers, wall_recipe(), plain=False)
    same = np.isinf(short.thin_mm) & np.isinf(full.thin_mm)
    assert same.mean() > 0.3
    np.testing.assert_array_equal(bead_lengths(short)[same], bead_lengths(full)[same])
    np.testing.assert_array_equal(short.border_area_mm2[same], full.border_area_mm2[same])
    assert (np.isinf(short.thin_mm) == np.isinf(full.thin_mm)).mean() > 0.99


def test_inputs_stay_as_they_were(polygons):
    layers = spread(polygons[:40])
    before = [layers.xy_mm.copy(), layers.ring_off.copy(), layers.island_off.copy()]
    plan_walls(layers, wall_recipe(slit_fill="dense"))
    after = [layers.xy_mm, layers.ring_off, layers.island_off]
    for a, b in zip(before, after, strict=True):
        np.testing.assert_array_equal(a, b)


@pytest.mark.parametrize(("turn_deg", "shift_mm"), [(0.0, (37.0, -12.5)), (29.0, (0.0, 0.0))])
def test_turning_or_moving_a_part_changes_no_bead_length(polygons, turn_deg, shift_mm):
    moved = [
        affinity.translate(affinity.rotate(polygon, turn_deg, origin=(0, 0)), *shift_mm)
        for polygon in polygons
    ]
    here = plan_walls(layers_from_polygons(polygons, 0.2), wall_recipe())
    there = plan_walls(layers_from_polygons(moved, 0.2), wall_recipe())
    assert (here.fallback == there.fallback).mean() > 0.99
    sure = (here.fallback == 0) & (there.fallback == 0)
    off = np.abs(bead_lengths(there) / bead_lengths(here) - 1.0)
    assert off[sure & np.isinf(here.thin_mm)].max() < 1e-9
    # two opposed pieces may touch one ball: a tie moves the end of a middle bead by 0.03 mm
    assert (off[sure] < 1e-6).mean() > 0.98
    assert off[sure].max() < 1e-3
    total = bead_lengths(there)[sure].sum() / bead_lengths(here)[sure].sum()
    assert total == pytest.approx(1.0, abs=1e-5)


@pytest.mark.parametrize("scale", [0.5, 3.0])
def test_scaling_part_and_bead_together_scales_the_beads(polygons, scale):
    scaled = [force_2d(affinity.scale(p, scale, scale, origin=(0, 0))) for p in polygons]
    here = plan_walls(layers_from_polygons(polygons, 0.2), wall_recipe())
    there = plan_walls(layers_from_polygons(scaled, 0.2), wall_recipe(bead_mm=0.45 * scale))
    sure = (here.fallback == 0) & (there.fallback == 0)
    thick = sure & np.isinf(here.thin_mm) & np.isinf(there.thin_mm)
    assert thick.sum() > 60
    np.testing.assert_allclose(
        bead_lengths(there)[thick] / scale, bead_lengths(here)[thick], rtol=1e-9
    )


def sharpest_reflex_deg(polygon):
    """Largest turn away from the material at any corner."""
    turns = [0.0]
    for ring in rings_of(polygons_of(polygon)[0]):
        a, b = ring - np.roll(ring, 1, 0), np.roll(ring, -1, 0) - ring
        turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(1))
        turns.append(-np.degrees(turn.min()))
    return max(turns)


def test_the_fallback_lays_thick_islands_as_the_fast_way_does(polygons):
    # sharper corners are cut in two ways, both inside the erosion band
    thick = [polygon.buffer(1.5).simplify(0.005) for polygon in polygons]
    thick = [polygon for polygon in thick if sharpest_reflex_deg(polygon) < 110.0]
    layers = layers_from_polygons(thick, 0.2)
    walls = plan_walls(layers, wall_recipe())
    sure = np.flatnonzero((walls.fallback == 0) & np.isinf(walls.thin_mm))
    assert len(sure) > 60
    fast = bead_lengths(walls)[sure].sum()
    slow = 0.0
    for island in sure:
        first, last = layers.island_off[island], layers.island_off[island + 1]
        rings = [
            layers.xy_mm[layers.ring_off[ring] : layers.ring_off[ring + 1]]
            for ring in range(first, last)
        ]
        laid = lay_with_polygons(rings, 0.45, 2, 5)
        slow += sum(path_area(path) / 0.45 for path in laid.paths)
    assert fast == pytest.approx(slow, rel=1e-4)


def test_a_part_of_one_layer_twice_gets_the_same_beads_twice(polygons):
    twice = plan_walls(layers_from_polygons([polygons[0], polygons[0]], 0.2), wall_recipe())
    half = len(twice.x_mm) // 2
    np.testing.assert_array_equal(twice.x_mm[:half], twice.x_mm[half:])
    assert len(rings_of(polygons[0])) >= 1
