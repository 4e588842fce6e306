"""The point of a surface that is nearest to a segment."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.facet_tree import LEAF
from buildplan.kernels.jit import kernel, kernel_inline
from buildplan.kernels.opposed_ball import closest_on_facet

DEEPEST = 64
"""Nodes that wait while the tree is walked, at most."""


@kernel_inline
def _clamp(value: float) -> float:
    return min(1.0, max(0.0, value))


@kernel
def _segment_pair(
    a: NDArray[np.float64],
    b: NDArray[np.float64],
    c: NDArray[np.float64],
    d: NDArray[np.float64],
) -> tuple[float, float, float]:
    """Squared distance of segments a b and c d, and the share along each where it is taken.

    Source: Ericson, "Real-Time Collision Detection", 2005, section 5.1.9.
    """
    u, v, w = b - a, d - c, a - c
    uu = u[0] * u[0] + u[1] * u[1] + u[2] * u[2]
    vv = v[0] * v[0] + v[1] * v[1] + v[2] * v[2]
    uv = u[0] * v[0] + u[1] * v[1] + u[2] * v[2]
    uw = u[0] * w[0] + u[1] * w[1] + u[2] * w[2]
    vw = v[0] * w[0] + v[1] * w[1] + v[2] * w[2]
    across = uu * vv - uv * uv
    s = 0.0
    if across > 1e-14 * uu * vv:
        s = _clamp((uv * vw - uw * vv) / across)
    t = (uv * s + vw) / vv if vv > 0.0 else 0.0
    if t < 0.0 or t > 1.0:
        t = _clamp(t)
        s = _clamp((uv * t - uw) / uu) if uu > 0.0 else 0.0
    square = 0.0
    for axis in range(3):
        square += (w[axis] + s * u[axis] - t * v[axis]) ** 2
    return square, s, t


@kernel
def _crossing(a: NDArray[np.float64], b: NDArray[np.float64], corner: NDArray[np.float64]) -> float:
    """Share along the segment a b at which it passes through a facet (3, 3), or -1.

    Source: Moeller and Trumbore, "Fast, minimum storage ray/triangle intersection", 1997.
    """
    way = b - a
    e = corner[1] - corner[0]
    f = corner[2] - corner[0]
    px = way[1] * f[2] - way[2] * f[1]
    py = way[2] * f[0] - way[0] * f[2]
    pz = way[0] * f[1] - way[1] * f[0]
    size = e[0] * px + e[1] * py + e[2] * pz
    if size == 0.0:
        return -1.0
    off = a - corner[0]
    u = (off[0] * px + off[1] * py + off[2] * pz) / size
    qx = off[1] * e[2] - off[2] * e[1]
    qy = off[2] * e[0] - off[0] * e[2]
    qz = off[0] * e[1] - off[1] * e[0]
    v = (way[0] * qx + way[1] * qy + way[2] * qz) / size
    t = float((f[0] * qx + f[1] * qy + f[2] * qz) / size)
    if u < 0.0 or v < 0.0 or u + v > 1.0 or t < 0.0 or t > 1.0:
        return -1.0
    return t


@kernel
def segment_gap(
    corners: NDArray[np.float64],
    boxes: NDArray[np.float64],
    leaves: int,
    start: NDArray[np.float64],
    end: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Distance between a segment and a surface, and where: (7,) distance, point of each.

    A branch is passed over where the sphere round its box, or the box itself, is farther from the
    segment's line or box than the best so far.

    Args:
        corners: (m, 3, 3) sorted corners of build_facet_tree.
        boxes: (2 leaves, 6) of build_facet_tree.
        leaves: Of build_facet_tree.
        start: (3,) of the segment.
        end: (3,); may equal the start.

    Returns:
        0 where the segment passes through the surface; a segment wholly inside a body has the
        distance of its surface.
    """
    best = np.inf
    answer = np.zeros(7)
    waiting = np.empty(DEEPEST, np.int64)
    way = end - start
    long = way[0] * way[0] + way[1] * way[1] + way[2] * way[2]
    waiting[0] = 1
    n = 1
    while n > 0:
        n -= 1
        node = waiting[n]
        if boxes[node, 0] > boxes[node, 3]:
            continue
        apart = 0.0
        along = 0.0
        half = 0.0
        for axis in range(3):
            low = min(start[axis], end[axis])
            high = max(start[axis], end[axis])
            apart += max(boxes[node, axis] - high, 0.0, low - boxes[node, 3 + axis]) ** 2
            middle = 0.5 * (boxes[node, axis] + boxes[node, 3 + axis])
            along += (middle - start[axis]) * way[axis]
            half += (0.5 * (boxes[node, 3 + axis] - boxes[node, axis])) ** 2
        if apart >= best:
            continue
        share = _clamp(along / long) if long > 0.0 else 0.0
        off = 0.0
        for axis in range(3):
            middle = 0.5 * (boxes[node, axis] + boxes[node, 3 + axis])
            off += (start[axis] + share * way[axis] - middle) ** 2
        room = math.sqrt(off) - math.sqrt(half)
        if room > 0.0 and room * room >= best:
            continue
        if node < leaves:
            waiting[n] = 2 * node
            waiting[n + 1] = 2 * node + 1
            n += 2
            continue
        begin = (node - leaves) * LEAF
        for f in range(begin, min(begin + LEAF, len(corners))):
            share = _crossing(start, end, corners[f])
            if share >= 0.0:
                best = 0.0
                for axis in range(3):
                    answer[1 + axis] = start[axis] + share * way[axis]
                    answer[4 + axis] = answer[1 + axis]
                continue
            for edge in range(3):
                c = corners[f, edge]
                d = corners[f, (edge + 1) % 3]
                square, s, t = _segment_pair(start, end, c, d)
                if square < best:
                    best = square
                    for axis in range(3):
                        answer[1 + axis] = start[axis] + s * way[axis]
                        answer[4 + axis] = c[axis] + t * (d[axis] - c[axis])
            for tip in range(2):
                point = end if tip else start
                px, py, pz = closest_on_facet(corners, f, point[0], point[1], point[2])
                square = (px - point[0]) ** 2 + (py - point[1]) ** 2 + (pz - point[2]) ** 2
                if square < best:
                    best = square
                    answer[1], answer[2], answer[3] = point[0], point[1], point[2]
                    answer[4], answer[5], answer[6] = px, py, pz
    answer[0] = math.sqrt(best)
    return answer
