"""Offsets with one distance per edge: beads whose width follows the local wall thickness."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline

BEADS = 0
CENTRES = 1
BORDER = 2

STRAIGHT_COS = 0.9
"""Neighbours that turn by less than 26 degrees share the mean of their distances (our choice)."""

MITRE_MOST = 2.0
SLIVER_MM = 1e-4
"""Half the width of the sliver that the border keeps in the middle of a wall that is all beads."""


@kernel
def set_distances(
    kind: int,
    bead_number: int,
    radius: NDArray[np.float64],
    partner: NDArray[np.int32],
    ring_of: NDArray[np.int32],
    beads: NDArray[np.int32],
    bead: float,
    wall_beads: int,
    distance: NDArray[np.float64],
    laid: NDArray[np.uint8],
    end_gap: NDArray[np.float64],
) -> None:
    """Distance of one bead at every edge, and whether the edge has that bead at all.

    Args:
        kind: BEADS (the bead_number-th from the outline), CENTRES (the middle bead of an odd
            count, laid on one of the two sides) or BORDER (what encloses the rest to fill).
        bead_number: Counted from 0 at the outline.
        radius: (n,) half the local thickness; partner the opposed edge; ring_of its ring.
        partner: See radius.
        ring_of: See radius.
        beads: (n,) beads across a thin wall, 0 where the wall is wide.
        bead: Spacing of beads in wide walls.
        wall_beads: Beads along a wide wall.
        distance: (n,) gets the distance.
        laid: (n,) gets 1 where the bead exists.
        end_gap: (n,) gets how far a centre bead stays from the end of its wall.
    """
    for edge in range(len(radius)):
        count = beads[edge]
        end_gap[edge] = 0.0
        if kind == BORDER:
            laid[edge] = 1
            distance[edge] = radius[edge] - SLIVER_MM if count > 0 else wall_beads * bead
        elif kind == BEADS:
            if count == 0:
                laid[edge] = 1 if bead_number < wall_beads else 0
                distance[edge] = (min(bead_number, wall_beads) + 0.5) * bead
                if bead_number >= wall_beads:
                    distance[edge] = wall_beads * bead
            elif bead_number < count // 2:
                laid[edge] = 1
                distance[edge] = (bead_number + 0.5) * 2.0 * radius[edge] / count
            else:
                laid[edge] = 0
                distance[edge] = 0.999 * radius[edge]
        else:
            laid[edge] = 0
            distance[edge] = 0.0
            other = partner[edge]
            if count % 2 == 1 and (
                ring_of[edge] < ring_of[other] or (ring_of[edge] == ring_of[other] and edge < other)
            ):
                laid[edge] = 1
                distance[edge] = radius[edge]
                end_gap[edge] = (count // 2) * bead


@kernel_inline
def _meeting(
    points: NDArray[np.float64],
    unit: NDArray[np.float64],
    distance: NDArray[np.float64],
    laid: NDArray[np.uint8],
    end_gap: NDArray[np.float64],
    beads: NDArray[np.int32],
    kind: int,
    i: int,
    j: int,
    neighbours: bool,
) -> tuple[float, float, float, float, bool]:
    """End of offset edge i and start of offset edge j that follows it; False if parallel.

    Lines at distances a and b meet at P = V + s n_i + t n_j with s = (a - c b) / (1 - c^2),
    t = (b - c a) / (1 - c^2), c = n_i . n_j.
    """
    ax = unit[i, 0]
    ay = unit[i, 1]
    bx = unit[j, 0]
    by = unit[j, 1]
    near = distance[i]
    far = distance[j]
    cosine = ax * bx + ay * by
    sine = ax * by - ay * bx
    if kind == CENTRES:
        if laid[i] != laid[j]:
            if laid[i]:
                far = near if cosine > STRAIGHT_COS else end_gap[i]
            else:
                near = far if cosine > STRAIGHT_COS else end_gap[j]
        elif not laid[i]:
            near = 0.0
            far = 0.0
    if neighbours:
        corner_x = points[j, 0]
        corner_y = points[j, 1]
        if cosine > STRAIGHT_COS:
            if kind == BEADS and laid[i] != laid[j]:
                near = near if laid[i] else far
                far = near
            elif beads[i] == beads[j] or (kind == BORDER and beads[i] > 0 and beads[j] > 0):
                near = 0.5 * (near + far)
                far = near
            mitre_x = -(ay + by) / (1.0 + cosine)
            mitre_y = (ax + bx) / (1.0 + cosine)
            return (
                corner_x + near * mitre_x,
                corner_y + near * mitre_y,
                corner_x + far * mitre_x,
                corner_y + far * mitre_y,
                True,
            )
        mean = 0.5 * (near + far)
        mitre = 2.0 <= MITRE_MOST * MITRE_MOST * (1.0 + cosine)
        if 1.0 + cosine > 1e-6 and (mitre or sine * mean > 0.0):
            scale = 1.0 - cosine * cosine
            along_i = (near - cosine * far) / scale
            along_j = (far - cosine * near) / scale
            x = corner_x - along_i * ay - along_j * by
            y = corner_y + along_i * ax + along_j * bx
            return x, y, x, y, True
        reach = math.tan(0.25 * math.atan2(abs(sine), cosine)) * abs(mean)
        return (
            corner_x - near * ay + reach * ax,
            corner_y + near * ax + reach * ay,
            corner_x - far * by - reach * bx,
            corner_y + far * bx - reach * by,
            True,
        )
    if abs(sine) < 1e-9:
        return 0.0, 0.0, 0.0, 0.0, False
    px = points[i, 0] - near * ay
    py = points[i, 1] + near * ax
    qx = points[j, 0] - far * by
    qy = points[j, 1] + far * bx
    along = ((qx - px) * by - (qy - py) * bx) / sine
    x = px + along * ax
    y = py + along * ay
    return x, y, x, y, True


@kernel
def offset_edges(
    points: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    unit: NDArray[np.float64],
    distance: NDArray[np.float64],
    laid: NDArray[np.uint8],
    end_gap: NDArray[np.float64],
    beads: NDArray[np.int32],
    width: NDArray[np.float64],
    kind: int,
    links: NDArray[np.int32],
    out: NDArray[np.float64],
    out_off: NDArray[np.int64],
    out_edge: NDArray[np.int32],
    out_laid: NDArray[np.uint8],
    out_width: NDArray[np.float64],
) -> None:
    """Raw offset of an island with one distance per edge; flipped edges are taken out.

    A ring that vanishes (or that has no laid edge) leaves no vertices.

    Args:
        points: (n, 2), ring_off (n_rings + 1,), unit (n, 2) directions of the edges.
        ring_off: See points.
        unit: See points.
        distance: (n,), laid, end_gap from set_distances; beads across the wall and width of a
            bead at each edge.
        laid: See distance.
        end_gap: See distance.
        beads: See distance.
        width: See distance.
        kind: BEADS, CENTRES or BORDER.
        links: (2, n) scratch.
        out: (2 n, 2) gets the offset vertices, out_off (n_rings + 1,) their offsets.
        out_off: See out.
        out_edge: (2 n,) gets the edge whose offset starts at the vertex; likewise out_laid, 1
            where that segment is laid, and out_width its width.
        out_laid: See out_edge.
        out_width: See out_edge.
    """
    at = 0
    out_off[0] = 0
    after = links[0]
    before = links[1]
    for ring in range(len(ring_off) - 1):
        first = ring_off[ring]
        last = ring_off[ring + 1]
        out_off[ring + 1] = at
        some = False
        for i in range(first, last):
            after[i] = i + 1
            before[i] = i - 1
            some |= laid[i] > 0
        if not some:
            continue
        after[last - 1] = first
        before[first] = last - 1
        active = last - first
        clean = 0
        steps = 0
        i = first
        held = False
        held_x = 0.0
        held_y = 0.0
        fine = True
        while clean < active and active >= 3 and fine:
            p = before[i]
            z = after[i]
            start_x = held_x
            start_y = held_y
            if not held:
                _, _, start_x, start_y, fine = _meeting(
                    points, unit, distance, laid, end_gap, beads, kind, p, i,
                    p + 1 == i or (i == first and p == last - 1),
                )  # fmt: skip
            end_x, end_y, held_x, held_y, parted = _meeting(
                points, unit, distance, laid, end_gap, beads, kind, i, z,
                i + 1 == z or (z == first and i == last - 1),
            )  # fmt: skip
            fine = fine and parted
            if fine and (end_x - start_x) * unit[i, 0] + (end_y - start_y) * unit[i, 1] <= 0.0:
                after[p] = z
                before[z] = p
                active -= 1
                i = before[p]
                clean = 0
                held = False
            else:
                clean += 1
                i = z
                held = True
            steps += 1
            if steps > 6 * (last - first) + 50:
                fine = False
        if active < 3:
            continue
        start = i
        for _ in range(active):
            z = after[i]
            end_x, end_y, start_x, start_y, parted = _meeting(
                points, unit, distance, laid, end_gap, beads, kind, i, z,
                i + 1 == z or (z == first and i == last - 1),
            )  # fmt: skip
            if parted:
                if end_x != start_x or end_y != start_y:
                    out[at, 0] = end_x
                    out[at, 1] = end_y
                    out_edge[at] = z
                    out_laid[at] = 1 if (laid[i] and laid[z]) else 0
                    out_width[at] = width[z]
                    at += 1
                out[at, 0] = start_x
                out[at, 1] = start_y
                out_edge[at] = z
                out_laid[at] = laid[z]
                out_width[at] = width[z]
                at += 1
            i = z
            if i == start:
                break
        out_off[ring + 1] = at


@kernel
def take_chains(
    out: NDArray[np.float64],
    out_off: NDArray[np.int64],
    out_laid: NDArray[np.uint8],
    out_width: NDArray[np.float64],
    role: int,
    least_length: float,
    path_xy: NDArray[np.float64],
    path_width: NDArray[np.float64],
    path_off: NDArray[np.int64],
    path_role: NDArray[np.uint8],
    path_closed: NDArray[np.uint8],
    paths: int,
) -> int:
    """Append the laid parts of offset rings as closed or open paths; returns the new count.

    Open pieces shorter than ``least_length`` are dropped. On a closed path the width of a segment
    stands at its start, on an open path at its end.
    """
    at = path_off[paths]
    for ring in range(len(out_off) - 1):
        first = out_off[ring]
        count = out_off[ring + 1] - first
        if count < 2:
            continue
        laid = 0
        gap = -1
        for i in range(count):
            if out_laid[first + i]:
                laid += 1
            elif gap < 0:
                gap = i
        if laid == 0:
            continue
        if laid == count:
            for i in range(first, first + count):
                path_xy[at, 0] = out[i, 0]
                path_xy[at, 1] = out[i, 1]
                path_width[at] = out_width[i]
                at += 1
            path_role[paths] = role
            path_closed[paths] = 1
            paths += 1
            path_off[paths] = at
            continue
        step = 0
        while step < count:
            i = first + (gap + step) % count
            if not out_laid[i]:
                step += 1
                continue
            begin = at
            length = 0.0
            path_xy[at, 0] = out[i, 0]
            path_xy[at, 1] = out[i, 1]
            path_width[at] = out_width[i]
            at += 1
            while step < count and out_laid[first + (gap + step) % count]:
                i = first + (gap + step) % count
                j = first + (gap + step + 1) % count
                path_xy[at, 0] = out[j, 0]
                path_xy[at, 1] = out[j, 1]
                path_width[at] = out_width[i]
                length += math.hypot(out[j, 0] - out[i, 0], out[j, 1] - out[i, 1])
                at += 1
                step += 1
            if length < least_length:
                at = begin
            else:
                path_role[paths] = role
                path_closed[paths] = 0
                paths += 1
                path_off[paths] = at
    return paths


@kernel
def laid_area(
    path_xy: NDArray[np.float64],
    path_width: NDArray[np.float64],
    path_off: NDArray[np.int64],
    path_closed: NDArray[np.uint8],
    paths: int,
) -> float:
    """Sum of length times width over the segments of the first ``paths`` paths."""
    total = 0.0
    for path in range(paths):
        first = path_off[path]
        last = path_off[path + 1]
        closed = path_closed[path]
        for i in range(first + 1, last):
            width = path_width[i - 1] if closed else path_width[i]
            total += width * math.hypot(
                path_xy[i, 0] - path_xy[i - 1, 0], path_xy[i, 1] - path_xy[i - 1, 1]
            )
        if closed:
            total += path_width[last - 1] * math.hypot(
                path_xy[first, 0] - path_xy[last - 1, 0],
                path_xy[first, 1] - path_xy[last - 1, 1],
            )
    return total
