"""Facets that pass through each other, and how often a ray leaves minus enters a surface."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.facet_tree import LEAF
from buildplan.kernels.jit import kernel

TOLERANCE = 1e-6
"""Share of an edge's length below which a corner counts as lying on the other facet's plane."""

PARTIAL = 1e-6
"""Share of a facet along its rim within which a crossing is a touch in one shell, and a crossing
between two shells (symmetric bodies meet edge on edge)."""

CROSSES_OWN, CROSSES_OTHER = 1, 2
"""Bits of a facet's mark: it crosses its own shell, it crosses another shell."""


@kernel
def _edge_crosses(
    corners: NDArray[np.float64],
    f: int,
    g: int,
    normal: NDArray[np.float64],
    rim: float,
) -> bool:
    """Whether an edge of facet f passes through facet g (normal given) further in than ``rim``."""
    length = math.sqrt(normal[0] ** 2 + normal[1] ** 2 + normal[2] ** 2)
    if length == 0.0:
        return False
    heights = np.empty(3)
    for k in range(3):
        heights[k] = (
            (corners[f, k, 0] - corners[g, 0, 0]) * normal[0]
            + (corners[f, k, 1] - corners[g, 0, 1]) * normal[1]
            + (corners[f, k, 2] - corners[g, 0, 2]) * normal[2]
        ) / length
    scale = math.sqrt(length)
    ux = corners[g, 1, 0] - corners[g, 0, 0]
    uy = corners[g, 1, 1] - corners[g, 0, 1]
    uz = corners[g, 1, 2] - corners[g, 0, 2]
    vx = corners[g, 2, 0] - corners[g, 0, 0]
    vy = corners[g, 2, 1] - corners[g, 0, 1]
    vz = corners[g, 2, 2] - corners[g, 0, 2]
    uu = ux * ux + uy * uy + uz * uz
    uv = ux * vx + uy * vy + uz * vz
    vv = vx * vx + vy * vy + vz * vz
    shape = uu * vv - uv * uv
    if shape <= 0.0:
        return False
    for k in range(3):
        j = (k + 1) % 3
        if heights[k] * heights[j] >= 0.0:
            continue
        ex = corners[f, j, 0] - corners[f, k, 0]
        ey = corners[f, j, 1] - corners[f, k, 1]
        ez = corners[f, j, 2] - corners[f, k, 2]
        near = TOLERANCE * max(scale, math.sqrt(ex * ex + ey * ey + ez * ez))
        if abs(heights[k]) < near or abs(heights[j]) < near:
            continue
        share = heights[k] / (heights[k] - heights[j])
        x = corners[f, k, 0] + share * ex - corners[g, 0, 0]
        y = corners[f, k, 1] + share * ey - corners[g, 0, 1]
        z = corners[f, k, 2] + share * ez - corners[g, 0, 2]
        xu = x * ux + y * uy + z * uz
        xv = x * vx + y * vy + z * vz
        a = (vv * xu - uv * xv) / shape
        b = (uu * xv - uv * xu) / shape
        if a > rim and b > rim and a + b < 1.0 - rim:
            return True
    return False


@kernel
def _facet_normal(corners: NDArray[np.float64], f: int, normal: NDArray[np.float64]) -> None:
    """Write twice the area vector of facet f into ``normal``."""
    ux = corners[f, 1, 0] - corners[f, 0, 0]
    uy = corners[f, 1, 1] - corners[f, 0, 1]
    uz = corners[f, 1, 2] - corners[f, 0, 2]
    vx = corners[f, 2, 0] - corners[f, 0, 0]
    vy = corners[f, 2, 1] - corners[f, 0, 1]
    vz = corners[f, 2, 2] - corners[f, 0, 2]
    normal[0] = uy * vz - uz * vy
    normal[1] = uz * vx - ux * vz
    normal[2] = ux * vy - uy * vx


@kernel
def _apart(corners: NDArray[np.float64], f: int, g: int, normal: NDArray[np.float64]) -> bool:
    """Whether facet f lies wholly on one side of facet g's plane."""
    above = False
    below = False
    for k in range(3):
        height = (
            (corners[f, k, 0] - corners[g, 0, 0]) * normal[0]
            + (corners[f, k, 1] - corners[g, 0, 1]) * normal[1]
            + (corners[f, k, 2] - corners[g, 0, 2]) * normal[2]
        )
        if height > 0.0:
            above = True
        elif height < 0.0:
            below = True
    return not (above and below)


@kernel
def mark_crossings(
    corners: NDArray[np.float64],
    facets: NDArray[np.int64],
    shell: NDArray[np.int32],
    boxes: NDArray[np.float64],
    leaves: int,
    budget: int,
) -> tuple[NDArray[np.uint8], bool]:
    """Facets that another facet passes through; facets with a common edge are not compared.

    Args:
        corners: (m, 3, 3) in the order of the tree.
        facets: (m, 3) vertex numbers in the same order.
        shell: (m,) shell of each facet in the same order.
        boxes: (2 leaves, 6) as ``build_facet_tree`` gives them.
        leaves: Number of leaves.
        budget: Pairs of leaves and of facets after which the search stops.

    Returns:
        mark: (m,) bits CROSSES_OWN and CROSSES_OTHER.
        finished: False where the budget ran out.

    Source: Moeller, "A fast triangle-triangle intersection test", 1997 (the rejection by planes).
    """
    count = len(corners)
    mark = np.zeros(count, np.uint8)
    low = np.empty((count, 3))
    high = np.empty((count, 3))
    normals = np.empty((count, 3))
    for f in range(count):
        for axis in range(3):
            low[f, axis] = min(corners[f, 0, axis], corners[f, 1, axis], corners[f, 2, axis])
            high[f, axis] = max(corners[f, 0, axis], corners[f, 1, axis], corners[f, 2, axis])
        _facet_normal(corners, f, normals[f])
    stack = np.empty(64, np.int64)
    tried = 0
    for leaf in range((count + LEAF - 1) // LEAF):
        own = leaves + leaf
        stack[0] = 1
        waiting = 1
        while waiting > 0:
            waiting -= 1
            node = stack[waiting]
            if (
                boxes[node, 0] > boxes[own, 3]
                or boxes[node, 3] < boxes[own, 0]
                or boxes[node, 1] > boxes[own, 4]
                or boxes[node, 4] < boxes[own, 1]
                or boxes[node, 2] > boxes[own, 5]
                or boxes[node, 5] < boxes[own, 2]
            ):
                continue
            if node < leaves:
                # skip what lies wholly before this leaf: that pair was met from the other side
                last = 2 * node + 1
                while last < leaves:
                    last = 2 * last + 1
                if last >= own:
                    stack[waiting] = 2 * node
                    stack[waiting + 1] = 2 * node + 1
                    waiting += 2
                continue
            if node < own:
                continue
            tried += 1
            for f in range(leaf * LEAF, min(count, leaf * LEAF + LEAF)):
                first = (node - leaves) * LEAF
                for g in range(max(first, f + 1), min(count, first + LEAF)):
                    if (
                        low[g, 0] > high[f, 0]
                        or high[g, 0] < low[f, 0]
                        or low[g, 1] > high[f, 1]
                        or high[g, 1] < low[f, 1]
                        or low[g, 2] > high[f, 2]
                        or high[g, 2] < low[f, 2]
                    ):
                        continue
                    bit = CROSSES_OWN if shell[f] == shell[g] else CROSSES_OTHER
                    if mark[f] & bit and mark[g] & bit:
                        continue
                    common = 0
                    for a in range(3):
                        for b in range(3):
                            if facets[f, a] == facets[g, b]:
                                common += 1
                    if common >= 2:
                        continue
                    tried += 1
                    if _apart(corners, g, f, normals[f]) or _apart(corners, f, g, normals[g]):
                        continue
                    rim = PARTIAL if bit == CROSSES_OWN else -PARTIAL
                    if _edge_crosses(corners, f, g, normals[g], rim) or _edge_crosses(
                        corners, g, f, normals[f], rim
                    ):
                        mark[f] |= np.uint8(bit)
                        mark[g] |= np.uint8(bit)
        if tried > budget:
            return mark, False
    return mark, True


@kernel
def count_windings(
    corners: NDArray[np.float64],
    shell: NDArray[np.int32],
    boxes: NDArray[np.float64],
    leaves: int,
    points: NDArray[np.float64],
    but: NDArray[np.int32],
    only: int,
    direction: NDArray[np.float64],
    budget: int,
) -> tuple[NDArray[np.int64], bool]:
    """How many surfaces enclose each point: crossings outwards minus inwards along one ray.

    Args:
        corners: (m, 3, 3) in the order of the tree.
        shell: (m,) shell of each facet in the same order.
        boxes: (2 leaves, 6) as ``build_facet_tree`` gives them.
        leaves: Number of leaves.
        points: (k, 3) where the rays start.
        but: (k,) shell left out for each point, -1 for none.
        only: The one shell that counts, -1 for all.
        direction: (3,) no component 0.
        budget: Nodes that may be looked at before the search stops.

    Returns:
        winding: (k,) signed crossings; 0 outside, 1 inside one outward-facing surface.
        finished: False where the budget ran out, the rest of ``winding`` being 0.

    Source: Moeller and Trumbore, "Fast, minimum storage ray/triangle intersection", 1997.
    """
    count = len(corners)
    result = np.zeros(len(points), np.int64)
    stack = np.empty(64, np.int64)
    seen = 0
    dx, dy, dz = direction[0], direction[1], direction[2]
    for i in range(len(points)):
        px, py, pz = points[i, 0], points[i, 1], points[i, 2]
        stack[0] = 1
        waiting = 1
        total = 0
        while waiting > 0:
            waiting -= 1
            node = stack[waiting]
            seen += 1
            if boxes[node, 0] > boxes[node, 3]:
                continue
            t0 = (boxes[node, 0] - px) / dx
            t1 = (boxes[node, 3] - px) / dx
            near = min(t0, t1)
            far = max(t0, t1)
            t0 = (boxes[node, 1] - py) / dy
            t1 = (boxes[node, 4] - py) / dy
            near = max(near, min(t0, t1))
            far = min(far, max(t0, t1))
            t0 = (boxes[node, 2] - pz) / dz
            t1 = (boxes[node, 5] - pz) / dz
            near = max(near, min(t0, t1))
            far = min(far, max(t0, t1))
            slack = 1e-9 * (abs(near) + abs(far))
            if far < -slack or near > far + slack:
                continue
            if node < leaves:
                stack[waiting] = 2 * node
                stack[waiting + 1] = 2 * node + 1
                waiting += 2
                continue
            first = (node - leaves) * LEAF
            for f in range(first, min(count, first + LEAF)):
                if shell[f] == but[i] or (only >= 0 and shell[f] != only):
                    continue
                ux = corners[f, 1, 0] - corners[f, 0, 0]
                uy = corners[f, 1, 1] - corners[f, 0, 1]
                uz = corners[f, 1, 2] - corners[f, 0, 2]
                vx = corners[f, 2, 0] - corners[f, 0, 0]
                vy = corners[f, 2, 1] - corners[f, 0, 1]
                vz = corners[f, 2, 2] - corners[f, 0, 2]
                hx = dy * vz - dz * vy
                hy = dz * vx - dx * vz
                hz = dx * vy - dy * vx
                det = ux * hx + uy * hy + uz * hz
                if det == 0.0:
                    continue
                sx = px - corners[f, 0, 0]
                sy = py - corners[f, 0, 1]
                sz = pz - corners[f, 0, 2]
                a = (sx * hx + sy * hy + sz * hz) / det
                if a < 0.0 or a > 1.0:
                    continue
                qx = sy * uz - sz * uy
                qy = sz * ux - sx * uz
                qz = sx * uy - sy * ux
                b = (dx * qx + dy * qy + dz * qz) / det
                if b < 0.0 or a + b > 1.0:
                    continue
                if (vx * qx + vy * qy + vz * qz) / det > 0.0:
                    total += 1 if det < 0.0 else -1
        if seen > budget:
            return result, False
        result[i] = total
    return result, True


@kernel
def boxes_meet(boxes: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether each box shares some room with another: (k, 6) least and greatest x y z in."""
    count = len(boxes)
    meets = np.zeros(count, np.bool_)
    for i in range(count):
        for j in range(count):
            if (
                i != j
                and boxes[j, 0] < boxes[i, 3]
                and boxes[j, 3] > boxes[i, 0]
                and boxes[j, 1] < boxes[i, 4]
                and boxes[j, 4] > boxes[i, 1]
                and boxes[j, 2] < boxes[i, 5]
                and boxes[j, 5] > boxes[i, 2]
            ):
                meets[i] = True
                break
    return meets
