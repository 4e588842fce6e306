"""Where a surface begins as height grows: its lowest places, with how deep each of them is.

The sublevel set of a surface is what of it lies below a height. Each piece of it is born at a
local minimum and ends where it meets a piece that was born lower (the elder rule); the height in
between is the depth of the minimum.

Source: Edelsbrunner, Letscher and Zomorodian, "Topological persistence and simplification", 2002.
"""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel


@kernel
def _facets_of_vertices(
    facets: NDArray[np.int64], n_vertices: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Offsets (n + 1,) and facets (3 m,) around every vertex."""
    offset = np.zeros(n_vertices + 1, np.int64)
    for facet in range(len(facets)):
        for corner in range(3):
            offset[facets[facet, corner] + 1] += 1
    for vertex in range(n_vertices):
        offset[vertex + 1] += offset[vertex]
    place = offset[:-1].copy()
    around = np.empty(3 * len(facets), np.int64)
    for facet in range(len(facets)):
        for corner in range(3):
            vertex = facets[facet, corner]
            around[place[vertex]] = facet
            place[vertex] += 1
    return offset, around


@kernel
def _flood_low(
    vertices: NDArray[np.float64],
    facets: NDArray[np.int64],
    offset: NDArray[np.int64],
    around: NDArray[np.int64],
    birth: int,
    ceiling: float,
    seen: NDArray[np.int64],
    stack: NDArray[np.int64],
) -> int:
    """Vertices reached from a birth below a ceiling: how many; they stand first in stack."""
    count = 1
    stack[0] = birth
    seen[birth] = birth
    at = 0
    while at < count:
        vertex = stack[at]
        at += 1
        for q in range(offset[vertex], offset[vertex + 1]):
            for corner in range(3):
                other = facets[around[q], corner]
                if seen[other] != birth and vertices[other, 2] <= ceiling:
                    seen[other] = birth
                    stack[count] = other
                    count += 1
    return count


@kernel
def find_minima(
    vertices: NDArray[np.float64],
    facets: NDArray[np.int64],
    order: NDArray[np.int64],
    least_depth: float,
    flat: float,
    patch: float,
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.int32]]:
    """Places where solid begins: minima at least ``least_depth`` deep whose surface looks down.

    A minimum whose flat ground (all within ``flat`` of the lowest vertex) looks up is the floor of
    a dent or of a cavity: there solid lies below, so it is left out. Where the ground is a point or
    an edge, the facets around it decide. Edges of many facets and open edges do no harm.

    Args:
        vertices: (n, 3).
        facets: (m, 3) counter-clockwise seen from outside.
        order: (n,) vertices by ascending height (a stable sort).
        least_depth: Shallower minima are noise.
        flat: Heights that differ by less are one level.
        patch: Facets that reach down to within this height of the minimum are its patch.

    Returns:
        birth: (k,) lowest vertex of each, ascending in height.
        depth: (k,) height from there to where it meets older ground; inf for the oldest of a shell.
        owner: (m,) number of the minimum whose patch a facet belongs to, -1 for none.
    """
    n = len(vertices)
    offset, around = _facets_of_vertices(facets, n)
    parent = np.full(n, -1, np.int64)
    oldest = np.empty(n, np.int64)
    depth_of = np.full(n, np.inf)
    is_birth = np.zeros(n, np.bool_)
    for index in range(n):
        vertex = order[index]
        height = vertices[vertex, 2]
        parent[vertex] = vertex
        oldest[vertex] = index
        is_birth[vertex] = offset[vertex + 1] > offset[vertex]
        for q in range(offset[vertex], offset[vertex + 1]):
            for corner in range(3):
                other = facets[around[q], corner]
                if parent[other] < 0 or other == vertex:
                    continue
                a = vertex
                while parent[a] != a:
                    parent[a] = parent[parent[a]]
                    a = parent[a]
                b = other
                while parent[b] != b:
                    parent[b] = parent[parent[b]]
                    b = parent[b]
                if a == b:
                    continue
                younger = max(oldest[a], oldest[b])
                depth_of[order[younger]] = height - vertices[order[younger], 2]
                if oldest[a] < oldest[b]:
                    parent[b] = a
                else:
                    parent[a] = b
    births = np.empty(n, np.int64)
    depths = np.empty(n)
    owner = np.full(len(facets), -1, np.int32)
    seen = np.full(n, -1, np.int64)
    stack = np.empty(n, np.int64)
    kept = 0
    for index in range(n):
        birth = order[index]
        if not is_birth[birth] or depth_of[birth] < least_depth:
            continue
        low = vertices[birth, 2]
        count = _flood_low(vertices, facets, offset, around, birth, low + flat, seen, stack)
        ground = 0.0
        nearby = 0.0
        for at in range(count):
            for q in range(offset[stack[at]], offset[stack[at] + 1]):
                a = facets[around[q], 0]
                b = facets[around[q], 1]
                c = facets[around[q], 2]
                turn = (vertices[b, 0] - vertices[a, 0]) * (vertices[c, 1] - vertices[a, 1]) - (
                    vertices[b, 1] - vertices[a, 1]
                ) * (vertices[c, 0] - vertices[a, 0])
                nearby += turn
                if seen[a] == birth and seen[b] == birth and seen[c] == birth:
                    ground += turn
        if (ground if ground != 0.0 else nearby) >= 0.0:
            continue
        seen[birth] = -1
        for at in range(count):
            seen[stack[at]] = -1
        count = _flood_low(vertices, facets, offset, around, birth, low + patch, seen, stack)
        for at in range(count):
            for q in range(offset[stack[at]], offset[stack[at] + 1]):
                owner[around[q]] = kept
        births[kept] = birth
        depths[kept] = depth_of[birth]
        kept += 1
    return births[:kept].copy(), depths[:kept].copy(), owner


@kernel
def mark_levels(
    vertices: NDArray[np.float64], facets: NDArray[np.int64], level_cosine: float
) -> NDArray[np.bool_]:
    """Vertices (n,) at whose height the section of a closed surface changes its shape or jumps.

    Around a plain vertex the surface is lower than it on one side and higher on the other: exactly
    two of its facets reach both ways. Any other number marks a minimum, a maximum or a saddle.
    Equal heights are told apart by vertex number. Vertices of facets that lie level (their normal
    within ``level_cosine`` of upright) are marked too.

    Source: Banchoff, "Critical points and curvature for embedded polyhedral surfaces", 1970.
    """
    both_ways = np.zeros(len(vertices), np.int32)
    used = np.zeros(len(vertices), np.bool_)
    marked = np.zeros(len(vertices), np.bool_)
    for facet in range(len(facets)):
        i = facets[facet, 0]
        j = facets[facet, 1]
        k = facets[facet, 2]
        ux = vertices[j, 0] - vertices[i, 0]
        uy = vertices[j, 1] - vertices[i, 1]
        uz = vertices[j, 2] - vertices[i, 2]
        vx = vertices[k, 0] - vertices[i, 0]
        vy = vertices[k, 1] - vertices[i, 1]
        vz = vertices[k, 2] - vertices[i, 2]
        nx = uy * vz - uz * vy
        ny = uz * vx - ux * vz
        nz = ux * vy - uy * vx
        is_level = nz * nz > level_cosine**2 * (nx * nx + ny * ny + nz * nz)
        for corner in range(3):
            v = facets[facet, corner]
            a = facets[facet, (corner + 1) % 3]
            b = facets[facet, (corner + 2) % 3]
            z = vertices[v, 2]
            a_above = vertices[a, 2] > z or (vertices[a, 2] == z and a > v)
            b_above = vertices[b, 2] > z or (vertices[b, 2] == z and b > v)
            used[v] = True
            if is_level:
                marked[v] = True
            if a_above != b_above:
                both_ways[v] += 1
    for vertex in range(len(vertices)):
        if used[vertex] and both_ways[vertex] != 2:
            marked[vertex] = True
    return marked
