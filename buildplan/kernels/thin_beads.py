"""Wall beads of one island by local thickness, and the certificate that its area closes."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.certify import SCAN_RAD, even_odd_area, rings_area
from buildplan.kernels.edge_grid import box_of
from buildplan.kernels.edge_offsets import (
    BEADS,
    BORDER,
    CENTRES,
    laid_area,
    offset_edges,
    set_distances,
    take_chains,
)
from buildplan.kernels.jit import kernel
from buildplan.kernels.thickness import local_radii, piece_directions, refine_rings
from buildplan.kernels.wall_classes import class_edges, coarsen_rings, spread_radii

OUTLINE = 1
WALL = 2
CENTRE = 7
"""Codes of buildplan.process.roles.Role (kernels know no buildplan type; a test holds them)."""

ACCEPTED = 0
UNPROVED = 1
CROSSED = 2
EMPTY = 7
MISSCALED = 8
"""Why the fast beads of an island were not taken (walls.fallback)."""

ASTRAY_SHARE = 0.01
ASTRAY_BEADS = 20.0
"""Area of a border's loops that run the wrong way round: at most 1 % of a thin island and twenty
squares of a bead (our choice); the scan area counts them as they will be filled."""

LEAST_WIDTH = 0.6
MOST_WIDTH = 1.6
"""Narrowest and widest bead, in beads (common practice, no source)."""

LEAST_PIECE_MM = 0.05
REFINE_BEADS = 4.5
COARSEN_MM = 0.01


@kernel
def thin_island(
    outline: NDArray[np.float64],
    outline_off: NDArray[np.int64],
    bead: float,
    wall_beads: int,
    most_beads: int,
    cell: float,
) -> tuple[
    int,
    int,
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.int64],
    NDArray[np.uint8],
    NDArray[np.uint8],
    NDArray[np.float64],
    NDArray[np.int64],
    float,
    float,
    float,
]:
    """Beads of one island by local thickness.

    Returns:
        reason (ACCEPTED or why not; UNPROVED where no edge is thin), number of paths, path points
        (m, 2), widths (m,), path offsets, roles, closed flags, border (b, 2) and its ring offsets,
        wall area, border area, least thickness.
    """
    rings = len(outline_off) - 1
    points, ring_off, inserted = refine_rings(outline, outline_off, REFINE_BEADS * bead)
    most_radius = 0.5 * (most_beads + 0.6) * bead
    wide_radius = wall_beads * bead
    unit, length, reach = piece_directions(points, ring_off)
    radius, partner, beside = local_radii(points, ring_off, unit, length, reach, most_radius, cell)
    spread_radii(ring_off, unit, length, wide_radius, radius, partner, beside)
    beads = np.empty(len(points), np.int32)
    width = np.empty(len(points))
    class_edges(radius, partner, bead, most_beads, beads, width)
    points, ring_off, radius, partner = coarsen_rings(
        points, ring_off, inserted, beads, radius, partner, COARSEN_MM
    )
    count = len(points)
    beads = np.empty(count, np.int32)
    width = np.empty(count)
    thin = class_edges(radius, partner, bead, most_beads, beads, width)
    most_here = 0
    least = math.inf
    for edge in range(count):
        most_here = max(most_here, beads[edge])
        if beads[edge] > 0:
            least = min(least, 2.0 * radius[edge])
    levels = max(wall_beads, most_here // 2)
    room = (3 * count * (levels + 1) + 16) if thin > 0 else 1
    path_xy = np.empty((room, 2))
    path_width = np.empty(room)
    path_off = np.zeros(room + 1, np.int64)
    path_role = np.empty(room, np.uint8)
    path_closed = np.empty(room, np.uint8)
    paths = 0
    out = np.empty((2 * count + 2, 2))
    out_off = np.zeros(rings + 1, np.int64)
    out_edge = np.empty(2 * count + 2, np.int32)
    if thin == 0:
        return (
            UNPROVED, 0, path_xy, path_width, path_off, path_role, path_closed, out, out_off,
            0.0, 0.0, least,
        )  # fmt: skip
    ring_of = np.empty(count, np.int32)
    unit, length, reach = piece_directions(points, ring_off)
    for ring in range(rings):
        ring_of[ring_off[ring] : ring_off[ring + 1]] = ring
    distance = np.empty(count)
    laid = np.empty(count, np.uint8)
    end_gap = np.empty(count)
    links = np.empty((2, count), np.int32)
    out_laid = np.empty(2 * count + 2, np.uint8)
    out_width = np.empty(2 * count + 2)
    for step in range(levels + 2):
        kind = BEADS
        if step == levels:
            kind = CENTRES
        elif step == levels + 1:
            kind = BORDER
        set_distances(
            kind, step, radius, partner, ring_of, beads, bead, wall_beads, distance, laid, end_gap
        )
        offset_edges(
            points, ring_off, unit, distance, laid, end_gap, beads, width, kind, links, out,
            out_off, out_edge, out_laid, out_width,
        )  # fmt: skip
        if kind != BORDER:
            role = CENTRE if kind == CENTRES else (OUTLINE if step == 0 else WALL)
            paths = take_chains(
                out, out_off, out_laid, out_width, role, LEAST_PIECE_MM, path_xy, path_width,
                path_off, path_role, path_closed, paths,
            )  # fmt: skip
    reason, wall_area, border_area, factor = _close_island(
        points, ring_off, beads, path_xy, path_width, path_off, path_closed, paths, out, out_off,
        out_edge, bead, cell,
    )  # fmt: skip
    for i in range(path_off[paths]):
        path_width[i] *= factor
        narrow = path_width[i] < LEAST_WIDTH * bead and least >= LEAST_WIDTH * bead
        if reason == ACCEPTED and (narrow or path_width[i] > MOST_WIDTH * bead):
            reason = MISSCALED
    return (
        reason, paths, path_xy, path_width, path_off, path_role, path_closed, out, out_off,
        wall_area * factor, border_area, least,
    )  # fmt: skip


@kernel
def _close_island(
    points: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    beads: NDArray[np.int32],
    path_xy: NDArray[np.float64],
    path_width: NDArray[np.float64],
    path_off: NDArray[np.int64],
    path_closed: NDArray[np.uint8],
    paths: int,
    border: NDArray[np.float64],
    border_off: NDArray[np.int64],
    border_edge: NDArray[np.int32],
    bead: float,
    cell: float,
) -> tuple[int, float, float, float]:
    """Certificate of a thin island: reason, wall area, border area, factor on the widths."""
    rings = len(ring_off) - 1
    area = rings_area(points, ring_off)
    if area <= 0.0:
        return EMPTY, 0.0, 0.0, 1.0
    x0, y0, x1, y1 = box_of(points, len(points))
    a0, b0, a1, b1 = box_of(border, border_off[rings])
    if border_off[rings] > 0 and not (
        a0 >= x0 - 0.1 and b0 >= y0 - 0.1 and a1 <= x1 + 0.1 and b1 <= y1 + 0.1
    ):
        return CROSSED, 0.0, 0.0, 1.0
    signed = rings_area(border, border_off)
    left = even_odd_area(border, border_off, 0.25 * bead, SCAN_RAD)
    if abs(left - signed) >= 0.001 * area:
        # a sliver may happen to run along the lines: look across, and closely if they disagree
        across = even_odd_area(border, border_off, 0.25 * bead, SCAN_RAD + 0.5 * math.pi)
        if abs(across - left) > 0.001 * area:
            left = even_odd_area(border, border_off, 0.02 * bead, SCAN_RAD)
    astray = abs(left - signed)
    if astray < 0.001 * area:
        left = signed
    elif astray > min(ASTRAY_SHARE * area, ASTRAY_BEADS * bead * bead):
        return CROSSED, 0.0, 0.0, 1.0
    wall = laid_area(path_xy, path_width, path_off, path_closed, paths)
    want = area - left
    if wall < 1e-9:
        return MISSCALED, 0.0, left, 1.0
    factor = want / wall
    if factor < 0.8 or factor > 1.25:
        return MISSCALED, wall, left, 1.0
    return ACCEPTED, wall, max(0.0, left), factor
