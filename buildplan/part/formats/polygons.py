"""Polygons with more than three corners into facets: a fan where convex, ears where not."""

import numpy as np
from numpy.typing import NDArray


def triangulate_polygons(
    vertices: NDArray[np.float64], corners: NDArray[np.int64], offsets: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Facets of polygons that are given as corner lists.

    Args:
        vertices: (n, 3) finite.
        corners: (c,) vertex numbers, polygon after polygon, all inside ``vertices``.
        offsets: (p + 1,) where each polygon begins in ``corners``.

    Returns:
        (m, 3) facets in the order of the polygons, turned as they turn.
    """
    sizes = np.diff(offsets)
    if (sizes == 3).all():
        return corners.reshape(-1, 3)
    owner = np.repeat(np.arange(len(sizes)), sizes - 2)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(sizes - 2) - (sizes - 2), sizes - 2)
    base = offsets[:-1][owner]
    facets = np.column_stack([corners[base], corners[base + step + 1], corners[base + step + 2]])
    a, b, c = (vertices[facets[:, corner]] for corner in range(3))
    normals = np.cross(b - a, c - a)
    sums = np.zeros((len(sizes), 3))
    for axis in range(3):
        sums[:, axis] = np.bincount(owner, weights=normals[:, axis], minlength=len(sizes))
    along = np.einsum("ij,ij->i", normals, sums[owner])
    bent = np.unique(owner[along < 0.0])
    if not len(bent):
        return facets
    kept = [facets[~np.isin(owner, bent)]]
    for polygon in bent.tolist():
        ring = corners[offsets[polygon] : offsets[polygon + 1]]
        ears = _cut_ears(vertices, ring, sums[polygon])
        kept.append(ears if ears is not None else facets[owner == polygon])
    return np.vstack(kept)


def _cut_ears(
    vertices: NDArray[np.float64], ring: NDArray[np.int64], normal: NDArray[np.float64]
) -> NDArray[np.int64] | None:
    from manifold3d import triangulate

    drop = int(np.abs(normal).argmax())
    axes = [(1, 2), (2, 0), (0, 1)][drop]
    flat = np.ascontiguousarray(vertices[ring][:, axes])
    if normal[drop] < 0.0:
        flat[:, 0] *= -1.0
    triangles = np.asarray(triangulate([flat]))
    return ring[triangles] if len(triangles) == len(ring) - 2 else None
