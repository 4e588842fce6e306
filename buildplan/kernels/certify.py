"""Proof that a raw offset is the true one: no crossings, the right side filled, area closes."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.edge_grid import box_of, cell_rows, count_entries
from buildplan.kernels.jit import kernel

SCAN_RAD = 0.61
"""Check lines are turned by this angle so that they run along no axis-parallel sliver."""


@kernel
def ring_area(points: NDArray[np.float64], first: int, last: int) -> float:
    """Signed area of the ring points[first:last], taken about its first point."""
    if last - first < 3:
        return 0.0
    x0 = points[first, 0]
    y0 = points[first, 1]
    px = points[last - 1, 0] - x0
    py = points[last - 1, 1] - y0
    twice = 0.0
    for i in range(first, last):
        x = points[i, 0] - x0
        y = points[i, 1] - y0
        twice += px * y - x * py
        px = x
        py = y
    return 0.5 * twice


@kernel
def rings_area(points: NDArray[np.float64], ring_off: NDArray[np.int64]) -> float:
    """Sum of the signed areas of the rings."""
    total = 0.0
    for ring in range(len(ring_off) - 1):
        total += ring_area(points, ring_off[ring], ring_off[ring + 1])
    return total


@kernel
def rings_length(points: NDArray[np.float64], ring_off: NDArray[np.int64]) -> float:
    """Sum of the lengths of the rings."""
    total = 0.0
    for ring in range(len(ring_off) - 1):
        first = ring_off[ring]
        last = ring_off[ring + 1]
        if last == first:
            continue
        px = points[last - 1, 0]
        py = points[last - 1, 1]
        for i in range(first, last):
            total += math.sqrt((points[i, 0] - px) ** 2 + (points[i, 1] - py) ** 2)
            px = points[i, 0]
            py = points[i, 1]
    return total


@kernel
def edges_cross(
    points: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    cell: float,
) -> bool:
    """Whether any two edges of the rings cross (neighbours along a ring excepted).

    Args:
        points: (>= ring_off[-1], 2) ring vertices.
        ring_off: (n_rings + 1,).
        cell: Side of the grid's cells.
    """
    rings = len(ring_off) - 1
    count = ring_off[rings]
    if count < 4:
        return False
    x_low, y_low, x_high, y_high = box_of(points, count)
    grid_x = x_low - 1e-9
    grid_y = y_low - 1e-9
    columns = int((x_high - grid_x) / cell) + 2
    rows = int((y_high - grid_y) / cell) + 2
    room = count_entries(points, ring_off, grid_x, grid_y, cell) + 8
    head = np.full(columns * rows, -1, np.int32)
    edge_start = np.empty(room, np.int32)
    edge_end = np.empty(room, np.int32)
    next_entry = np.empty(room, np.int32)
    entries = 0
    for ring in range(rings):
        first = ring_off[ring]
        last = ring_off[ring + 1]
        for i in range(first, last):
            j = i + 1 if i + 1 < last else first
            x0 = points[i, 0]
            y0 = points[i, 1]
            x1 = points[j, 0]
            y1 = points[j, 1]
            dx = x1 - x0
            dy = y1 - y0
            column_low = int((min(x0, x1) - grid_x) / cell)
            column_high = int((max(x0, x1) - grid_x) / cell)
            row_low = int((min(y0, y1) - grid_y) / cell)
            row_high = int((max(y0, y1) - grid_y) / cell)
            for column in range(column_low, column_high + 1):
                low = row_low
                high = row_high
                if column_high > column_low and row_high > row_low:
                    low, high = cell_rows(
                        x0, y0, x1, y1, grid_x + column * cell, cell, grid_y, row_low, row_high
                    )
                for row in range(low, high + 1):
                    place = row * columns + column
                    entry = head[place]
                    while entry >= 0:
                        a = edge_start[entry]
                        b = edge_end[entry]
                        entry = next_entry[entry]
                        if a == j or b == i:
                            continue
                        ax = points[a, 0]
                        ay = points[a, 1]
                        bx = points[b, 0]
                        by = points[b, 1]
                        side_a = dx * (ay - y0) - dy * (ax - x0)
                        side_b = dx * (by - y0) - dy * (bx - x0)
                        if (side_a > 0.0) != (side_b > 0.0):
                            side_0 = (bx - ax) * (y0 - ay) - (by - ay) * (x0 - ax)
                            side_1 = (bx - ax) * (y1 - ay) - (by - ay) * (x1 - ax)
                            if (side_0 > 0.0) != (side_1 > 0.0):
                                return True
                    edge_start[entries] = i
                    edge_end[entries] = j
                    next_entry[entries] = head[place]
                    head[place] = entries
                    entries += 1
    return False


@kernel
def sides_are_right(points: NDArray[np.float64], ring_off: NDArray[np.int64]) -> bool:
    """Whether every ring has winding number 1 on its left (and so 0 on its right).

    Tested at the middle of one edge of each ring against all the others; with no crossings that
    settles the whole ring.
    """
    rings = len(ring_off) - 1
    sign = np.empty(rings, np.int64)
    box = np.empty((rings, 3))
    for ring in range(rings):
        first = ring_off[ring]
        last = ring_off[ring + 1]
        if last - first < 3:
            return False
        sign[ring] = 1 if ring_area(points, first, last) > 0.0 else 0
        box[ring, 0] = box[ring, 2] = -math.inf
        box[ring, 1] = math.inf
        for i in range(first, last):
            box[ring, 0] = max(box[ring, 0], points[i, 0])
            box[ring, 1] = min(box[ring, 1], points[i, 1])
            box[ring, 2] = max(box[ring, 2], points[i, 1])
    if rings == 1:
        return bool(sign[0] == 1)
    for ring in range(rings):
        first = ring_off[ring]
        x = 0.5 * (points[first, 0] + points[first + 1, 0])
        y = 0.5 * (points[first, 1] + points[first + 1, 1])
        winding = sign[ring]
        for other in range(rings):
            if other == ring:
                continue
            if x > box[other, 0] or y < box[other, 1] or y > box[other, 2]:
                continue
            a = ring_off[other]
            b = ring_off[other + 1]
            px = points[b - 1, 0]
            py = points[b - 1, 1]
            for i in range(a, b):
                qx = points[i, 0]
                qy = points[i, 1]
                if (py <= y) != (qy <= y):
                    cross = (qx - px) * (y - py) - (x - px) * (qy - py)
                    if qy > py and cross > 0.0:
                        winding += 1
                    elif qy < py and cross < 0.0:
                        winding -= 1
                px = qx
                py = qy
        if winding != 1:
            return False
    return True


@kernel
def even_odd_area(
    points: NDArray[np.float64], ring_off: NDArray[np.int64], pitch: float, angle: float
) -> float:
    """Area inside the rings by the even-odd rule, measured along scan lines at an angle.

    It does not rest on the signed-area identity, which holds for crossed rings too. Lines stand
    ``pitch`` apart, closer where the island is lower than 60 of them.
    """
    scan_cos = math.cos(angle)
    scan_sin = math.sin(angle)
    rings = len(ring_off) - 1
    low = math.inf
    high = -math.inf
    for i in range(ring_off[0], ring_off[rings]):
        y = scan_cos * points[i, 1] - scan_sin * points[i, 0]
        low = min(low, y)
        high = max(high, y)
    if not high > low:
        return 0.0
    step = min(pitch, (high - low) / 60.0 + 1e-6)
    lines = int((high - low) / step) + 2
    line_off = np.zeros(lines + 1, np.int64)
    crossing = np.empty(0)
    place = line_off
    for turn in range(2):
        if turn == 1:
            for line in range(lines):
                line_off[line + 1] += line_off[line]
            crossing = np.empty(line_off[lines])
            place = line_off[:-1].copy()
        for ring in range(rings):
            first = ring_off[ring]
            last = ring_off[ring + 1]
            if last - first < 3:
                continue
            px = scan_cos * points[last - 1, 0] + scan_sin * points[last - 1, 1]
            py = scan_cos * points[last - 1, 1] - scan_sin * points[last - 1, 0]
            py = (py - low) / step - 0.5
            for i in range(first, last):
                x = scan_cos * points[i, 0] + scan_sin * points[i, 1]
                y = (scan_cos * points[i, 1] - scan_sin * points[i, 0] - low) / step - 0.5
                line_low = max(0, math.ceil(min(y, py)))
                line_high = min(lines - 1, math.ceil(max(y, py)) - 1)
                for line in range(line_low, line_high + 1):
                    if turn == 0:
                        line_off[line + 1] += 1
                    else:
                        value = px + (line - py) * (x - px) / (y - py)
                        at = place[line]
                        while at > line_off[line] and crossing[at - 1] > value:
                            crossing[at] = crossing[at - 1]
                            at -= 1
                        crossing[at] = value
                        place[line] += 1
                px = x
                py = y
    total = 0.0
    for line in range(lines):
        for i in range(line_off[line], line_off[line + 1] - 1, 2):
            total += crossing[i + 1] - crossing[i]
    return total * step
