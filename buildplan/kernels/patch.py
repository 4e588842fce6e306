"""The patch of least area over one closed loop of points in space."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel


@kernel
def patch_least_area(points: NDArray[np.float64]) -> NDArray[np.int64]:
    """Triangles over a loop, turned as the loop runs, whose areas sum to the least.

    best(i, j) = min over k of best(i, k) + best(k, j) + area(i, k, j); the work grows with n^3.

    Args:
        points: (n, 3), 3 <= n <= 300 or so.

    Returns:
        (n - 2, 3) indices into ``points``.

    Source: Barequet and Sharir, "Filling gaps in the boundary of a polyhedron", 1995, section 4.
    """
    count = len(points)
    best = np.zeros((count, count))
    choice = np.zeros((count, count), np.int64)
    for gap in range(2, count):
        for i in range(count - gap):
            j = i + gap
            least = np.inf
            vx = points[j, 0] - points[i, 0]
            vy = points[j, 1] - points[i, 1]
            vz = points[j, 2] - points[i, 2]
            for k in range(i + 1, j):
                ux = points[k, 0] - points[i, 0]
                uy = points[k, 1] - points[i, 1]
                uz = points[k, 2] - points[i, 2]
                nx = uy * vz - uz * vy
                ny = uz * vx - ux * vz
                nz = ux * vy - uy * vx
                area = best[i, k] + best[k, j] + 0.5 * math.sqrt(nx * nx + ny * ny + nz * nz)
                if area < least:
                    least = area
                    choice[i, j] = k
            best[i, j] = least
    triangles = np.empty((count - 2, 3), np.int64)
    stack = np.empty((count, 2), np.int64)
    stack[0, 0] = 0
    stack[0, 1] = count - 1
    waiting = 1
    made = 0
    while waiting > 0:
        waiting -= 1
        i, j = stack[waiting, 0], stack[waiting, 1]
        k = choice[i, j]
        triangles[made, 0] = i
        triangles[made, 1] = k
        triangles[made, 2] = j
        made += 1
        if k - i > 1:
            stack[waiting, 0] = i
            stack[waiting, 1] = k
            waiting += 1
        if j - k > 1:
            stack[waiting, 0] = k
            stack[waiting, 1] = j
            waiting += 1
    return triangles
