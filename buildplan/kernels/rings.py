"""Rings of a layer: measuring, simplifying, grouping into islands, packing."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel

Rings = tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]
"""Of many rings: first points, one past the last points, signed areas, boxes (n, 4)."""


@kernel
def measure_ring(xy: NDArray[np.float64], begin: int, end: int) -> tuple[float, float]:
    """Signed area (counter-clockwise positive) and length of the closed ring xy[begin:end].

    The area is summed about the ring's first point, which keeps the digits of small rings that
    stand far from the origin.
    """
    x0 = xy[begin, 0]
    y0 = xy[begin, 1]
    area = 0.0
    length = math.sqrt((xy[end - 1, 0] - x0) ** 2 + (xy[end - 1, 1] - y0) ** 2)
    px = 0.0
    py = 0.0
    for q in range(begin + 1, end):
        x = xy[q, 0] - x0
        y = xy[q, 1] - y0
        area += px * y - x * py
        length += math.sqrt((x - px) ** 2 + (y - py) ** 2)
        px = x
        py = y
    return 0.5 * area, length


@kernel
def simplify_ring(xy: NDArray[np.float64], begin: int, end: int, deviation: float) -> int:
    """Drop points of a ring, in place, that lie within deviation of what is left.

    One pass: from each kept point a cone of directions is narrowed by every point passed (each
    must stay within deviation of the chord); when it closes, the point before is kept. The first
    point is always kept. Source: the cone intersection method of Sklansky, J. and Gonzalez, V.
    (1980), Fast polygonal approximation of digitized curves, Pattern Recognition 12, 327-331.

    Returns:
        One past the last point kept; equal to begin where fewer than three are left.
    """
    n = end - begin
    if n < 3:
        return begin
    first_x = xy[begin, 0]
    first_y = xy[begin, 1]
    anchor_x = first_x
    anchor_y = first_y
    prev_x = first_x
    prev_y = first_y
    write = begin + 1
    # the cone: right and left are vectors of any length along its two sides
    right_x = 0.0
    right_y = 0.0
    left_x = 0.0
    left_y = 0.0
    has_cone = False
    q = 1
    while q <= n:
        x = xy[begin + q, 0] if q < n else first_x
        y = xy[begin + q, 1] if q < n else first_y
        dx = x - anchor_x
        dy = y - anchor_y
        tangent2 = dx * dx + dy * dy - deviation * deviation
        if tangent2 > 0.0:
            if has_cone and (right_x * dy - right_y * dx < 0.0 or dx * left_y - dy * left_x < 0.0):
                xy[write, 0] = prev_x
                xy[write, 1] = prev_y
                write += 1
                anchor_x = prev_x
                anchor_y = prev_y
                has_cone = False
                continue
            # tangents from the anchor to the circle of that deviation around the point
            tangent = math.sqrt(tangent2)
            tx = dx * tangent + dy * deviation
            ty = dy * tangent - dx * deviation
            if not has_cone or right_x * ty - right_y * tx > 0.0:
                right_x = tx
                right_y = ty
            tx = dx * tangent - dy * deviation
            ty = dy * tangent + dx * deviation
            if not has_cone or tx * left_y - ty * left_x > 0.0:
                left_x = tx
                left_y = ty
            has_cone = True
        prev_x = x
        prev_y = y
        q += 1
    return write if write - begin >= 3 else begin


@kernel
def room_for_rings(count: int) -> Rings:
    """Empty arrays that a number of rings can be recorded in."""
    room = max(16, 8 * count)
    return (
        np.empty(room, np.int64),
        np.empty(room, np.int64),
        np.empty(room, np.float64),
        np.empty((room, 4), np.float64),
    )


@kernel
def twice_the_room(rings: Rings) -> Rings:
    """The same rings in arrays of twice the length."""
    n = len(rings[0])
    begin = np.empty(2 * n, np.int64)
    end = np.empty(2 * n, np.int64)
    area = np.empty(2 * n, np.float64)
    box = np.empty((2 * n, 4), np.float64)
    begin[:n] = rings[0]
    end[:n] = rings[1]
    area[:n] = rings[2]
    box[:n] = rings[3]
    return begin, end, area, box


@kernel
def keep_ring(
    xy: NDArray[np.float64],
    begin: int,
    end: int,
    deviation: float,
    raw_area: float,
    slot: int,
    ring_begin: NDArray[np.int64],
    ring_end: NDArray[np.int64],
    ring_area: NDArray[np.float64],
    ring_box: NDArray[np.float64],
) -> tuple[int, int]:
    """Simplify the ring xy[begin:end] of signed area raw_area, and record it in a slot.

    A ring is dropped when fewer than three points are left, or when nothing is left of its area
    (a sliver thinner than deviation).

    Returns:
        One past the last point kept, and 1 when the ring was kept (else 0).
    """
    if end - begin < 3:
        return begin, 0
    area = raw_area
    if deviation > 0.0:
        end = simplify_ring(xy, begin, end, deviation)
        if end == begin:
            return begin, 0
        area, _ = measure_ring(xy, begin, end)
    if area * raw_area <= 0.0:
        return begin, 0
    ring_begin[slot] = begin
    ring_end[slot] = end
    ring_area[slot] = area
    x0 = xy[begin, 0]
    x1 = x0
    y0 = xy[begin, 1]
    y1 = y0
    for q in range(begin + 1, end):
        x0 = min(x0, xy[q, 0])
        x1 = max(x1, xy[q, 0])
        y0 = min(y0, xy[q, 1])
        y1 = max(y1, xy[q, 1])
    ring_box[slot, 0] = x0
    ring_box[slot, 1] = x1
    ring_box[slot, 2] = y0
    ring_box[slot, 3] = y1
    return end, 1


@kernel
def point_in_ring(xy: NDArray[np.float64], begin: int, end: int, x: float, y: float) -> bool:
    """Whether (x, y) lies in the closed ring xy[begin:end] (crossings of a ray along +x)."""
    inside = False
    px = xy[end - 1, 0]
    py = xy[end - 1, 1]
    for q in range(begin, end):
        qx = xy[q, 0]
        qy = xy[q, 1]
        if (py <= y) != (qy <= y) and px + (y - py) / (qy - py) * (qx - px) > x:
            inside = not inside
        px = qx
        py = qy
    return inside


@kernel
def group_islands(
    xy: NDArray[np.float64],
    ring_begin: NDArray[np.int64],
    ring_end: NDArray[np.int64],
    ring_area: NDArray[np.float64],
    ring_box: NDArray[np.float64],
    slot_begin: NDArray[np.int64],
    ring_count: NDArray[np.int64],
    begin_layer: int,
    end_layer: int,
    order: NDArray[np.int64],
    island_head: NDArray[np.uint8],
    placed_count: NDArray[np.int64],
) -> None:
    """Put the rings of some layers in the order of islands: an outer ring, then its holes.

    A hole belongs to the smallest outer ring around it; where rings touch and no outer ring is
    found around its first point, to the smallest whose box holds the hole's box. A hole with no
    outer ring at all is left out.

    Args:
        xy: Points.
        ring_begin: First point of the ring in each slot; likewise the other ring arrays.
        ring_end: One past the last point.
        ring_area: Signed area.
        ring_box: (.., 4) x0, x1, y0, y1.
        slot_begin: (n_layers,) first slot of a layer.
        ring_count: (n_layers,) rings of a layer.
        begin_layer: First layer.
        end_layer: One past the last.
        order: Written at the layer's slots: slots in the order of islands.
        island_head: Written likewise: 1 where an island begins.
        placed_count: (n_layers,) written, rings placed.
    """
    for k in range(begin_layer, end_layer):
        first = slot_begin[k]
        end = first + ring_count[k]
        n_outer = 0
        for r in range(first, end):
            if ring_area[r] > 0.0:
                n_outer += 1
        # holes of each outer ring, as lists in the order of their numbers
        first_hole = np.full(ring_count[k], -1, np.int64)
        next_hole = np.full(ring_count[k], -1, np.int64)
        for r in range(end - 1, first - 1, -1):
            if ring_area[r] > 0.0 or n_outer == 0:
                continue
            owner = _owner_of_hole(
                xy, ring_begin, ring_end, ring_area, ring_box, first, end, r, n_outer
            )
            if owner >= 0:
                next_hole[r - first] = first_hole[owner - first]
                first_hole[owner - first] = r
        write = first
        for r in range(first, end):
            if ring_area[r] <= 0.0:
                continue
            order[write] = r
            island_head[write] = 1
            write += 1
            hole = first_hole[r - first]
            while hole >= 0:
                order[write] = hole
                island_head[write] = 0
                write += 1
                hole = next_hole[hole - first]
        placed_count[k] = write - first


@kernel
def _owner_of_hole(
    xy: NDArray[np.float64],
    ring_begin: NDArray[np.int64],
    ring_end: NDArray[np.int64],
    ring_area: NDArray[np.float64],
    ring_box: NDArray[np.float64],
    first: int,
    end: int,
    hole: int,
    n_outer: int,
) -> int:
    """Slot of the outer ring that a hole belongs to, or -1."""
    x = xy[ring_begin[hole], 0]
    y = xy[ring_begin[hole], 1]
    best = -1
    best_area = np.inf
    boxed = -1
    boxed_area = np.inf
    for r in range(first, end):
        area = ring_area[r]
        if area <= 0.0:
            continue
        if n_outer == 1:
            return r
        if (
            ring_box[hole, 0] >= ring_box[r, 0]
            and ring_box[hole, 1] <= ring_box[r, 1]
            and ring_box[hole, 2] >= ring_box[r, 2]
            and ring_box[hole, 3] <= ring_box[r, 3]
            and area >= -ring_area[hole]
            and area < boxed_area
        ):
            boxed = r
            boxed_area = area
        if x < ring_box[r, 0] or x > ring_box[r, 1] or y < ring_box[r, 2] or y > ring_box[r, 3]:
            continue
        if area < best_area and point_in_ring(xy, ring_begin[r], ring_end[r], x, y):
            best = r
            best_area = area
    return best if best >= 0 else boxed


@kernel
def count_placed(
    ring_begin: NDArray[np.int64],
    ring_end: NDArray[np.int64],
    slot_begin: NDArray[np.int64],
    placed_count: NDArray[np.int64],
    order: NDArray[np.int64],
    island_head: NDArray[np.uint8],
) -> tuple[int, int, int]:
    """Points, rings and islands that pack will write."""
    n_points = 0
    n_rings = 0
    n_islands = 0
    for k in range(slot_begin.shape[0]):
        n_rings += placed_count[k]
        for p in range(slot_begin[k], slot_begin[k] + placed_count[k]):
            n_islands += island_head[p]
            n_points += ring_end[order[p]] - ring_begin[order[p]]
    return n_points, n_rings, n_islands


@kernel
def pack(
    xy: NDArray[np.float64],
    ring_begin: NDArray[np.int64],
    ring_end: NDArray[np.int64],
    ring_area: NDArray[np.float64],
    ring_box: NDArray[np.float64],
    slot_begin: NDArray[np.int64],
    placed_count: NDArray[np.int64],
    order: NDArray[np.int64],
    island_head: NDArray[np.uint8],
    packed_xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    island_off: NDArray[np.int64],
    layer_off: NDArray[np.int64],
    packed_area: NDArray[np.float64],
    packed_box: NDArray[np.float64],
) -> None:
    """Copy rings from their slots into flat arrays without gaps, in the order of islands.

    packed_xy may be xy itself when the layers' points stand in the order of layers: no layer is
    then written beyond where it was read.

    Args:
        xy: Points; the arguments up to island_head as for group_islands.
        ring_begin: First point of the ring in each slot.
        ring_end: One past the last point.
        ring_area: Signed area.
        ring_box: (.., 4).
        slot_begin: (n_layers,).
        placed_count: (n_layers,).
        order: Slots in the order of islands.
        island_head: 1 where an island begins.
        packed_xy: (n_points, 2), written; likewise the rest.
        ring_off: (n_rings + 1,) points of a ring.
        island_off: (n_islands + 1,) rings of an island.
        layer_off: (n_layers + 1,) islands of a layer.
        packed_area: (n_rings,).
        packed_box: (n_rings, 4).
    """
    ring = 0
    island = 0
    write = 0
    ring_off[0] = 0
    layer_off[0] = 0
    layer_xy = np.empty((0, 2), np.float64)
    for k in range(slot_begin.shape[0]):
        n_points = 0
        for p in range(slot_begin[k], slot_begin[k] + placed_count[k]):
            n_points += ring_end[order[p]] - ring_begin[order[p]]
        if n_points > layer_xy.shape[0]:
            layer_xy = np.empty((2 * n_points, 2), np.float64)
        n_points = 0
        for p in range(slot_begin[k], slot_begin[k] + placed_count[k]):
            r = order[p]
            if island_head[p] == 1:
                island_off[island] = ring
                island += 1
            for q in range(ring_begin[r], ring_end[r]):
                layer_xy[n_points, 0] = xy[q, 0]
                layer_xy[n_points, 1] = xy[q, 1]
                n_points += 1
            packed_area[ring] = ring_area[r]
            packed_box[ring] = ring_box[r]
            ring += 1
            ring_off[ring] = write + n_points
        layer_off[k + 1] = island
        for q in range(n_points):
            packed_xy[write, 0] = layer_xy[q, 0]
            packed_xy[write, 1] = layer_xy[q, 1]
            write += 1
    island_off[island] = ring
