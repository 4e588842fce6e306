"""Floors and roofs of a 600-layer shell by spans, against polygon booleans of the same regions.

Both sides start from what the stages before give them: ours from the span tables of outlines and
borders, the reference from finished cross-sections (or polygons). The reference works on every
twelfth layer and its time is multiplied by twelve. A second row puts our scans on the scale too.
One thread.
"""

from functools import cache
from itertools import pairwise
from time import perf_counter

import numpy as np
import pytest
import shapely
import solids
from benchmarks.ratio import record
from fill_samples import make_recipe
from manifold3d import CrossSection, FillRule, OpType

from buildplan.part import part_from_mesh
from buildplan.process.fill import plan_floor_roof, scan_outlines
from buildplan.process.fill.concentric import island_polygons
from buildplan.process.fill.lines import LEAST_SPAN_MM, scan_border, split_fill
from buildplan.process.layers import cut_layers
from buildplan.process.roles import Role
from buildplan.process.walls import plan_walls

EVERY = 12
AROUND = 4
ROUNDS = 5


@cache
def shell():
    """Layers, recipe and walls of the benchmark's shell."""
    vertices, facets = solids.arrays(solids.tub(segments=1024))
    layers = cut_layers(part_from_mesh(vertices, facets, name="shell", health="quick"), 0.2)
    recipe = make_recipe(floor_layers=AROUND, roof_layers=AROUND)
    return layers, recipe, plan_walls(layers, recipe)


@cache
def tables():
    """Span tables of outlines and of borders, for each of the two directions."""
    layers, recipe, walls = shell()
    found = []
    for direction, outline in enumerate(scan_outlines(layers, recipe).tables):
        which = np.arange(direction, len(layers.z_mm), 2, dtype=np.int64)
        found.append((scan_border(layers, walls, outline.grid, which), outline, which))
    return found


def split(least_mm=LEAST_SPAN_MM):
    return [
        split_fill(
            border,
            outline,
            which,
            floor_layers=AROUND,
            roof_layers=AROUND,
            role=Role.FLOOR_ROOF,
            least_mm=least_mm,
        )
        for border, outline, which in tables()
    ]


def scan_and_split():
    layers, recipe, walls = shell()
    return plan_floor_roof(layers, recipe, walls, scan_outlines(layers, recipe))


def span_area(lines_of_all, layers_taken):
    layers, recipe, _ = shell()
    total = np.zeros(len(layers.z_mm))
    for lines in lines_of_all:
        length = np.concatenate(([0.0], np.cumsum(lines.span_mm[:, 1] - lines.span_mm[:, 0])))
        total += np.diff(length[lines.layer_off])
    return float(total[layers_taken].sum()) * recipe.bead_mm


def layer_rings(xy, ring_off, ring_of_layer):
    return [
        [
            xy[ring_off[r] : ring_off[r + 1]]
            for r in range(a, b)
            if ring_off[r + 1] - ring_off[r] > 2
        ]
        for a, b in pairwise(ring_of_layer)
    ]


def rings_of_layers():
    layers, _, walls = shell()
    return (
        layer_rings(layers.xy_mm, layers.ring_off, layers.island_off[layers.layer_off]),
        layer_rings(
            walls.border_xy_mm, walls.border_ring_off, walls.border_island_off[layers.layer_off]
        ),
    )


@cache
def cross_sections():
    return [
        [CrossSection(rings, FillRule.Positive) for rings in kind] for kind in rings_of_layers()
    ]


@cache
def polygons():
    layers, _, walls = shell()
    outlines = island_polygons(layers.xy_mm, layers.ring_off, layers.island_off)
    borders = island_polygons(walls.border_xy_mm, walls.border_ring_off, walls.border_island_off)
    pairs = list(pairwise(layers.layer_off))
    return [[shapely.union_all(kind[a:b]) for a, b in pairs] for kind in (outlines, borders)]


def by_cross_sections(taken):
    outlines, borders = cross_sections()
    area = 0.0
    for k in taken:
        around = [outlines[k + s] for s in range(-AROUND, AROUND + 1) if s]
        inner = CrossSection.batch_boolean([borders[k], *around], OpType.Intersect)
        area += (borders[k] - inner).area()
    return area


def by_polygons(taken):
    outlines, borders = polygons()
    area = 0.0
    for k in taken:
        inner = borders[k]
        for s in range(-AROUND, AROUND + 1):
            if s:
                inner = shapely.intersection(inner, outlines[k + s])
        area += shapely.difference(borders[k], inner).area
    return area


def times_faster(ours, reference, taken):
    """Median time of the reference, for all layers, over that of ours; the two in turn."""
    ours()
    own, other = [], []
    share = (len(shell()[0].z_mm) - 2 * AROUND) / len(taken)
    for _ in range(ROUNDS):
        start = perf_counter()
        ours()
        middle = perf_counter()
        reference(taken)
        own.append(middle - start)
        other.append((perf_counter() - middle) * share)
    return float(np.median(other) / np.median(own))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("what", "ours", "reference", "name", "required"),
    [
        ("floors and roofs by spans", split, by_cross_sections, "CrossSection booleans", 40.0),
        ("floors and roofs by spans", split, by_polygons, "shapely booleans", 40.0),
        ("the same with all scans", scan_and_split, by_cross_sections, "CrossSection booleans", 8),
    ],
)
def test_floors_and_roofs_by_spans_are_many_times_faster(what, ours, reference, name, required):
    layers = shell()[0]
    taken = range(AROUND, len(layers.z_mm) - AROUND, EVERY)
    want = reference(taken)
    assert abs(span_area(split(least_mm=0.0), list(taken)) / want - 1.0) < 1e-3
    record(what, name, times_faster(ours, reference, taken), required)
