"""Whether the rings of a layer bound every place once: no meeting edges, winding 1 on the left."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel

_SIDE_STEP_FRAC = 1e-7
"""How far beside an edge the winding is taken, as a share of the layer's size."""


@kernel
def winding_number(
    xy: NDArray[np.float64],
    ring_begin: NDArray[np.int64],
    ring_end: NDArray[np.int64],
    ring_box: NDArray[np.float64],
    first: int,
    end: int,
    x: float,
    y: float,
) -> int:
    """How often the rings in slots first..end wind around (x, y), counter-clockwise positive."""
    winding = 0
    for r in range(first, end):
        if y < ring_box[r, 2] or y > ring_box[r, 3] or x > ring_box[r, 1]:
            continue
        px = xy[ring_end[r] - 1, 0]
        py = xy[ring_end[r] - 1, 1]
        for q in range(ring_begin[r], ring_end[r]):
            qx = xy[q, 0]
            qy = xy[q, 1]
            if (py <= y) != (qy <= y) and px + (y - py) / (qy - py) * (qx - px) > x:
                winding += 1 if qy > py else -1
            px = qx
            py = qy
    return winding


@kernel
def _edges_meet(
    ax: float,
    ay: float,
    bx: float,
    by: float,
    cx: float,
    cy: float,
    dx: float,
    dy: float,
) -> bool:
    """Whether the closed segments a-b and c-d have a point in common."""
    c_side = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    d_side = (bx - ax) * (dy - ay) - (by - ay) * (dx - ax)
    if (c_side > 0.0 and d_side > 0.0) or (c_side < 0.0 and d_side < 0.0):
        return False
    a_side = (dx - cx) * (ay - cy) - (dy - cy) * (ax - cx)
    b_side = (dx - cx) * (by - cy) - (dy - cy) * (bx - cx)
    if (a_side > 0.0 and b_side > 0.0) or (a_side < 0.0 and b_side < 0.0):
        return False
    return (
        max(ax, bx) >= min(cx, dx)
        and max(cx, dx) >= min(ax, bx)
        and max(ay, by) >= min(cy, dy)
        and max(cy, dy) >= min(ay, by)
    )


@kernel
def edges_meet_in_layer(
    xy: NDArray[np.float64],
    ring_begin: NDArray[np.int64],
    ring_end: NDArray[np.int64],
    first: int,
    end: int,
) -> bool:
    """Whether any two edges of the rings in slots first..end meet, neighbours apart.

    The edges are swept in the order of their least x.
    """
    n = 0
    for r in range(first, end):
        n += ring_end[r] - ring_begin[r]
    tail = np.empty(n, np.int64)
    head = np.empty(n, np.int64)
    x_low = np.empty(n, np.float64)
    i = 0
    for r in range(first, end):
        for q in range(ring_begin[r], ring_end[r]):
            after = q + 1 if q + 1 < ring_end[r] else ring_begin[r]
            tail[i] = q
            head[i] = after
            x_low[i] = min(xy[q, 0], xy[after, 0])
            i += 1
    order = np.argsort(x_low, kind="mergesort")
    active = np.empty(n, np.int64)
    n_active = 0
    for p in range(n):
        e = order[p]
        ax = xy[tail[e], 0]
        ay = xy[tail[e], 1]
        bx = xy[head[e], 0]
        by = xy[head[e], 1]
        kept = 0
        for i in range(n_active):
            f = active[i]
            cx = xy[tail[f], 0]
            dx = xy[head[f], 0]
            if max(cx, dx) < x_low[e]:
                continue
            active[kept] = f
            kept += 1
            if head[f] == tail[e] or tail[f] == head[e]:
                continue
            if _edges_meet(ax, ay, bx, by, cx, xy[tail[f], 1], dx, xy[head[f], 1]):
                return True
        active[kept] = e
        n_active = kept + 1
    return False


@kernel
def find_overlaps(
    xy: NDArray[np.float64],
    ring_begin: NDArray[np.int64],
    ring_end: NDArray[np.int64],
    ring_box: NDArray[np.float64],
    slot_begin: NDArray[np.int64],
    ring_count: NDArray[np.int64],
    begin_layer: int,
    end_layer: int,
    found: NDArray[np.bool_],
) -> None:
    """Mark in found (n_layers,) the layers whose rings do not bound every place exactly once.

    Where no two edges meet, the winding is the same all along a ring; so one point just left of
    its longest edge tells: it must be 1 there.
    """
    for k in range(begin_layer, end_layer):
        first = slot_begin[k]
        end = first + ring_count[k]
        if ring_count[k] == 0:
            continue
        if edges_meet_in_layer(xy, ring_begin, ring_end, first, end):
            found[k] = True
            continue
        size = 0.0
        for r in range(first, end):
            for i in range(4):
                size = max(size, abs(ring_box[r, i]))
        for r in range(first, end):
            longest = -1.0
            x = 0.0
            y = 0.0
            px = xy[ring_end[r] - 1, 0]
            py = xy[ring_end[r] - 1, 1]
            for q in range(ring_begin[r], ring_end[r]):
                ux = xy[q, 0] - px
                uy = xy[q, 1] - py
                length = math.sqrt(ux * ux + uy * uy)
                if length > longest:
                    longest = length
                    step = size * _SIDE_STEP_FRAC / length if length > 0.0 else 0.0
                    x = px + 0.5 * ux - uy * step
                    y = py + 0.5 * uy + ux * step
                px = xy[q, 0]
                py = xy[q, 1]
            if winding_number(xy, ring_begin, ring_end, ring_box, first, end, x, y) != 1:
                found[k] = True
                break
