"""Points that are the same point: exact, by hashing their bits."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel

LONGEST_PROBE = 4096
"""Steps through the table after which a point set is called crafted against the hash."""


@kernel
def weld_bits(bits: NDArray[np.uint32]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Number of the first equal row for every row, rows numbered in order of first appearance.

    Args:
        bits: (n, k) the bit patterns of the coordinates; -0.0 must have been made +0.0.

    Returns:
        index: (n,) number of the distinct row that each row is; empty where the hash table was
            overrun (a crafted file), so that the caller sorts instead.
        first: (distinct,) row at which each distinct one was first seen.
    """
    rows, words = bits.shape
    slots = 16
    while 4 * slots < 5 * rows:
        slots *= 2
    mask = np.uint64(slots - 1)
    table = np.full(slots, -1, np.int32)  # a row, not its number: one step less to its bits
    index = np.empty(rows, np.int64)
    first = np.empty(rows, np.int64)
    distinct = 0
    for row in range(rows):
        mixed = np.uint64(0x9E3779B97F4A7C15)
        for word in range(words):
            mixed = (mixed ^ np.uint64(bits[row, word])) * np.uint64(0xBF58476D1CE4E5B9)
            mixed ^= mixed >> np.uint64(29)
        slot = mixed & mask
        probes = 0
        while True:
            known = table[slot]
            if known < 0:
                table[slot] = row
                first[distinct] = row
                index[row] = distinct
                distinct += 1
                break
            same = True
            for word in range(words):
                if bits[known, word] != bits[row, word]:
                    same = False
                    break
            if same:
                index[row] = index[known]
                break
            slot = (slot + np.uint64(1)) & mask
            probes += 1
            if probes > LONGEST_PROBE:
                return index[:0], first[:0]
    return index, first[:distinct].copy()


@kernel
def weld_near(points: NDArray[np.float64], reach: float) -> NDArray[np.int64]:
    """Number of the point that each point is joined to: the first one within ``reach`` of it.

    Points are taken in order; one that is near no kept point is kept itself. Kept points lie more
    than ``reach`` apart, so a crowd of equal points costs no more than a spread one.

    Args:
        points: (n, 3).
        reach: Greatest distance that is joined, above 0.

    Returns:
        (n,) number of a point, its own where it is kept.
    """
    count = len(points)
    slots = 16
    while slots < 2 * count:
        slots *= 2
    mask = np.int64(slots - 1)
    first_in_slot = np.full(slots, -1, np.int64)
    next_kept = np.full(count, -1, np.int64)
    joined = np.empty(count, np.int64)
    for i in range(count):
        cell_x = np.int64(np.floor(points[i, 0] / reach))
        cell_y = np.int64(np.floor(points[i, 1] / reach))
        cell_z = np.int64(np.floor(points[i, 2] / reach))
        best = -1
        for step in range(27):
            x = cell_x + step % 3 - 1
            y = cell_y + (step // 3) % 3 - 1
            z = cell_z + step // 9 - 1
            slot = ((x * 73856093) ^ (y * 19349663) ^ (z * 83492791)) & mask
            other = first_in_slot[slot]
            while other >= 0:
                dx = points[other, 0] - points[i, 0]
                dy = points[other, 1] - points[i, 1]
                dz = points[other, 2] - points[i, 2]
                if dx * dx + dy * dy + dz * dz <= reach * reach and (best < 0 or other < best):
                    best = other
                other = next_kept[other]
        if best >= 0:
            joined[i] = best
        else:
            joined[i] = i
            slot = ((cell_x * 73856093) ^ (cell_y * 19349663) ^ (cell_z * 83492791)) & mask
            next_kept[i] = first_in_slot[slot]
            first_in_slot[slot] = i
    return joined
