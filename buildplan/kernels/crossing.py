"""Whether a straight move crosses an outline: runs of neighbouring edges, each with a box."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline

RUN_EDGES = 12
"""Edges that share one box."""


@kernel
def box_edges(
    xy: NDArray[np.float64], ring_off: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Boxes round every RUN_EDGES edges of every ring.

    Returns:
        run_box (n_runs, 4) x0, x1, y0, y1 and run_off (n_rings + 1,) runs of a ring.
    """
    n_rings = len(ring_off) - 1
    run_off = np.zeros(n_rings + 1, np.int64)
    for ring in range(n_rings):
        n = ring_off[ring + 1] - ring_off[ring]
        run_off[ring + 1] = run_off[ring] + (n + RUN_EDGES - 1) // RUN_EDGES
    run_box = np.empty((run_off[n_rings], 4), np.float64)
    for ring in range(n_rings):
        start = ring_off[ring]
        end = ring_off[ring + 1]
        for run in range(run_off[ring], run_off[ring + 1]):
            first = start + (run - run_off[ring]) * RUN_EDGES
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
            run_box[run, 0] = x0
            run_box[run, 1] = x1
            run_box[run, 2] = y0
            run_box[run, 3] = y1
    return run_box, run_off


@kernel_inline
def segments_cross(
    x0: float, y0: float, x1: float, y1: float, ax: float, ay: float, bx: float, by: float
) -> bool:
    """Whether the segments (x0, y0)-(x1, y1) and (ax, ay)-(bx, by) cross."""
    a_side = (x1 - x0) * (ay - y0) - (y1 - y0) * (ax - x0)
    b_side = (x1 - x0) * (by - y0) - (y1 - y0) * (bx - x0)
    start_side = (bx - ax) * (y0 - ay) - (by - ay) * (x0 - ax)
    end_side = (bx - ax) * (y1 - ay) - (by - ay) * (x1 - ax)
    return (a_side > 0) != (b_side > 0) and (start_side > 0) != (end_side > 0)


@kernel
def crosses_edge(
    x0: float,
    y0: float,
    x1: float,
    y1: float,
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    first_ring: int,
    end_ring: int,
    ring_box: NDArray[np.float64],
    run_box: NDArray[np.float64],
    run_off: NDArray[np.int64],
) -> bool:
    """Whether the segment (x0, y0)-(x1, y1) crosses an edge of rings first_ring:end_ring."""
    low_x = min(x0, x1)
    high_x = max(x0, x1)
    low_y = min(y0, y1)
    high_y = max(y0, y1)
    dx = x1 - x0
    dy = y1 - y0
    for ring in range(first_ring, end_ring):
        if (
            ring_box[ring, 0] > high_x
            or ring_box[ring, 1] < low_x
            or ring_box[ring, 2] > high_y
            or ring_box[ring, 3] < low_y
        ):
            continue
        start = ring_off[ring]
        end = ring_off[ring + 1]
        for run in range(run_off[ring], run_off[ring + 1]):
            if (
                run_box[run, 0] > high_x
                or run_box[run, 1] < low_x
                or run_box[run, 2] > high_y
                or run_box[run, 3] < low_y
            ):
                continue
            # all of the box on one side of the segment's line?
            middle = dx * (0.5 * (run_box[run, 2] + run_box[run, 3]) - y0) - dy * (
                0.5 * (run_box[run, 0] + run_box[run, 1]) - x0
            )
            reach = 0.5 * (
                abs(dx) * (run_box[run, 3] - run_box[run, 2])
                + abs(dy) * (run_box[run, 1] - run_box[run, 0])
            )
            if abs(middle) > reach * (1.0 + 1e-9) + 1e-12:
                continue
            first = start + (run - run_off[ring]) * RUN_EDGES
            last = min(first + RUN_EDGES, end)
            for q in range(first, last):
                z = q + 1 if q + 1 < end else start
                if segments_cross(x0, y0, x1, y1, xy[q, 0], xy[q, 1], xy[z, 0], xy[z, 1]):
                    return True
    return False


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
