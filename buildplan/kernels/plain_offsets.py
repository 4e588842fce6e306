"""Offsets of an island at one distance for all its edges, and the proof that they are true.

Every vertex moves along a line of its own while the distance grows (the mitre of its two edges;
two lines where a sharp corner that opens away from the material is cut off), so the length of an
offset edge is linear in the distance: length + distance * rate. No edge of a ring flips before
one of these lengths reaches zero; only rings with flipped edges need the linked list.
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.certify import edges_cross, ring_area, sides_are_right
from buildplan.kernels.edge_grid import box_of
from buildplan.kernels.jit import kernel, kernel_inline
from buildplan.kernels.thickness import OPPOSED_COS

CUT_COS = -0.52
"""Corners that open away from the material are cut where the mitre would exceed twice the
distance: the cosine of the turn falls below about 2 / 2**2 - 1 (a little less, so that the corners
of a triangle's hole are never in doubt)."""

FAILED = 1
SHARP = 2

REDUNDANT_MM = 0.005
"""A removed edge may come this much nearer to the vertex that replaces it (measured: 5 um
sends a quarter of good layers to the fallback, 20 um none, and no false proof in 30 000 tries)."""

CHAIN_SHARE = 3.0
"""Longest chain of removed edges, in distances; longer ones hide a whole peninsula."""


@kernel
def edge_directions(
    points: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    unit: NDArray[np.float64],
    length: NDArray[np.float64],
    rate: NDArray[np.float64],
    move: NDArray[np.float64],
    cut: NDArray[np.uint8],
) -> bool:
    """Unit vectors, lengths and what the corners do as the distance grows.

    Args:
        points: (n, 2) ring vertices, material on the left.
        ring_off: (n_rings + 1,).
        unit: (n, 2) gets the direction of the edge that starts at the vertex.
        length: (n,) gets its length; rate what the length gains per distance.
        rate: See length.
        move: (n, 4) gets, per distance, the shift of the end of the edge before the vertex (x, y)
            and of the start of the edge behind it (x, y); the same twice unless cut.
        cut: (n,) gets 1 where the corner is cut off.

    Returns:
        Whether a corner of the material is sharper than 60 degrees (thin towards its tip).
    """
    sharp = False
    for ring in range(len(ring_off) - 1):
        first = ring_off[ring]
        last = ring_off[ring + 1]
        for i in range(first, last):
            j = i + 1 if i + 1 < last else first
            dx = points[j, 0] - points[i, 0]
            dy = points[j, 1] - points[i, 1]
            size = max(1e-12, math.sqrt(dx * dx + dy * dy))
            unit[i, 0] = dx / size
            unit[i, 1] = dy / size
            length[i] = size
        before = last - 1
        for i in range(first, last):
            ax = unit[before, 0]
            ay = unit[before, 1]
            bx = unit[i, 0]
            by = unit[i, 1]
            cosine = ax * bx + ay * by
            if cosine >= CUT_COS or (ax * by - ay * bx > 0.0 and 1.0 + cosine > 1e-9):
                if cosine < OPPOSED_COS:
                    sharp = True
                share = 1.0 / (1.0 + cosine)
                move[i, 0] = -share * (ay + by)
                move[i, 1] = share * (ax + bx)
                move[i, 2] = move[i, 0]
                move[i, 3] = move[i, 1]
                cut[i] = 0
            else:
                reach = math.tan(0.25 * math.atan2(abs(ax * by - ay * bx), cosine))
                move[i, 0] = reach * ax - ay
                move[i, 1] = reach * ay + ax
                move[i, 2] = -reach * bx - by
                move[i, 3] = -reach * by + bx
                cut[i] = 1
            before = i
        for i in range(first, last):
            j = i + 1 if i + 1 < last else first
            rate[i] = (move[j, 0] - move[i, 2]) * unit[i, 0] + (move[j, 1] - move[i, 3]) * unit[
                i, 1
            ]
    return sharp


@kernel_inline
def _corner(
    points: NDArray[np.float64],
    unit: NDArray[np.float64],
    move: NDArray[np.float64],
    i: int,
    j: int,
    neighbours: bool,
    distance: float,
) -> tuple[float, float, float, float, bool]:
    """End of offset edge i and start of offset edge j that follows it; False if parallel."""
    if neighbours:
        return (
            points[j, 0] + distance * move[j, 0],
            points[j, 1] + distance * move[j, 1],
            points[j, 0] + distance * move[j, 2],
            points[j, 1] + distance * move[j, 3],
            True,
        )
    ax = unit[i, 0]
    ay = unit[i, 1]
    bx = unit[j, 0]
    by = unit[j, 1]
    sine = ax * by - ay * bx
    if abs(sine) < 1e-9:
        return 0.0, 0.0, 0.0, 0.0, False
    px = points[i, 0] - distance * ay
    py = points[i, 1] + distance * ax
    qx = points[j, 0] - distance * by
    qy = points[j, 1] + distance * bx
    along = ((qx - px) * by - (qy - py) * bx) / sine
    x = px + along * ax
    y = py + along * ay
    return x, y, x, y, True


@kernel
def _remove_flipped(
    points: NDArray[np.float64],
    unit: NDArray[np.float64],
    move: NDArray[np.float64],
    first: int,
    last: int,
    distance: float,
    after: NDArray[np.int32],
    before: NDArray[np.int32],
) -> int:
    """Take flipped edges out of the linked list of a ring; returns an edge left, or -1."""
    for i in range(first, last):
        after[i] = i + 1
        before[i] = i - 1
    after[last - 1] = first
    before[first] = last - 1
    active = last - first
    clean = 0
    steps = 0
    i = first
    while clean < active:
        if active < 3 or steps > 6 * (last - first) + 50:
            return -1
        p = before[i]
        z = after[i]
        _, _, start_x, start_y, start_ok = _corner(
            points, unit, move, p, i, p + 1 == i or (i == first and p == last - 1), distance
        )
        end_x, end_y, _, _, end_ok = _corner(
            points, unit, move, i, z, i + 1 == z or (z == first and i == last - 1), distance
        )
        if not (start_ok and end_ok):
            return -1
        if (end_x - start_x) * unit[i, 0] + (end_y - start_y) * unit[i, 1] <= 0.0:
            after[p] = z
            before[z] = p
            active -= 1
            i = before[p]
            clean = 0
        else:
            clean += 1
            i = z
        steps += 1
    return i


@kernel
def _chain_is_redundant(
    points: NDArray[np.float64],
    unit: NDArray[np.float64],
    length: NDArray[np.float64],
    first: int,
    last: int,
    removed: int,
    until: int,
    x: float,
    y: float,
    distance: float,
) -> bool:
    """Whether the removed edges are few and none lies nearer to (x, y) than the distance."""
    total = 0.0
    i = removed
    while i != until:
        before = i - 1 if i > first else last - 1
        after = i + 1 if i + 1 < last else first
        total += length[i]
        if total > CHAIN_SHARE * distance:
            return False
        from_x = x - points[i, 0]
        from_y = y - points[i, 1]
        height = from_y * unit[i, 0] - from_x * unit[i, 1]
        along = from_x * unit[i, 0] + from_y * unit[i, 1]
        # past an end that opens away from the material only the end itself counts
        past = 0.0
        if along < 0.0 and unit[before, 0] * unit[i, 1] < unit[before, 1] * unit[i, 0]:
            past = along
        elif along > length[i] and unit[i, 0] * unit[after, 1] < unit[i, 1] * unit[after, 0]:
            past = along - length[i]
        if height < 0.0 or height * height + past * past < (distance - REDUNDANT_MM) ** 2:
            return False
        i = after
    return True


@kernel
def _overreaches(
    points: NDArray[np.float64],
    unit: NDArray[np.float64],
    move: NDArray[np.float64],
    edge: int,
    vertex: int,
    x: float,
    y: float,
    distance: float,
    side: int,
) -> bool:
    """Whether (x, y) lies on an edge's offset past what the mitre at its end vertex allows.

    Only a corner that opens away from the material lets an offset grow past the edge's end; side
    is 0 for the edge before the vertex and 2 for the edge behind it (columns of move).
    """
    grows = move[vertex, side] * unit[edge, 0] + move[vertex, side + 1] * unit[edge, 1]
    past = (x - points[vertex, 0]) * unit[edge, 0] + (y - points[vertex, 1]) * unit[edge, 1]
    if side == 2:
        grows = -grows
        past = -past
    return bool(grows > 0.0 and past > distance * grows + REDUNDANT_MM)


@kernel
def offset_rings(
    points: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    distance: float,
    unit: NDArray[np.float64],
    length: NDArray[np.float64],
    rate: NDArray[np.float64],
    move: NDArray[np.float64],
    cut: NDArray[np.uint8],
    links: NDArray[np.int32],
    out: NDArray[np.float64],
    out_off: NDArray[np.int64],
) -> tuple[int, bool]:
    """Raw offset of all rings of an island inward by one distance.

    Args:
        points: (n, 2) with ring_off, and unit, length, rate, move, cut of edge_directions.
        ring_off: See points.
        distance: How far inward (> 0).
        unit: See points.
        length: See points.
        rate: See points.
        move: See points.
        cut: See points.
        links: (2, n) scratch.
        out: (>= 2 n, 2) gets the offset vertices.
        out_off: (n_rings + 1,) gets their offsets.

    Returns:
        0, FAILED or SHARP, and whether edges were removed.
    """
    out_off[0] = 0
    removed = False
    at = 0
    for ring in range(len(ring_off) - 1):
        first = ring_off[ring]
        last = ring_off[ring + 1]
        flips = False
        cuts = False
        for i in range(first, last):
            flips |= length[i] + distance * rate[i] <= 0.0
            cuts |= cut[i] > 0
        if not flips:
            if not cuts:
                for i in range(first, last):
                    out[at + i - first, 0] = points[i, 0] + distance * move[i, 0]
                    out[at + i - first, 1] = points[i, 1] + distance * move[i, 1]
                at += last - first
            else:
                for i in range(first, last):
                    out[at, 0] = points[i, 0] + distance * move[i, 0]
                    out[at, 1] = points[i, 1] + distance * move[i, 1]
                    at += 1
                    if cut[i]:
                        out[at, 0] = points[i, 0] + distance * move[i, 2]
                        out[at, 1] = points[i, 1] + distance * move[i, 3]
                        at += 1
            out_off[ring + 1] = at
            continue
        removed = True
        after = links[0]
        start = _remove_flipped(points, unit, move, first, last, distance, after, links[1])
        if start < 0:
            return FAILED, removed
        i = start
        while True:
            z = after[i]
            neighbours = i + 1 == z or (z == first and i == last - 1)
            end_x, end_y, start_x, start_y, ok = _corner(
                points, unit, move, i, z, neighbours, distance
            )
            if not ok:
                return FAILED, removed
            if not neighbours:
                cosine = unit[i, 0] * unit[z, 0] + unit[i, 1] * unit[z, 1]
                if cosine < OPPOSED_COS:
                    return SHARP, removed
                gone = i + 1 if i + 1 < last else first
                if _overreaches(points, unit, move, i, gone, end_x, end_y, distance, 0):
                    return FAILED, removed
                if _overreaches(points, unit, move, z, z, end_x, end_y, distance, 2):
                    return FAILED, removed
                if not _chain_is_redundant(
                    points, unit, length, first, last, gone, z, end_x, end_y, distance
                ):
                    return FAILED, removed
            out[at, 0] = end_x
            out[at, 1] = end_y
            at += 1
            if neighbours and cut[z]:
                out[at, 0] = start_x
                out[at, 1] = start_y
                at += 1
            i = z
            if i == start:
                break
        out_off[ring + 1] = at
    return 0, removed


@kernel
def is_true_offset(
    points: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    out: NDArray[np.float64],
    out_off: NDArray[np.int64],
    cell: float,
) -> bool:
    """Proof of a raw offset: inside the island's box, rings keep their sign, none crosses."""
    rings = len(ring_off) - 1
    x0, y0, x1, y1 = box_of(points, ring_off[rings])
    a0, b0, a1, b1 = box_of(out, out_off[rings])
    if not (a0 >= x0 - 0.1 and b0 >= y0 - 0.1 and a1 <= x1 + 0.1 and b1 <= y1 + 0.1):
        return False
    for ring in range(rings):
        area = ring_area(points, ring_off[ring], ring_off[ring + 1])
        inner = ring_area(out, out_off[ring], out_off[ring + 1])
        if (area > 0.0) != (inner > 0.0):
            return False
    if not sides_are_right(out, out_off):
        return False
    return not edges_cross(out, out_off, cell)
