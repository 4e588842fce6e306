"""From local thickness to beads: which pieces of an outline carry how many, how wide."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel
from buildplan.kernels.thickness import ALIKE_COS, END, NONE, SHADE, TIE

ROUND_PIECE = 0.7
"""Pieces of a round end are shorter than this share of its radius (our choice: nine corners)."""


@kernel
def spread_radii(
    ring_off: NDArray[np.int64],
    unit: NDArray[np.float64],
    length: NDArray[np.float64],
    wide_radius: float,
    radius: NDArray[np.float64],
    partner: NDArray[np.int32],
    beside: NDArray[np.float64],
) -> None:
    """Give the pieces whose offset is cut away the thickness of the nearest sound piece.

    So a wall keeps its beads around a bend, and its end is closed by beads of the same width.
    ``radius`` and ``partner`` are changed in place; END marks the end of a wall, which has no
    bead along its middle. Where a ring has no sound piece its largest ball decides.

    Args:
        ring_off: (n_rings + 1,).
        unit: (n, 2) directions and length (n,) of the pieces.
        length: See unit.
        wide_radius: Offsets of wide walls go no deeper.
        radius: (n,), partner (n,) and beside (n,) from local_radii.
        partner: See radius.
        beside: See radius.
    """
    for ring in range(len(ring_off) - 1):
        first = ring_off[ring]
        last = ring_off[ring + 1]
        count = last - first
        sound = np.ones(count, np.uint8)
        start = -1
        largest = 0.0
        for k in range(count):
            i = first + k
            depth = radius[i] if partner[i] >= 0 else wide_radius
            if beside[i] < SHADE * depth:
                sound[k] = 0
            elif start < 0:
                start = k
            largest = max(largest, min(radius[i], beside[i]))
        if start < 0:
            for i in range(first, last):
                radius[i] = largest
                partner[i] = END
            continue
        k = start
        while k < start + count:
            after = k + 1
            total = 0.0
            while after < start + count and not sound[after % count]:
                total += length[first + after % count]
                after += 1
            if after == k + 1:
                k = after
                continue
            left = first + k % count
            right = first + after % count
            near = partner[left]
            far = partner[right]
            end = near >= 0 and far >= 0 and _faces(near, right, far, left, first, last, length)
            run = 0.0
            for step in range(k + 1, after):
                i = first + step % count
                middle = run + 0.5 * length[i]
                run += length[i]
                source = left if middle <= 0.5 * total + TIE else right
                radius[i] = radius[source]
                partner[i] = partner[source]
                alike = unit[i, 0] * unit[source, 0] + unit[i, 1] * unit[source, 1] > ALIKE_COS
                if end and partner[source] >= 0 and not alike:
                    partner[i] = END
            k = after
        # balls that touch short pieces on all sides sit in the middle of a disc or a round end
        for i in range(first, last):
            if (
                partner[i] >= 0
                and beside[i] < radius[i] / SHADE
                and beside[i] > SHADE * radius[i]
                and length[i] < ROUND_PIECE * radius[i]
            ):
                partner[i] = END


@kernel
def _faces(
    near: int,
    right: int,
    far: int,
    left: int,
    first: int,
    last: int,
    length: NDArray[np.float64],
) -> bool:
    """Whether the pieces on both sides of a run face each other: the run is the end of a wall."""
    for turn in range(2):
        piece = near if turn == 0 else far
        goal = right if turn == 0 else left
        if piece < first or piece >= last:
            continue
        gone = 0.0
        i = goal
        for _ in range(4):
            if i == piece:
                return True
            gone += length[i]
            if turn == 0:
                i = i + 1 if i + 1 < last else first
            else:
                i = i - 1 if i > first else last - 1
    return False


@kernel
def class_edges(
    radius: NDArray[np.float64],
    partner: NDArray[np.int32],
    bead: float,
    most_beads: int,
    beads: NDArray[np.int32],
    width: NDArray[np.float64],
) -> int:
    """Beads across the wall at every edge and their width; returns how many edges are thin.

    A wall of thickness T takes N = round(T / bead) beads of width T / N (never below 0.6 bead)
    where N <= most_beads; elsewhere it is wide: N = 0 and the width is the bead's own.
    """
    thin = 0
    for edge in range(len(radius)):
        thickness = 2.0 * radius[edge]
        count = max(1, math.floor(thickness / bead + 0.5))
        if partner[edge] != NONE and count <= most_beads:
            beads[edge] = count
            width[edge] = max(thickness / count, 0.6 * bead)
            thin += 1
        else:
            beads[edge] = 0
            width[edge] = bead
    return thin


@kernel
def coarsen_rings(
    points: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    inserted: NDArray[np.uint8],
    beads: NDArray[np.int32],
    radius: NDArray[np.float64],
    partner: NDArray[np.int32],
    tolerance: float,
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.float64], NDArray[np.int32]]:
    """Drop inserted vertices across which neither bead count nor thickness changes.

    Returns:
        (m, 2) vertices, (n_rings + 1,) offsets, (m,) radius and (m,) partner of the kept edges.
    """
    count = len(points)
    rings = len(ring_off) - 1
    keep = np.ones(count, np.uint8)
    new_index = np.empty(count, np.int32)
    new_off = np.zeros(rings + 1, np.int64)
    kept = 0
    for ring in range(rings):
        first = ring_off[ring]
        last = ring_off[ring + 1]
        value = radius[first] if last > first else 0.0
        for i in range(first, last):
            if (
                inserted[i]
                and i > first
                and beads[i] == beads[i - 1]
                and (partner[i] == END) == (partner[i - 1] == END)
            ):
                if beads[i] > 0:
                    same = abs(radius[i] - value) < tolerance
                else:
                    # keep the wide piece beside a thin one short: its offset runs aslant
                    same = (i - 2 < first or beads[i - 2] == 0) and (
                        i + 1 >= last or beads[i + 1] == 0
                    )
                if same:
                    keep[i] = 0
            if keep[i]:
                value = radius[i]
                kept += 1
            new_index[i] = kept - 1
        new_off[ring + 1] = kept
    new_points = np.empty((kept, 2))
    new_radius = np.empty(kept)
    new_partner = np.empty(kept, np.int32)
    at = 0
    for i in range(count):
        if keep[i]:
            new_points[at, 0] = points[i, 0]
            new_points[at, 1] = points[i, 1]
            new_radius[at] = radius[i]
            new_partner[at] = new_index[partner[i]] if partner[i] >= 0 else partner[i]
            at += 1
    return new_points, new_off, new_radius, new_partner
