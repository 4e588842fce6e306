"""Spans along lines: areas by scanning, interval algebra, floors and roofs without polygons."""

import math

import numpy as np
import pytest
import shapely
import shapely.affinity
from fill_samples import layers_of, make_recipe, offsets, rings_of, walls_of

from buildplan.kernels.scan import scan_lines, scan_lines_wound
from buildplan.kernels.spans import (
    group_lengths,
    intersect_tables,
    subtract_tables,
    unite_tables,
)
from buildplan.process.fill import plan_floor_roof, plan_infill, scan_outlines


def scan(groups, angle=0.0, pitch=0.05, wound=False):
    """Area of groups of rings (lists of arrays) by scanning."""
    rings = [ring for group in groups for ring in group]
    function = scan_lines_wound if wound else scan_lines
    line_off, cross = function(
        np.concatenate(rings),
        offsets([len(ring) for ring in rings]),
        offsets([len(group) for group in groups]),
        np.arange(len(groups)),
        math.cos(angle),
        math.sin(angle),
        pitch,
        -2000.0,
        4000,
    )
    return line_off, cross


def area(table, pitch=0.05):
    return group_lengths(*table, 4000) * pitch


def star(rng, at=(0.0, 0.0), points=40):
    turn = np.sort(rng.uniform(0, 2 * np.pi, points))
    size = rng.uniform(5, 20, points)
    return shapely.Polygon(np.c_[at[0] + size * np.cos(turn), at[1] + size * np.sin(turn)])


@pytest.mark.parametrize("angle", [0.0, 0.3, math.pi / 4, 2.5])
def test_span_length_times_pitch_is_the_polygon_area(angle):
    rng = np.random.default_rng(1)
    stars = [star(rng) for _ in range(12)]
    with_hole = shapely.box(-20, -10, 15, 12).difference(shapely.Point(0, 0).buffer(5))
    shapes = [*stars, with_hole]
    groups = [[ring for part in rings_of(shape) for ring in part] for shape in shapes]
    got = area(scan(groups, angle))
    assert got == pytest.approx([shape.area for shape in shapes], rel=3e-3)


def test_every_line_is_crossed_an_even_number_of_times_even_through_vertices():
    grid = [np.array([[0.0, 0.025], [1.0, 0.025], [2.0, 0.075], [1.0, 0.125], [0.0, 0.125]])]
    line_off, _ = scan([grid])
    assert not (np.diff(line_off) % 2).any()


def test_overlapping_rings_count_once_by_winding():
    rng = np.random.default_rng(2)
    a, b = star(rng), star(rng, at=(8.0, 3.0))
    holed = shapely.box(-12, -12, 12, 12).difference(shapely.box(-3, -3, 3, 3))
    shapes = [[a, b], [holed, shapely.box(-30, -1, 30, 1)], [a, a]]
    groups = [[r for s in group for part in rings_of(s) for r in part] for group in shapes]
    got = area(scan(groups, 0.7, wound=True))
    want = [shapely.union_all(group).area for group in shapes]
    assert got == pytest.approx(want, rel=3e-3)


def test_interval_algebra_agrees_with_sets_of_cells():
    rng = np.random.default_rng(3)
    n_lines, cells = 400, 60

    def table():
        mask = rng.random((n_lines, cells)) < rng.uniform(0, 1, (n_lines, 1))
        edge = np.diff(np.pad(mask, ((0, 0), (1, 1))).astype(int), axis=1) != 0
        line, place = np.nonzero(edge)
        return mask, offsets(np.bincount(line, minlength=n_lines)), place.astype(float)

    a, a_off, a_cross = table()
    b, b_off, b_cross = table()
    for function, mask in (
        (intersect_tables, a & b),
        (subtract_tables, a & ~b),
        (unite_tables, a | b),
    ):
        off, cross = function(a_off, a_cross, b_off, b_cross)
        got = group_lengths(off, cross, 1)
        assert np.array_equal(got, mask.sum(axis=1).astype(float)), function.__name__


def steps():
    """Sections of a stepped body with a hole that moves: floors and roofs of every kind."""
    sections = []
    for k in range(40):
        body = shapely.box(0, 0, 40 - 0.5 * k, 30).union(shapely.box(0, 0, 10, 30 + 0.7 * k))
        hole = shapely.affinity.translate(shapely.Point(12, 15).buffer(4), 0.15 * k, 0.0)
        sections.append(body.difference(hole))
    return sections


def solid_by_polygons(layers, walls, sections, below, above):
    """Floor and roof area of every layer by polygon booleans."""
    from buildplan.process.fill.concentric import island_polygons

    borders = island_polygons(walls.border_xy_mm, walls.border_ring_off, walls.border_island_off)
    areas = []
    for k in range(len(sections)):
        region = shapely.union_all(borders[layers.layer_off[k] : layers.layer_off[k + 1]])
        around = [k + s for s in range(-below, above + 1) if s]
        if around and (min(around) < 0 or max(around) >= len(sections)):
            areas.append(region.area)
            continue
        inner = region
        for m in around:
            inner = inner.intersection(sections[m])
        areas.append(region.area - inner.area)
    return np.array(areas)


@pytest.mark.parametrize(("below", "above"), [(4, 4), (2, 5), (0, 3), (3, 0), (0, 0)])
def test_floor_and_roof_area_by_spans_is_that_of_polygon_booleans(below, above):
    sections = steps()
    layers = layers_of(sections)
    recipe = make_recipe(floor_layers=below, roof_layers=above, bead_mm=0.2)
    walls = walls_of(layers, recipe)
    solid = plan_floor_roof(layers, recipe, walls, scan_outlines(layers, recipe))
    got = np.zeros(len(sections))
    for lines in solid.lines:
        length = lines.span_mm[:, 1] - lines.span_mm[:, 0]
        running = np.concatenate(([0.0], np.cumsum(length)))
        got += np.diff(running[lines.layer_off]) * recipe.bead_mm
    want = solid_by_polygons(layers, walls, sections, below, above)
    total = want.sum() or 1.0
    assert abs(got.sum() - want.sum()) / total < 1e-3


def lengths(lines_of_all, n_layers):
    got = np.zeros(n_layers)
    for lines in lines_of_all:
        running = np.concatenate(([0.0], np.cumsum(lines.span_mm[:, 1] - lines.span_mm[:, 0])))
        got += np.diff(running[lines.layer_off])
    return got


def test_floors_roofs_and_infill_at_full_share_fill_the_border():
    layers = layers_of(steps())
    recipe = make_recipe(infill_frac=1.0)
    walls = walls_of(layers, recipe)
    outlines = scan_outlines(layers, recipe)
    solid = plan_floor_roof(layers, recipe, walls, outlines)
    infill = plan_infill(layers, recipe, walls, outlines)
    n = len(layers.z_mm)
    laid = (lengths(solid.lines, n) + lengths(infill.lines, n)) * recipe.bead_mm
    assert laid == pytest.approx(solid.border_mm2, rel=0.01)
    assert laid.sum() == pytest.approx(solid.border_mm2.sum(), rel=1e-3)


def test_sharing_the_work_among_threads_changes_no_span():
    layers = layers_of(steps())
    recipe = make_recipe(infill_style="three_way")
    walls = walls_of(layers, recipe)
    one, three = (scan_outlines(layers, recipe, workers=n) for n in (1, 3))
    for a, b in zip(one.tables, three.tables, strict=True):
        assert np.array_equal(a.cross_mm, b.cross_mm)
    for workers in (1, 3):
        infill = plan_infill(layers, recipe, walls, one, workers=workers)
        first = plan_infill(layers, recipe, walls, three)
        for a, b in zip(infill.lines, first.lines, strict=True):
            assert np.array_equal(a.span_mm, b.span_mm)
            assert np.array_equal(a.line, b.line)
