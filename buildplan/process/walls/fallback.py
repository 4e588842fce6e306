"""Wall beads of one island by a polygon library, for the islands whose fast beads were refused.

Level by level: what is wider than two beads gets a closed bead along its boundary; what is
narrower gets beads along its middle, as many as fit, of the width that fills it. So nothing that
an offset loses is lost.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildplan.process.roles import Role

MITRE_LIMIT = 2.0
LEAST_WIDTH = 0.6
MOST_WIDTH = 1.6
"""Narrowest and widest bead, in beads (common practice, no source). What is narrower gets a
shorter bead of the least width with the same area."""

LEAST_LENGTH = 0.3
"""Shorter beads along a middle, in beads, are left out; the others' widths take up their area."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadPath:
    """One bead path of an island, as in Walls."""

    xy_mm: NDArray[np.float64]
    width_mm: NDArray[np.float64]
    role: Role
    closed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class IslandBeads:
    """Paths and border rings of one island."""

    paths: tuple[BeadPath, ...]
    border: tuple[NDArray[np.float64], ...]
    wall_area_mm2: float
    border_area_mm2: float
    thin_mm: float


def lay_with_polygons(
    rings: list[NDArray[np.float64]], bead_mm: float, wall_beads: int, most_beads: int
) -> IslandBeads:
    """Beads of one island from its rings (outer counter-clockwise, holes clockwise)."""
    body = island_polygon(rings)
    rest = body
    paths: list[BeadPath] = []
    thin_mm = np.inf
    for level in range(wall_beads + 1):
        last = level == wall_beads
        # the middle of what is left: two beads meet below two beads' width, and the last slit
        # takes what is left of most_beads
        narrow_mm = (most_beads - 2 * level + 0.5) * bead_mm if last else 2.0 * bead_mm
        wide = _opened(rest, 0.5 * narrow_mm)
        for piece in _polygons(rest.difference(wide)):
            middle, least_mm = beads_along_middle(piece, bead_mm)
            paths += middle
            thin_mm = min(thin_mm, least_mm + 2 * level * bead_mm)
        rest = wide
        if last:
            break
        role = Role.OUTLINE if level == 0 else Role.WALL
        for ring in _rings(_shrunk(rest, 0.5 * bead_mm)):
            width = np.full(len(ring), bead_mm)
            paths.append(BeadPath(xy_mm=ring, width_mm=width, role=role, closed=True))
        rest = _shrunk(rest, bead_mm)
    want = body.area - rest.area
    for _ in range(4):  # widths that meet a limit leave the rest to the others
        laid = sum(path_area(path) for path in paths)
        if laid > 0.0:
            factor = min(1.25, max(0.8, want / laid))
            paths = [_scaled(path, factor, bead_mm) for path in paths]
    return IslandBeads(
        paths=tuple(paths),
        border=tuple(_rings(rest)),
        wall_area_mm2=sum(path_area(path) for path in paths),
        border_area_mm2=float(rest.area),
        thin_mm=float(thin_mm),
    )


def _scaled(path: BeadPath, factor: float, bead_mm: float) -> BeadPath:
    """The path with its widths times the factor, inside what a nozzle lays."""
    width = np.clip(path.width_mm * factor, LEAST_WIDTH * bead_mm, MOST_WIDTH * bead_mm)
    return BeadPath(xy_mm=path.xy_mm, width_mm=width, role=path.role, closed=path.closed)


def path_area(path: BeadPath) -> float:
    """Length times width of a path."""
    step = np.diff(path.xy_mm, axis=0, append=path.xy_mm[:1])
    length = np.hypot(step[:, 0], step[:, 1])
    if path.closed:
        return float((length * path.width_mm).sum())
    return float((length[:-1] * path.width_mm[1:]).sum())


def island_polygon(rings: list[NDArray[np.float64]]) -> Any:
    """Valid shapely geometry of an island: its outer rings less its holes."""
    import shapely

    outer: list[Any] = []
    holes: list[Any] = []
    for ring in rings:
        if len(ring) < 3:
            continue
        polygon = shapely.Polygon(ring)
        kind = outer if shapely.is_ccw(polygon.exterior) else holes
        kind.append(polygon if polygon.is_valid else shapely.make_valid(polygon))
    body = shapely.union_all(outer)
    return body.difference(shapely.union_all(holes)) if holes else body


def _shrunk(body: Any, away_mm: float) -> Any:
    with np.errstate(all="ignore"):  # a corner of no area divides by zero inside the library
        return body.buffer(-away_mm, join_style="mitre", mitre_limit=MITRE_LIMIT)


def _opened(body: Any, radius_mm: float) -> Any:
    """What a ball of the radius can sweep, sharp corners kept (mitre both ways)."""
    import shapely

    core = _shrunk(body, radius_mm)
    with np.errstate(all="ignore"):
        swept = core.buffer(radius_mm, join_style="mitre", mitre_limit=5.0)
    if not swept.is_valid:  # mitred corners of slivers may cross
        swept = shapely.make_valid(swept)
    return swept.intersection(body)


def _polygons(body: Any) -> list[Any]:
    parts = list(body.geoms) if hasattr(body, "geoms") else [body]
    return [part for part in parts if part.geom_type == "Polygon" and not part.is_empty]


def _rings(body: Any) -> list[NDArray[np.float64]]:
    import shapely

    oriented = [shapely.geometry.polygon.orient(polygon) for polygon in _polygons(body)]
    return [
        shapely.get_coordinates(ring)[:-1]
        for polygon in oriented
        for ring in (polygon.exterior, *polygon.interiors)
    ]


def beads_along_middle(piece: Any, bead_mm: float) -> tuple[list[BeadPath], float]:
    """Beads along the middle of a narrow polygon, and its least mean width (inf without beads).

    A piece with a hole is cut open through the hole first. The two long sides run between the two
    vertices farthest apart; the middle is the mean of the points at equal shares of both. With
    length L and area A the piece takes n = round(A / L / bead) beads of width A / (L n).
    """
    import shapely

    paths: list[BeadPath] = []
    least_mm = np.inf
    for polygon in _without_holes(piece):
        corners = shapely.get_coordinates(polygon.exterior)[:-1]
        if len(corners) < 3:
            continue
        one, other = _long_sides(corners)
        length = line_length(0.5 * (one + other))
        if polygon.area < LEAST_LENGTH * LEAST_WIDTH * bead_mm**2 or length < 1e-6:
            continue
        mean_mm = polygon.area / length
        least_mm = min(least_mm, mean_mm)
        count = max(1, round(mean_mm / bead_mm))
        for bead in range(count):
            share = (bead + 0.5) / count
            line = (1.0 - share) * one + share * other
            paths.append(_filling(line, polygon.area / count, bead_mm))
    return paths, least_mm


def _filling(line: NDArray[np.float64], area_mm2: float, bead_mm: float) -> BeadPath:
    """A centre bead of the given area along a line, cut short where it would be too narrow."""
    length = max(line_length(line), 1e-9)
    width_mm = area_mm2 / length
    if width_mm < LEAST_WIDTH * bead_mm:
        width_mm = LEAST_WIDTH * bead_mm
        part = area_mm2 / width_mm / length
        line = _resampled(line, len(line), 0.5 - 0.5 * part, 0.5 + 0.5 * part)
    width = np.full(len(line), min(width_mm, MOST_WIDTH * bead_mm))
    return BeadPath(xy_mm=line, width_mm=width, role=Role.CENTRE, closed=False)


def line_length(line: NDArray[np.float64]) -> float:
    """Length of an open line."""
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def _without_holes(piece: Any) -> list[Any]:
    """The piece cut through its holes until none is left."""
    import shapely

    todo = [piece]
    done = []
    while todo:
        polygon = todo.pop()
        if not polygon.interiors:
            done.append(polygon)
            continue
        centre = shapely.Polygon(polygon.interiors[0]).representative_point()
        _, y0, _, y1 = polygon.bounds
        knife = shapely.box(centre.x - 1e-6, y0 - 1.0, centre.x + 1e-6, y1 + 1.0)
        todo += _polygons(polygon.difference(knife))
    return done


def _long_sides(corners: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Both sides of a ring from one far end to the other, at equal shares of their lengths."""
    gap = ((corners[:, None, :] - corners[None, :, :]) ** 2).sum(axis=2)
    start, end = sorted(divmod(int(gap.argmax()), len(corners)))
    one = corners[start : end + 1]
    other = np.concatenate([corners[end:], corners[: start + 1]])[::-1]
    count = int(min(200, max(3, len(corners))))
    return _resampled(one, count), _resampled(other, count)


def _resampled(
    line: NDArray[np.float64], count: int, start: float = 0.0, end: float = 1.0
) -> NDArray[np.float64]:
    """``count`` points at equal steps along the part of a line between two shares of its run."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    at = np.linspace(start * run[-1], end * run[-1], count)
    return np.column_stack([np.interp(at, run, line[:, 0]), np.interp(at, run, line[:, 1])])
