"""Where the next part goes on a platform: raster and fast Fourier transform, then exactly.

The outlines of what stands there, grown by the gap, and the outline of the new part are drawn as
cells of one grid, both a little too large. Their correlation, one transform for each turn, counts
the cells that overlap for every shift at once; where it is 0 the part fits. The best shift is then
slid on by less than two cells, and every step is checked on the true outlines.
Source: correlation theorem (any text on Fourier transforms); Preparata, F. P. and Shamos, M. I.
(1985), Computational geometry, for the sum of shapes behind it.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.packing.platform import Platform, grown, raster

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Toward = Literal["corner", "front", "edge", "group"]
"""What a place is chosen by: near a corner, near the front, near the edge, near the others."""

GAP_TOLERANCE_MM = 1e-9
"""A gap is kept to this: rounding of coordinates."""

SLIDE_STEPS = 10
"""Halvings of a slide; the last is a five-hundredth of a cell."""

CHECKED_PLACES = 4
"""Best shifts that are checked on the true outlines before a turn is given up."""


@dataclass(slots=True, eq=False)
class Stencil:
    """A part at one turn: outline with its box's lower corner at the origin, and its cells.

    Attributes:
        corner_mm: Lower corner of the box of the turned outline.
        corners: (n, 2) corners of its convex hull, from the box's lower corner.
        size_mm: Of its box.
        shifts: (columns, rows) shifts in cells that keep it on the platform.
        transform: Of its cells, for the correlation.
    """

    turn_deg: float
    shape: "BaseGeometry"
    corner_mm: tuple[float, float]
    corners: NDArray[np.float64]
    size_mm: tuple[float, float]
    shifts: NDArray[np.bool_]
    transform: NDArray[np.complex64]
    reach: tuple[NDArray[np.float64], NDArray[np.float64]]


@dataclass(slots=True, eq=False)
class Stood:
    """A part in its place."""

    item: int
    stencil: Stencil
    at_mm: tuple[float, float]
    shape: "BaseGeometry"


@dataclass(slots=True, eq=False)
class Ground:
    """A platform being filled.

    Attributes:
        taken: Cells within the gap of what stands.
        refused: Numbers of the requests that found no place; it only gets fuller.
    """

    platform: Platform
    gap_mm: float
    stood: list[Stood] = field(default_factory=list)
    taken: NDArray[np.bool_] = field(default_factory=lambda: np.zeros((0, 0), np.bool_))
    taken_transform: NDArray[np.complex64] | None = None
    refused: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        """Begin empty."""
        self.taken = np.zeros(self.platform.cells, np.bool_)

    def stand(self, part: Stood) -> None:
        """Put a part where it was found to fit."""
        import shapely

        shapely.prepare(part.shape)
        self.stood.append(part)
        reach = self.gap_mm + _half_diagonal(self.platform)
        rings = _rings(grown(part.shape, reach))
        cell, low = self.platform.cell_mm, self.platform.low_mm
        self.taken |= raster(rings, low, cell, self.platform.cells)
        self.taken_transform = None

    def is_free(self, stencil: Stencil, at_mm: tuple[float, float]) -> bool:
        """Whether the true outline is on the platform and keeps the gap to every other."""
        import shapely
        from shapely import affinity

        if not self.platform.holds(stencil.corners + np.array(at_mm)):
            return False
        shape = affinity.translate(stencil.shape, *at_mm)
        least = self.gap_mm - GAP_TOLERANCE_MM
        return not any(
            shapely.intersects(other.shape, shape)
            if self.gap_mm <= 0.0
            else shapely.distance(other.shape, shape) < least
            for other in self.stood
            if shapely.dwithin(other.shape, shape, self.gap_mm)
        )


def _half_diagonal(platform: Platform) -> float:
    """No point of the platform is farther from the middle of a cell."""
    return math.sqrt(0.5) * platform.cell_mm * (1.0 + 1e-9)


def _rings(shape: "BaseGeometry") -> list[NDArray[np.float64]]:
    import shapely

    rings = shapely.get_rings(shapely.get_parts(shape))
    return [shapely.get_coordinates(ring)[:-1] for ring in rings]


def _fast_shape(platform: Platform) -> tuple[int, int]:
    from scipy.fft import next_fast_len

    across, along = platform.cells
    return int(next_fast_len(across)), int(next_fast_len(along, real=True))


def cut_stencil(shape: "BaseGeometry", turn_deg: float, platform: Platform) -> Stencil | None:
    """A part at one turn, or None where it is larger than the platform then.

    Shifts never wrap around in the transform: a part's cells end where the platform's do.
    """
    import shapely
    from scipy.fft import rfft2
    from shapely import affinity

    turned = affinity.rotate(shape, turn_deg, origin=(0.0, 0.0)) if turn_deg else shape
    x0, y0, x1, y1 = (float(v) for v in turned.bounds)
    flush = affinity.translate(turned, -x0, -y0)
    corners = shapely.get_coordinates(shapely.convex_hull(flush))
    cell, (across, along) = platform.cell_mm, platform.cells
    shifts = _shifts(corners, platform)
    if not shifts.any():
        return None
    # a point of the part lies in a cell of its box whose middle is within half a diagonal
    own = (min(across, math.ceil((x1 - x0) / cell)), min(along, math.ceil((y1 - y0) / cell)))
    cells = raster(_rings(grown(flush, _half_diagonal(platform))), (0.0, 0.0), cell, own)
    mask = np.zeros(_fast_shape(platform), np.float32)
    mask[: own[0], : own[1]] = cells
    column = np.arange(shifts.shape[0], dtype=np.float64) * cell
    row = np.arange(shifts.shape[1], dtype=np.float64) * cell
    return Stencil(
        turn_deg=turn_deg,
        shape=flush,
        corner_mm=(x0, y0),
        corners=corners,
        size_mm=(x1 - x0, y1 - y0),
        shifts=shifts,
        transform=np.conj(rfft2(mask)),
        reach=(column, row),
    )


def _shifts(corners: NDArray[np.float64], platform: Platform) -> NDArray[np.bool_]:
    """Shifts in whole cells from the lower corner that keep all corners on the platform."""
    cell = platform.cell_mm
    size = corners.max(axis=0)
    room = (platform.width_mm - size[0], platform.depth_mm - size[1])
    if min(room) < -1e-7:
        return np.zeros((0, 0), np.bool_)
    counts = [math.floor(max(r, 0.0) / cell + 1e-9) + 1 for r in room]
    if not platform.is_round:
        return np.ones((counts[0], counts[1]), np.bool_)
    x = platform.low_mm[0] + cell * np.arange(counts[0])
    y = platform.low_mm[1] + cell * np.arange(counts[1])
    allowed = np.ones((counts[0], counts[1]), np.bool_)
    radius2 = (0.5 * platform.width_mm) ** 2
    for corner in corners:
        allowed &= ((x + corner[0]) ** 2)[:, None] + (y + corner[1]) ** 2 <= radius2
    return allowed


def find_place(ground: Ground, item: int, stencils: list[Stencil], toward: Toward) -> Stood | None:
    """The best free place of a part over all its turns, or None."""
    best: tuple[float, Stencil, tuple[float, float]] | None = None
    for stencil in stencils:
        free = _free_shifts(ground, stencil)
        if not free.any():
            continue
        score = np.where(free, _scores(ground, stencil, toward), np.inf).ravel()
        count = min(CHECKED_PLACES, int(np.isfinite(score).sum()))
        for k in np.argsort(score, kind="stable")[:count]:
            if best is not None and score[k] >= best[0] - 1e-9:
                break
            i, j = divmod(int(k), free.shape[1])
            low, cell = ground.platform.low_mm, ground.platform.cell_mm
            at = (low[0] + i * cell, low[1] + j * cell)
            if ground.is_free(stencil, at):
                best = (float(score[k]), stencil, at)
                break
    if best is None:
        return None
    from shapely import affinity

    _, stencil, at = best
    at = _slide(ground, stencil, at, toward)
    shape = affinity.translate(stencil.shape, *at)
    return Stood(item=item, stencil=stencil, at_mm=at, shape=shape)


def _free_shifts(ground: Ground, stencil: Stencil) -> NDArray[np.bool_]:
    from scipy.fft import irfft2, rfft2

    if not ground.stood:
        return stencil.shifts
    full = _fast_shape(ground.platform)
    if ground.taken_transform is None:
        taken = np.zeros(full, np.float32)
        taken[: ground.taken.shape[0], : ground.taken.shape[1]] = ground.taken
        ground.taken_transform = rfft2(taken)
    overlap = irfft2(ground.taken_transform * stencil.transform, s=full)
    columns, rows = stencil.shifts.shape
    return np.asarray(stencil.shifts & (overlap[:columns, :rows] < 0.5), dtype=np.bool_)


def _scores(ground: Ground, stencil: Stencil, toward: Toward) -> NDArray[np.float64]:
    """How bad every shift is (columns, rows)."""
    x, y = stencil.reach[0][:, None], stencil.reach[1][None, :]
    wide, deep = stencil.size_mm
    if toward == "corner":
        return np.asarray(x + wide + y + deep + 1e-3 * np.abs(x - y))
    if toward == "front":
        return np.asarray(y + deep + 1e-3 * (x + wide))
    platform = ground.platform
    if toward == "edge":
        middle = platform.middle_mm
        cx = x + platform.low_mm[0] + 0.5 * wide - middle[0]
        cy = y + platform.low_mm[1] + 0.5 * deep - middle[1]
        ahead = np.mod(np.arctan2(cy, cx) + 0.75 * math.pi, 2.0 * math.pi)
        return np.asarray(-np.hypot(cx, cy) + platform.cell_mm * 0.75 * ahead)
    if not ground.stood:
        return np.asarray(x + wide + y + deep + 1e-3 * np.abs(x - y))
    boxes = np.array([other.shape.bounds for other in ground.stood])
    low_x = np.minimum(boxes[:, 0].min(), x + platform.low_mm[0])
    low_y = np.minimum(boxes[:, 1].min(), y + platform.low_mm[1])
    high_x = np.maximum(boxes[:, 2].max(), x + platform.low_mm[0] + wide)
    high_y = np.maximum(boxes[:, 3].max(), y + platform.low_mm[1] + deep)
    grow = (high_x - low_x) + (high_y - low_y)
    return np.asarray(grow + 1e-3 * (x + y))


def _slide(
    ground: Ground, stencil: Stencil, at: tuple[float, float], toward: Toward
) -> tuple[float, float]:
    """Take up what the cells left free: twice along x and y, or out and around on a round one."""
    most = 2.0 * ground.platform.cell_mm
    middle = ground.platform.middle_mm

    def outward(from_mm: tuple[float, float]) -> tuple[float, float]:
        dx = from_mm[0] + 0.5 * stencil.size_mm[0] - middle[0]
        dy = from_mm[1] + 0.5 * stencil.size_mm[1] - middle[1]
        away = math.hypot(dx, dy)
        return (dx / away, dy / away) if away > 1e-9 else (0.0, 0.0)

    def back(from_mm: tuple[float, float]) -> tuple[float, float]:
        dx, dy = outward(from_mm)
        return dy, -dx

    ways: tuple[Callable[[tuple[float, float]], tuple[float, float]], ...]
    ways = (
        (outward, back, outward)
        if toward == "edge"
        else (lambda _: (-1.0, 0.0), lambda _: (0.0, -1.0)) * 2
    )
    for way in ways:
        at = _slide_along(ground, stencil, at, way(at), most)
    return at


def _slide_along(
    ground: Ground,
    stencil: Stencil,
    at: tuple[float, float],
    way: tuple[float, float],
    most_mm: float,
) -> tuple[float, float]:
    """Farthest free place found by halving, never farther than most_mm."""
    low, high = 0.0, most_mm
    step: Any
    for step in range(SLIDE_STEPS):
        trial = high if step == 0 else 0.5 * (low + high)
        to = (at[0] + trial * way[0], at[1] + trial * way[1])
        if ground.is_free(stencil, to):
            low = trial
            if step == 0:
                break
        else:
            high = trial
    return at[0] + low * way[0], at[1] + low * way[1]
