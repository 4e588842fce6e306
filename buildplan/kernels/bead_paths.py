"""Wall beads of islands: plain offsets where they are proved, local thickness elsewhere."""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.certify import rings_area, rings_length
from buildplan.kernels.jit import kernel
from buildplan.kernels.plain_offsets import edge_directions, is_true_offset, offset_rings
from buildplan.kernels.thin_beads import (
    ACCEPTED,
    CROSSED,
    EMPTY,
    OUTLINE,
    UNPROVED,
    WALL,
    thin_island,
)


@kernel
def with_room(values: NDArray[Any], used: int, more: int) -> NDArray[Any]:
    """The array itself where ``more`` items fit behind the used ones, else a larger copy."""
    if used + more <= len(values):
        return values
    larger = np.empty(max(used + more, len(values) + len(values) // 4), values.dtype)
    larger[:used] = values[:used]
    return larger


@kernel
def rows_with_room(values: NDArray[Any], used: int, more: int) -> NDArray[Any]:
    """As with_room, for (n, 2) arrays."""
    if used + more <= len(values):
        return values
    larger = np.empty((max(used + more, len(values) + len(values) // 4), 2), values.dtype)
    larger[:used] = values[:used]
    return larger


@kernel
def lay_plain(
    points: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    bead: float,
    wall_beads: int,
    cell: float,
    prove: bool,
    unit: NDArray[np.float64],
    length: NDArray[np.float64],
    rate: NDArray[np.float64],
    move: NDArray[np.float64],
    cut: NDArray[np.uint8],
    links: NDArray[np.int32],
    trial: NDArray[np.float64],
    trial_off: NDArray[np.int64],
    path_xy: NDArray[np.float64],
    path_off: NDArray[np.int64],
) -> int:
    """Beads of an island without thin walls; ``trial`` ends up with the border.

    Args:
        points: (n, 2) with ring_off, and unit, length, rate, move, cut of edge_directions.
        ring_off: See points.
        bead: Spacing of beads.
        wall_beads: Beads along the outline.
        cell: Side of the search grid's cells.
        prove: Whether each offset is still to be proved.
        unit: See points.
        length: See points.
        rate: See points.
        move: See points.
        cut: See points.
        links: (2, n) scratch.
        trial: (2 n, 2) scratch, gets the border; trial_off its ring offsets.
        trial_off: See trial.
        path_xy: (2 n wall_beads, 2) gets the bead's points, path_off (n_rings wall_beads + 1,)
            their offsets.
        path_off: See path_xy.

    Returns:
        ACCEPTED or why not.
    """
    if rings_area(points, ring_off) <= 0.0:
        return EMPTY
    rings = len(ring_off) - 1
    at = 0
    paths = 0
    path_off[0] = 0
    for step in range(wall_beads + 1):
        away = (step + 0.5) * bead if step < wall_beads else wall_beads * bead
        reason, _ = offset_rings(
            points, ring_off, away, unit, length, rate, move, cut, links, trial, trial_off
        )
        if reason != 0:
            return UNPROVED
        if prove and not is_true_offset(points, ring_off, trial, trial_off, cell):
            return CROSSED
        if step < wall_beads:
            for i in range(trial_off[rings]):
                path_xy[at + i, 0] = trial[i, 0]
                path_xy[at + i, 1] = trial[i, 1]
            for ring in range(rings):
                paths += 1
                path_off[paths] = at + trial_off[ring + 1]
            at += trial_off[rings]
    return ACCEPTED


@kernel
def slit_area(border_area: float, border_length: float, slit_width: float) -> float:
    """The border's area where its mean width (twice the area by the length) is a slit's.

    Borders of less mean width than 2 % of a slit are the slivers in walls that are all beads.
    """
    twice = 2.0 * border_area
    if 0.02 * slit_width * border_length < twice < slit_width * border_length:
        return border_area
    return 0.0


@kernel
def lay_walls(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    island_off: NDArray[np.int64],
    first_island: int,
    last_island: int,
    bead: float,
    wall_beads: int,
    most_beads: int,
    slit_width: float,
    cell: float,
    plain: bool,
) -> tuple[
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.int64],
    NDArray[np.uint8],
    NDArray[np.uint8],
    NDArray[np.int64],
    NDArray[np.float64],
    NDArray[np.int64],
    NDArray[np.int64],
    NDArray[np.float64],
    NDArray[np.int8],
]:
    """Beads and border of the islands first_island .. last_island - 1.

    Args:
        xy: (n, 2) ring vertices of all islands.
        ring_off: (n_rings + 1,).
        island_off: (n_islands + 1,).
        first_island: Islands to lay; likewise last_island.
        last_island: See first_island.
        bead: Spacing of beads.
        wall_beads: Beads along a wide wall.
        most_beads: Beads across the widest wall that is laid as beads only.
        slit_width: A border of less mean width is a slit.
        cell: Side of the search grid's cells.
        plain: Whether islands without thin walls may take the plain offsets (off in tests).

    Returns:
        x (p,), y (p,), width (p,), path_off, path_role, path_closed, paths_of_island (k,),
        border (b, 2), border_ring_off, border_rings_of_island (k,), numbers (k, 4) of wall area,
        border area, least thickness and slit area, fallback (k,). An island not
        ACCEPTED has no paths and no border.
    """
    islands = last_island - first_island
    total = ring_off[island_off[last_island]] - ring_off[island_off[first_island]]
    total_rings = island_off[last_island] - island_off[first_island]
    most_points = 0
    most_rings = 0
    for k in range(first_island, last_island):
        most_points = max(most_points, ring_off[island_off[k + 1]] - ring_off[island_off[k]])
        most_rings = max(most_rings, island_off[k + 1] - island_off[k])
    room = int(1.02 * total * wall_beads) + 256
    x = np.empty(room)
    y = np.empty(room)
    width = np.empty(room)
    path_off = np.zeros(total_rings * wall_beads + 65, np.int64)
    path_role = np.empty(total_rings * wall_beads + 64, np.uint8)
    path_closed = np.empty(total_rings * wall_beads + 64, np.uint8)
    border = np.empty((int(1.02 * total) + 256, 2))
    border_ring_off = np.zeros(total_rings + 1, np.int64)
    paths_of = np.zeros(islands, np.int64)
    border_rings_of = np.zeros(islands, np.int64)
    numbers = np.zeros((islands, 4))
    fallback = np.zeros(islands, np.int8)
    unit = np.empty((most_points, 2))
    length = np.empty(most_points)
    rate = np.empty(most_points)
    move = np.empty((most_points, 4))
    cut = np.empty(most_points, np.uint8)
    links = np.empty((2, most_points), np.int32)
    trial = np.empty((2 * most_points + 2, 2))
    plain_xy = np.empty((2 * most_points * wall_beads + 2, 2))
    plain_off = np.zeros(most_rings * wall_beads + 1, np.int64)
    plain_width = np.full(2 * most_points * wall_beads + 2, bead)
    plain_closed = np.ones(most_rings * wall_beads, np.uint8)
    plain_role = np.empty(most_rings * wall_beads, np.uint8)
    proof_distance = 0.5 * (most_beads + 0.5) * bead
    paths = 0
    at = 0
    border_rings = 0
    border_at = 0
    for k in range(islands):
        ring0 = island_off[first_island + k]
        ring1 = island_off[first_island + k + 1]
        rings = ring1 - ring0
        base = ring_off[ring0]
        points = xy[base : ring_off[ring1]]
        local = ring_off[ring0 : ring1 + 1] - base
        numbers[k, 2] = math.inf
        inner_off = np.zeros(rings + 1, np.int64)
        # no wall is thin where the offset to the middle of the thickest thin wall is a true one
        sharp = edge_directions(points, local, unit, length, rate, move, cut)
        thick = False
        prove = True
        if plain and not sharp:
            reason, prove = offset_rings(
                points, local, proof_distance, unit, length, rate, move, cut, links, trial,
                inner_off,
            )  # fmt: skip
            thick = reason == 0 and is_true_offset(points, local, trial, inner_off, cell)
        if not thick:
            (
                reason, n_paths, path_xy, widths, off, role, closed, inner, thin_inner_off,
                wall_area, border_area, least,
            ) = thin_island(points, local, bead, wall_beads, most_beads, cell)  # fmt: skip
            thick = not least < math.inf
            prove = True
            inner_off = thin_inner_off
            numbers[k, 2] = least
        if thick:
            inner_off = np.zeros(rings + 1, np.int64)
            reason = lay_plain(
                points, local, bead, wall_beads, cell, prove, unit, length, rate, move, cut, links,
                trial, inner_off, plain_xy, plain_off,
            )  # fmt: skip
            n_paths = rings * wall_beads
            for path in range(n_paths):
                plain_role[path] = OUTLINE if path < rings else WALL
            path_xy = plain_xy
            widths = plain_width
            off = plain_off
            role = plain_role
            closed = plain_closed
            inner = trial
        fallback[k] = reason
        if reason != ACCEPTED:
            continue
        if thick:
            border_area = rings_area(inner, inner_off)
            wall_area = rings_area(points, local) - border_area
        need = off[n_paths]
        x = with_room(x, at, need)
        y = with_room(y, at, need)
        width = with_room(width, at, need)
        path_off = with_room(path_off, paths + 1, n_paths)
        path_role = with_room(path_role, paths, n_paths)
        path_closed = with_room(path_closed, paths, n_paths)
        border = rows_with_room(border, border_at, inner_off[rings])
        for i in range(need):
            x[at + i] = path_xy[i, 0]
            y[at + i] = path_xy[i, 1]
            width[at + i] = widths[i]
        for path in range(n_paths):
            path_role[paths + path] = role[path]
            path_closed[paths + path] = closed[path]
            path_off[paths + path + 1] = at + off[path + 1]
        for ring in range(rings):
            if inner_off[ring + 1] - inner_off[ring] < 3:
                continue
            for i in range(inner_off[ring], inner_off[ring + 1]):
                border[border_at, 0] = inner[i, 0]
                border[border_at, 1] = inner[i, 1]
                border_at += 1
            border_rings += 1
            border_rings_of[k] += 1
            border_ring_off[border_rings] = border_at
        at += need
        paths += n_paths
        paths_of[k] = n_paths
        numbers[k, 0] = wall_area
        numbers[k, 1] = border_area
        numbers[k, 3] = slit_area(border_area, rings_length(inner, inner_off), slit_width)
    return (
        x[:at].copy(), y[:at].copy(), width[:at].copy(), path_off[: paths + 1].copy(),
        path_role[:paths].copy(), path_closed[:paths].copy(), paths_of, border[:border_at].copy(),
        border_ring_off[: border_rings + 1].copy(), border_rings_of, numbers, fallback,
    )  # fmt: skip
