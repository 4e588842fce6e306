"""The facet of a tree that a point lies on."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.facet_tree import LEAF
from buildplan.kernels.jit import kernel
from buildplan.kernels.opposed_ball import closest_on_facet

DEEPEST = 64
"""Nodes that wait while a tree is walked, at most."""

ALIKE = 0.5
"""Facets whose normal's product with the one asked for is below this do not count."""


@kernel
def nearest_facets(
    corners: NDArray[np.float64],
    normals: NDArray[np.float64],
    boxes: NDArray[np.float64],
    leaves: int,
    points: NDArray[np.float64],
    facing: NDArray[np.float64],
) -> NDArray[np.int64]:
    """(n,) place in the tree's order of the closest facet that faces the way asked for.

    Args:
        corners: (m, 3, 3) sorted corners of build_facet_tree.
        normals: (m, 3) unit normals in the same order.
        boxes: (2 leaves, 6) of build_facet_tree.
        leaves: Of build_facet_tree.
        points: (n, 3).
        facing: (n, 3) unit vectors.

    Returns:
        -1 where no facet faces that way.
    """
    nearest = np.full(len(points), -1, np.int64)
    waiting = np.empty(DEEPEST, np.int64)
    for i in range(len(points)):
        x = points[i, 0]
        y = points[i, 1]
        z = points[i, 2]
        best = np.inf
        waiting[0] = 1
        n = 1
        while n > 0:
            n -= 1
            node = waiting[n]
            dx = max(boxes[node, 0] - x, 0.0, x - boxes[node, 3])
            dy = max(boxes[node, 1] - y, 0.0, y - boxes[node, 4])
            dz = max(boxes[node, 2] - z, 0.0, z - boxes[node, 5])
            if dx * dx + dy * dy + dz * dz >= best:
                continue
            if node < leaves:
                waiting[n] = 2 * node
                waiting[n + 1] = 2 * node + 1
                n += 2
                continue
            begin = (node - leaves) * LEAF
            for f in range(begin, min(begin + LEAF, len(corners))):
                product = (
                    normals[f, 0] * facing[i, 0]
                    + normals[f, 1] * facing[i, 1]
                    + normals[f, 2] * facing[i, 2]
                )
                if product < ALIKE:
                    continue
                px, py, pz = closest_on_facet(corners, f, x, y, z)
                distance = (px - x) ** 2 + (py - y) ** 2 + (pz - z) ** 2
                if distance < best:
                    best = distance
                    nearest[i] = f
    return nearest
