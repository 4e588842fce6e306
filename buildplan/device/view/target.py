"""The flat area that a camera must see, in small cells."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.device.view.scene import sealed, unit
from buildplan.errors import InputError

Floats = NDArray[np.float64]

CELLS = 60
"""Cells along the longer side: one cell is then about 0.03 % of the area."""

BESIDE = (0.50137, 0.50071)
"""Where in its cell a sight ends: a thousandth beside the middle, so that on meshes of round
numbers none runs exactly along an edge that two facets share, where rounding could let it through.
"""

FLAT_MM = 0.1
"""How far a corner may lie off the plane of the area."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Cells of a flat area, row by row: rows run across the first side, columns along it.

    Attributes:
        corner_mm: Corner of the rectangle of cells.
        along: Unit vector along the columns.
        across: Unit vector along the rows.
        cell_mm: Size of a cell along and across.
        inside: (rows, columns) whether the middle of a cell lies in the area.
        points_mm: (n, 3) a point by the middle of each cell inside, row by row.
    """

    corner_mm: tuple[float, float, float]
    along: tuple[float, float, float]
    across: tuple[float, float, float]
    cell_mm: tuple[float, float]
    inside: NDArray[np.bool_]
    points_mm: Floats

    @property
    def normal(self) -> Floats:
        """Unit vector at right angles to the area."""
        return np.cross(self.along, self.across)

    @property
    def middle_mm(self) -> Floats:
        """Mean of the cells."""
        return np.asarray(self.points_mm.mean(axis=0))


def cut_target(corners_mm: Sequence[Sequence[float]], *, cells: int = CELLS) -> Target:
    """Cells of a flat area with straight sides; exact for a rectangle.

    Other shapes lose or gain what their sides cut from cells: about one part in ``cells``.

    Args:
        corners_mm: (k, 3) three or more, in order round the area.
        cells: Along the longer side of the rectangle around the area.

    Raises:
        InputError: fewer than three corners, no area, a corner off the plane, or no cell inside.
    """
    corners = np.asarray(corners_mm, dtype=np.float64)
    if corners.ndim != 2 or corners.shape[1] != 3 or len(corners) < 3 or cells < 1:
        raise InputError(
            f"target: give at least 3 corners of 3 numbers and at least 1 cell, found "
            f"{len(corners)} corners and {cells} cells"
        )
    normal = _normal(corners)
    along = unit(corners[1] - corners[0], "the target's first side")
    across = np.cross(normal, along)
    flat = np.stack([(corners - corners[0]) @ along, (corners - corners[0]) @ across], axis=1)
    low, size = flat.min(axis=0), np.ptp(flat, axis=0)
    columns, rows = (max(1, round(cells * side / float(size.max()))) for side in size)
    step = size / (columns, rows)
    u = low[0] + (np.arange(columns) + BESIDE[0]) * step[0]
    v = low[1] + (np.arange(rows) + BESIDE[1]) * step[1]
    grid_u, grid_v = np.meshgrid(u, v)
    inside = _inside(grid_u, grid_v, flat)
    if not inside.any():
        raise InputError(
            f"target: none of its {columns} x {rows} cells has its middle inside the area; "
            f"use more than {cells} cells"
        )
    points = corners[0] + grid_u[inside][:, None] * along + grid_v[inside][:, None] * across
    for array in (inside, points):
        sealed(array)
    return Target(
        corner_mm=_triple(corners[0] + low[0] * along + low[1] * across),
        along=_triple(along),
        across=_triple(across),
        cell_mm=(float(step[0]), float(step[1])),
        inside=inside,
        points_mm=points,
    )


def _normal(corners: Floats) -> Floats:
    """Unit normal by the area vector (Newell's sum), after checking that the corners are flat."""
    moved = corners - corners.mean(axis=0)
    area = np.cross(moved, np.roll(moved, -1, axis=0)).sum(axis=0) / 2.0
    reach = float(np.abs(moved).max())
    size = float(np.linalg.norm(area))
    if not math.isfinite(reach) or size <= 1e-9 * max(reach, 1e-9) ** 2:
        raise InputError(
            f"target: its corners span {size:g} mm2, more than 0 is needed; give them in order "
            "round the area, not on one line"
        )
    off = float(np.abs(moved @ (area / size)).max())
    if off > FLAT_MM:
        raise InputError(
            f"target: a corner lies {off:.3g} mm off the plane of the others, at most {FLAT_MM:g} "
            "mm; split the area into flat ones"
        )
    return np.asarray(area / size)


def _inside(u: Floats, v: Floats, corners: Floats) -> NDArray[np.bool_]:
    """Even-odd rule for points against a ring of corners (k, 2)."""
    odd = np.zeros(u.shape, dtype=np.bool_)
    for (u0, v0), (u1, v1) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        crosses = (v0 > v) != (v1 > v)
        if v0 != v1:
            odd ^= crosses & (u < (u1 - u0) * (v - v0) / (v1 - v0) + u0)
    return odd


def _triple(vector: Floats) -> tuple[float, float, float]:
    return float(vector[0]), float(vector[1]), float(vector[2])
