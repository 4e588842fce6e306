"""The free area of a platform, and outlines as cells of a grid over it."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.tables.printer import Printer

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

TOLERANCE_MM = 1e-6
"""Overlap of an outline with the platform's margin that is rounding."""

ROUND_PIECES = 4
"""Straight pieces of a quarter turn where an outline is grown for the grid (on the outside)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Platform:
    """The platform less its margin.

    Attributes:
        is_round: A disc around the origin; else a rectangle whose platform corner is the origin.
        low_mm: Lower corner of the free area's box; high_mm the upper one.
        height_mm: Of the build volume.
        cell_mm: Pitch of the grid.
    """

    is_round: bool
    low_mm: tuple[float, float]
    high_mm: tuple[float, float]
    height_mm: float
    cell_mm: float

    @property
    def width_mm(self) -> float:
        """Width of the free area's box."""
        return self.high_mm[0] - self.low_mm[0]

    @property
    def depth_mm(self) -> float:
        """Depth of the free area's box."""
        return self.high_mm[1] - self.low_mm[1]

    @property
    def area_mm2(self) -> float:
        """Free area."""
        if self.is_round:
            return math.pi * (0.5 * self.width_mm) ** 2
        return self.width_mm * self.depth_mm

    @property
    def middle_mm(self) -> tuple[float, float]:
        """Middle of the free area."""
        x0, y0 = self.low_mm
        x1, y1 = self.high_mm
        return 0.5 * (x0 + x1), 0.5 * (y0 + y1)

    @property
    def cells(self) -> tuple[int, int]:
        """Cells of the grid along x and y; the last ones may reach over the edge."""
        return (
            math.ceil(self.width_mm / self.cell_mm - 1e-9),
            math.ceil(self.depth_mm / self.cell_mm - 1e-9),
        )

    def holds(self, corners: NDArray[np.float64]) -> bool:
        """Whether all corners (n, 2) of an outline lie on the free area."""
        if self.is_round:
            reach = float(np.hypot(corners[:, 0], corners[:, 1]).max())
            return reach <= 0.5 * self.width_mm + TOLERANCE_MM
        low, high = corners.min(axis=0), corners.max(axis=0)
        return bool(
            (low >= np.array(self.low_mm) - TOLERANCE_MM).all()
            and (high <= np.array(self.high_mm) + TOLERANCE_MM).all()
        )


def platform_of(printer: Printer, cell_mm: float | None, fineness: int) -> Platform:
    """The free area of a printer's platform.

    Args:
        printer: Its platform, margin and height count.
        cell_mm: Pitch of the grid; None divides the longer side by ``fineness``.
        fineness: Cells along the longer side.

    Raises:
        InputError: The margin leaves no room, or the pitch is not above 0.
    """
    margin = printer.platform_margin_mm
    width, depth = printer.width_mm - 2.0 * margin, printer.depth_mm - 2.0 * margin
    if min(width, depth, printer.height_mm) <= 0.0:
        raise InputError(
            f"printer {printer.name!r} has no room left: {printer.width_mm:g} x "
            f"{printer.depth_mm:g} x {printer.height_mm:g} mm less a platform_margin_mm of "
            f"{margin:g} on every side; the margin must be less than half the platform"
        )
    pitch = max(width, depth) / fineness if cell_mm is None else cell_mm
    if not 0.0 < pitch <= 0.25 * min(width, depth):
        raise InputError(
            f"cell_mm is {pitch:g}, allowed is above 0 and up to a quarter of the platform "
            f"({0.25 * min(width, depth):g} mm); leave it out to let it be chosen"
        )
    is_round = printer.platform == "round"
    low = (-0.5 * width, -0.5 * width) if is_round else (margin, margin)
    high = (0.5 * width, 0.5 * width) if is_round else (margin + width, margin + depth)
    return Platform(
        is_round=is_round, low_mm=low, high_mm=high, height_mm=printer.height_mm, cell_mm=pitch
    )


def grown(shape: "BaseGeometry", by_mm: float) -> "BaseGeometry":
    """A shape that holds every point within a distance of another; a little more at corners."""
    import shapely

    if by_mm <= 0.0:
        return shape
    outside = by_mm / math.cos(math.pi / (4.0 * ROUND_PIECES))
    return shapely.buffer(shape, outside, quad_segs=ROUND_PIECES)


def raster(
    rings: list[NDArray[np.float64]],
    low: tuple[float, float],
    cell_mm: float,
    shape: tuple[int, int],
) -> NDArray[np.bool_]:
    """Cells of a grid whose middles lie inside an odd number of rings, (columns, rows).

    Args:
        rings: Closed loops (n, 2) without a closing point.
        low: Lower corner of cell (0, 0).
        cell_mm: Pitch.
        shape: Cells along x and along y.
    """
    across, along = shape
    flips = np.zeros((across + 1, along), np.int64)
    for ring in rings:
        x = (ring[:, 0] - low[0]) / cell_mm - 0.5
        y = (ring[:, 1] - low[1]) / cell_mm - 0.5
        x_to, y_to = np.roll(x, -1), np.roll(y, -1)
        first = np.clip(np.ceil(np.minimum(y, y_to)).astype(np.int64), 0, along)
        last = np.clip(np.ceil(np.maximum(y, y_to)).astype(np.int64), 0, along)
        counts = last - first
        edge = np.repeat(np.arange(len(ring)), counts)
        start = np.cumsum(counts) - counts
        row = np.arange(len(edge)) - start[edge] + first[edge]
        share = (row - y[edge]) / (y_to - y)[edge]
        column = np.ceil(x[edge] + share * (x_to - x)[edge])
        np.add.at(flips, (np.clip(column, 0, across).astype(np.int64), row), 1)
    inside = np.cumsum(flips[:-1], axis=0) % 2 == 1
    return np.asarray(inside, dtype=np.bool_)
