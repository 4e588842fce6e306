"""Local wall thickness: the largest ball that touches an edge and an edge opposed to it."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.edge_grid import box_of, enter_segments
from buildplan.kernels.jit import kernel

OPPOSED_COS = -0.55
"""Two edges are opposed where their directions differ by more than 123 degrees (our choice: clear
of the corners of triangles and hexagons)."""

ALIKE_COS = 0.9998
"""Pieces that run alike within 1 degree do not limit each other's balls."""

MOST_REACH = 1.75
"""Most that an offset edge grows per distance at a corner (a turn of 120 degrees)."""

SHADE = 0.98
"""A piece is sound unless a neighbour's ball is smaller by more than this share."""

TIE = 1e-7
"""Slack that keeps ties (a ball that touches a corner) from hanging on rounding."""

NONE = -1
END = -2
"""Codes of a piece without partner: nothing near; the end of a wall."""


@kernel
def refine_rings(
    points: NDArray[np.float64], ring_off: NDArray[np.int64], step: float
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.uint8]]:
    """Split edges into equal pieces of at most ``step``.

    Returns:
        (m, 2) vertices, (n_rings + 1,) offsets, (m,) 1 where a vertex was put in.
    """
    rings = len(ring_off) - 1
    fine_off = np.zeros(rings + 1, np.int64)
    for ring in range(rings):
        first = ring_off[ring]
        last = ring_off[ring + 1]
        count = 0
        for i in range(first, last):
            j = i + 1 if i + 1 < last else first
            length = math.hypot(points[j, 0] - points[i, 0], points[j, 1] - points[i, 1])
            count += max(1, math.ceil(length / step))
        fine_off[ring + 1] = fine_off[ring] + count
    fine = np.empty((fine_off[rings], 2))
    inserted = np.zeros(fine_off[rings], np.uint8)
    for ring in range(rings):
        at = fine_off[ring]
        first = ring_off[ring]
        last = ring_off[ring + 1]
        for i in range(first, last):
            j = i + 1 if i + 1 < last else first
            dx = points[j, 0] - points[i, 0]
            dy = points[j, 1] - points[i, 1]
            pieces = max(1, math.ceil(math.hypot(dx, dy) / step))
            for piece in range(pieces):
                share = piece / pieces
                fine[at, 0] = points[i, 0] + share * dx
                fine[at, 1] = points[i, 1] + share * dy
                inserted[at] = 1 if piece > 0 else 0
                at += 1
    return fine, fine_off, inserted


@kernel
def piece_directions(
    points: NDArray[np.float64], ring_off: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Directions, lengths and reach of the pieces of all rings.

    The offset of an edge grows at an end where the corner opens away from the material: by the
    distance times tan(turn / 2), the mitre.

    Returns:
        (n, 2) unit vectors, (n,) lengths, (n, 2) growth per distance at the start and at the end.
    """
    count = len(points)
    unit = np.empty((count, 2))
    length = np.empty(count)
    reach = np.zeros((count, 2))
    for ring in range(len(ring_off) - 1):
        first = ring_off[ring]
        last = ring_off[ring + 1]
        for i in range(first, last):
            j = i + 1 if i + 1 < last else first
            dx = points[j, 0] - points[i, 0]
            dy = points[j, 1] - points[i, 1]
            length[i] = max(1e-12, math.sqrt(dx * dx + dy * dy))
            unit[i, 0] = dx / length[i]
            unit[i, 1] = dy / length[i]
        before = last - 1
        for i in range(first, last):
            cosine = unit[before, 0] * unit[i, 0] + unit[before, 1] * unit[i, 1]
            sine = unit[before, 0] * unit[i, 1] - unit[before, 1] * unit[i, 0]
            if sine < 0.0:
                grows = min(MOST_REACH, -sine / max(1e-9, 1.0 + cosine))
                reach[before, 1] = grows
                reach[i, 0] = grows
            before = i
    return unit, length, reach


@kernel
def local_radii(
    points: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    unit: NDArray[np.float64],
    length: NDArray[np.float64],
    reach: NDArray[np.float64],
    most_radius: float,
    cell: float,
) -> tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.float64]]:
    """Half of the local thickness at the middle of every piece of an edge.

    A ball lies on the inner (left) side and touches the piece at its middle; a line at distance h
    whose normal is q touches it at radius h / (1 - n.q), n being the piece's own normal. Opposed
    pieces limit the thickness. At a corner that opens away from the material an edge counts as
    far as its mitred offset reaches, so balls and mitred offsets agree.

    Args:
        points: (n, 2) ring vertices, ring_off (n_rings + 1,).
        ring_off: See points.
        unit: (n, 2), length (n,) and reach (n, 2) from piece_directions.
        length: See unit.
        reach: See unit.
        most_radius: Larger balls are of no interest.
        cell: Side of the search grid's cells.

    Returns:
        (n,) radius, most_radius where nothing opposed is so near; (n,) the opposed piece or -1;
        (n,) radius of the least ball that a piece which is not opposed touches: where it is
        smaller, the offset of the piece is cut away by its neighbours' (a corner, a rounded end).
    """
    count = len(points)
    radius = np.full(count, most_radius)
    partner = np.full(count, -1, np.int32)
    beside = np.full(count, math.inf)
    if count == 0:
        return radius, partner, beside
    x_low, y_low, x_high, y_high = box_of(points, count)
    margin = MOST_REACH * most_radius + 0.1 * cell
    grid_x = x_low - margin
    grid_y = y_low - margin
    columns = int((x_high - grid_x + margin) / cell) + 1
    rows = int((y_high - grid_y + margin) / cell) + 1
    segments = np.empty((count, 4))
    for ring in range(len(ring_off) - 1):
        first = ring_off[ring]
        last = ring_off[ring + 1]
        for i in range(first, last):
            j = i + 1 if i + 1 < last else first
            segments[i, 0] = points[i, 0] - most_radius * reach[i, 0] * unit[i, 0]
            segments[i, 1] = points[i, 1] - most_radius * reach[i, 0] * unit[i, 1]
            segments[i, 2] = points[j, 0] + most_radius * reach[i, 1] * unit[i, 0]
            segments[i, 3] = points[j, 1] + most_radius * reach[i, 1] * unit[i, 1]
    cell_off, entries = enter_segments(segments, grid_x, grid_y, columns, rows, cell)
    for piece in range(count):
        ux = unit[piece, 0]
        uy = unit[piece, 1]
        middle_x = points[piece, 0] + 0.5 * length[piece] * ux
        middle_y = points[piece, 1] + 0.5 * length[piece] * uy
        best = most_radius
        best_piece = -1
        least = math.inf
        ball_x = middle_x - best * uy
        ball_y = middle_y + best * ux
        column_low = max(0, int((ball_x - best - grid_x) / cell))
        column_high = min(columns - 1, int((ball_x + best - grid_x) / cell))
        row_low = max(0, int((ball_y - best - grid_y) / cell))
        row_high = min(rows - 1, int((ball_y + best - grid_y) / cell))
        for row in range(row_low, row_high + 1):
            cell_y = grid_y + row * cell
            for column in range(column_low, column_high + 1):
                place = row * columns + column
                if cell_off[place] == cell_off[place + 1]:
                    continue
                cell_x = grid_x + column * cell
                away_x = max(0.0, max(cell_x - ball_x, ball_x - cell_x - cell))
                away_y = max(0.0, max(cell_y - ball_y, ball_y - cell_y - cell))
                if away_x * away_x + away_y * away_y > best * best:
                    continue
                for entry in range(cell_off[place], cell_off[place + 1]):
                    i = entries[entry]
                    vx = unit[i, 0]
                    vy = unit[i, 1]
                    cosine = ux * vx + uy * vy
                    if cosine > ALIKE_COS:
                        continue
                    from_x = middle_x - points[i, 0]
                    from_y = middle_y - points[i, 1]
                    height = from_y * vx - from_x * vy
                    if height <= 0.0:
                        continue
                    trial = height / (1.0 - cosine)
                    if trial >= (best if cosine <= OPPOSED_COS else min(least, best)):
                        continue
                    foot = (from_x - trial * uy) * vx + (from_y + trial * ux) * vy
                    if (
                        foot < -trial * reach[i, 0] - TIE
                        or foot > length[i] + trial * reach[i, 1] + TIE
                    ):
                        continue
                    if cosine <= OPPOSED_COS:
                        best = trial
                        best_piece = i
                        ball_x = middle_x - best * uy
                        ball_y = middle_y + best * ux
                    else:
                        least = trial
        radius[piece] = best
        partner[piece] = best_piece
        beside[piece] = least
    return radius, partner, beside


@kernel
def thickness_lengths(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    island_off: NDArray[np.int64],
    islands: NDArray[np.int64],
    step: float,
    most_thickness: float,
    bin_width: float,
    cell: float,
) -> NDArray[np.float64]:
    """Length of edges by local thickness, in bins; edges without an opposed one are left out.

    Args:
        xy: (n, 2) ring vertices.
        ring_off: (n_rings + 1,).
        island_off: (n_islands + 1,).
        islands: (k,) the islands to look at.
        step: Longest piece of an edge.
        most_thickness: Thicker walls are left out.
        bin_width: Width of a bin; bin b is centred on b * bin_width.
        cell: Side of the search grid's cells.
    """
    bins = np.zeros(int(most_thickness / bin_width) + 2)
    for k in range(len(islands)):
        ring0 = island_off[islands[k]]
        ring1 = island_off[islands[k] + 1]
        base = ring_off[ring0]
        points, fine_off, _ = refine_rings(
            xy[base : ring_off[ring1]], ring_off[ring0 : ring1 + 1] - base, step
        )
        unit, length, reach = piece_directions(points, fine_off)
        radius, partner, beside = local_radii(
            points, fine_off, unit, length, reach, 0.5 * most_thickness, cell
        )
        for i in range(len(points)):
            if partner[i] >= 0 and beside[i] >= SHADE * radius[i]:
                bins[int(2.0 * radius[i] / bin_width + 0.5)] += length[i]
    return bins
