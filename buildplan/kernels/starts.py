"""Where paths and chains may begin: their boxes, ends, nearest vertices, and their islands."""

import math

import numpy as np
from numpy.typing import NDArray

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


@kernel
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
def path_boxes(
    path_x: NDArray[np.float64], path_y: NDArray[np.float64], path_off: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Box (n_paths, 4) x0, x1, y0, y1 of every path."""
    box = np.empty((len(path_off) - 1, 4), np.float64)
    for path in range(len(path_off) - 1):
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
    return box


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
        for which in range(2):
            s = head[chains[i]] if which == 0 else tail[chains[i]]
            for side in range(2):
                u = span[s, side]
                v = span_y[s]
                if family_wave[family, 0] != 0.0:
                    v += family_wave[family, 0] * math.sin(
                        2.0 * math.pi * u / family_wave[family, 1]
                    )
                ends[i, 4 * which + 2 * side] = (
                    family_frame[family, 0] * u - family_frame[family, 1] * v
                )
                ends[i, 4 * which + 2 * side + 1] = (
                    family_frame[family, 1] * u + family_frame[family, 0] * v
                )


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
    """Island (counted from `first`) whose outer ring holds the point; of nested ones the inner."""
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
