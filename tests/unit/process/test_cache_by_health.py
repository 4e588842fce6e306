"""One mesh read with two depths of health: what is kept for one must not be used for the other."""

import numpy as np
import pytest
from rows import feedstock, printer, recipe

from buildplan.part import part_from_mesh
from buildplan.process.cache import clear_caches
from buildplan.process.estimate import estimate_print

LEFT_MM = ((0, 6), (34, 6), (34, 24), (26, 24), (26, -25))
RIGHT_MM = ((0, 0), (40, 0), (40, 30), (20, 30), (20, -25))


def bow(height_mm=8.0):
    """A bar of one shell that is bent until it runs through itself."""
    count = len(LEFT_MM)
    vertices = [(*point, z) for z in (0.0, height_mm) for point in (*LEFT_MM, *RIGHT_MM)]
    low_left, low_right, left, right = (np.arange(count) + k * count for k in range(4))
    quads = [
        (low_left[0], low_right[0], right[0], left[0]),
        (low_right[-1], low_left[-1], left[-1], right[-1]),
    ]
    for i in range(count - 1):
        quads += [
            (left[i], right[i], right[i + 1], left[i + 1]),
            (low_left[i], low_left[i + 1], low_right[i + 1], low_right[i]),
            (low_right[i], low_right[i + 1], right[i + 1], right[i]),
            (low_left[i + 1], low_left[i], left[i], left[i + 1]),
        ]
    facets = [corner for a, b, c, d in quads for corner in ((a, b, c), (a, c, d))]
    return np.array(vertices, float), np.array(facets)


@pytest.mark.parametrize(("first", "then"), [("quick", "full"), ("full", "quick")])
def test_an_estimate_does_not_depend_on_how_deep_the_mesh_was_searched_before(first, then):
    parts = {how: part_from_mesh(*bow(), name="bow", health=how) for how in (first, then)}
    assert parts[first].key == parts[then].key
    assert parts["full"].health.self_intersections > parts["quick"].health.self_intersections
    clear_caches()
    alone = estimate_print(parts[then], printer(), feedstock(), recipe())
    clear_caches()
    estimate_print(parts[first], printer(), feedstock(), recipe())
    after = estimate_print(parts[then], printer(), feedstock(), recipe())
    assert (after.time_h, after.mass_g) == (alone.time_h, alone.mass_g)
    assert after.findings == alone.findings
