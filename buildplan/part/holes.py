"""Openings in a surface: their loops, their size and place, and patches over them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.patch import patch_least_area
from buildplan.part.model import Hole
from buildplan.part.surface import Surface, facet_areas

LONGEST_LEAST_AREA_LOOP = 300
"""Edges of the longest loop patched by least area; the work grows with their third power."""

FLAT_FRAC = 0.05
"""Distance from the mean plane over the span up to which a loop counts as flat (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A loop of vertices in the order a patch must turn, with its measures."""

    loop: NDArray[np.int64]
    hole: Hole


def find_openings(surface: Surface) -> tuple[Opening, ...]:
    """All loops of edges without a partner, longest span first.

    The edges without a partner are the boundary of the surface, and a boundary has none itself:
    as many of them end in a vertex as start there, so every walk along them closes.
    """
    lone = np.nonzero(surface.twin < 0)[0]
    start = surface.facets[lone // 3, lone % 3].tolist()
    stop = surface.facets[lone // 3, (lone + 1) % 3].tolist()
    onward: dict[int, list[int]] = {}
    for a, b in zip(start, stop, strict=True):
        onward.setdefault(b, []).append(a)  # a patch runs against the surface's own edges
    openings = [_measure(surface.vertices, loop) for loop in _walk_loops(onward)]
    return tuple(sorted(openings, key=lambda opening: -opening.hole.span_mm))


def _walk_loops(onward: dict[int, list[int]]) -> list[list[int]]:
    loops: list[list[int]] = []
    for first in list(onward):
        while onward.get(first):
            path = [first]
            place = {first: 0}
            while True:
                choices = onward[path[-1]]
                vertex = choices.pop()
                if vertex in place:  # cut the loop off and go on with what is left
                    at = place[vertex]
                    loops.append(path[at:])
                    for passed in path[at + 1 :]:
                        del place[passed]
                    del path[at + 1 :]
                    if not onward[path[-1]]:
                        break
                    continue
                place[vertex] = len(path)
                path.append(vertex)
    return [loop for loop in loops if len(loop) >= 3]


def _measure(vertices: NDArray[np.float64], loop: list[int]) -> Opening:
    points = vertices[loop]
    low, high = points.min(axis=0), points.max(axis=0)
    centre = points.mean(axis=0)
    return Opening(
        loop=np.array(loop, dtype=np.int64),
        hole=Hole(
            edges=len(loop),
            span_mm=float((high - low).max()),
            centre_mm=(float(centre[0]), float(centre[1]), float(centre[2])),
        ),
    )


def patch_openings(
    vertices: NDArray[np.float64], openings: tuple[Opening, ...]
) -> tuple[NDArray[np.float64], NDArray[np.int64], float]:
    """Facets over every opening: (added vertices, facets, area). Flat rings are patched together.

    Vertices are added only where a long warped loop is closed by a fan about its middle.
    """
    added: list[NDArray[np.float64]] = []
    facets: list[NDArray[np.int64]] = []
    for group in _group_nested(vertices, openings):
        loops = [opening.loop for opening in group]
        patch = _patch_flat(vertices, loops)
        if patch is None:
            for loop in loops:
                if len(loop) <= LONGEST_LEAST_AREA_LOOP:
                    facets.append(loop[patch_least_area(np.ascontiguousarray(vertices[loop]))])
                else:
                    middle = len(vertices) + len(added)
                    added.append(vertices[loop].mean(axis=0))
                    rim = np.full(len(loop), middle)
                    facets.append(np.column_stack([loop, np.roll(loop, -1), rim]))
        else:
            facets.append(patch)
    if not facets:
        return np.empty((0, 3)), np.empty((0, 3), np.int64), 0.0
    extra = np.array(added) if added else np.empty((0, 3))
    corners = np.vstack(facets)
    area = float(facet_areas(np.vstack([vertices, extra]), corners).sum())
    return extra, corners, area


def _plane_of(
    points: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Centre, axes (rows: along, across, normal) and greatest distance from the mean plane."""
    centre = points.mean(axis=0)
    _, _, axes = np.linalg.svd(points - centre, full_matrices=False)
    if np.linalg.det(axes) < 0:
        axes[2] = -axes[2]
    return centre, axes, float(np.abs((points - centre) @ axes[2]).max())


def _ring_area(points: NDArray[np.float64]) -> float:
    x, y = points[:, 0], points[:, 1]
    return 0.5 * float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())


def _patch_flat(
    vertices: NDArray[np.float64], loops: list[NDArray[np.int64]]
) -> NDArray[np.int64] | None:
    """Triangles over one flat loop, or one with islands in it; None where that does not work."""
    if len(loops) == 1 and len(loops[0]) == 3:
        return loops[0].reshape(1, 3)
    from manifold3d import triangulate

    outer = vertices[loops[0]]
    centre, axes, off_plane = _plane_of(outer)
    if off_plane > FLAT_FRAC * float(np.ptp(outer, axis=0).max()):
        return None
    rings = [(vertices[loop] - centre) @ axes[:2].T for loop in loops]
    if _ring_area(rings[0]) < 0:
        rings = [ring * (1.0, -1.0) for ring in rings]
    wanted = sum(_ring_area(ring) for ring in rings)
    count = sum(len(loop) for loop in loops)
    triangles = np.asarray(triangulate([np.ascontiguousarray(ring) for ring in rings]))
    if len(triangles) != count + 2 * (len(loops) - 1) - 2:
        return None
    flat = np.vstack(rings)
    a, b, c = (flat[triangles[:, corner]] for corner in range(3))
    signed = 0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    if abs(float(np.abs(signed).sum()) - wanted) > 1e-6 * abs(wanted):
        return None
    return np.asarray(np.concatenate(loops)[triangles], dtype=np.int64)


def _group_nested(
    vertices: NDArray[np.float64], openings: tuple[Opening, ...]
) -> list[list[Opening]]:
    """Openings in one plane, of which one lies inside another and turns against it, together."""
    groups: list[list[Opening]] = []
    for opening in openings:
        home = None
        if len(openings) <= 64:
            home = next((g for g in groups if _lies_in(vertices, g[0], opening)), None)
        if home is None:
            groups.append([opening])
        else:
            home.append(opening)
    return groups


def _lies_in(vertices: NDArray[np.float64], outer: Opening, inner: Opening) -> bool:
    rim, island = vertices[outer.loop], vertices[inner.loop]
    span = outer.hole.span_mm
    centre, axes, off_plane = _plane_of(rim)
    away = np.abs((island - centre) @ axes[2]).max()
    if off_plane > 1e-3 * span or away > 1e-3 * span:
        return False
    flat_rim, flat_island = (rim - centre) @ axes[:2].T, (island - centre) @ axes[:2].T
    if _ring_area(flat_rim) * _ring_area(flat_island) >= 0:
        return False
    x, y = flat_island[0]
    x0, y0 = flat_rim[:, 0], flat_rim[:, 1]
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    straddles = (y0 > y) != (y1 > y)
    crossing = x0[straddles] + (y - y0[straddles]) / (y1 - y0)[straddles] * (x1 - x0)[straddles]
    return bool(np.count_nonzero(crossing > x) % 2)
