"""Plane sections of a triangle mesh by walking from facet to facet; no matching of coordinates.

A vertex is above a plane when z >= plane, so nothing ever lies on a plane: every facet that meets
it has exactly one half-edge going down through it (the entry) and one going up (the exit). Walking
from a facet through the twin of its exit gives rings with the solid on their left.

Layers are traced in slabs, each into its own stretch of the points; the outcome does not depend on
how many slabs there are.
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline
from buildplan.kernels.rings import Rings, keep_ring, room_for_rings, twice_the_room


@kernel
def crossing_ranges(
    vertices: NDArray[np.float64], corners: NDArray[np.int32], planes: NDArray[np.float64]
) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int64]]:
    """Planes that each facet meets, and how many facets meet each plane.

    Args:
        vertices: (n, 3).
        corners: (3 m,) vertex of each corner.
        planes: (n_layers,) heights, increasing, evenly spaced but for the last.

    Returns:
        First plane and one past the last plane of each facet (m,), (m,); offsets (n_layers + 1,).
    """
    n_facets = corners.shape[0] // 3
    n_layers = planes.shape[0]
    step = planes[1] - planes[0] if n_layers > 1 else 1.0
    first = np.empty(n_facets, np.int32)
    after = np.empty(n_facets, np.int32)
    change = np.zeros(n_layers + 1, np.int64)
    for i in range(n_facets):
        a = vertices[corners[3 * i], 2]
        b = vertices[corners[3 * i + 1], 2]
        c = vertices[corners[3 * i + 2], 2]
        low = min(a, min(b, c))
        high = max(a, max(b, c))
        k = min(max(int((low - planes[0]) / step), 0), n_layers)
        while k > 0 and planes[k - 1] > low:
            k -= 1
        while k < n_layers and planes[k] <= low:
            k += 1
        first[i] = k
        k = min(max(int((high - planes[0]) / step), k), n_layers)
        while k > first[i] and planes[k - 1] > high:
            k -= 1
        while k < n_layers and planes[k] <= high:
            k += 1
        after[i] = k
        change[first[i]] += 1
        change[k] -= 1
    offset = np.zeros(n_layers + 1, np.int64)
    meeting = 0
    for k in range(n_layers):
        meeting += change[k]
        offset[k + 1] = offset[k] + meeting
    return first, after, offset


@kernel
def bucket(
    first: NDArray[np.int32],
    after: NDArray[np.int32],
    layer_off: NDArray[np.int64],
    facets: NDArray[np.int32],
) -> None:
    """Write the facets that meet each plane, in order of their numbers, as rows of layer_off."""
    slot = layer_off[:-1].copy()
    for i in range(first.shape[0]):
        for k in range(first[i], after[i]):
            facets[slot[k]] = i
            slot[k] += 1


@kernel_inline
def cross_edge(vertices: NDArray[np.float64], a: int, b: int, z: float) -> tuple[float, float]:
    """Where edge a-b meets height z, always reckoned from the lower vertex number."""
    if a > b:
        a, b = b, a
    t = (z - vertices[a, 2]) / (vertices[b, 2] - vertices[a, 2])
    x = vertices[a, 0] + t * (vertices[b, 0] - vertices[a, 0])
    y = vertices[a, 1] + t * (vertices[b, 1] - vertices[a, 1])
    return x, y


@kernel_inline
def find_exit(
    vertices: NDArray[np.float64], corners: NDArray[np.int32], facet: int, z: float
) -> int:
    """Half-edge of a facet that goes up through height z."""
    base = 3 * facet
    up0 = vertices[corners[base], 2] >= z
    up1 = vertices[corners[base + 1], 2] >= z
    up2 = vertices[corners[base + 2], 2] >= z
    if up1 and not up0:
        return base
    if up2 and not up1:
        return base + 1
    return base + 2


@kernel_inline
def next_corner(half_edge: int) -> int:
    """Half-edge that follows in the same facet."""
    return half_edge - 2 if half_edge % 3 == 2 else half_edge + 1


@kernel
def trace_closed(
    vertices: NDArray[np.float64],
    corners: NDArray[np.int32],
    twin: NDArray[np.int32],
    planes: NDArray[np.float64],
    layer_off: NDArray[np.int64],
    crossing: NDArray[np.int32],
    begin_layer: int,
    end_layer: int,
    deviation: float,
    xy: NDArray[np.float64],
    write: int,
    ring_count: NDArray[np.int64],
    area: NDArray[np.float64],
    perimeter: NDArray[np.float64],
) -> Rings:
    """Trace, measure and simplify the rings of some layers of a closed mesh.

    Args:
        vertices: (n, 3).
        corners: (3 m,).
        twin: (3 m,), no -1 among half-edges between two vertices.
        planes: (n_layers,).
        layer_off: (n_layers + 1,) from crossing_ranges.
        crossing: Facets of each layer, from bucket.
        begin_layer: First layer to trace.
        end_layer: One past the last.
        deviation: Simplification: largest distance of a dropped point; 0 keeps all.
        xy: (.., 2) points, written from write on; there must be room for all unsimplified points.
        write: First point to write.
        ring_count: (n_layers,) written: rings of a layer.
        area: (n_layers,) written: before simplification.
        perimeter: (n_layers,) written: before simplification.

    Returns:
        The rings in the order of layers: their first points, one past their last points, signed
        areas after simplification, and boxes (.., 4) x0, x1, y0, y1.
    """
    rings = room_for_rings(end_layer - begin_layer)
    n_rings = 0
    stamp = np.full(corners.shape[0] // 3, -1, np.int32)
    for k in range(begin_layer, end_layer):
        z = planes[k]
        rings_before = n_rings
        layer_area = 0.0
        layer_perimeter = 0.0
        for j in range(layer_off[k], layer_off[k + 1]):
            facet = crossing[j]
            if stamp[facet] == k:
                continue
            start = write
            edge = find_exit(vertices, corners, facet, z)
            low = corners[edge]
            high = corners[next_corner(edge)]
            x0 = 0.0
            y0 = 0.0
            last_x = 0.0
            last_y = 0.0
            twice_area = 0.0
            while True:
                stamp[facet] = k
                x, y = cross_edge(vertices, low, high, z)
                xy[write, 0] = x
                xy[write, 1] = y
                if write == start:
                    x0 = x
                    y0 = y
                x -= x0
                y -= y0
                twice_area += last_x * y - x * last_y
                layer_perimeter += math.sqrt((x - last_x) ** 2 + (y - last_y) ** 2)
                last_x = x
                last_y = y
                write += 1
                entry = twin[edge]
                facet = entry // 3
                if stamp[facet] == k:
                    break
                # the facet was entered from high to low: its third corner tells where it is left
                corner = entry - 3 * facet
                third = corners[entry + 2] if corner == 0 else corners[entry - 1]
                if vertices[third, 2] >= z:
                    edge = entry - 2 if corner == 2 else entry + 1
                    high = third
                else:
                    edge = entry + 2 if corner == 0 else entry - 1
                    low = third
            layer_perimeter += math.sqrt(last_x * last_x + last_y * last_y)
            layer_area += 0.5 * twice_area
            if n_rings == len(rings[0]):
                rings = twice_the_room(rings)
            write, kept = keep_ring(xy, start, write, deviation, 0.5 * twice_area, n_rings, *rings)
            n_rings += kept
        ring_count[k] = n_rings - rings_before
        area[k] = layer_area
        perimeter[k] = layer_perimeter
    return rings[0][:n_rings], rings[1][:n_rings], rings[2][:n_rings], rings[3][:n_rings]
