"""Build cycles needed: the largest first, then what can move, over a few fixed orders."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from buildplan.checks.packing.place import Ground, Stencil, Stood, Toward, cut_stencil, find_place
from buildplan.checks.packing.platform import Platform

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

RIGHT_TURNS_DEG = (0.0, 90.0, 180.0, 270.0)

SHUFFLES = 6
"""Orders tried beyond the sorted ones where the area says that fewer cycles might do."""


@dataclass(slots=True, eq=False)
class Item:
    """One copy that wants a place. Copies of one part share their stencils.

    Attributes:
        time_h: Hours that it adds to a cycle; 0 where they are not known or not added (vat).
    """

    request: int
    copy: int
    shape: "BaseGeometry"
    height_mm: float
    time_h: float
    area_mm2: float
    reach_mm: float
    kinds: "Kinds"


@dataclass(slots=True, eq=False)
class Kinds:
    """Stencils of a part: the right angles first, the best and all other turns where needed."""

    shape: "BaseGeometry"
    platform: Platform
    step_deg: float
    few: list[Stencil] = field(default_factory=list)
    many: list[Stencil] | None = None

    def __post_init__(self) -> None:
        """Cut the right angles; the others wait until they are needed."""
        self.few = self._cut(RIGHT_TURNS_DEG)

    def others(self) -> list[Stencil]:
        """Stencils of the best turns and of the steps between the right angles."""
        if self.many is None:
            count = max(1, round(360.0 / self.step_deg))
            steps = [360.0 * k / count for k in range(count)]
            turns = dict.fromkeys((*best_turns_deg(self.shape, self.platform), *steps))
            self.many = self._cut([turn for turn in turns if turn not in RIGHT_TURNS_DEG])
        return self.many

    def any_turn_fits(self) -> bool:
        """Whether the part alone fits the platform at any turn."""
        return bool(self.few or self.others())

    def _cut(self, turns: Sequence[float]) -> list[Stencil]:
        cut = (cut_stencil(self.shape, turn, self.platform) for turn in turns)
        return [stencil for stencil in cut if stencil is not None]


def best_turns_deg(shape: "BaseGeometry", platform: Platform) -> tuple[float, ...]:
    """Turns with the least box about a shape, and with the most room on a rectangular platform."""
    import shapely

    corners = shapely.get_coordinates(shapely.convex_hull(shape))
    edges = np.diff(corners, axis=0)
    angles = np.unique(np.round(np.mod(np.arctan2(edges[:, 1], edges[:, 0]), 0.5 * math.pi), 9))
    grid = np.concatenate([angles, np.linspace(0.0, math.pi, 360, endpoint=False)])
    across = np.ptp(corners @ np.stack([np.cos(grid), np.sin(grid)]), axis=0)
    along = np.ptp(corners @ np.stack([-np.sin(grid), np.cos(grid)]), axis=0)
    found = [float(np.argmin(across * along))]
    if not platform.is_round:
        lacking = np.maximum(across - platform.width_mm, along - platform.depth_mm)
        found.append(float(np.argmin(lacking)))
    turns = [round(-math.degrees(grid[int(k)]) % 360.0, 7) for k in found]
    return tuple(t for t in dict.fromkeys(turns) if t % 90.0 != 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What every cycle must keep.

    Attributes:
        gap_mm: Least distance between outlines.
        low_mm: Only one part of a cycle may be higher than this; infinite for no limit.
    """

    gap_mm: float
    low_mm: float = math.inf


def fill_platforms(items: list[Item], platform: Platform, limits: Limits) -> list[Ground]:
    """As few platforms as were found to hold all items; each fits one alone.

    First fit by area, by reach and by height, each toward the group and a corner (on a round
    platform: the edge and a corner); then the emptiest platform is emptied into the others. While
    fewer might do, by area and by the parts that share with none, shuffled orders are tried. Last,
    parts move from the longest cycle to shorter ones, so that as little as possible stands at stake
    at once. The same call gives the same places: the shuffles are seeded.
    Source: Johnson, D. S. (1974), Fast algorithms for bin packing, Journal of Computer and System
    Sciences 8, 272-314 (first fit decreasing).
    """
    if not items:
        return []
    least = max(least_platforms(items, platform, limits), _loners(items, platform, limits))
    rules: tuple[Toward, ...] = ("edge", "corner") if platform.is_round else ("group", "corner")
    best: list[Ground] | None = None
    for order in _orders(items):
        for toward in rules:
            filled = _emptied(_first_fit(items, order, platform, limits, toward), items, limits)
            if best is None or _worth(filled, items) < _worth(best, items):
                best = filled
        if best is not None and len(best) == least:
            break
    return _evened(best, items, limits) if best is not None else []


def _loners(items: list[Item], platform: Platform, limits: Limits) -> int:
    """Parts, the largest first, of which no two were found to share a platform.

    A greedy count: more orders are not worth trying once so many platforms are reached.
    """
    order = sorted(range(len(items)), key=lambda k: (-items[k].area_mm2, k))
    alone: list[int] = []
    for k in order:
        for other in alone:
            ground = Ground(platform=platform, gap_mm=limits.gap_mm)
            _try(ground, items, other, limits, "corner")
            if _try(ground, items, k, limits, "corner"):
                return max(1, len(alone))
        alone.append(k)
    return max(1, len(alone))


def _evened(grounds: list[Ground], items: list[Item], limits: Limits) -> list[Ground]:
    """Move parts from longer cycles to shorter ones while that leaves less at stake.

    A move of t hours from a cycle of A to one of B helps while B + t < A: it lowers the sum of the
    squares of the hours, and what failures cost grows faster than the hours.
    """
    stays: set[int] = set()
    while True:
        moved = _one_move(grounds, items, limits, stays)
        if moved is None:
            return grounds
        grounds = moved


def _one_move(
    grounds: list[Ground], items: list[Item], limits: Limits, stays: set[int]
) -> list[Ground] | None:
    """The platforms after the first helpful move, or None; parts without one join ``stays``."""
    time_h = [sum(items[s.item].time_h for s in ground.stood) for ground in grounds]
    ranked = sorted(range(len(grounds)), key=lambda g: (-time_h[g], g))
    for source in ranked:
        wanted = [s for s in grounds[source].stood if s.item not in stays]
        for part in sorted(wanted, key=lambda s: (-items[s.item].time_h, s.item)):
            left_h = time_h[source] - items[part.item].time_h
            for target in reversed(ranked):
                if target == source or time_h[target] >= left_h - 1e-9:
                    continue
                ground = _copied(grounds[target])
                if _try(ground, items, part.item, limits, "corner"):
                    rest = _without(grounds[source], part)
                    swap = {target: ground, source: rest}
                    return [swap.get(g, grounds[g]) for g in range(len(grounds))]
            stays.add(part.item)
    return None


def _without(ground: Ground, part: Stood) -> Ground:
    left = Ground(platform=ground.platform, gap_mm=ground.gap_mm)
    for other in ground.stood:
        if other is not part:
            left.stand(other)
    return left


def least_platforms(items: list[Item], platform: Platform, limits: Limits) -> int:
    """Platforms that any packing needs, by area and by the limit on high parts.

    Outlines grown by half the gap do not overlap and lie on the platform grown by it.
    """
    import shapely

    half = 0.5 * limits.gap_mm
    area = sum(float(shapely.buffer(item.shape, half).area) for item in items)
    if platform.is_round:
        room = math.pi * (0.5 * platform.width_mm + half) ** 2
    else:
        w, d = platform.width_mm, platform.depth_mm
        room = w * d + 2.0 * half * (w + d) + math.pi * half**2
    high = sum(item.height_mm > limits.low_mm for item in items)
    return max(1, math.ceil(area / room - 1e-9), high)


def _orders(items: list[Item]) -> "list[list[int]]":
    numbers = list(range(len(items)))
    orders = [
        sorted(numbers, key=lambda k: (-items[k].area_mm2, k)),
        sorted(numbers, key=lambda k: (-items[k].reach_mm, k)),
        sorted(numbers, key=lambda k: (-items[k].height_mm, -items[k].area_mm2, k)),
    ]
    draw = np.random.default_rng(0)
    orders += [[int(k) for k in draw.permutation(len(items))] for _ in range(SHUFFLES)]
    distinct: dict[tuple[int, ...], list[int]] = {}
    for order in orders:
        distinct.setdefault(tuple(items[k].request for k in order), order)
    return list(distinct.values())


def _worth(grounds: list[Ground], items: list[Item]) -> tuple[float, ...]:
    """Less is better: platforms, then their heights, then the room that parts spread over."""
    heights = sum(max(items[s.item].height_mm for s in ground.stood) for ground in grounds)
    spread = 0.0
    for ground in grounds:
        boxes = np.array([s.shape.bounds for s in ground.stood])
        wide, deep = boxes[:, 2:].max(axis=0) - boxes[:, :2].min(axis=0)
        spread += float(wide + deep)
    return float(len(grounds)), round(heights, 6), round(spread, 3)


def _first_fit(
    items: list[Item], order: list[int], platform: Platform, limits: Limits, toward: Toward
) -> list[Ground]:
    grounds: list[Ground] = []
    for k in order:
        if not any(_try(ground, items, k, limits, toward) for ground in grounds):
            ground = Ground(platform=platform, gap_mm=limits.gap_mm)
            if not _try(ground, items, k, limits, toward):
                raise AssertionError("an item that fits no empty platform was sorted out before")
            grounds.append(ground)
    return grounds


def _try(ground: Ground, items: list[Item], k: int, limits: Limits, toward: Toward) -> bool:
    """Put an item on a platform if there is a place: at right angles, else at any turn."""
    item = items[k]
    if item.height_mm > limits.low_mm and any(
        items[other.item].height_mm > limits.low_mm for other in ground.stood
    ):
        return False
    if item.request in ground.refused:
        return False
    used = sum(items[other.item].area_mm2 for other in ground.stood)
    if used + item.area_mm2 > ground.platform.area_mm2:
        return False
    place = find_place(ground, k, item.kinds.few, toward)
    if place is None:
        place = find_place(ground, k, item.kinds.others(), toward)
    if place is None:
        ground.refused.add(item.request)
        return False
    ground.stand(place)
    return True


def _emptied(grounds: list[Ground], items: list[Item], limits: Limits) -> list[Ground]:
    """Take the emptiest platform away while the others can hold its parts."""

    def used(ground: Ground) -> float:
        return sum(items[other.item].area_mm2 for other in ground.stood)

    while len(grounds) > 1:
        last = min(grounds, key=used)
        others = [_copied(ground) for ground in grounds if ground is not last]
        wanted = sorted(last.stood, key=lambda s: -items[s.item].area_mm2)
        if not all(
            any(_try(ground, items, s.item, limits, "corner") for ground in others) for s in wanted
        ):
            return grounds
        grounds = others
    return grounds


def _copied(ground: Ground) -> Ground:
    twin = Ground(platform=ground.platform, gap_mm=ground.gap_mm)
    twin.stood = list(ground.stood)
    twin.taken = ground.taken.copy()
    twin.taken_transform = ground.taken_transform
    twin.refused = set(ground.refused)
    return twin


def centred(ground: Ground) -> list[Stood]:
    """The places of a platform moved together to its middle, where they stay on it."""
    from shapely import affinity

    boxes = np.array([s.shape.bounds for s in ground.stood])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    middle = ground.platform.middle_mm
    move = np.array(middle) - 0.5 * (low + high)
    for share in (1.0, 0.5, 0.0):
        dx, dy = (float(v) for v in share * move)
        moved = [
            Stood(
                item=s.item,
                stencil=s.stencil,
                at_mm=(s.at_mm[0] + dx, s.at_mm[1] + dy),
                shape=affinity.translate(s.shape, dx, dy),
            )
            for s in ground.stood
        ]
        if all(ground.platform.holds(s.stencil.corners + np.array(s.at_mm)) for s in moved):
            return moved
    return ground.stood
