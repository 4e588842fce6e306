"""Certified offsets against a polygon library on the same rings, in one thread.

The ratio is taken of interleaved runs, so that the machine's load cancels.
"""

import time

import numpy as np
import pytest
import shapely
from manifold3d import CrossSection, FillRule, JoinType
from rings import layers_from_polygons
from solids import tub
from wall_samples import wall_recipe

from buildplan.process.walls import plan_walls

LAYERS = 60


@pytest.fixture(scope="module")
def layers():
    solid = tub(segments=1024)
    height = solid.bounding_box()[5]
    sections = []
    for k in range(LAYERS):
        rings = solid.slice((k + 0.5) * height / LAYERS).to_polygons()
        lines = shapely.geometrycollections([shapely.linearrings(ring) for ring in rings])
        sections.append(shapely.build_area(lines).simplify(0.005))
    return layers_from_polygons(sections, 2.0)


def rings_by_layer(layers):
    off = layers.island_off[layers.layer_off]
    return [
        [
            layers.xy_mm[layers.ring_off[ring] : layers.ring_off[ring + 1]]
            for ring in range(off[k], off[k + 1])
        ]
        for k in range(len(off) - 1)
    ]


def seconds(call):
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def test_certified_walls_are_6_times_as_fast_as_three_library_offsets(layers):
    rings = rings_by_layer(layers)
    recipe = wall_recipe()

    def library():
        for layer in rings:
            section = CrossSection(layer, FillRule.Positive)
            for away in (0.225, 0.675, 0.9):
                section.offset(-away, JoinType.Miter, 2.0)

    def own():
        plan_walls(layers, recipe)

    own()
    library()
    ratios = [seconds(library) / seconds(own) for _ in range(7)]
    assert np.median(ratios) >= 6.0, ratios


def test_the_library_agrees_on_the_length_of_the_beads(layers):
    walls = plan_walls(layers, wall_recipe())
    assert not walls.fallback.any()
    left = 0.0
    for layer in rings_by_layer(layers):
        section = CrossSection(layer, FillRule.Positive)
        left += section.offset(-0.9, JoinType.Miter, 2.0).area()
    thick = np.isinf(walls.thin_mm)
    assert thick.mean() > 0.9
    if thick.all():
        assert walls.border_area_mm2.sum() == pytest.approx(left, rel=1e-6)
