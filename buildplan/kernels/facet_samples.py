"""Samples spread evenly over facets."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel


@kernel
def count_samples(areas: NDArray[np.float64], pitch: float) -> NDArray[np.int64]:
    """(m + 1,) running sum of ceil(area / pitch^2), the samples on each facet; 0 without area."""
    first = np.zeros(len(areas) + 1, np.int64)
    for f in range(len(areas)):
        first[f + 1] = first[f] + math.ceil(areas[f] / (pitch * pitch))
    return first


@kernel
def spread_samples(
    corners: NDArray[np.float64], first: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Points (n, 3) spread evenly over facets, and (n,) the facet of each.

    One sample lies in the middle; more follow a sequence of low discrepancy in the unit square,
    folded into the triangle.

    Args:
        corners: (m, 3, 3).
        first: (m + 1,) of count_samples.

    Source: Martin Roberts, "The unreasonable effectiveness of quasirandom sequences", 2018 (the
        sequence by the plastic number 1.3247...).
    """
    points = np.empty((first[-1], 3))
    facet = np.empty(first[-1], np.int64)
    for f in range(len(corners)):
        count = first[f + 1] - first[f]
        for j in range(count):
            # each facet starts elsewhere: else alike facets in a row would all miss the same strip
            s = (0.6180339887498949 * f + 0.7548776662466927 * j) % 1.0
            t = (0.4142135623730951 * f + 0.5698402909980532 * j) % 1.0
            if s + t > 1.0:
                s = 1.0 - s
                t = 1.0 - t
            if count == 1:
                s = 1.0 / 3.0
                t = 1.0 / 3.0
            i = first[f] + j
            facet[i] = f
            for axis in range(3):
                a = corners[f, 0, axis]
                points[i, axis] = a + s * (corners[f, 1, axis] - a) + t * (corners[f, 2, axis] - a)
    return points, facet
