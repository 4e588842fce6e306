"""Sections of meshes with open edges: pieces of outline, joined end to nearest start."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline
from buildplan.kernels.rings import Rings, keep_ring, measure_ring, room_for_rings, twice_the_room
from buildplan.kernels.sections import cross_edge, find_exit, next_corner


@kernel_inline
def _entry(vertices: NDArray[np.float64], corners: NDArray[np.int32], facet: int, z: float) -> int:
    """Half-edge of a facet that goes down through height z."""
    base = 3 * facet
    up0 = vertices[corners[base], 2] >= z
    up1 = vertices[corners[base + 1], 2] >= z
    up2 = vertices[corners[base + 2], 2] >= z
    if up0 and not up1:
        return base
    if up1 and not up2:
        return base + 1
    return base + 2


@kernel
def count_loose_starts(
    vertices: NDArray[np.float64],
    corners: NDArray[np.int32],
    twin: NDArray[np.int32],
    planes: NDArray[np.float64],
    layer_off: NDArray[np.int64],
    crossing: NDArray[np.int32],
) -> NDArray[np.int64]:
    """Open pieces of outline that begin in each layer (n_layers,): entries without a twin."""
    count = np.zeros(planes.shape[0], np.int64)
    for k in range(planes.shape[0]):
        for j in range(layer_off[k], layer_off[k + 1]):
            if twin[_entry(vertices, corners, crossing[j], planes[k])] < 0:
                count[k] += 1
    return count


@kernel
def _trace_pieces(
    vertices: NDArray[np.float64],
    corners: NDArray[np.int32],
    twin: NDArray[np.int32],
    z: float,
    layer: int,
    facets: NDArray[np.int32],
    stamp: NDArray[np.int64],
    points: NDArray[np.float64],
    piece_off: NDArray[np.int64],
    is_open: NDArray[np.bool_],
) -> int:
    """Walk all pieces of one layer's outline, closed ones and open ones from their open start.

    Args:
        vertices: (n, 3).
        corners: (3 m,).
        twin: (3 m,), -1 at open edges.
        z: Height of the plane.
        layer: Number of the layer, the mark of a visited facet.
        facets: Facets that meet the plane.
        stamp: (m,) layer in which a facet was last visited, written.
        points: Written, one point for a facet and one more for an open piece.
        piece_off: Written, points of a piece.
        is_open: Written, whether a piece is open.

    Returns:
        Number of pieces.
    """
    n = 0
    write = 0
    piece_off[0] = 0
    for j in range(facets.shape[0]):
        facet = facets[j]
        if stamp[facet] == layer:
            continue
        seed = facet
        loose = False
        entry = 0
        while True:
            entry = _entry(vertices, corners, facet, z)
            before = twin[entry]
            if before < 0:
                loose = True
                break
            facet = before // 3
            if facet == seed:
                break
        if loose:
            a = corners[entry]
            b = corners[next_corner(entry)]
            points[write, 0], points[write, 1] = cross_edge(vertices, a, b, z)
            write += 1
        while True:
            stamp[facet] = layer
            edge = find_exit(vertices, corners, facet, z)
            a = corners[edge]
            b = corners[next_corner(edge)]
            points[write, 0], points[write, 1] = cross_edge(vertices, a, b, z)
            write += 1
            behind = twin[edge]
            if behind < 0 or stamp[behind // 3] == layer:
                break
            facet = behind // 3
        is_open[n] = loose
        n += 1
        piece_off[n] = write
    return n


@kernel
def trace_open(
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
    gap: NDArray[np.float64],
) -> Rings:
    """Trace layers of a mesh with open edges; the end of a piece is joined to the nearest start.

    As trace_closed, with room in xy for one more point for each open piece, and gap (n_layers,)
    written: the longest straight line that closes a ring.
    """
    rings = room_for_rings(end_layer - begin_layer)
    n_rings = 0
    stamp = np.full(corners.shape[0] // 3, -1, np.int64)
    for k in range(begin_layer, end_layer):
        # a facet gives one point, and an open piece of at least one facet one more
        room = 2 * (layer_off[k + 1] - layer_off[k])
        points = np.empty((room, 2), np.float64)
        piece_off = np.empty(room + 1, np.int64)
        is_open = np.empty(room, np.bool_)
        facets = crossing[layer_off[k] : layer_off[k + 1]]
        n = _trace_pieces(
            vertices,
            corners,
            twin,
            planes[k],
            k,
            facets,
            stamp,
            points,
            piece_off,
            is_open,
        )
        used = np.zeros(n, np.bool_)
        rings_before = n_rings
        area[k] = 0.0
        perimeter[k] = 0.0
        gap[k] = 0.0
        for c in range(n):
            if used[c]:
                continue
            start = write
            piece = c
            while piece >= 0:
                used[piece] = True
                for q in range(piece_off[piece], piece_off[piece + 1]):
                    xy[write, 0] = points[q, 0]
                    xy[write, 1] = points[q, 1]
                    write += 1
                piece = -1
                if is_open[c]:
                    x = xy[write - 1, 0]
                    y = xy[write - 1, 1]
                    nearest = (xy[start, 0] - x) ** 2 + (xy[start, 1] - y) ** 2
                    for other in range(n):
                        if used[other] or not is_open[other]:
                            continue
                        q = piece_off[other]
                        distance = (points[q, 0] - x) ** 2 + (points[q, 1] - y) ** 2
                        if distance < nearest:
                            nearest = distance
                            piece = other
                    gap[k] = max(gap[k], np.sqrt(nearest))
            raw_area, length = measure_ring(xy, start, write)
            if n_rings == len(rings[0]):
                rings = twice_the_room(rings)
            write, kept = keep_ring(xy, start, write, deviation, raw_area, n_rings, *rings)
            n_rings += kept
            area[k] += raw_area
            perimeter[k] += length
        ring_count[k] = n_rings - rings_before
    return rings[0][:n_rings], rings[1][:n_rings], rings[2][:n_rings], rings[3][:n_rings]
