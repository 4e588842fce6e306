"""What of a mesh lies below each of some parallel planes: volume, surface, section, extents."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel

SIDE_COS = 0.7
"""Facets whose normal is more level than this carry walls."""


@kernel
def shares_below(
    vertices: NDArray[np.float64],
    facets: NDArray[np.int64],
    way: NDArray[np.float64],
    places: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Exact volume, surface and section at every place along a direction, in one pass.

    The field (h - s) times the direction, s along it, has the divergence -1 and vanishes on the cut
    at s = h, so the volume below is the facets' alone: V(h) = -sum N mean(max(h - s, 0)), with N a
    facet's area seen along the direction and the mean taken over the facet. The section is
    V'(h) = -sum N f(h), f the share of the facet that lies below. With s rising a <= b <= c over a
    facet, f = (h - a)^2 / ((b - a)(c - a)) up to b, 1 - (c - h)^2 / ((c - a)(c - b)) up to c, and
    the mean is the integral of f.

    Args:
        vertices: (n, 3) of a closed mesh.
        facets: (m, 3) indices into ``vertices``.
        way: (3,) of length 1.
        places: (k,) rising distances along ``way``.

    Returns:
        sums (k, 4): volume and surface below, area of the section, surface below that carries walls
        (SIDE_COS); low and high (k + 1, 3): extents of the surface below the first place, between
        neighbours, above the last (infinite where there is none).

    Source: divergence theorem; the integrals are our own.
    """
    count = len(places)
    # facets wholly below count from the first place on: volume is then linear in the place
    steps = np.zeros((count + 1, 4))
    sums = np.zeros((count, 4))
    low = np.full((count + 1, 3), np.inf)
    high = np.full((count + 1, 3), -np.inf)
    along = np.empty(3)
    for facet in range(len(facets)):
        corner = facets[facet]
        for k in range(3):
            p = corner[k]
            along[k] = vertices[p, 0] * way[0] + vertices[p, 1] * way[1] + vertices[p, 2] * way[2]
        a, c = min(along[0], along[1], along[2]), max(along[0], along[1], along[2])
        b = min(max(along[0], along[1]), max(along[1], along[2]), max(along[0], along[2]))
        ux = vertices[corner[1], 0] - vertices[corner[0], 0]
        uy = vertices[corner[1], 1] - vertices[corner[0], 1]
        uz = vertices[corner[1], 2] - vertices[corner[0], 2]
        vx = vertices[corner[2], 0] - vertices[corner[0], 0]
        vy = vertices[corner[2], 1] - vertices[corner[0], 1]
        vz = vertices[corner[2], 2] - vertices[corner[0], 2]
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        area = 0.5 * math.sqrt(nx * nx + ny * ny + nz * nz)
        seen = 0.5 * (nx * way[0] + ny * way[1] + nz * way[2])
        side = area if abs(0.5 * nz) <= SIDE_COS * area else 0.0
        first = np.searchsorted(places, a)
        last = np.searchsorted(places, c)
        mean = (a + b + c) / 3.0
        steps[last, 0] -= seen
        steps[last, 1] += seen * mean
        steps[last, 2] += area
        steps[last, 3] += side
        for k in range(first, last):
            h = places[k]
            if h <= b:
                share = (h - a) * (h - a) / ((b - a) * (c - a)) if b > a else 0.0
                means = share * (h - a) / 3.0
            else:
                rest = (c - h) * (c - h) / ((c - a) * (c - b))
                share = 1.0 - rest
                means = h - mean + rest * (c - h) / 3.0
            sums[k, 0] -= seen * means
            sums[k, 1] += area * share
            sums[k, 2] -= seen * share
            sums[k, 3] += side * share
        for k in range(3):
            p, q = corner[k], corner[(k + 1) % 3]
            s, t = along[k], along[(k + 1) % 3]
            cell = np.searchsorted(places, s)
            for axis in range(3):
                low[cell, axis] = min(low[cell, axis], vertices[p, axis])
                high[cell, axis] = max(high[cell, axis], vertices[p, axis])
            if first == last:
                continue
            for place in range(np.searchsorted(places, min(s, t)), count):
                h = places[place]
                if h > max(s, t):
                    break
                share = (h - s) / (t - s) if t != s else 0.0
                for axis in range(3):
                    x = vertices[p, axis] + share * (vertices[q, axis] - vertices[p, axis])
                    low[place, axis] = min(low[place, axis], x)
                    high[place, axis] = max(high[place, axis], x)
                    low[place + 1, axis] = min(low[place + 1, axis], x)
                    high[place + 1, axis] = max(high[place + 1, axis], x)
    slope, level, whole, sides = 0.0, 0.0, 0.0, 0.0
    for k in range(count):
        slope += steps[k, 0]
        level += steps[k, 1]
        whole += steps[k, 2]
        sides += steps[k, 3]
        sums[k, 0] += slope * places[k] + level
        sums[k, 1] += whole
        sums[k, 2] += slope
        sums[k, 3] += sides
    return sums, low, high
