"""The widest ball that touches a surface at a point and reaches no facet that faces it."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.facet_tree import LEAF
from buildplan.kernels.jit import kernel, kernel_inline

OPPOSED = -0.5 - 1e-6
"""Facets face each other where their outward normals' product is below this: 120 degrees apart, or
an edge sharper than 60 degrees. The millionth keeps an edge of exactly 60 degrees out."""

INSIDE = -1.0
OUTSIDE = 1.0
"""Sides of the surface on which the ball lies: against the outward normal, or along it."""

DEEPEST = 64
"""Nodes that wait while a tree is walked, at most."""

LARGER = 1.0 - 1e-7
"""A facet counts once it reaches into the ball by more than this share of the radius."""

AHEAD = 1e-6
"""Hits in the first and last such share of a line of sight are its own ends."""


@kernel
def bound_normals(
    sorted_corners: NDArray[np.float64], leaves: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Normals of facets in the tree's order, bounds of the normals under every node, and areas.

    Args:
        sorted_corners: (m, 3, 3) of build_facet_tree.
        leaves: Of build_facet_tree.

    Returns:
        normals: (m, 3) unit vectors; zero for a facet without area.
        ranges: (2 leaves, 6) least x y z, greatest x y z of the normals; an empty node has
            least > greatest.
        areas: (m,).
    """
    count = len(sorted_corners)
    normals = np.zeros((count, 3))
    areas = np.empty(count)
    ranges = np.empty((2 * leaves, 6))
    ranges[:, :3] = np.inf
    ranges[:, 3:] = -np.inf
    for f in range(count):
        ux = sorted_corners[f, 1, 0] - sorted_corners[f, 0, 0]
        uy = sorted_corners[f, 1, 1] - sorted_corners[f, 0, 1]
        uz = sorted_corners[f, 1, 2] - sorted_corners[f, 0, 2]
        vx = sorted_corners[f, 2, 0] - sorted_corners[f, 0, 0]
        vy = sorted_corners[f, 2, 1] - sorted_corners[f, 0, 1]
        vz = sorted_corners[f, 2, 2] - sorted_corners[f, 0, 2]
        x = uy * vz - uz * vy
        y = uz * vx - ux * vz
        z = ux * vy - uy * vx
        length = math.sqrt(x * x + y * y + z * z)
        areas[f] = 0.5 * length
        if length > 0.0:
            normals[f, 0] = x / length
            normals[f, 1] = y / length
            normals[f, 2] = z / length
        node = leaves + f // LEAF
        for axis in range(3):
            ranges[node, axis] = min(ranges[node, axis], normals[f, axis])
            ranges[node, 3 + axis] = max(ranges[node, 3 + axis], normals[f, axis])
    for node in range(leaves - 1, 0, -1):
        for axis in range(3):
            ranges[node, axis] = min(ranges[2 * node, axis], ranges[2 * node + 1, axis])
            ranges[node, 3 + axis] = max(ranges[2 * node, 3 + axis], ranges[2 * node + 1, 3 + axis])
    return normals, ranges, areas


@kernel_inline
def _box_distance2(boxes: NDArray[np.float64], node: int, cx: float, cy: float, cz: float) -> float:
    """Squared distance of a point from a node's box; inf from an empty one."""
    dx = max(boxes[node, 0] - cx, 0.0, cx - boxes[node, 3])
    dy = max(boxes[node, 1] - cy, 0.0, cy - boxes[node, 4])
    dz = max(boxes[node, 2] - cz, 0.0, cz - boxes[node, 5])
    distance2: float = dx * dx + dy * dy + dz * dz
    return distance2


@kernel_inline
def _least_product(
    ranges: NDArray[np.float64], node: int, nx: float, ny: float, nz: float
) -> float:
    """Lower bound of the product of a normal with those under a node."""
    product: float = (
        min(ranges[node, 0] * nx, ranges[node, 3] * nx)
        + min(ranges[node, 1] * ny, ranges[node, 4] * ny)
        + min(ranges[node, 2] * nz, ranges[node, 5] * nz)
    )
    return product


@kernel
def closest_on_facet(
    corners: NDArray[np.float64], f: int, x: float, y: float, z: float
) -> tuple[float, float, float]:
    """Point of facet f that is closest to (x, y, z).

    Source: Ericson, "Real-time collision detection", 2005, section 5.1.5.
    """
    ax = corners[f, 0, 0]
    ay = corners[f, 0, 1]
    az = corners[f, 0, 2]
    ux = corners[f, 1, 0] - ax
    uy = corners[f, 1, 1] - ay
    uz = corners[f, 1, 2] - az
    vx = corners[f, 2, 0] - ax
    vy = corners[f, 2, 1] - ay
    vz = corners[f, 2, 2] - az
    px = x - ax
    py = y - ay
    pz = z - az
    d1 = ux * px + uy * py + uz * pz
    d2 = vx * px + vy * py + vz * pz
    if d1 <= 0.0 and d2 <= 0.0:
        return ax, ay, az
    uu = ux * ux + uy * uy + uz * uz
    uv = ux * vx + uy * vy + uz * vz
    vv = vx * vx + vy * vy + vz * vz
    d3 = d1 - uu
    d4 = d2 - uv
    if d3 >= 0.0 and d4 <= d3:
        return ax + ux, ay + uy, az + uz
    vc = d1 * d4 - d3 * d2
    if vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        s = d1 / (d1 - d3)
        return ax + s * ux, ay + s * uy, az + s * uz
    d5 = d1 - uv
    d6 = d2 - vv
    if d6 >= 0.0 and d5 <= d6:
        return ax + vx, ay + vy, az + vz
    vb = d5 * d2 - d1 * d6
    if vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        s = d2 / (d2 - d6)
        return ax + s * vx, ay + s * vy, az + s * vz
    va = d3 * d6 - d5 * d4
    if va <= 0.0 and d4 >= d3 and d5 >= d6:
        s = (d4 - d3) / ((d4 - d3) + (d5 - d6))
        return ax + ux + s * (vx - ux), ay + uy + s * (vy - uy), az + uz + s * (vz - uz)
    scale = 1.0 / (va + vb + vc)
    s = vb * scale
    t = vc * scale
    return ax + s * ux + t * vx, ay + s * uy + t * vy, az + s * uz + t * vz


@kernel
def _shrink_to_facet(
    corners: NDArray[np.float64],
    normals: NDArray[np.float64],
    f: int,
    at: NDArray[np.float64],
    radius: float,
    touched: NDArray[np.float64],
) -> float:
    """Radius of the ball once facet f reaches no further into it; unchanged where it does not.

    ``at`` is (x y z of the point, x y z of the direction into which the ball lies); ``touched``
    becomes the point of contact.
    """
    height = (
        (at[0] - corners[f, 0, 0]) * normals[f, 0]
        + (at[1] - corners[f, 0, 1]) * normals[f, 1]
        + (at[2] - corners[f, 0, 2]) * normals[f, 2]
    )
    slope = at[3] * normals[f, 0] + at[4] * normals[f, 1] + at[5] * normals[f, 2]
    if abs(height + slope * radius) >= radius:
        return radius
    for _ in range(50):
        cx = at[0] + at[3] * radius
        cy = at[1] + at[4] * radius
        cz = at[2] + at[5] * radius
        x, y, z = closest_on_facet(corners, f, cx, cy, cz)
        reach = radius * LARGER
        if (x - cx) ** 2 + (y - cy) ** 2 + (z - cz) ** 2 >= reach * reach:
            break
        dx = x - at[0]
        dy = y - at[1]
        dz = z - at[2]
        along = dx * at[3] + dy * at[4] + dz * at[5]
        if along <= 0.0:
            break
        radius = (dx * dx + dy * dy + dz * dz) / (2.0 * along)
        touched[0] = x
        touched[1] = y
        touched[2] = z
    return radius


@kernel
def _first_crossing(
    corners: NDArray[np.float64],
    boxes: NDArray[np.float64],
    leaves: int,
    start: NDArray[np.float64],
    step: NDArray[np.float64],
    own: int,
    nearest: float,
    farthest: float,
    any_one: bool,
    waiting: NDArray[np.int64],
) -> tuple[float, int]:
    """Multiple of ``step`` at which a ray meets a facet other than ``own``, and that facet.

    With ``any_one`` the first facet found will do, not the nearest. (farthest, -1) where none is.
    """
    best = farthest
    found = -1
    ix = 1.0 / step[0] if abs(step[0]) > 1e-30 else 1e30
    iy = 1.0 / step[1] if abs(step[1]) > 1e-30 else 1e30
    iz = 1.0 / step[2] if abs(step[2]) > 1e-30 else 1e30
    waiting[0] = 1
    n = 1
    while n > 0:
        n -= 1
        node = waiting[n]
        if boxes[node, 0] > boxes[node, 3]:
            continue
        a = (boxes[node, 0] - start[0]) * ix
        b = (boxes[node, 3] - start[0]) * ix
        near = min(a, b)
        far = max(a, b)
        a = (boxes[node, 1] - start[1]) * iy
        b = (boxes[node, 4] - start[1]) * iy
        near = max(near, min(a, b))
        far = min(far, max(a, b))
        a = (boxes[node, 2] - start[2]) * iz
        b = (boxes[node, 5] - start[2]) * iz
        near = max(near, min(a, b), 0.0)
        far = min(far, max(a, b), best)
        # a ray that only touches a box must not miss it by rounding
        if near > far * (1.0 + 1e-12) + 1e-12:
            continue
        if node < leaves:
            waiting[n] = 2 * node
            waiting[n + 1] = 2 * node + 1
            n += 2
            continue
        begin = (node - leaves) * LEAF
        for f in range(begin, min(begin + LEAF, len(corners))):
            if f == own:
                continue
            ux = corners[f, 1, 0] - corners[f, 0, 0]
            uy = corners[f, 1, 1] - corners[f, 0, 1]
            uz = corners[f, 1, 2] - corners[f, 0, 2]
            vx = corners[f, 2, 0] - corners[f, 0, 0]
            vy = corners[f, 2, 1] - corners[f, 0, 1]
            vz = corners[f, 2, 2] - corners[f, 0, 2]
            px = step[1] * vz - step[2] * vy
            py = step[2] * vx - step[0] * vz
            pz = step[0] * vy - step[1] * vx
            det = ux * px + uy * py + uz * pz
            if det == 0.0:
                continue
            sx = start[0] - corners[f, 0, 0]
            sy = start[1] - corners[f, 0, 1]
            sz = start[2] - corners[f, 0, 2]
            s = (sx * px + sy * py + sz * pz) / det
            if s < 0.0 or s > 1.0:
                continue
            qx = sy * uz - sz * uy
            qy = sz * ux - sx * uz
            qz = sx * uy - sy * ux
            t = (step[0] * qx + step[1] * qy + step[2] * qz) / det
            if t < 0.0 or s + t > 1.0:
                continue
            distance = (vx * qx + vy * qy + vz * qz) / det
            if nearest <= distance <= best:
                best = distance
                found = f
                if any_one:
                    return best, found
    return best, found


@kernel
def opposed_balls(
    corners: NDArray[np.float64],
    normals: NDArray[np.float64],
    boxes: NDArray[np.float64],
    ranges: NDArray[np.float64],
    leaves: int,
    points: NDArray[np.float64],
    own: NDArray[np.int64],
    side: float,
    cap: float,
    width: NDArray[np.float64],
    contact: NDArray[np.int64],
) -> None:
    """Diameter of the widest ball at each point that no facing facet reaches into, up to a cap.

    The ball touches the surface at the point and lies inside (wall thickness) or outside (gap).
    All balls at a point are nested, so one walk of the tree that shrinks the ball as it goes
    leaves the exact one. Where another facet stands between the point and the contact, the
    distance along the normal to the first facet is given instead. Points near each other should
    follow each other: the last contact is tried first.

    Args:
        corners: (m, 3, 3) sorted corners of build_facet_tree.
        normals: (m, 3) of bound_normals.
        boxes: (2 leaves, 6) of build_facet_tree.
        ranges: (2 leaves, 6) of bound_normals.
        leaves: Of build_facet_tree.
        points: (n, 3) on the surface.
        own: (n,) place in the tree's order of the facet that a point lies on.
        side: INSIDE or OUTSIDE.
        cap: Diameter at which the search starts, finite.
        width: (n,) written: diameter, ``cap`` where nothing faces the point that near.
        contact: (n,) written: place of the facet touched, -1 where there is none.

    Source: the shrinking ball of Ma, Bae and Choi, "3D medial axis point approximation using
        nearest neighbors and the normal field", 2012, with facets in place of points.
    """
    waiting = np.empty(DEEPEST, np.int64)
    tested = np.empty(DEEPEST)
    at = np.empty(6)
    touched = np.empty(3)
    step = np.empty(3)
    last = -1
    for i in range(len(points)):
        home = own[i]
        nx = normals[home, 0]
        ny = normals[home, 1]
        nz = normals[home, 2]
        at[0] = points[i, 0]
        at[1] = points[i, 1]
        at[2] = points[i, 2]
        at[3] = side * nx
        at[4] = side * ny
        at[5] = side * nz
        radius = 0.5 * cap
        found = -1
        if last >= 0 and (
            normals[last, 0] * nx + normals[last, 1] * ny + normals[last, 2] * nz < OPPOSED
        ):
            radius = _shrink_to_facet(corners, normals, last, at, radius, touched)
            if radius < 0.5 * cap:
                found = last
        cx = at[0] + at[3] * radius
        cy = at[1] + at[4] * radius
        cz = at[2] + at[5] * radius
        reach = radius * radius
        waiting[0] = 1
        tested[0] = -1.0
        n = 1
        while n > 0:
            n -= 1
            node = waiting[n]
            if tested[n] != radius and _box_distance2(boxes, node, cx, cy, cz) >= reach:
                continue
            if node < leaves:
                left = _box_distance2(boxes, 2 * node, cx, cy, cz)
                right = _box_distance2(boxes, 2 * node + 1, cx, cy, cz)
                if left < reach and _least_product(ranges, 2 * node, nx, ny, nz) >= OPPOSED:
                    left = np.inf
                if right < reach and _least_product(ranges, 2 * node + 1, nx, ny, nz) >= OPPOSED:
                    right = np.inf
                if left <= right:
                    if right < reach:
                        waiting[n] = 2 * node + 1
                        tested[n] = radius
                        n += 1
                    if left < reach:
                        waiting[n] = 2 * node
                        tested[n] = radius
                        n += 1
                else:
                    if left < reach:
                        waiting[n] = 2 * node
                        tested[n] = radius
                        n += 1
                    if right < reach:
                        waiting[n] = 2 * node + 1
                        tested[n] = radius
                        n += 1
                continue
            begin = (node - leaves) * LEAF
            for f in range(begin, min(begin + LEAF, len(corners))):
                product = normals[f, 0] * nx + normals[f, 1] * ny + normals[f, 2] * nz
                if product >= OPPOSED or f == found:
                    continue
                shrunk = _shrink_to_facet(corners, normals, f, at, radius, touched)
                if shrunk < radius:
                    radius = shrunk
                    found = f
                    cx = at[0] + at[3] * radius
                    cy = at[1] + at[4] * radius
                    cz = at[2] + at[5] * radius
                    reach = radius * radius
        last = found
        if found >= 0:
            step[0] = touched[0] - at[0]
            step[1] = touched[1] - at[1]
            step[2] = touched[2] - at[2]
            _, blocking = _first_crossing(
                corners, boxes, leaves, at, step, home, AHEAD, 1.0 - AHEAD, True, waiting
            )
            if blocking >= 0:
                step[0] = at[3]
                step[1] = at[4]
                step[2] = at[5]
                distance, found = _first_crossing(
                    corners, boxes, leaves, at, step, home, AHEAD * cap, cap, False, waiting
                )
                radius = 0.5 * distance
        width[i] = 2.0 * radius
        contact[i] = found
