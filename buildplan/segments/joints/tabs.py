"""Tabs on the inner side of a wall, bolted together: screws from above into heat-set inserts."""

import math
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError, NoPlanError
from buildplan.segments.joints.draft import Draft, Halves, one_of
from buildplan.segments.joints.model import BORE_LEAK_MM3, BoughtPiece, JointSpec
from buildplan.segments.joints.region import (
    opened,
    polygons_of,
)
from buildplan.segments.solid import checked
from buildplan.tables import inserts, screws
from buildplan.tables.hardware import Insert, Screw

if TYPE_CHECKING:
    from manifold3d import Manifold

SIDES = 32
EMBED_MM = 1.5
"""How deep a tab reaches into the wall that carries it (ours)."""

FLOOR_MM = 2.0
"""Material under a blind bore (ours)."""

STEP_MM = 4.0
"""Distance of neighbouring candidates along the wall."""

VOID_MM = 0.5
"""Narrower voids beside the wall take no tab."""

HELD_FRAC = 0.3
MOST_HELD = 2.2
"""On each side of the cut a tab must meet at least this share of the wall it reaches into, and in
all at most this multiple: more means that it runs into another wall (ours)."""

MOST_TRIES = 60
LENGTHS_MM = (4, 5, 6, 8, 10, 12, 16, 20, 25, 30, 35, 40)
"""Usual lengths of ISO 4762 screws."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """Sizes that all tabs of a joint share."""

    screw: Screw
    insert: Insert
    above_mm: float
    below_mm: float
    width_mm: float
    bore_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tab:
    point: tuple[float, float]
    solid: "Manifold"
    screw_hole: "Manifold"
    bore: "Manifold"
    guards: tuple["Manifold", ...]


def draft_tabs(halves: Halves, spec: JointSpec) -> Draft:
    """Tabs inside the hull of the section, each with a screw hole above and a blind bore below.

    Every tab is placed, then guarded: screw hole and bore, grown by the plastic they need, must lie
    in wall and tab; one that fails is dropped and the next place tried.

    Raises:
        InputError: No screw or insert of the thread is in the tables.
        NoPlanError: No place takes a tab; the message says how many were tried.
    """
    shape = _shape(spec)
    slab = _slab(halves.near, shape)
    hull = halves.hull()
    places, inward = _candidates(halves.section())
    tabs: list[_Tab] = []
    tried = 0
    open_to = np.full(len(places), np.inf)
    while len(places) and len(tabs) < spec.count and tried < MOST_TRIES:
        best = _next_place(places, open_to)
        if open_to[best] < spec.spacing_mm:
            break
        tried += 1
        tab = _tab(places[best], inward[best], shape, slab, hull, spec.wall_mm)
        apart = np.hypot(*(places - places[best]).T)
        if tab is None:
            open_to[apart < 1.5 * STEP_MM] = -1.0
            continue
        tabs.append(tab)
        open_to = np.minimum(open_to, apart)
    if not tabs:
        raise NoPlanError(
            f"{halves.name}: none of {tried} places along the cut takes an inner tab of "
            f"{shape.width_mm:.1f} x {shape.width_mm:.1f} x "
            f"{shape.above_mm + shape.below_mm:.1f} mm; choose a smaller thread or another plane"
        )
    return _assemble(halves, shape, tabs, spec)


def tab_reach_mm(spec: JointSpec) -> float:
    """How far from the plane tabs, and the wall that they are judged by, can reach."""
    shape = _shape(spec)
    return max(shape.above_mm, shape.below_mm) + 3.0


def _shape(spec: JointSpec) -> _Shape:
    by_thread = {row.thread_mm: row for row in screws().values()}
    insert = {row.thread_mm: row for row in inserts().values()}.get(spec.size_mm)
    screw = by_thread.get(spec.size_mm)
    if screw is None or insert is None:
        known = ", ".join(f"{row.thread_mm:g}" for row in inserts().values())
        raise InputError(
            f"tabs: no screw and insert of thread {spec.size_mm:g} mm in the tables; "
            f"threads with an insert: {known} mm"
        )
    bore = insert.length_mm + insert.depth_extra_mm
    around = max(insert.hole_mm + 2.0 * insert.boss_wall_mm, screw.head_diameter_mm + 1.0)
    return _Shape(
        screw=screw,
        insert=insert,
        above_mm=spec.depth_mm,
        below_mm=bore + FLOOR_MM,
        width_mm=around + 1.0,
        bore_mm=bore,
    )


def _slab(body: "Manifold", shape: _Shape) -> "Manifold":
    """The body near the plane: all that tabs can meet."""
    from manifold3d import Manifold

    x0, y0, _, x1, y1, _ = body.bounding_box()
    height = shape.above_mm + shape.below_mm + 4.0
    block = Manifold.cube((x1 - x0 + 2.0, y1 - y0 + 2.0, height))
    return checked(block.translate((x0 - 1.0, y0 - 1.0, -shape.below_mm - 2.0)) ^ body, "tabs")


def _candidates(section: Any) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points on walls that face a void inside the hull of the section, and the ways into it."""
    import shapely

    void = opened(section.convex_hull.difference(section), VOID_MM)
    points, ways = [], []
    for polygon in polygons_of(void):
        oriented = shapely.geometry.polygon.orient(polygon)
        for ring in chain([oriented.exterior], oriented.interiors):
            ends = np.asarray(ring.coords)
            steps = max(1, int(ring.length / STEP_MM))
            at = (np.arange(steps) + 0.5) * ring.length / steps
            lengths = np.hypot(*np.diff(ends, axis=0).T)
            run = np.concatenate([[0.0], np.cumsum(lengths)])
            edge = np.clip(np.searchsorted(run, at, side="right") - 1, 0, len(lengths) - 1)
            way = (ends[edge + 1] - ends[edge]) / lengths[edge, None]
            points.append(ends[edge] + way * (at - run[edge])[:, None])
            # the void lies to the left of its oriented rings
            ways.append(np.column_stack([-way[:, 1], way[:, 0]]))
    if not points:
        return np.zeros((0, 2)), np.zeros((0, 2))
    places, inward = np.concatenate(points), np.concatenate(ways)
    # rings of the void also run along the hull's own edges, where there is no wall
    walls = shapely.distance(section, shapely.points(places - 0.05 * inward)) < 0.04
    return places[walls], inward[walls]


def _next_place(places: NDArray[np.float64], open_to: NDArray[np.float64]) -> int:
    """The place farthest from the tabs so far; the first one is farthest from the middle."""
    far = np.hypot(*(places - places.mean(axis=0)).T)
    return int(np.argmax(np.round(np.where(np.isinf(open_to), 1e6 + far, open_to), 6)))


def _tab(
    place: NDArray[np.float64],
    way: NDArray[np.float64],
    shape: _Shape,
    slab: "Manifold",
    hull: "Manifold",
    wall_mm: float,
) -> _Tab | None:
    """A tab at a place, or None where it would hang free, hit another wall or open one."""
    from manifold3d import Manifold

    height = shape.above_mm + shape.below_mm
    block = (
        Manifold.cube((shape.width_mm + EMBED_MM, shape.width_mm, height))
        .translate((-EMBED_MM, -shape.width_mm / 2.0, -shape.below_mm))
        .rotate((0.0, 0.0, math.degrees(math.atan2(way[1], way[0]))))
        .translate((float(place[0]), float(place[1]), 0.0))
    )
    solid = checked(block ^ hull, "tabs")
    held = checked(solid ^ slab, "tabs")
    upper, lower = held.split_by_plane((0.0, 0.0, 1.0), 0.0)
    full = EMBED_MM * shape.width_mm
    if upper.volume() < HELD_FRAC * full * shape.above_mm:
        return None
    if lower.volume() < HELD_FRAC * full * shape.below_mm:
        return None
    if held.volume() > MOST_HELD * full * height:
        return None
    middle = place + way * (shape.width_mm / 2.0)
    point = (float(middle[0]), float(middle[1]))
    screw_r, bore_r = shape.screw.hole_medium_mm / 2.0, shape.insert.hole_mm / 2.0
    guards = (
        _bore(point, screw_r + wall_mm, 0.0, shape.above_mm),
        _bore(point, bore_r + shape.insert.boss_wall_mm, -shape.bore_mm, 0.0),
    )
    material = checked(solid + slab, "tabs")
    if sum(checked(guard - material, "tabs").volume() for guard in guards) > BORE_LEAK_MM3:
        return None
    return _Tab(
        point=point,
        solid=solid,
        screw_hole=_bore(point, screw_r, 0.0, shape.above_mm + 1.0),
        bore=_bore(point, bore_r, -shape.bore_mm, 0.0),
        guards=guards,
    )


def _bore(point: tuple[float, float], radius: float, low: float, high: float) -> "Manifold":
    from manifold3d import Manifold

    drawn = radius / math.cos(math.pi / SIDES)
    return Manifold.cylinder(high - low, drawn, drawn, SIDES).translate((*point, low))


def _assemble(halves: Halves, shape: _Shape, tabs: list[_Tab], spec: JointSpec) -> Draft:
    name = halves.name
    added = one_of([tab.solid for tab in tabs], name)
    whole = checked(halves.body + added, name)
    above, below = whole.split_by_plane((0.0, 0.0, 1.0), 0.0)
    holes = one_of([tab.screw_hole for tab in tabs], name)
    bores = one_of([tab.bore for tab in tabs], name)
    count = float(len(tabs))
    length = _screw_length(shape)
    return Draft(
        above=checked(above - holes, name),
        below=checked(below - bores, name),
        put_in=(),
        guards=tuple(guard for tab in tabs for guard in tab.guards),
        material=whole,
        leak_limit_mm3=BORE_LEAK_MM3,
        removed_mm3=checked(holes ^ above, name).volume() + checked(bores ^ below, name).volume(),
        added_mm3=whole.volume() - halves.body.volume(),
        clearance_mm=-1.0,
        points=tuple(tab.point for tab in tabs),
        loose=(),
        bought=(
            BoughtPiece(item=f"screw {shape.screw.key} x {length}, ISO 4762", quantity=count),
            BoughtPiece(item=shape.insert.name, quantity=count),
        ),
        added=added,
    )


def _screw_length(shape: _Shape) -> int:
    """The longest usual screw that does not bottom out in the bore."""
    room = shape.above_mm + shape.bore_mm - 0.5
    return max((length for length in LENGTHS_MM if length <= room), default=LENGTHS_MM[0])
