"""The first facet that a ray meets."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.facet_tree import LEAF
from buildplan.kernels.jit import kernel, kernel_inline

DEEPEST = 64
"""Nodes that wait while a tree is walked, at most."""


@kernel_inline
def _enter_box(
    boxes: NDArray[np.float64],
    node: int,
    start: NDArray[np.float64],
    inverse: NDArray[np.float64],
    farthest: float,
) -> float:
    """Distance at which a ray enters a node's box, inf where it misses it or enters too far on."""
    near = 0.0
    far = farthest if boxes[node, 0] <= boxes[node, 3] else -1.0  # an empty node is never entered
    for axis in range(3):
        a = (boxes[node, axis] - start[axis]) * inverse[axis]
        b = (boxes[node, 3 + axis] - start[axis]) * inverse[axis]
        near = max(near, min(a, b))
        far = min(far, max(a, b))
    # a ray that only touches the box must not miss it by rounding
    return near if near <= far * (1.0 + 1e-12) + 1e-12 else np.inf


@kernel
def first_hits(
    sorted_corners: NDArray[np.float64],
    boxes: NDArray[np.float64],
    leaves: int,
    starts: NDArray[np.float64],
    directions: NDArray[np.float64],
    nearest: float,
    farthest: float,
) -> NDArray[np.float64]:
    """Distance along each ray to the first facet, inf where there is none.

    Args:
        sorted_corners: (m, 3, 3) of build_facet_tree.
        boxes: (2 leaves, 6) of build_facet_tree.
        leaves: Of build_facet_tree.
        starts: (n, 3).
        directions: (n, 3) unit vectors.
        nearest: Hits closer than this do not count (the facet that the ray starts on).
        farthest: Hits farther than this do not count.

    Returns:
        (n,).

    Source: Moller and Trumbore, "Fast, minimum storage ray/triangle intersection", 1997.
    """
    found = np.full(len(starts), np.inf)
    waiting = np.empty(DEEPEST, np.int64)
    entered = np.empty(DEEPEST)
    start = np.empty(3)
    inverse = np.empty(3)
    for ray in range(len(starts)):
        dx = directions[ray, 0]
        dy = directions[ray, 1]
        dz = directions[ray, 2]
        for axis in range(3):
            start[axis] = starts[ray, axis]
            along = directions[ray, axis]
            if abs(along) < 1e-30:
                along = math.copysign(1e-30, along)
            inverse[axis] = 1.0 / along
        best = farthest
        hit = False
        waiting[0] = 1
        entered[0] = _enter_box(boxes, 1, start, inverse, best)
        n = 1
        while n > 0:
            n -= 1
            node = waiting[n]
            if entered[n] > best:
                continue
            if node < leaves:
                left = _enter_box(boxes, 2 * node, start, inverse, best)
                right = _enter_box(boxes, 2 * node + 1, start, inverse, best)
                # the nearer one is put on top
                if left <= right:
                    waiting[n], entered[n] = 2 * node + 1, right
                    waiting[n + 1], entered[n + 1] = 2 * node, left
                else:
                    waiting[n], entered[n] = 2 * node, left
                    waiting[n + 1], entered[n + 1] = 2 * node + 1, right
                n += 2
                continue
            begin = (node - leaves) * LEAF
            for f in range(begin, min(begin + LEAF, len(sorted_corners))):
                ax = sorted_corners[f, 0, 0]
                ay = sorted_corners[f, 0, 1]
                az = sorted_corners[f, 0, 2]
                ux = sorted_corners[f, 1, 0] - ax
                uy = sorted_corners[f, 1, 1] - ay
                uz = sorted_corners[f, 1, 2] - az
                vx = sorted_corners[f, 2, 0] - ax
                vy = sorted_corners[f, 2, 1] - ay
                vz = sorted_corners[f, 2, 2] - az
                px = dy * vz - dz * vy
                py = dz * vx - dx * vz
                pz = dx * vy - dy * vx
                det = ux * px + uy * py + uz * pz
                if det == 0.0:
                    continue
                sx = start[0] - ax
                sy = start[1] - ay
                sz = start[2] - az
                s = (sx * px + sy * py + sz * pz) / det
                if s < 0.0 or s > 1.0:
                    continue
                qx = sy * uz - sz * uy
                qy = sz * ux - sx * uz
                qz = sx * uy - sy * ux
                t = (dx * qx + dy * qy + dz * qz) / det
                if t < 0.0 or s + t > 1.0:
                    continue
                distance = (vx * qx + vy * qy + vz * qz) / det
                if nearest <= distance <= best:
                    best = distance
                    hit = True
        if hit:
            found[ray] = best
    return found
