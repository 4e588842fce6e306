"""A part cut open for a picture: what stands before a plane is left away."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from buildplan.part.model import Part

Vector = NDArray[np.float64]


def cut_open(
    part: Part, marked: NDArray[np.int64], toward: Vector
) -> tuple[Part, NDArray[np.int64]]:
    """The part behind an upright plane through the middle of some facets, and those facets in it.

    The cut is left open, so that one sees the inside; only a picture can be made of the result.

    Args:
        part: The whole part.
        marked: Numbers of its facets.
        toward: From the part to the viewer, not straight up or down.
    """
    normal = np.array([toward[0], toward[1], 0.0]) / np.hypot(toward[0], toward[1])
    own = part.vertices_mm[part.facets[marked]].reshape(-1, 3)
    height = (part.vertices_mm - (own.min(axis=0) + own.max(axis=0)) / 2) @ normal
    before = height[part.facets] > 0.0
    whole = np.flatnonzero(~before.any(axis=1))
    corners, sources = [], []
    for facet in np.flatnonzero(before.any(axis=1) & ~before.all(axis=1)).tolist():
        ring = _behind(part.vertices_mm[part.facets[facet]], height[part.facets[facet]])
        for k in range(1, len(ring) - 1):
            corners.append([ring[0], ring[k], ring[k + 1]])
            sources.append(facet)
    vertices = np.vstack([part.vertices_mm, np.array(corners, dtype=np.float64).reshape(-1, 3)])
    start = len(part.vertices_mm)
    cut = np.arange(start, len(vertices), dtype=part.facets.dtype).reshape(-1, 3)
    facets = np.vstack([part.facets[whole], cut])
    source = np.concatenate([whole, np.array(sources, dtype=np.int64)])
    opened = replace(part, vertices_mm=vertices, facets=facets)
    return opened, np.flatnonzero(np.isin(source, marked))


def _behind(triangle: Vector, height: Vector) -> list[Vector]:
    """Corners of the piece of a triangle where height is not above zero, in order."""
    ring: list[Vector] = []
    for k in range(3):
        here, there = k, (k + 1) % 3
        if height[here] <= 0.0:
            ring.append(triangle[here])
        if (height[here] > 0.0) != (height[there] > 0.0):
            share = height[here] / (height[here] - height[there])
            ring.append(triangle[here] + share * (triangle[there] - triangle[here]))
    return ring
