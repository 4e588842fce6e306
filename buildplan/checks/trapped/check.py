"""Islands, closed cavities, suction cups and trapped liquid of a vat print."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.trapped.drains import Walls, face_walls, facets_of, place_holes
from buildplan.checks.trapped.model import Island, Kind, Pocket, TrappedCheck
from buildplan.checks.trapped.narrow import find_narrow, merge_narrow
from buildplan.checks.trapped.pockets import Shut, Space, box_of, find_shut, gather_spaces
from buildplan.checks.trapped.sections import Sections, Shells, cut_sections
from buildplan.checks.trapped.words import marks_of, matters
from buildplan.kernels.halfedges import find_twins
from buildplan.kernels.minima import find_minima
from buildplan.part.model import Part
from buildplan.tables.recipe import Recipe
from buildplan.tables.rules import Rules, VatRules

ORDER: tuple[Kind, ...] = ("closed", "narrow", "cup", "pool")

HOLES_FOR_MOST = 40
"""Pockets, from the gravest on, that drain holes are placed for; a foam has thousands."""

FLAT_FRAC = 1e-6
"""Heights that differ by less than this share of the part's size are one level."""


def check_trapped(part: Part, recipe: Recipe, rules: Rules) -> TrappedCheck:
    """Islands and trapped liquid of a part, as a vat machine with its film below prints it.

    Which way is which: the mesh's z points away from the platform. Low z is printed first; the
    platform then carries it upward, so that the part hangs upside down, and "down" for its liquid
    is +z of the mesh. The film that shuts an open mouth during an exposure lies at the layer that
    is being printed.

    - Closed: no way out at all. Its liquid stays for good.
    - Narrow: only ways out that are narrower than rules.drain_least_mm.
    - Cup: space that, at the layer being printed, has no way to the outside through the layers
      already there. Film and part (or platform) shut it in, so every lift pulls on its section: a
      bowl that opens away from the platform, and a bore that begins on the platform.
    - Pool: space that has no way to the outside through what hangs lower (higher z). Liquid stays
      in it: a bowl that opens toward the platform.

    The part is taken to stand on the platform; Pocket.by_platform says what raising it would open.
    Cups and pools below the limits of the rules are listed in the result but given no finding.

    Volumes are summed over exact section areas at Gauss heights between the heights at which the
    section changes its shape, so they do not hang on a grid; those of closed cavities come from
    their shells. For material extrusion only closed cavities are looked for, and nothing is said
    of them: they trap nothing.

    Args:
        part: The solid as it is printed; its lowest point lies on the platform.
        recipe: Its layer_mm is the height of the least island; supports say how islands are held.
        rules: Limits of the process.
    """
    sections, shells = cut_sections(part)
    shut = find_shut(sections)
    if not isinstance(rules, VatRules) or recipe.process != "vat":
        spaces = gather_spaces(sections, shells, shut, 0.0)
        closed = tuple(space for space in spaces if space.kind == "closed")
        walls = face_walls(part, sections) if closed else None
        pockets = tuple(_pocket(space, sections, shells, walls) for space in closed if walls)
        return TrappedCheck(part=part.name, islands=(), pockets=pockets, marks=())
    islands = find_islands(part, recipe.layer_mm)
    spaces = gather_spaces(sections, shells, shut, rules.trapped_least_mm3)
    narrow = find_narrow(sections, shut, rules.drain_least_mm, rules.trapped_least_mm3)
    spaces = merge_narrow(spaces, narrow, shut)
    pockets = _pockets(part, spaces, sections, shells, shut, rules)
    return TrappedCheck(
        part=part.name,
        islands=islands,
        pockets=pockets,
        marks=marks_of(islands, pockets, recipe, rules),
    )


def find_islands(part: Part, layer_mm: float) -> tuple[Island, ...]:
    """Where solid begins in mid-air: low places of the surface at least a layer deep.

    A low place that is less than a layer deep is printed together with what it belongs to; one
    within a layer of the part's lowest point stands on the platform.
    """
    vertices = part.vertices_mm
    lowest = float(vertices[:, 2].min())
    flat = max(FLAT_FRAC * max(part.size_mm), 1e-4 * layer_mm)
    birth, depth, owner = find_minima(
        np.ascontiguousarray(vertices),
        np.ascontiguousarray(part.facets),
        np.argsort(vertices[:, 2], kind="stable"),
        layer_mm,
        flat,
        layer_mm,
    )
    begins = vertices[birth, 2] >= lowest + layer_mm
    if not part.closed:
        begins &= ~np.isin(birth, _on_open_edges(part))
    islands = []
    for number in np.flatnonzero(begins).tolist():
        x, y, z = vertices[birth[number]].tolist()
        facets = np.flatnonzero(owner == number)
        facets.flags.writeable = False
        islands.append(Island(point_mm=(x, y, z), depth_mm=float(depth[number]), facets=facets))
    return tuple(islands)


def _on_open_edges(part: Part) -> NDArray[np.int64]:
    """Vertices at the edge of a hole in the surface: low places there are no solid's."""
    facets = np.array(part.facets)
    twin, _, _ = find_twins(facets, len(part.vertices_mm))
    open_edge = np.flatnonzero(twin < 0)
    facet, corner = open_edge // 3, open_edge % 3
    ends = np.concatenate([facets[facet, corner], facets[facet, (corner + 1) % 3]])
    return np.asarray(np.unique(ends))


def _pockets(
    part: Part,
    spaces: tuple[Space, ...],
    sections: Sections,
    shells: Shells,
    shut: Shut,
    rules: VatRules,
) -> tuple[Pocket, ...]:
    """Spaces with their facets; those worth a word with their drain holes."""
    if not spaces:
        return ()
    walls = face_walls(part, sections)
    pockets = []
    advised = 0
    for space in sorted(spaces, key=lambda own: (ORDER.index(own.kind), -own.volume_mm3)):
        pocket = _pocket(space, sections, shells, walls, rules.drain_least_mm)
        if matters(pocket, rules) and advised < HOLES_FOR_MOST:
            advised += 1
            holes = place_holes(walls, sections, shut, space, pocket.facets, rules.drain_least_mm)
            pocket = replace(pocket, holes=holes)
        pockets.append(pocket)
    return tuple(pockets)


def _pocket(
    space: Space,
    sections: Sections,
    shells: Shells,
    walls: Walls,
    limit_mm: float = 0.0,
) -> Pocket:
    facets = facets_of(walls, shells, space)
    facets.flags.writeable = False
    own = shells.figures[space.shell, 2:] if space.shell >= 0 else box_of(sections, space)
    origin = np.tile(sections.origin_mm, 2)
    box = (own + origin).tolist()
    point = (_inside(sections, space, own) + sections.origin_mm).tolist()
    return Pocket(
        kind=space.kind,
        volume_mm3=space.volume_mm3,
        suction_area_mm2=space.suction_area_mm2,
        suction_low_mm=space.suction_low_mm,
        suction_high_mm=space.suction_high_mm,
        pooled_mm3=space.pooled_mm3,
        by_platform=space.by_platform,
        vent_mm=limit_mm if space.kind in ("cup", "pool") else space.vent_mm,
        point_mm=(point[0], point[1], point[2]),
        box_mm=(box[0], box[1], box[2], box[3], box[4], box[5]),
        holes=(),
        facets=facets,
    )


def _inside(sections: Sections, space: Space, box: NDArray[np.float64]) -> NDArray[np.float64]:
    """A point in a space: in the middle of the widest gap of its largest section."""
    middle = 0.5 * (box[:3] + box[3:])
    if not len(space.regions):
        return np.asarray(middle)
    largest = space.regions[np.argmax(sections.area_mm2[space.regions])]
    plane = int(sections.plane_of[largest])
    lines = slice(plane * sections.n_lines, (plane + 1) * sections.n_lines + 1)
    off = sections.gap_off[lines]
    own = np.flatnonzero(sections.gap_region[off[0] : off[-1]] == largest) + off[0]
    if not len(own):
        return np.asarray(middle)
    widest = own[np.argmax(sections.gap_high[own] - sections.gap_low[own])]
    line = int(np.searchsorted(off, widest, side="right")) - 1
    x = 0.5 * (sections.gap_low[widest] + sections.gap_high[widest])
    y = (sections.first_line + line + 0.5) * sections.pitch_mm
    return np.array([x, y, sections.z_mm[plane]])
