"""Where paths and chains may begin: their boxes, ends, nearest vertices, and their islands."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.chains import line_point, wave_turn
from buildplan.kernels.crossing import point_in_ring
from buildplan.kernels.jit import kernel, kernel_inline

START_SAMPLES = 24
"""Vertices of a closed path that are tried first when its nearest start is sought."""


@kernel_inline
def box_distance2(x: float, y: float, box: NDArray[np.float64], row: int) -> float:
    """Squared distance of a point to the box (x0, x1, y0, y1) in a row of `box`."""
    dx = max(box[row, 0] - x, x - box[row, 1], 0.0)
    dy = max(box[row, 2] - y, y - box[row, 3], 0.0)
    return float(dx * dx + dy * dy)


@kernel_inline
def nearest_start(
    x: float,
    y: float,
    path_x: NDArray[np.float64],
    path_y: NDArray[np.float64],
    start: int,
    end: int,
    closed: bool,
    exact: bool,
) -> tuple[float, int]:
    """Squared distance and index (from `start`) of the point where a path is best begun.

    A closed path may begin anywhere: every n-th vertex is tried, then, if `exact`, the vertices
    round the best one. An open path begins at either end.
    """
    best = 1e300
    at = 0
    n = end - start
    if closed:
        step = max(1, n // START_SAMPLES)
        for q in range(0, n, step):
            d = (path_x[start + q] - x) ** 2 + (path_y[start + q] - y) ** 2
            if d < best:
                best = d
                at = q
        if exact and step > 1:
            middle = at
            for s in range(middle - step, middle + step + 1):
                q = s % n
                d = (path_x[start + q] - x) ** 2 + (path_y[start + q] - y) ** 2
                if d < best:
                    best = d
                    at = q
    else:
        for q in (0, n - 1):
            d = (path_x[start + q] - x) ** 2 + (path_y[start + q] - y) ** 2
            if d < best:
                best = d
                at = q
    return best, at


@kernel
def nearest_path(
    x: float,
    y: float,
    path_x: NDArray[np.float64],
    path_y: NDArray[np.float64],
    path_off: NDArray[np.int64],
    path_closed: NDArray[np.uint8],
    box: NDArray[np.float64],
    left: NDArray[np.int64],
    base: int,
    count: int,
    best: float,
    exact: bool,
) -> tuple[float, int, int]:
    """The nearest start of the paths left[base : base + count] that is nearer than `best`.

    Returns:
        Its squared distance, its place in `left` and its point (see nearest_start); `best`, -1
        and 0 where none is nearer.
    """
    found = -1
    at = 0
    for slot in range(base, base + count):
        path = left[slot]
        if box_distance2(x, y, box, path) >= best:
            continue
        d, q = nearest_start(
            x,
            y,
            path_x,
            path_y,
            path_off[path],
            path_off[path + 1],
            path_closed[path] == 1,
            exact,
        )
        if d < best:
            best = d
            found = slot
            at = q
    return best, found, at


@kernel
def box_paths(
    path_x: NDArray[np.float64],
    path_y: NDArray[np.float64],
    path_off: NDArray[np.int64],
    first: int,
    end: int,
    box: NDArray[np.float64],
) -> None:
    """Fill box (n_paths, 4) x0, x1, y0, y1 of the paths first .. end - 1."""
    for path in range(first, end):
        x0 = 1e300
        x1 = -1e300
        y0 = 1e300
        y1 = -1e300
        for q in range(path_off[path], path_off[path + 1]):
            x0 = min(x0, path_x[q])
            x1 = max(x1, path_x[q])
            y0 = min(y0, path_y[q])
            y1 = max(y1, path_y[q])
        box[path, 0] = x0
        box[path, 1] = x1
        box[path, 2] = y0
        box[path, 3] = y1


@kernel
def chain_ends(
    span: NDArray[np.float64],
    span_y: NDArray[np.float64],
    chains: NDArray[np.int64],
    head: NDArray[np.int64],
    tail: NDArray[np.int64],
    family_of: NDArray[np.int64],
    family_frame: NDArray[np.float64],
    family_wave: NDArray[np.float64],
    ends: NDArray[np.float64],
) -> None:
    """Fill ends[i] (8 numbers): x, y of both ends of a chain's first, then of its last span."""
    for i in range(len(chains)):
        family = family_of[i]
        turn = wave_turn(family_wave, family)
        for which in range(2):
            s = head[chains[i]] if which == 0 else tail[chains[i]]
            for side in range(2):
                x, y = line_point(
                    span[s, side],
                    span_y[s],
                    family_frame[family, 0],
                    family_frame[family, 1],
                    family_wave[family, 0],
                    turn,
                )
                ends[i, 4 * which + 2 * side] = x
                ends[i, 4 * which + 2 * side + 1] = y


@kernel
def island_at(
    x: float,
    y: float,
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    island_off: NDArray[np.int64],
    first: int,
    end: int,
    ring_box: NDArray[np.float64],
) -> int:
    """Island (counted from `first`) whose outer ring holds the point; of nested ones the inner.

    The point lies in one of them, so where only one box holds it no ring is asked.
    """
    found = 0
    boxes = 0
    for island in range(first, end):
        if box_distance2(x, y, ring_box, island_off[island]) == 0.0:
            found = island - first
            boxes += 1
    if boxes <= 1:
        return found
    found = 0
    least = 1e300
    for island in range(first, end):
        ring = island_off[island]
        if box_distance2(x, y, ring_box, ring) > 0.0:
            continue
        size = (ring_box[ring, 1] - ring_box[ring, 0]) * (ring_box[ring, 3] - ring_box[ring, 2])
        if size < least and point_in_ring(x, y, xy, ring_off[ring], ring_off[ring + 1]):
            found = island - first
            least = size
    return found
