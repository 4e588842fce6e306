"""Crossing tests of the laying kernel against shapely."""

import numpy as np
import shapely
from islands import random_islands

from buildplan.kernels.crossing import box_edges, crosses_edge, most_boxes
from buildplan.kernels.jit import kernel


@kernel
def crossings(segments, xy, box, node, boxes, near, near_box):
    """Ask for one segment after the other, so that what is remembered is used."""
    found = np.zeros(len(segments), np.uint8)
    for i in range(len(segments)):
        x0, y0, x1, y1 = segments[i]
        found[i] = crosses_edge(x0, y0, x1, y1, xy, box, node, boxes, near, near_box, i % 2)
    return found


def test_a_segment_crosses_the_rings_where_shapely_says_so():
    rng = np.random.default_rng(3)
    crossed = 0
    for island in random_islands(12):
        rings = [np.array(ring.coords)[:-1] for ring in (island.exterior, *island.interiors)]
        xy = np.concatenate(rings)
        off = np.concatenate(([0], np.cumsum([len(ring) for ring in rings]))).astype(np.int64)
        room = most_boxes(len(xy), len(rings))
        box, node = np.empty((room, 4)), np.empty((room, 4), np.int64)
        boxes = box_edges(xy, off, 0, len(rings), box, node)
        assert boxes <= room
        near, near_box = np.empty((2, room + 1), np.int64), np.full((2, 4), 1e300)
        # a walk of short steps, now and then a long one
        step = rng.normal(0.0, 2.0, (300, 2))
        step[::25] *= 12.0
        start = np.mod(np.cumsum(step, axis=0) + 20.0, 40.0) - 20.0
        end = start + rng.normal(0.0, 1.0, (300, 2)) * rng.choice([1.0, 2.0, 15.0], (300, 1))
        got = crossings(np.hstack((start, end)), xy, box, node, boxes, near, near_box)
        lines = shapely.linestrings(np.stack((start, end), axis=1))
        wanted = shapely.intersects(island.boundary, lines)
        assert np.array_equal(got == 1, wanted)
        crossed += int(wanted.sum())
    assert 300 < crossed < 3300
