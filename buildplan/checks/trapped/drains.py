"""Where on the surface a shut space lies, and where to put a drain hole into it."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.trapped.model import DrainHole
from buildplan.checks.trapped.pockets import Shut, Space, find_shut, linked_sets
from buildplan.checks.trapped.sections import Sections, Shells
from buildplan.kernels.facet_tree import build_facet_tree
from buildplan.kernels.first_hit import first_hits
from buildplan.kernels.gaps import find_gaps
from buildplan.part.model import Part

Purpose = Literal["liquid", "air"]

OFF_FRACS = (0.6, 0.1)
"""How far from a facet its space is looked for, over the distance of the lines; the second where
the first lands in solid again."""

SAMPLES_MOST, ENDS = 1500, 100
"""Places on the surface of a space that are tried for a hole, and of those the highest and lowest
facets that are tried whatever their area."""

THIN_FRAC, THIN_MM = 1.5, 1.0
"""A hole goes through a wall at most so many times, or so much more than, the thinnest there is."""

LEFT_FRAC = 0.05
"""A space is drained when no corner of it holds back more than this share of it."""

HOLES_MOST = 6
"""Holes advised for one space."""

DEEPEST_FRAC = 3.0
"""A hole deeper than so many diameters is no drain: uncured liquid sticks in it."""

END_FRAC = 0.25
"""A hole lies within this share of the space's height from its end."""

WAY_OUT_FRAC = 0.01
"""Share of a space's surface beyond which its ends are not counted."""

ALIKE_MM = 0.1
"""Walls whose thickness differs by less count as equally thin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Walls:
    """A part's facets, ready to be asked what they face; in the coordinates of the sections.

    Attributes:
        corners: (m, 3, 3); centre and normal (m, 3); area (m,).
        by_region: (m,) facets sorted by the region of empty space before them, and that region
            (-1 where none was found) in facing.
        tree: Facets sorted for rays.
    """

    corners: NDArray[np.float64]
    centre: NDArray[np.float64]
    normal: NDArray[np.float64]
    area: NDArray[np.float64]
    by_region: NDArray[np.int64]
    facing: NDArray[np.int64]
    tree: tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64], int]


def face_walls(part: Part, sections: Sections) -> Walls:
    """What every facet of a part faces."""
    corners = part.vertices_mm[part.facets] - sections.origin_mm
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1)
    normal /= np.where(length > 0.0, length, 1.0)[:, None]
    centre = corners.mean(axis=1)
    region = np.full(len(corners), -1, np.int64)
    for share in OFF_FRACS:
        lost = np.flatnonzero(region < 0)
        ahead = centre[lost] + share * sections.pitch_mm * normal[lost]
        region[lost] = regions_at(sections, ahead)
    by_region = np.argsort(region, kind="stable")
    return Walls(
        corners=corners,
        centre=centre,
        normal=normal,
        area=0.5 * length,
        by_region=by_region,
        facing=region[by_region],
        tree=build_facet_tree(np.ascontiguousarray(corners)),
    )


def regions_at(sections: Sections, points: NDArray[np.float64]) -> NDArray[np.int64]:
    """Region of empty space at points (n, 3): -1 in solid, -2 above, below and beside the part."""
    high = np.cumsum(sections.weight_mm)
    plane = np.searchsorted(high, points[:, 2])
    line = np.floor(points[:, 1] / sections.pitch_mm).astype(np.int64) - sections.first_line
    within = (points[:, 2] >= 0.0) & (plane < len(high)) & (line >= 0) & (line < sections.n_lines)
    slot = plane[within] * sections.n_lines + line[within]
    gap = find_gaps(
        sections.gap_off,
        sections.gap_low,
        sections.gap_high,
        slot,
        np.ascontiguousarray(points[within, 0]),
    )
    region = np.full(len(points), -2, np.int64)
    region[within] = np.where(gap >= 0, sections.gap_region[gap], -1)
    return region


def facets_of(walls: Walls, shells: Shells, space: Space) -> NDArray[np.int64]:
    """Facets that face a space, ascending: exact for a closed cavity with a shell of its own."""
    facets = facets_before(walls, space.regions)
    if space.shell >= 0:
        facets = np.union1d(facets, np.flatnonzero(shells.number == space.shell))
    return facets


def facets_before(walls: Walls, regions: NDArray[np.int64]) -> NDArray[np.int64]:
    """Facets that face any of some regions, ascending."""
    begin = np.searchsorted(walls.facing, regions, side="left")
    count = np.searchsorted(walls.facing, regions, side="right") - begin
    step = np.repeat(begin - (np.cumsum(count) - count), count)
    return np.sort(walls.by_region[step + np.arange(len(step))])


def place_holes(
    walls: Walls,
    sections: Sections,
    shut: Shut,
    space: Space,
    facets: NDArray[np.int64],
    diameter_mm: float,
) -> tuple[DrainHole, ...]:
    """Holes that drain and vent a space: those at its ends, then one for each corner left shut.

    A closed or narrow space gets a hole for liquid and one for air; any other one the hole that it
    lacks. What still pools or pulls with those opened gets a hole of its own.
    """
    both = space.kind in ("closed", "narrow")
    wanted: list[tuple[NDArray[np.int64], Purpose]] = []
    if both or space.pooled_mm3 > 0.0:
        wanted.append((facets, "liquid"))
    if both or space.suction_area_mm2 > 0.0:
        wanted.append((facets, "air"))
    holes: list[DrainHole] = []
    least = LEFT_FRAC * space.volume_mm3
    inside = np.zeros(len(sections.plane_of), np.bool_)
    inside[space.regions] = True
    while wanted:
        made = [
            place_hole(walls, sections, shut, own, diameter_mm, purpose) for own, purpose in wanted
        ]
        new = [hole for hole in made if hole is not None]
        holes += new
        if not new or len(holes) >= HOLES_MOST:
            break
        opened = np.zeros(len(inside), np.bool_)
        for hole in holes:
            opened[_regions_opened(sections, hole)] = True
        left = find_shut(sections, opened)
        wanted = _shut_corners(walls, sections, left, inside, least)
    return tuple(holes[:HOLES_MOST])


def _shut_corners(
    walls: Walls, sections: Sections, left: Shut, inside: NDArray[np.bool_], least_mm3: float
) -> list[tuple[NDArray[np.int64], Purpose]]:
    """Facets of what still pools, and of what still pulls, and the hole that each lacks."""
    found: list[tuple[NDArray[np.int64], Purpose]] = []
    ways: tuple[tuple[NDArray[np.bool_], Purpose], ...] = (
        (left.pools, "liquid"),
        (left.pulls, "air"),
    )
    for held, purpose in ways:
        for regions, _ in linked_sets(held & inside, left, sections, least_mm3):
            found.append((facets_before(walls, regions), purpose))
    return found


def _regions_opened(sections: Sections, hole: DrainHole) -> NDArray[np.int64]:
    """Regions that a hole opens: those at its mouth, over its height."""
    point = np.asarray(hole.point_mm) - sections.origin_mm
    way = np.asarray(hole.direction)
    reach = 0.5 * hole.diameter_mm * np.sqrt(1.0 - way[2] ** 2)
    mouth = point - OFF_FRACS[0] * sections.pitch_mm * way
    planes = np.abs(sections.z_mm - mouth[2]) <= max(reach, 2.0 * float(sections.weight_mm.max()))
    points = np.repeat(mouth[None, :], int(planes.sum()), axis=0)
    points[:, 2] = sections.z_mm[planes]
    regions = regions_at(sections, points)
    return regions[(regions >= 0) & (regions < sections.n_rings)]


def place_hole(
    walls: Walls,
    sections: Sections,
    shut: Shut,
    facets: NDArray[np.int64],
    diameter_mm: float,
    purpose: Purpose,
) -> DrainHole | None:
    """The best place for a hole into the space that some facets face; None where there is none.

    For liquid it lies at the end far from the platform, which hangs lowest; for air at the end near
    the platform, but not in the face that stands on it. Of the places with a thin wall to the open
    the one nearest the end, of those within a diameter of it the one with the thinnest wall, of
    equally thin ones the one nearest the middle.
    """
    points, normals = _samples(walls, facets, diameter_mm)
    if not len(points):
        return None
    wall = _wall_to_open(walls, sections, shut, points, normals, diameter_mm)
    # a thin way out at an end is not the end that liquid gathers at
    bottom, top = np.quantile(points[:, 2], [WAY_OUT_FRAC, 1.0 - WAY_OUT_FRAC])
    from_end = top - points[:, 2] if purpose == "liquid" else points[:, 2] - bottom
    # a hole through an upright wall ends where the space does; one through floor or roof lies in it
    off = np.abs(from_end - 0.5 * diameter_mm * (1.0 - np.abs(normals[:, 2])))
    wall[off > max(END_FRAC * (top - bottom), diameter_mm)] = np.inf
    thinnest = float(wall.min())
    if not np.isfinite(thinnest):
        return None
    near = np.flatnonzero(wall <= max(THIN_FRAC * thinnest, thinnest + THIN_MM))
    off = off[near]
    step = np.round(off / diameter_mm)
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    from_middle = np.linalg.norm(points[near] - middle, axis=1)
    alike = np.round(wall[near] / ALIKE_MM)
    best = np.lexsort((from_middle + off, alike, step))[0]
    point, way = points[near[best]] + sections.origin_mm, -normals[near[best]]
    return DrainHole(
        purpose=purpose,
        point_mm=(float(point[0]), float(point[1]), float(point[2])),
        direction=(float(way[0]), float(way[1]), float(way[2])),
        diameter_mm=diameter_mm,
        wall_mm=float(wall[near[best]]),
    )


def _samples(
    walls: Walls, facets: NDArray[np.int64], spacing_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points spread over facets by area, the highest and the lowest among them; the normals there.

    Source: Roberts, M. (2018), The unreasonable effectiveness of quasirandom sequences (R2).
    """
    area = walls.area[facets]
    if len(facets) > SAMPLES_MOST:
        by_height = facets[np.argsort(walls.centre[facets, 2], kind="stable")]
        reached = np.cumsum(walls.area[by_height])
        spots = np.linspace(0.0, float(reached[-1]), SAMPLES_MOST)
        chosen = np.minimum(np.searchsorted(reached, spots), len(by_height) - 1)
        ends = np.arange(ENDS)
        facets = by_height[np.unique(np.concatenate([chosen, ends, len(by_height) - 1 - ends]))]
        area = walls.area[facets]
    spread = max(spacing_mm**2 / 30.0, float(area.sum()) / SAMPLES_MOST, 1e-9)
    each = np.ceil(area / spread).astype(np.int64)
    which = np.repeat(facets, each)
    turn = np.arange(len(which)) - np.repeat(np.cumsum(each) - each, each)
    u = (0.5 + 0.7548776662466927 * turn) % 1.0
    v = (0.5 + 0.5698402909980532 * turn) % 1.0
    over = u + v > 1.0
    u, v = np.where(over, 1.0 - u, u), np.where(over, 1.0 - v, v)
    lone = np.repeat(each, each) == 1
    u[lone] = v[lone] = 1.0 / 3.0
    a, b, c = walls.corners[which].transpose(1, 0, 2)
    return a + u[:, None] * (b - a) + v[:, None] * (c - a), walls.normal[which]


def _wall_to_open(
    walls: Walls,
    sections: Sections,
    shut: Shut,
    points: NDArray[np.float64],
    normals: NDArray[np.float64],
    diameter_mm: float,
) -> NDArray[np.float64]:
    """Wall thickness behind points (n, 3) where it leads to open space not too deep, else inf."""
    if not len(points):
        return np.zeros(0)
    _, corners, boxes, leaves = walls.tree
    size = sections.height_mm + float(np.abs(sections.ring_box_mm).max(initial=0.0))
    wall: NDArray[np.float64] = first_hits(
        corners,
        boxes,
        leaves,
        np.ascontiguousarray(points),
        np.ascontiguousarray(-normals),
        1e-6 * size,
        DEEPEST_FRAC * diameter_mm,
    )
    found = np.isfinite(wall)
    ahead = (
        points[found] - (wall[found] + OFF_FRACS[0] * sections.pitch_mm)[:, None] * normals[found]
    )
    region = regions_at(sections, ahead)
    is_shut = shut.closed | shut.pools | shut.pulls
    leads_out = (region == -2) | ((region >= 0) & ~is_shut[region])
    # a hole in the face that stands on the platform is shut by it
    leads_out &= ahead[:, 2] > 0.25 * diameter_mm
    wall[np.flatnonzero(found)[~leads_out]] = np.inf
    return wall
