"""The nearest end of a chain that is still to be laid: ends in a grid, searched ring by ring."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline

ENDS_PER_CELL = 2.0
"""Cells are made so wide that each holds about this many ends."""


@kernel
def grid_ends(
    ends: NDArray[np.float64],
    single: NDArray[np.uint8],
    done: NDArray[np.uint8],
    members: NDArray[np.int64],
    cell_head: NDArray[np.int64],
    entry_next: NDArray[np.int64],
) -> tuple[float, float, float, int, int]:
    """Put the ends of the members that are not done into square cells, as linked lists.

    Args:
        ends: (n, 8) four ends x, y of every chain; of a chain of one span the last two repeat.
        single: (n,) 1 for a chain of one span.
        done: (n,) 1 for a chain that is laid.
        members: Chains to put in.
        cell_head: Room for one number per cell, at least 4 per member and 1; filled.
        entry_next: (4 n,) filled; entry 4 i + c is end c of chain i.

    Returns:
        Left and lower end of the grid, side of a cell, columns and rows.
    """
    x0 = 1e300
    x1 = -1e300
    y0 = 1e300
    y1 = -1e300
    count = 0
    for m in range(len(members)):
        i = members[m]
        if done[i]:
            continue
        corners = 2 if single[i] else 4
        count += corners
        for c in range(corners):
            x0 = min(x0, ends[i, 2 * c])
            x1 = max(x1, ends[i, 2 * c])
            y0 = min(y0, ends[i, 2 * c + 1])
            y1 = max(y1, ends[i, 2 * c + 1])
    if count == 0:
        cell_head[0] = -1
        return 0.0, 0.0, 1.0, 1, 1
    wide = max(x1 - x0, 1e-6)
    high = max(y1 - y0, 1e-6)
    most = max(1.0, count / ENDS_PER_CELL)
    cell = max(math.sqrt(wide * high / most), max(wide, high) / most)
    columns = int(wide / cell) + 1
    rows = int(high / cell) + 1
    while columns * rows > len(cell_head):
        cell *= 1.5
        columns = int(wide / cell) + 1
        rows = int(high / cell) + 1
    for slot in range(columns * rows):
        cell_head[slot] = -1
    for m in range(len(members) - 1, -1, -1):
        i = members[m]
        if done[i]:
            continue
        for c in range(2 if single[i] else 4):
            column = min(columns - 1, int((ends[i, 2 * c] - x0) / cell))
            row = min(rows - 1, int((ends[i, 2 * c + 1] - y0) / cell))
            slot = row * columns + column
            entry_next[4 * i + c] = cell_head[slot]
            cell_head[slot] = 4 * i + c
    return x0, y0, cell, columns, rows


@kernel_inline
def nearest_end(
    x: float,
    y: float,
    ends: NDArray[np.float64],
    done: NDArray[np.uint8],
    cell_head: NDArray[np.int64],
    entry_next: NDArray[np.int64],
    grid_x: float,
    grid_y: float,
    cell: float,
    columns: int,
    rows: int,
) -> tuple[float, int]:
    """Squared distance and entry (4 chain + end) of the nearest end; (1e300, -1) for none.

    Ends of chains that are done are taken out of the lists on the way.
    """
    column = min(columns - 1, max(0, int((x - grid_x) / cell)))
    row = min(rows - 1, max(0, int((y - grid_y) / cell)))
    best = 1e300
    found = -1
    reach = max(max(column, columns - 1 - column), max(row, rows - 1 - row))
    for ring in range(reach + 1):
        # all cells of the ring are at least (ring - 1) cells away
        if ring > 0 and best <= ((ring - 1) * cell) ** 2:
            break
        for r in range(max(0, row - ring), min(rows - 1, row + ring) + 1):
            step = 1
            if ring > 0 and r != row - ring and r != row + ring:
                step = 2 * ring
            for c in range(column - ring, column + ring + 1, step):
                if c < 0 or c >= columns:
                    continue
                slot = r * columns + c
                before = -1
                entry = cell_head[slot]
                while entry >= 0:
                    after = entry_next[entry]
                    i = entry >> 2
                    if done[i]:
                        if before < 0:
                            cell_head[slot] = after
                        else:
                            entry_next[before] = after
                    else:
                        corner = 2 * (entry & 3)
                        d = (ends[i, corner] - x) ** 2 + (ends[i, corner + 1] - y) ** 2
                        if d < best:
                            best = d
                            found = entry
                        before = entry
                    entry = after
    return best, found


@kernel_inline
def nearest_of_few(
    x: float,
    y: float,
    ends: NDArray[np.float64],
    single: NDArray[np.uint8],
    done: NDArray[np.uint8],
    members: NDArray[np.int64],
) -> tuple[float, int, int]:
    """As nearest_end, but without a grid: every member is tried.

    Members that are done are moved to the back; the third number tells how many are not.
    """
    best = 1e300
    found = -1
    count = len(members)
    m = 0
    while m < count:
        i = members[m]
        if done[i]:
            count -= 1
            members[m] = members[count]
            members[count] = i
            continue
        for c in range(2 if single[i] else 4):
            d = (ends[i, 2 * c] - x) ** 2 + (ends[i, 2 * c + 1] - y) ** 2
            if d < best:
                best = d
                found = 4 * i + c
        m += 1
    return best, found, count
