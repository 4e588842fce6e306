"""A grid of square cells over the edges of one island: who is near whom, without a tree."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline


@kernel_inline
def cell_rows(
    x0: float,
    y0: float,
    x1: float,
    y1: float,
    column_x: float,
    cell: float,
    grid_y: float,
    row_low: int,
    row_high: int,
) -> tuple[int, int]:
    """Rows that an edge passes in the column of cells that starts at column_x."""
    along_in = min(1.0, max(0.0, (column_x - x0) / (x1 - x0)))
    along_out = min(1.0, max(0.0, (column_x + cell - x0) / (x1 - x0)))
    y_in = y0 + along_in * (y1 - y0)
    y_out = y0 + along_out * (y1 - y0)
    low = max(row_low, int((min(y_in, y_out) - grid_y) / cell))
    high = min(row_high, int((max(y_in, y_out) - grid_y) / cell))
    return low, high


@kernel
def box_of(points: NDArray[np.float64], count: int) -> tuple[float, float, float, float]:
    """Bounding box x0, y0, x1, y1 of the first ``count`` points."""
    x0 = y0 = math.inf
    x1 = y1 = -math.inf
    for i in range(count):
        x0 = min(x0, points[i, 0])
        x1 = max(x1, points[i, 0])
        y0 = min(y0, points[i, 1])
        y1 = max(y1, points[i, 1])
    return x0, y0, x1, y1


@kernel
def count_entries(
    points: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    grid_x: float,
    grid_y: float,
    cell: float,
) -> int:
    """Most (edge, cell) pairs that the rings can make: columns plus rows of every edge."""
    total = 0
    for ring in range(len(ring_off) - 1):
        first = ring_off[ring]
        last = ring_off[ring + 1]
        if last == first:
            continue
        column = int((points[last - 1, 0] - grid_x) / cell)
        row = int((points[last - 1, 1] - grid_y) / cell)
        for i in range(first, last):
            column_here = int((points[i, 0] - grid_x) / cell)
            row_here = int((points[i, 1] - grid_y) / cell)
            total += abs(column_here - column) + abs(row_here - row) + 1
            column = column_here
            row = row_here
    return total


@kernel
def enter_segments(
    segments: NDArray[np.float64],
    grid_x: float,
    grid_y: float,
    columns: int,
    rows: int,
    cell: float,
) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Which segments pass through each cell.

    Args:
        segments: (n, 4) x0, y0, x1, y1; all inside the grid.
        grid_x: Left side of the grid.
        grid_y: Lower side of the grid.
        columns: Cells in a row.
        rows: Cells in a column.
        cell: Side of a cell.

    Returns:
        (columns * rows + 1,) offsets and (n_entries,) segments, cell by cell (row by row).
    """
    offset = np.zeros(columns * rows + 1, np.int64)
    entries = np.empty(0, np.int32)
    free = offset
    for turn in range(2):
        if turn == 1:
            for place in range(columns * rows):
                offset[place + 1] += offset[place]
            entries = np.empty(offset[columns * rows], np.int32)
            free = offset[:-1].copy()
        for i in range(len(segments)):
            x0 = segments[i, 0]
            y0 = segments[i, 1]
            x1 = segments[i, 2]
            y1 = segments[i, 3]
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
                    if turn == 0:
                        offset[place + 1] += 1
                    else:
                        entries[free[place]] = i
                        free[place] += 1
    return offset, entries
