"""Which facets hang together, and how they turn: walks over matched half-edges."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel


@kernel
def label_shells(twin: NDArray[np.int32]) -> tuple[NDArray[np.int32], int]:
    """Number of the connected surface that each facet belongs to, in order of appearance.

    Args:
        twin: (3 m,) matching half-edge of every half-edge, -1 where there is none.

    Returns:
        shell: (m,) 0, 1, 2 ...
        shells: How many there are.
    """
    facets = len(twin) // 3
    shell = np.full(facets, -1, np.int32)
    stack = np.empty(facets, np.int32)
    shells = 0
    for seed in range(facets):
        if shell[seed] >= 0:
            continue
        shell[seed] = shells
        stack[0] = seed
        waiting = 1
        while waiting > 0:
            waiting -= 1
            facet = stack[waiting]
            for corner in range(3):
                other = twin[3 * facet + corner]
                if other >= 0 and shell[other // 3] < 0:
                    shell[other // 3] = shells
                    stack[waiting] = other // 3
                    waiting += 1
        shells += 1
    return shell, shells


@kernel
def turn_alike(
    neighbour: NDArray[np.int64], same_way: NDArray[np.bool_]
) -> tuple[NDArray[np.bool_], NDArray[np.int64], int]:
    """Which facets to turn over so that neighbours run opposite ways along their common edge.

    Args:
        neighbour: (3 m,) half-edge across the edge whichever way it runs, -1 at open edges and
            where more than two facets meet.
        same_way: (3 m,) whether the neighbour runs the same way along the edge.

    Returns:
        turned: (m,) relative to the first facet of each connected region.
        region: (m,) number of the region.
        contradictions: Half-edges that no choice of turns can satisfy (a one-sided surface).
    """
    facets = len(neighbour) // 3
    turned = np.zeros(facets, np.bool_)
    region = np.full(facets, -1, np.int64)
    stack = np.empty(facets, np.int64)
    regions = 0
    contradictions = 0
    for seed in range(facets):
        if region[seed] >= 0:
            continue
        region[seed] = regions
        stack[0] = seed
        waiting = 1
        while waiting > 0:
            waiting -= 1
            facet = stack[waiting]
            for corner in range(3):
                half_edge = 3 * facet + corner
                if neighbour[half_edge] < 0:
                    continue
                other = neighbour[half_edge] // 3
                wanted = turned[facet] != same_way[half_edge]
                if region[other] < 0:
                    region[other] = regions
                    turned[other] = wanted
                    stack[waiting] = other
                    waiting += 1
                elif turned[other] != wanted:
                    contradictions += 1
        regions += 1
    return turned, region, contradictions


@kernel
def measure_shells(
    vertices: NDArray[np.float64],
    facets: NDArray[np.int64],
    shell: NDArray[np.int32],
    shells: int,
    origin: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Signed volume, area and box of every shell.

    Args:
        vertices: (n, 3).
        facets: (m, 3).
        shell: (m,) number of the shell of each facet.
        shells: How many there are.
        origin: (3,) point that volumes are measured from.

    Returns:
        (shells, 8) volume, area, least x y z, greatest x y z.
    """
    figures = np.zeros((shells, 8))
    figures[:, 2:5] = np.inf
    figures[:, 5:8] = -np.inf
    side = np.empty((2, 3))
    for facet in range(len(facets)):
        row = shell[facet]
        a = facets[facet, 0]
        for axis in range(3):
            side[0, axis] = vertices[facets[facet, 1], axis] - vertices[a, axis]
            side[1, axis] = vertices[facets[facet, 2], axis] - vertices[a, axis]
            for corner in range(3):
                value = vertices[facets[facet, corner], axis]
                figures[row, 2 + axis] = min(figures[row, 2 + axis], value)
                figures[row, 5 + axis] = max(figures[row, 5 + axis], value)
        nx = side[0, 1] * side[1, 2] - side[0, 2] * side[1, 1]
        ny = side[0, 2] * side[1, 0] - side[0, 0] * side[1, 2]
        nz = side[0, 0] * side[1, 1] - side[0, 1] * side[1, 0]
        figures[row, 0] += (
            (vertices[a, 0] - origin[0]) * nx
            + (vertices[a, 1] - origin[1]) * ny
            + (vertices[a, 2] - origin[2]) * nz
        ) / 6.0
        figures[row, 1] += 0.5 * np.sqrt(nx * nx + ny * ny + nz * nz)
    return figures
