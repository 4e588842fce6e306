"""Random islands against a polygon library: no accepted border outside the erosion band."""

import numpy as np
import pytest
import shapely
from islands import random_islands
from rings import layers_from_polygons
from wall_samples import border_area, closure, odd_widths, wall_recipe

from buildplan.process.walls import plan_walls

BAND_MM2 = 1e-3
"""What the polygon library's own rounding and its many-sided arcs may differ by."""


def check(count, seed, slit_fill):
    polygons = np.array(random_islands(count, seed=seed))
    walls = plan_walls(layers_from_polygons(polygons, 0.2), wall_recipe(slit_fill=slit_fill))
    fast = walls.fallback == 0
    thick = fast & np.isinf(walls.thin_mm)
    assert fast.mean() > 0.75
    assert thick.mean() > 0.2
    area = shapely.area(polygons)
    off = np.abs(closure(walls, area))
    # the widths of thin islands are scaled by a scan area, so they close to its exactness
    assert off[thick].max() < 0.002
    assert off[fast].max() < 0.005
    assert off.max() < 0.01
    assert odd_widths(walls).tolist() == []
    # the true border lies between the erosion by a ball and the one with the sharpest mitres
    left = np.array([border_area(walls, k) for k in np.flatnonzero(thick)])
    away = 2 * 0.45
    with np.errstate(all="ignore"):
        least = shapely.area(
            shapely.buffer(polygons[thick], -away, join_style="mitre", mitre_limit=10.0)
        )
        most = shapely.area(shapely.buffer(polygons[thick], -away, quad_segs=64))
    outside = np.maximum(least - left, left - most)
    assert (outside > BAND_MM2).sum() == 0, outside.max()


@pytest.mark.parametrize("slit_fill", ["sparse", "dense"])
def test_600_random_islands_lie_inside_the_erosion_band(slit_fill):
    check(600, 7, slit_fill)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [21, 22, 23, 24, 25])
def test_30_000_random_islands_lie_inside_the_erosion_band(seed):
    check(6_000, seed, "sparse")
