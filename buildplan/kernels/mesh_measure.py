"""Volume, area, first moments and box of a triangle mesh, in one pass over its facets."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel


@kernel
def measure_mesh(
    vertices: NDArray[np.float64], facets: NDArray[np.int64], origin: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Signed volume, area and first moments of the tetrahedra from ``origin`` to every facet.

    volume = sum(a . (b x c)) / 6 with a, b, c the corners seen from ``origin``; the moment of one
    tetrahedron is its volume times (a + b + c) / 4. For a closed mesh the result does not depend
    on ``origin``; one near the mesh keeps the digits of a part far from zero.

    Args:
        vertices: (n, 3).
        facets: (m, 3) indices into ``vertices``.
        origin: (3,).

    Returns:
        (5,) volume, area, and the volume's first moments about ``origin`` in x, y, z.

    Source: divergence theorem; Zhang and Chen, "Efficient feature extraction for 2D/3D objects in
        mesh representation", 2001, equation 5.
    """
    sums = np.zeros(5)
    for facet in range(len(facets)):
        a, b, c = facets[facet, 0], facets[facet, 1], facets[facet, 2]
        ax, ay, az = (
            vertices[a, 0] - origin[0],
            vertices[a, 1] - origin[1],
            vertices[a, 2] - origin[2],
        )
        ux, uy, uz = (
            vertices[b, 0] - vertices[a, 0],
            vertices[b, 1] - vertices[a, 1],
            vertices[b, 2] - vertices[a, 2],
        )
        vx, vy, vz = (
            vertices[c, 0] - vertices[a, 0],
            vertices[c, 1] - vertices[a, 1],
            vertices[c, 2] - vertices[a, 2],
        )
        nx = uy * vz - uz * vy
        ny = uz * vx - ux * vz
        nz = ux * vy - uy * vx
        six_volumes = ax * nx + ay * ny + az * nz
        sums[0] += six_volumes
        sums[1] += math.sqrt(nx * nx + ny * ny + nz * nz)
        sums[2] += six_volumes * (3.0 * ax + ux + vx)
        sums[3] += six_volumes * (3.0 * ay + uy + vy)
        sums[4] += six_volumes * (3.0 * az + uz + vz)
    sums[0] /= 6.0
    sums[1] *= 0.5
    sums[2] /= 24.0
    sums[3] /= 24.0
    sums[4] /= 24.0
    return sums


@kernel
def bound_points(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Least and greatest coordinate of points: (n, 3) in, (2, 3) out; not finite if one is not."""
    box = np.empty((2, 3))
    box[0, :] = np.inf
    box[1, :] = -np.inf
    broken = False
    for i in range(len(points)):
        for axis in range(3):
            value = points[i, axis]
            if not math.isfinite(value):
                broken = True
            if value < box[0, axis]:
                box[0, axis] = value
            if value > box[1, axis]:
                box[1, axis] = value
    if broken:
        box[:, :] = np.nan
    return box
