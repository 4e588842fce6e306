"""Outward offset of rings, raw: to be read with winding > 0.

Rings run with the solid on their left. The raw outward offset made here crosses itself, but the
region it winds around at least once is exactly the wanted one: it is the sum of the rings, of one
counter-clockwise rectangle for every edge and of one wedge for every corner that opens outward,
so no point of it is wound around less than once. That is why no edge has to be removed, and why
holes that vanish need no care: `scan.scan_lines_wound` does all the rest.
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel

MITRE_LIMIT = 2.0
"""A corner reaches at most this many distances out; a sharper one is cut square at one distance."""


@kernel
def dilate_rings(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    ring_from: NDArray[np.int64],
    ring_to: NDArray[np.int64],
    distance: NDArray[np.float64],
    use: NDArray[np.uint8],
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]]:
    """Raw outward offset of the rings of every row, corners mitred.

    Args:
        xy: (n_points, 2) ring vertices, the solid on the left.
        ring_off: (n_rings + 1,) points of ring r are ring_off[r]:ring_off[r + 1].
        ring_from: (n_rows,) first ring of a row (a row is mostly a layer); ring_to one past it.
        ring_to: (n_rows,).
        distance: (n_rows,) offset of the row, >= 0.
        use: (n_rings,) 1 where the ring is wanted.

    Returns:
        Vertices, ring offsets and (n_rows + 1,) rings of a row. Meant to be read with winding > 0.
    """
    n_rows = len(ring_from)
    n_rings = 0
    n_points = 0
    for row in range(n_rows):
        for ring in range(ring_from[row], ring_to[row]):
            if use[ring]:
                n_rings += 1
                n_points += ring_off[ring + 1] - ring_off[ring]
    out = np.empty((3 * n_points, 2))
    out_off = np.zeros(n_rings + 1, np.int64)
    row_off = np.zeros(n_rows + 1, np.int64)
    at = 0
    made = 0
    for row in range(n_rows):
        d = distance[row]
        for ring in range(ring_from[row], ring_to[row]):
            if not use[ring]:
                continue
            first = ring_off[ring]
            end = ring_off[ring + 1]
            # direction and length of the edge that ends at the first vertex
            ux = 0.0
            uy = 0.0
            length = 0.0
            back = end - 1
            while back > first and length < 1e-9:
                dx = xy[first, 0] - xy[back, 0]
                dy = xy[first, 1] - xy[back, 1]
                length = math.sqrt(dx * dx + dy * dy)
                if length >= 1e-9:
                    ux = dx / length
                    uy = dy / length
                back -= 1
            for q in range(first, end):
                z = q + 1 if q + 1 < end else first
                dx = xy[z, 0] - xy[q, 0]
                dy = xy[z, 1] - xy[q, 1]
                ahead = math.sqrt(dx * dx + dy * dy)
                if ahead < 1e-9:
                    continue
                vx = dx / ahead
                vy = dy / ahead
                cosine = ux * vx + uy * vy
                sine = ux * vy - uy * vx
                x = xy[q, 0]
                y = xy[q, 1]
                if sine >= 0.0:
                    if 2.0 <= MITRE_LIMIT * MITRE_LIMIT * (1.0 + cosine):
                        f = d / (1.0 + cosine)
                        out[at, 0] = x + f * (uy + vy)
                        out[at, 1] = y - f * (ux + vx)
                        at += 1
                    else:
                        t = d * math.tan(0.25 * math.atan2(sine, cosine))
                        out[at, 0] = x + d * uy + t * ux
                        out[at, 1] = y - d * ux + t * uy
                        out[at + 1, 0] = x + d * vy - t * vx
                        out[at + 1, 1] = y - d * vx - t * vy
                        at += 2
                elif -sine * d <= (1.0 + cosine) * min(length, ahead):
                    f = d / (1.0 + cosine)
                    out[at, 0] = x + f * (uy + vy)
                    out[at, 1] = y - f * (ux + vx)
                    at += 1
                else:
                    # an edge is too short for the mitre: go through the corner itself
                    out[at, 0] = x + d * uy
                    out[at, 1] = y - d * ux
                    out[at + 1, 0] = x
                    out[at + 1, 1] = y
                    out[at + 2, 0] = x + d * vy
                    out[at + 2, 1] = y - d * vx
                    at += 3
                ux = vx
                uy = vy
                length = ahead
            made += 1
            out_off[made] = at
        row_off[row + 1] = made
    return out[:at].copy(), out_off, row_off
