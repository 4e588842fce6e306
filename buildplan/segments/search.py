"""Cuts in any direction: a beam search over binary cuts, the cheap look first, the real cut second.

Every cut of a piece is first judged from areas of its sections and the ends of its vertices; only
the best of those are really made. Luo, Baran, Rusinkiewicz, Matusik (2012), Chopper: partitioning
models into 3D-printable parts, ACM Transactions on Graphics 31, 129 (a beam search over planes with
an objective of several terms; the terms here are our own).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.segments.joints import JointSpec, joinable_frac
from buildplan.segments.model import RejectedPlane, SplitLimits
from buildplan.segments.planes import Plane, frame_of, make_plane
from buildplan.segments.solid import checked

if TYPE_CHECKING:
    from manifold3d import Manifold

BEAM = 4
"""Plans that are carried on at every depth."""

LOOKS = 3
"""So many times as many cuts as plans are really made."""

OFFSETS = 9
"""Places along each direction."""

SECTIONS = 4
"""Sections for each place, from which the volume on each side is reckoned."""

SHARE_WANTED = 0.8
"""A cut face that could hold a joint over this share of its area costs nothing extra."""

RADIAL_DEG = (30.0, 45.0, 60.0, 120.0, 135.0, 150.0)

CostOf = Callable[[float, float, tuple[float, float, float]], tuple[float, bool]]
"""(volume_mm3, side_mm2, size_mm) -> cost of a piece, and whether it may stay as it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchTask:
    """What a search of cuts is to reach.

    Attributes:
        cost_of: Cost of a piece and whether it may stay as it is.
        cut_cost: Cost of a joint over a face of so many mm2.
        limits: Boxes to be left whole, least share of a piece.
        spec: The joint whose room judges a cut face.
        most: Largest number of pieces.
    """

    cost_of: CostOf
    cut_cost: Callable[[float], float]
    limits: SplitLimits
    spec: JointSpec
    most: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One piece of a plan in the making."""

    solid: "Manifold"
    volume_mm3: float
    cost: float
    is_done: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPlan:
    """Planes in the order in which they are cut, each through the piece it was made for.

    Attributes:
        cuts: (index of the piece in the list at that moment, plane).
        pieces: How many there are in the end.
        cost: Cost by the quick model, joints included.
        is_done: Whether every piece may stay as it is.
    """

    cuts: tuple[tuple[int, Plane], ...]
    pieces: int
    cost: float
    is_done: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Node:
    cells: tuple[Cell, ...]
    cuts: tuple[tuple[int, Plane], ...]
    extra: float

    @property
    def cost(self) -> float:
        return self.extra + sum(cell.cost for cell in self.cells)

    @property
    def is_done(self) -> bool:
        return all(cell.is_done for cell in self.cells)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """A cut that was judged without being made."""

    cost: float
    node: _Node
    index: int
    plane: Plane


@dataclass(frozen=True, slots=True, kw_only=True)
class _Search:
    """A search under way: what is asked, and what was found out about planes so far."""

    task: SearchTask
    ways: tuple[tuple[float, float, float], ...]
    whole_mm3: float
    refused: dict[Plane, str]
    judged: dict[int, tuple[Cell, list[tuple[Plane, float, float]]]]


def directions() -> tuple[tuple[float, float, float], ...]:
    """The three axes, then six level directions between them."""
    level = [
        (math.cos(math.radians(angle)), math.sin(math.radians(angle)), 0.0) for angle in RADIAL_DEG
    ]
    return ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), *level)


def search_cuts(
    solid: "Manifold",
    task: SearchTask,
    *,
    beam: int = BEAM,
    normals: Sequence[tuple[float, float, float]] | None = None,
    full: bool = False,
) -> tuple[dict[int, CutPlan], tuple[RejectedPlane, ...]]:
    """The best plan found for each number of pieces, and what was looked at and refused.

    Args:
        solid: The part, simplified where it is large.
        task: Costs and limits.
        beam: Plans carried on.
        normals: Directions of cuts; the axes and six level ones where None.
        full: Really make every cut instead of the most promising ones.
    """
    search = _Search(
        task=task,
        ways=tuple(normals) if normals is not None else directions(),
        whole_mm3=solid.volume(),
        refused={},
        judged={},
    )
    nodes = [_Node(cells=(_cell(solid, task.cost_of),), cuts=(), extra=0.0)]
    best: dict[int, _Node] = {1: nodes[0]}
    while nodes:
        open_nodes = [node for node in nodes if len(node.cells) < task.most]
        looks = [look for node in open_nodes for look in _look_at(node, search)]
        looks.sort(key=lambda look: round(look.cost, 9))
        made = [_make(look, search) for look in (looks if full else looks[: LOOKS * beam])]
        nodes = _best_of([n for n in made if n is not None and len(n.cells) <= task.most], beam)
        for node in nodes:
            known = best.get(len(node.cells))
            if known is None or (not node.is_done, node.cost) < (not known.is_done, known.cost):
                best[len(node.cells)] = node
    plans = {
        pieces: CutPlan(cuts=node.cuts, pieces=pieces, cost=node.cost, is_done=node.is_done)
        for pieces, node in best.items()
    }
    return plans, tuple(RejectedPlane(plane=p, reason=why) for p, why in search.refused.items())


def _cell(solid: "Manifold", cost_of: CostOf) -> Cell:
    box = solid.bounding_box()
    size = (box[3] - box[0], box[4] - box[1], box[5] - box[2])
    cost, is_done = cost_of(solid.volume(), _side_mm2(solid), size)
    return Cell(solid=solid, volume_mm3=solid.volume(), cost=cost, is_done=is_done)


def bodies_of(half: "Manifold") -> list["Manifold"]:
    """The separate bodies of a solid, ordered by where they are."""
    return sorted(
        half.decompose(), key=lambda body: tuple(round(x, 3) for x in body.bounding_box())
    )


def _side_mm2(solid: "Manifold") -> float:
    """Surface less twice the shadow: what is not level."""
    return float(max(0.0, solid.surface_area() - 2.0 * solid.project().area()))


def keep_in_the_way(plane: Plane, solid: "Manifold", limits: SplitLimits) -> str:
    """Name of a box that a plane would cut where the piece is, or an empty text.

    The box is clipped to the piece, so a plane beside a hinge is fine on the half without it.
    """
    box = np.array(solid.bounding_box())
    normal = np.array(plane.normal)
    for name, keep in zip(limits.keep_names, limits.keep, strict=True):
        low, high = np.maximum(keep[:3], box[:3]), np.minimum(keep[3:], box[3:])
        if (low >= high).any():
            continue
        middle, half = (low + high) / 2.0, (high - low) / 2.0
        if abs(float(normal @ middle) - plane.offset_mm) < float(np.abs(normal) @ half) - 1e-9:
            return name
    return ""


def _look_at(node: _Node, search: _Search) -> list[_Look]:
    """Judge the cuts of the piece that needs one most: one that may not stay, else the dearest.

    Where no cut of it is allowed, the next piece is looked at.
    """
    order = sorted(
        range(len(node.cells)),
        key=lambda i: (node.cells[i].is_done, -round(node.cells[i].cost, 9), i),
    )
    for index in order:
        looks = _cuts_of(node, index, search)
        if looks:
            return looks
    return []


def _cuts_of(node: _Node, index: int, search: _Search) -> list[_Look]:
    task = search.task
    cell = node.cells[index]
    if id(cell.solid) not in search.judged:
        # the cell is kept with its judgement, so that no later one can take its number
        search.judged[id(cell.solid)] = (cell, _judge(cell, search))
    others = node.cost - cell.cost
    looks = []
    for plane, cost, face in search.judged[id(cell.solid)][1]:
        name = keep_in_the_way(plane, cell.solid, task.limits)
        if name:
            search.refused.setdefault(plane, f"would cut {name}")
            continue
        total = others + cost + task.cut_cost(face)
        looks.append(_Look(cost=total, node=node, index=index, plane=plane))
    return looks


def _judge(cell: Cell, search: _Search) -> list[tuple[Plane, float, float]]:
    """Planes through a piece with the cost of its two sides and the area of the face."""
    vertices = np.asarray(cell.solid.to_mesh64().vert_properties)[:, :3]
    side = _side_mm2(cell.solid)
    judged = []
    for way in search.ways:
        along = vertices @ np.array(way)
        low, high = float(along.min()), float(along.max())
        areas = _sections(cell.solid, way, low, high)
        shares = np.concatenate([[0.0], np.cumsum(areas)]) / max(areas.sum(), 1e-12)
        for place in range(1, OFFSETS + 1):
            offset = low + (high - low) * place / (OFFSETS + 1)
            share = float(shares[place * SECTIONS])
            plane = make_plane(way, offset)
            cost = 0.0
            for mask, part in ((along <= offset, share), (along > offset, 1.0 - share)):
                if not mask.any():
                    cost = math.inf
                    break
                x, y, z = np.ptp(vertices[mask], axis=0).tolist()
                cost += search.task.cost_of(part * cell.volume_mm3, part * side, (x, y, z))[0]
            face = float(areas[place * SECTIONS - 1 : place * SECTIONS + 1].mean())
            judged.append((plane, cost, face))
    return judged


def _sections(
    solid: "Manifold", way: tuple[float, float, float], low: float, high: float
) -> NDArray[np.float64]:
    """Areas of sections at the middles of (OFFSETS + 1) * SECTIONS equal steps."""
    there, _ = frame_of(make_plane(way, 0.0))
    body = checked(solid.transform(there), "search")
    count = (OFFSETS + 1) * SECTIONS
    middles = low + (high - low) * (np.arange(count) + 0.5) / count
    return np.array([body.slice(float(z)).area() for z in middles])


def _make(look: _Look, search: _Search) -> _Node | None:
    """Really cut; None where a side is too small or falls apart into crumbs."""
    limits = search.task.limits
    cell = look.node.cells[look.index]
    above, below = cell.solid.split_by_plane(look.plane.normal, look.plane.offset_mm)
    bodies = [*bodies_of(above), *bodies_of(below)]
    least = min(body.volume() for body in bodies) if len(bodies) > 1 else 0.0
    if least < limits.least_frac * search.whole_mm3:
        share = 100.0 * least / search.whole_mm3
        search.refused.setdefault(
            look.plane, f"leaves a piece of {share:.1f} %, {100 * limits.least_frac:.0f} % allowed"
        )
        return None
    face = max(0.0, 0.5 * (above.surface_area() + below.surface_area() - cell.solid.surface_area()))
    share = joinable_frac(cell.solid, look.plane, search.task.spec)
    cells = tuple(_cell(body, search.task.cost_of) for body in bodies)
    node = look.node
    extra = node.extra + search.task.cut_cost(face) * (1.0 + max(0.0, SHARE_WANTED - share))
    return _Node(
        cells=(*node.cells[: look.index], *cells, *node.cells[look.index + 1 :]),
        cuts=(*node.cuts, (look.index, look.plane)),
        extra=extra,
    )


def _best_of(made: list[_Node], beam: int) -> list[_Node]:
    """The cheapest plans, each set of pieces once; ties go to fewer pieces, then the first cut."""
    ranked = sorted(made, key=lambda node: (round(node.cost, 9), len(node.cells)))
    kept: list[_Node] = []
    seen: set[tuple[int, ...]] = set()
    for node in ranked:
        key = tuple(sorted(round(cell.volume_mm3) for cell in node.cells))
        if key not in seen:
            seen.add(key)
            kept.append(node)
        if len(kept) == beam:
            break
    return kept
