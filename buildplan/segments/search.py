"""Cuts in any direction: a beam search over binary cuts, the cheap look first, the real cut second.

Every cut of a piece is first judged from the exact volumes, surfaces and extents on both sides of
it, all places along a direction in one pass; only the best of those are really made. Luo, Baran,
Rusinkiewicz, Matusik (2012), Chopper: partitioning models into 3D-printable parts, ACM Transactions
on Graphics 31, 129 (a beam search over planes with an objective of several terms; the terms here
are our own).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.share_below import SIDE_COS, shares_below
from buildplan.segments.bodies import bodies_of, keep_in_the_way
from buildplan.segments.hours import side_area_mm2
from buildplan.segments.joints import JointSpec, joinable_frac
from buildplan.segments.model import RejectedPlane, SplitLimits
from buildplan.segments.planes import Plane, make_plane
from buildplan.segments.solid import mesh_of

if TYPE_CHECKING:
    from manifold3d import Manifold

BEAM = 4
"""Plans that are carried on at every depth."""

LOOKS = 2
"""So many times as many cuts as plans are really made and kept at every depth."""

TRIES = 8
"""At most so many times as many cuts as plans are tried at every depth."""

ALIKE = 2
"""Cuts of one piece in one direction that are tried, so that neighbours do not fill the beam."""

OFFSETS = 15
"""Places along each direction."""

CANDIDATES = 3
"""Plans of one number of pieces that are kept."""

SHARE_WANTED = 0.8
"""A cut face that could hold a joint over this share of its area costs nothing extra."""

RADIAL_DEG = (30.0, 45.0, 60.0, 120.0, 135.0, 150.0)

CostOf = Callable[
    [NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]],
    tuple[NDArray[np.float64], NDArray[np.float64]],
]
"""(volume_mm3 (k,), side_mm2 (k,), size_mm (k, 3)) -> costs of pieces, and into how many each must
be cut at least: 1 where it may stay as it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchTask:
    """What a search of cuts is to reach.

    Attributes:
        cost_of: Costs of pieces and into how many each must be cut at least.
        cut_cost: Cost of joints over faces of so many mm2.
        limits: Boxes to be left whole, least share of a piece.
        spec: The joint whose room judges a cut face.
        most: Largest number of pieces.
    """

    cost_of: CostOf
    cut_cost: Callable[[NDArray[np.float64]], NDArray[np.float64]]
    limits: SplitLimits
    spec: JointSpec
    most: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One piece of a plan in the making.

    Attributes:
        least: Into how many pieces it must be cut at least.
        looks: Judged cuts of the piece, filled when it is looked at first.
        made: What really making a cut of the piece gave: its pieces and the price of the joint, or
            None where it is refused. Plans share pieces, and so do not make a cut twice.
    """

    solid: "Manifold"
    vertices_mm: NDArray[np.float64]
    facets: NDArray[np.int64]
    volume_mm3: float
    cost: float
    least: float
    looks: "list[tuple[float, float, Plane]]"
    made: "dict[Plane, tuple[tuple[Cell, ...], float] | None]"


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
    most: int

    @property
    def least(self) -> float:
        """Pieces that there must be at least in the end."""
        return sum(cell.least for cell in self.cells)

    @property
    def is_done(self) -> bool:
        """Whether every piece may stay as it is."""
        return all(cell.least <= 1.0 for cell in self.cells)

    @property
    def cost(self) -> float:
        """Quick cost of the pieces and their joints."""
        return self.extra + sum(cell.cost for cell in self.cells)

    @property
    def promise(self) -> tuple[bool, float, int]:
        """Plans that may still be done within the number of pieces come first, then the cheaper."""
        return self.least > self.most, round(self.cost, 6), len(self.cells)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """A cut that was judged without being made.

    Attributes:
        least: Pieces that there must be at least in the end.
    """

    least: float
    cost: float
    node: _Node
    index: int
    plane: Plane

    @property
    def is_done(self) -> bool:
        """Whether every piece of the plan could then stay as it is."""
        return self.least <= len(self.node.cells) + 1

    @property
    def promise(self) -> tuple[bool, float]:
        """As of a plan."""
        return self.least > self.node.most, round(self.cost, 6)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Search:
    """A search under way: what is asked, and what was found out about planes so far."""

    task: SearchTask
    ways: tuple[tuple[float, float, float], ...]
    whole_mm3: float
    refused: dict[Plane, str]


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
) -> tuple[dict[int, tuple[CutPlan, ...]], tuple[RejectedPlane, ...]]:
    """The best plans found for each number of pieces, and what was looked at and refused.

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
    )
    nodes = [_Node(cells=(_cell(solid, task.cost_of),), cuts=(), extra=0.0, most=task.most)]
    found: dict[int, list[_Node]] = {1: nodes}
    while nodes:
        looks = [
            look
            for node in nodes
            if len(node.cells) < task.most
            for look in _look_at(node, search, full=full)
        ]
        made = _make_best(_in_turn(looks), search, beam, full=full)
        nodes = _best_of(made, beam)
        for node in nodes:
            found.setdefault(len(node.cells), []).append(node)
    plans = {
        pieces: tuple(
            CutPlan(cuts=node.cuts, pieces=pieces, cost=round(node.cost, 6), is_done=node.is_done)
            for node in sorted(alike, key=_rank)[:CANDIDATES]
        )
        for pieces, alike in found.items()
    }
    return plans, tuple(RejectedPlane(plane=p, reason=why) for p, why in search.refused.items())


def _in_turn(looks: Sequence[_Look]) -> list[_Look]:
    """Looks by promise: in turn the cheapest, and the cheapest of plans that would be done."""
    cheap = sorted(looks, key=lambda look: look.promise)
    done = [look for look in cheap if look.is_done]
    ordered: dict[int, _Look] = {}
    for pair in zip_longest(done, cheap):
        ordered.update((id(look), look) for look in pair if look is not None)
    return list(ordered.values())


def _make_best(looks: Sequence[_Look], search: _Search, beam: int, *, full: bool) -> list[_Node]:
    """Make cuts in the order of their promise until there are enough that hold."""
    made: list[_Node] = []
    for number, look in enumerate(looks):
        if not full and (len(made) == LOOKS * beam or number == TRIES * beam):
            break
        node = _make(look, search)
        if node is not None and len(node.cells) <= search.task.most:
            made.append(node)
    return made


def _cell(solid: "Manifold", cost_of: CostOf) -> Cell:
    vertices, facets = mesh_of(solid)
    volume = solid.volume()
    size = np.ptp(vertices, axis=0)[None, :]
    costs, least = cost_of(np.array([volume]), np.array([side_area_mm2(vertices, facets)]), size)
    return Cell(
        solid=solid,
        vertices_mm=vertices,
        facets=facets,
        volume_mm3=volume,
        cost=float(costs[0]),
        least=float(least[0]),
        looks=[],
        made={},
    )


def _look_at(node: _Node, search: _Search, *, full: bool) -> list[_Look]:
    """Judge the cuts of the piece that needs one most: one that may not stay, else the dearest.

    Where no cut of it is allowed, the next piece is looked at.
    """
    order = sorted(
        range(len(node.cells)),
        key=lambda i: (node.cells[i].least <= 1.0, -round(node.cells[i].cost, 6), i),
    )
    total = node.extra + sum(cell.cost for cell in node.cells)
    for index in order:
        cell = node.cells[index]
        if not cell.looks:
            cell.looks.extend(_judge(cell, search))
        others = total - cell.cost
        rest = node.least - cell.least
        looks = [
            _Look(least=rest + least, cost=others + cost, node=node, index=index, plane=plane)
            for least, cost, plane in cell.looks
        ]
        looks = looks if full else _few_alike(looks)
        if looks:
            return looks
    return []


def _few_alike(looks: list[_Look]) -> list[_Look]:
    """The best few looks of every direction, and the best few that would be done."""
    kept: list[_Look] = []
    seen: dict[tuple[bool, tuple[float, float, float]], int] = {}
    for look in sorted(looks, key=lambda look: look.promise):
        way = (look.is_done, look.plane.normal)
        seen[way] = seen.get(way, 0) + 1
        if seen[way] <= ALIKE:
            kept.append(look)
    return kept


def _judge(cell: Cell, search: _Search) -> list[tuple[float, float, Plane]]:
    """Planes through a piece that are allowed, with the cost of its two sides and of the joint."""
    task = search.task
    box = cell.solid.bounding_box()
    judged: list[tuple[float, float, Plane]] = []
    for way in search.ways:
        along = cell.vertices_mm @ np.array(way)
        low, high = float(along.min()), float(along.max())
        places = low + (high - low) * np.arange(1, OFFSETS + 1) / (OFFSETS + 1)
        ends = np.append(places, high)
        sums, lows, highs = shares_below(cell.vertices_mm, cell.facets, np.array(way), ends)
        volume, face, side = sums[:-1, 0], np.maximum(sums[:-1, 2], 0.0), sums[:-1, 3]
        extra = face if abs(way[2]) <= SIDE_COS else 0.0
        below, above = _sizes(lows[:-1], highs[:-1])
        lower, some = task.cost_of(volume, side + extra, below)
        upper, more = task.cost_of(sums[-1, 0] - volume, sums[-1, 3] - side + extra, above)
        costs = (task.cut_cost(face) + lower + upper).tolist()
        for place, price, least in zip(places.tolist(), costs, (some + more).tolist(), strict=True):
            plane = make_plane(way, place)
            name = keep_in_the_way(plane, box, task.limits)
            if name:
                search.refused.setdefault(plane, f"would cut {name}")
            elif math.isfinite(price):
                judged.append((least, price, plane))
    return judged


def _sizes(
    low: NDArray[np.float64], high: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sizes (k, 3) of what is below and above each of k places, from the k + 1 cells' extents."""
    under = np.maximum.accumulate(high)[:-1] - np.minimum.accumulate(low)[:-1]
    over = np.maximum.accumulate(high[::-1])[-2::-1] - np.minimum.accumulate(low[::-1])[-2::-1]
    return under, over


def _make(look: _Look, search: _Search) -> _Node | None:
    """Really cut; None where a side is too small or falls apart into crumbs."""
    node, cell = look.node, look.node.cells[look.index]
    if look.plane not in cell.made:
        cell.made[look.plane] = _cut_cell(cell, look.plane, search)
    made = cell.made[look.plane]
    if made is None:
        return None
    return _Node(
        cells=(*node.cells[: look.index], *made[0], *node.cells[look.index + 1 :]),
        cuts=(*node.cuts, (look.index, look.plane)),
        extra=node.extra + made[1],
        most=node.most,
    )


def _cut_cell(cell: Cell, plane: Plane, search: _Search) -> tuple[tuple[Cell, ...], float] | None:
    """The pieces of a cut and the price of its joint, dearer where the face could hold less."""
    task = search.task
    above, below = cell.solid.split_by_plane(plane.normal, plane.offset_mm)
    bodies = [*bodies_of(above), *bodies_of(below)]
    least = min((body.volume() for body in bodies), default=0.0) if len(bodies) > 1 else 0.0
    if least < task.limits.least_frac * search.whole_mm3:
        share = 100.0 * least / search.whole_mm3
        search.refused.setdefault(
            plane,
            f"leaves a piece of {share:.1f} %, {100 * task.limits.least_frac:.0f} % allowed",
        )
        return None
    area = above.surface_area() + below.surface_area() - cell.solid.surface_area()
    share = joinable_frac(cell.solid, plane, task.spec)
    price = float(task.cut_cost(np.array([max(0.0, 0.5 * area)]))[0])
    cells = tuple(_cell(body, task.cost_of) for body in bodies)
    return cells, price * (1.0 + max(0.0, SHARE_WANTED - share))


def _rank(node: _Node) -> tuple[bool, tuple[bool, float, int]]:
    """Plans that are done come first."""
    return not node.is_done, node.promise


def _best_of(made: list[_Node], beam: int) -> list[_Node]:
    """The best plans, each set of pieces once; of equal ones the first.

    Half of them by cost alone, as what is not done yet may become the best plan of more pieces.
    """
    kept: list[_Node] = []
    seen: set[tuple[tuple[int, float, float], ...]] = set()
    cheap = sorted(made, key=lambda node: node.promise)
    for node in (*cheap[: beam // 2], *sorted(made, key=_rank)):
        key = tuple(sorted((round(c.volume_mm3), c.least, round(c.cost, 3)) for c in node.cells))
        if key not in seen:
            seen.add(key)
            kept.append(node)
        if len(kept) == beam:
            break
    return kept
