"""2000 directions over all facets of the 200 000-triangle shell, against the same by matmul.

The reference gives the same numbers (height, overhang, columns, contact, plan area) with numpy: one
matrix product of all normals, middles and vertices with a chunk of directions, masks, and one more
product for every sum. It is told of opposite directions too, so that it shares their products; it
runs on every tenth chunk and its time is multiplied by ten. One thread.
"""

from functools import cache

import numpy as np
import pytest
import solids
from benchmarks.ratio import record, seconds

from buildplan.checks.orientation.candidates import spread_axes
from buildplan.checks.orientation.weigh import weigh_directions
from buildplan.kernels.orientations import FLAT_COS, facet_table
from buildplan.part import part_from_mesh

COUNT = 2000
CHUNK = 16
EVERY = 10
LIMIT = float(np.sqrt(0.5))
CONTACT_MM = 0.1
SUMS = ("overhang_mm2", "column_mm3", "contact_mm2")

pytestmark = pytest.mark.slow


@cache
def shell():
    vertices, facets = solids.arrays(solids.tub(segments=1024))
    part = part_from_mesh(vertices, facets, name="shell", health="quick")
    return part, facet_table(part.vertices_mm, part.facets)


def ours(axes):
    part, table = shell()
    return weigh_directions(part, table, axes, limit=LIMIT, contact_height_mm=CONTACT_MM)


def by_matmul(axes, every=1):
    """(7, axes) overhang, column, contact with the axis up, the same down, and plan area."""
    part, table = shell()
    normals, area = np.ascontiguousarray(table[:3].T), table[3]
    middles = np.ascontiguousarray(table[4:].T)
    found = []
    for start in range(0, len(axes), CHUNK * every):
        chunk = axes[start : start + CHUNK].T
        z = part.vertices_mm @ chunk
        facing, height = normals @ chunk, middles @ chunk
        sums = []
        for q, above in ((facing, height - z.min(axis=0)), (-facing, z.max(axis=0) - height)):
            leans = q < -LIMIT
            lies = leans & (q < -FLAT_COS) & (above < CONTACT_MM)
            hangs = leans & ~lies
            sums += [area @ hangs, area @ (hangs * -q * above), area @ lies]
        found.append(np.stack([*sums, area @ np.abs(facing)]))
    return np.concatenate(found, axis=1)


def test_both_give_the_same_numbers():
    axes = spread_axes(64)
    weighed, plain = ours(axes), by_matmul(axes)
    for row, name in enumerate(SUMS):
        np.testing.assert_allclose(getattr(weighed, name)[::2], plain[row], rtol=1e-9, atol=1e-6)
        np.testing.assert_allclose(
            getattr(weighed, name)[1::2], plain[3 + row], rtol=1e-9, atol=1e-6
        )
    np.testing.assert_allclose(weighed.plan_mm2[::2], plain[6], rtol=1e-9)


def test_two_thousand_directions_take_a_fraction_of_matmul():
    axes = spread_axes(COUNT)
    ours(axes)
    own, other = [], []
    for _ in range(3):
        own += [seconds(lambda: ours(axes)) for _ in range(3)]
        other.append(EVERY * seconds(lambda: by_matmul(axes, EVERY)))
    record(
        "2000 ways up over 200 000 triangles",
        "numpy matmul of the same numbers",
        float(np.median(other) / np.median(own)),
        8.0,
    )
