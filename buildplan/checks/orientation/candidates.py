"""The directions that are tried as "up": all round, the part's own flat faces, its axes."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

MOST_FACES = 40
"""Flat faces of a part that are tried both ways, the largest ones."""

AXES = 3
"""z, y and x come before the faces."""

NORMAL_STEP = 1e-4
"""Normals that differ by less count as one; likewise offsets by this share of the size."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatFaces:
    """Planes that hold facets of a part, the largest first.

    Attributes:
        normals: (k, 3) outward unit normals.
        areas_mm2: (k,) area of all facets in the plane, joined or not (four feet are one face).
    """

    normals: NDArray[np.float64]
    areas_mm2: NDArray[np.float64]


def spread_axes(count: int) -> NDArray[np.float64]:
    """Axes (ceil(count / 2), 3), which with their opposites cover the sphere evenly.

    Source: Gonzalez, A. (2010), Measurement of areas on a sphere using Fibonacci and
    latitude-longitude lattices, Mathematical Geosciences 42, 49-64.
    """
    half = -(-count // 2)
    i = np.arange(half)
    z = 1.0 - (i + 0.5) / half
    turn = i * math.pi * (3.0 - math.sqrt(5.0))
    r = np.sqrt(1.0 - z * z)
    return np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1)


def flat_faces(table: NDArray[np.float64], size_mm: float) -> FlatFaces:
    """The planes that hold most area of a part.

    Args:
        table: (7, m) of kernels.orientations.facet_table.
        size_mm: Largest dimension of the part.
    """
    normal, area, middle = table[:3], table[3], table[4:]
    offset = (normal * middle).sum(axis=0) / (NORMAL_STEP * size_mm)
    cells = np.rint(np.vstack([normal / NORMAL_STEP, offset])).astype(np.int64)
    key = cells[0]
    for row in cells[1:]:
        key = key * np.int64(40_009) + row  # wraps round: a hash, equal for equal cells
    _, group = np.unique(key, return_inverse=True)
    total = np.bincount(group, area)
    largest = np.argsort(-total, kind="stable")[:MOST_FACES]
    sums = np.stack([np.bincount(group, area * row) for row in normal], axis=1)[largest]
    length = np.linalg.norm(sums, axis=1)
    sound = length > 0.5 * total[largest]
    return FlatFaces(normals=sums[sound] / length[sound, None], areas_mm2=total[largest][sound])


def candidate_axes(faces: FlatFaces, count: int) -> NDArray[np.float64]:
    """Axes (k, 3), each to be tried both ways up: z first, then y, x, flat faces, all round."""
    return np.vstack([np.eye(AXES)[::-1], faces.normals, spread_axes(count)])
