"""Whether a straight move crosses an outline: boxes round runs of edges, bunches of runs, rings."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline

RUN_EDGES = 8
"""Edges that share one box."""

BUNCH_RUNS = 8
"""Runs that share one box again."""

NEAR_MM = 16.0
"""Runs so near to a segment are remembered for the next (a matter of speed only)."""


@kernel_inline
def most_boxes(points: int, rings: int) -> int:
    """Room for the boxes of some rings with so many points in all (see box_edges)."""
    return points // RUN_EDGES + points // (RUN_EDGES * BUNCH_RUNS) + 3 * rings


@kernel_inline
def widen(box: NDArray[np.float64], row: int, other: int) -> None:
    """Widen the box in a row so that it holds the one in another row."""
    box[row, 0] = min(box[row, 0], box[other, 0])
    box[row, 1] = max(box[row, 1], box[other, 1])
    box[row, 2] = min(box[row, 2], box[other, 2])
    box[row, 3] = max(box[row, 3], box[other, 3])


@kernel
def box_edges(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    first_ring: int,
    end_ring: int,
    box: NDArray[np.float64],
    node: NDArray[np.int64],
) -> int:
    """Boxes round rings, bunches of their runs and runs of RUN_EDGES edges; gives their number.

    They stand in the order ring, its first bunch, that bunch's runs, its next bunch, and so on, so
    that whoever misses a box goes on behind all that is in it.

    Args:
        xy: (n, 2) outline points.
        ring_off: (n_rings + 1,) points of a ring.
        first_ring: First ring to be boxed.
        end_ring: One past the last.
        box: (most_boxes, 4) filled with x0, x1, y0, y1.
        node: (most_boxes, 4) filled with the next box that is not inside this one; the first edge
            (-1 unless a run); one past the last; the point where the last edge ends.
    """
    boxes = 0
    for ring in range(first_ring, end_ring):
        start = ring_off[ring]
        end = ring_off[ring + 1]
        whole = boxes
        boxes += 1
        box[whole, 0] = box[whole, 2] = 1e300
        box[whole, 1] = box[whole, 3] = -1e300
        for begin in range(start, end, RUN_EDGES * BUNCH_RUNS):
            bunch = boxes
            boxes += 1
            box[bunch, 0] = box[bunch, 2] = 1e300
            box[bunch, 1] = box[bunch, 3] = -1e300
            for first in range(begin, min(end, begin + RUN_EDGES * BUNCH_RUNS), RUN_EDGES):
                last = min(first + RUN_EDGES, end)
                close = last if last < end else start
                x0 = xy[close, 0]
                x1 = x0
                y0 = xy[close, 1]
                y1 = y0
                for q in range(first, last):
                    x0 = min(x0, xy[q, 0])
                    x1 = max(x1, xy[q, 0])
                    y0 = min(y0, xy[q, 1])
                    y1 = max(y1, xy[q, 1])
                box[boxes, 0] = x0
                box[boxes, 1] = x1
                box[boxes, 2] = y0
                box[boxes, 3] = y1
                node[boxes, 1] = first
                node[boxes, 2] = last
                node[boxes, 3] = close
                boxes += 1
                node[boxes - 1, 0] = boxes
                widen(box, bunch, boxes - 1)
            node[bunch, 0] = boxes
            node[bunch, 1] = -1
            widen(box, whole, bunch)
        node[whole, 0] = boxes
        node[whole, 1] = -1
    return boxes


@kernel_inline
def box_misses(
    box: NDArray[np.float64], row: int, low_x: float, high_x: float, low_y: float, high_y: float
) -> bool:
    """Whether the box in a row and the box of these sides have nothing in common."""
    return bool(
        box[row, 0] > high_x or box[row, 1] < low_x or box[row, 2] > high_y or box[row, 3] < low_y
    )


@kernel_inline
def box_beside(
    box: NDArray[np.float64], row: int, x0: float, y0: float, dx: float, dy: float
) -> bool:
    """Whether the box in a row lies on one side of the line through (x0, y0) along (dx, dy)."""
    middle = dx * (0.5 * (box[row, 2] + box[row, 3]) - y0) - dy * (
        0.5 * (box[row, 0] + box[row, 1]) - x0
    )
    reach = 0.5 * (abs(dx) * (box[row, 3] - box[row, 2]) + abs(dy) * (box[row, 1] - box[row, 0]))
    return bool(abs(middle) > reach * (1.0 + 1e-9) + 1e-12)


@kernel_inline
def crosses_edge(
    x0: float,
    y0: float,
    x1: float,
    y1: float,
    xy: NDArray[np.float64],
    box: NDArray[np.float64],
    node: NDArray[np.int64],
    boxes: int,
    near: NDArray[np.int64],
    near_box: NDArray[np.float64],
    row: int,
) -> bool:
    """Whether the segment (x0, y0)-(x1, y1) crosses an edge of the rings in some boxes.

    The runs NEAR_MM round about it are remembered for segments that lie near it, so that most
    segments are held against a few runs.

    Args:
        x0: Where the segment begins, likewise y0; it ends at (x1, y1).
        y0: See x0.
        x1: See x0.
        y1: See x0.
        xy: (n, 2) outline points.
        box: From box_edges.
        node: From box_edges.
        boxes: From box_edges.
        near: (n, most_boxes + 1) number of runs remembered, then the runs.
        near_box: (n, 4) box in which no other run lies; x0 over x1 for none.
        row: Row of `near` to be used.
    """
    low_x = min(x0, x1)
    high_x = max(x0, x1)
    low_y = min(y0, y1)
    high_y = max(y0, y1)
    dx = x1 - x0
    dy = y1 - y0
    if (
        low_x < near_box[row, 0]
        or high_x > near_box[row, 1]
        or low_y < near_box[row, 2]
        or high_y > near_box[row, 3]
    ):
        near_box[row, 0] = low_x - NEAR_MM
        near_box[row, 1] = high_x + NEAR_MM
        near_box[row, 2] = low_y - NEAR_MM
        near_box[row, 3] = high_y + NEAR_MM
        count = 0
        i = 0
        while i < boxes:
            if box_misses(
                box, i, near_box[row, 0], near_box[row, 1], near_box[row, 2], near_box[row, 3]
            ):
                i = node[i, 0]
                continue
            if node[i, 1] >= 0:
                count += 1
                near[row, count] = i
            i += 1
        near[row, 0] = count
    crossing = False
    for k in range(1, near[row, 0] + 1):
        run = near[row, k]
        if box_misses(box, run, low_x, high_x, low_y, high_y) or box_beside(
            box, run, x0, y0, dx, dy
        ):
            continue
        ax = xy[node[run, 1], 0]
        ay = xy[node[run, 1], 1]
        a_left = dx * (ay - y0) - dy * (ax - x0) > 0
        last = node[run, 2]
        for q in range(node[run, 1] + 1, last + 1):
            z = q if q < last else node[run, 3]
            bx = xy[z, 0]
            by = xy[z, 1]
            b_left = dx * (by - y0) - dy * (bx - x0) > 0
            if a_left != b_left:
                start_side = (bx - ax) * (y0 - ay) - (by - ay) * (x0 - ax)
                end_side = (bx - ax) * (y1 - ay) - (by - ay) * (x1 - ax)
                if (start_side > 0) != (end_side > 0):
                    crossing = True
            ax = bx
            ay = by
            a_left = b_left
        if crossing:
            break
    return crossing


@kernel
def point_in_ring(x: float, y: float, xy: NDArray[np.float64], start: int, end: int) -> bool:
    """Whether a point lies inside the ring xy[start:end] (even-odd)."""
    inside = False
    px = xy[end - 1, 0]
    py = xy[end - 1, 1]
    for q in range(start, end):
        qx = xy[q, 0]
        qy = xy[q, 1]
        if (py <= y) != (qy <= y) and px + (y - py) / (qy - py) * (qx - px) > x:
            inside = not inside
        px = qx
        py = qy
    return inside
