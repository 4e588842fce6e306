"""check_walls: walls that the process cannot make, or that carry little, one finding a feature."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import Mark
from buildplan.checks.regions import Region, link_regions
from buildplan.checks.surface import Surface, caps_for, measure_surface
from buildplan.checks.walls_words import marks_of
from buildplan.part.model import Part
from buildplan.tables.recipe import ExtrusionRecipe, Recipe
from buildplan.tables.rules import Rules, VatRules

Verdict = Literal["vanishes", "single bead", "weak", "edge"]

TOLERANCE_FRAC = 0.01
"""Walls this share below a limit pass: a round wall's facets cut its corners (ours)."""

TAPER_FRAC = 0.4
"""A region whose narrowest 5 % of area is below this share of its median thins out to an edge or a
tip: a straight taper to nothing has 0.1, a cone's tip 0.32, a wall 1 (ours)."""

VERDICT_FRAC = 0.05
"""Share of a feature's area that decides its verdict: as much as its 5th percentile stands for."""

SPOT_MM2 = 5.0
"""Where no place that decides the verdict is larger, the verdict is told of the whole feature, so
that features that are alike are told alike (ours)."""

RIM_FRAC = 0.3
"""A region of which places already told make up so much is the rim around them (ours)."""

ROUND_SIDES = 8
"""A rod with so many sides is a round pin, which the check of pins judges (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ThinWall:
    """One place where a wall is below a limit.

    Attributes:
        verdict: "vanishes" (less than one bead, or than forms), "single bead", "weak" (below the
            limit for walls that carry) or "edge" (a sharp edge or tip that thins out to nothing).
        limit_mm: The limit that it is below.
        region: Where it is below that limit.
        feature: The whole thin place that it is in, below the widest limit.
    """

    verdict: Verdict
    limit_mm: float
    region: Region
    feature: Region


@dataclass(frozen=True, slots=True, kw_only=True)
class WallCheck:
    """How thick a part's walls are.

    Attributes:
        limit_mm: The widest limit; walls of that thickness are not thin.
        area_mm2: Of the surface that was measured.
        thin_area_mm2: Of it, below the limit (both sides of a wall count).
        thin_frac: Share of the area below the limit; vanish_frac that will not be made.
        least_mm: Least thickness found anywhere, a sharp edge's too.
        low_mm: 5 % of the area is thinner; at most cap_mm, up to which thickness was measured.
        walls: The thin places, the gravest verdict first, then the largest.
    """

    limit_mm: float
    cap_mm: float
    area_mm2: float
    thin_area_mm2: float
    thin_frac: float
    vanish_frac: float
    least_mm: float
    low_mm: float
    walls: tuple[ThinWall, ...]
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Level:
    """One limit and the samples below it."""

    verdict: Verdict
    limit_mm: float
    below: NDArray[np.bool_]


def check_walls(
    part: Part, recipe: Recipe, rules: Rules, *, surface: Surface | None = None
) -> WallCheck:
    """Walls below one bead, below two, and below what carries, over the whole surface.

    Where beads are laid, their width counts across the layers' plane: a wall that leans or lies
    flat is as wide there as its horizontal cut, thickness / sin(lean of its normal from the
    vertical), and vanishes only where its upright cut is below one layer. The limit for walls that
    carry holds for the thickness itself, and for a photopolymer both limits do.

    Args:
        part: As placed for printing.
        recipe: bead_mm and layer_mm are used, where beads are laid.
        rules: wall_structural_mm, and wall_least_mm for a photopolymer.
        surface: Of measure_surface, if at hand; it is measured anew where its inside cap is below
            the widest limit.
    """
    inside_mm, outside_mm = caps_for(recipe, rules)
    if surface is None or surface.inside_cap_mm < _limits(recipe, rules)[-1][1]:
        surface = measure_surface(part, inside_cap_mm=inside_mm, outside_cap_mm=outside_mm)
    levels = _levels(surface, recipe, rules)
    walls = tuple(_judge(surface, levels))
    area_mm2 = float(surface.weight_mm2.sum())
    thin_mm2, vanish_mm2 = (
        float(surface.weight_mm2[level.below].sum()) for level in (levels[-1], levels[0])
    )
    return WallCheck(
        limit_mm=levels[-1].limit_mm,
        cap_mm=surface.inside_cap_mm,
        area_mm2=area_mm2,
        thin_area_mm2=thin_mm2,
        thin_frac=thin_mm2 / area_mm2,
        vanish_frac=vanish_mm2 / area_mm2,
        least_mm=float(surface.thickness_mm.min()),
        low_mm=_percentile(surface.thickness_mm, surface.weight_mm2, 0.05),
        walls=walls,
        marks=marks_of(
            [(wall.verdict, wall.limit_mm, wall.region) for wall in walls],
            recipe,
            rules,
            area_mm2=area_mm2,
        ),
    )


def _limits(recipe: Recipe, rules: Rules) -> list[tuple[Verdict, float]]:
    """Verdicts with their limits, the narrowest first."""
    limits: list[tuple[Verdict, float]] = []
    if isinstance(recipe, ExtrusionRecipe):
        limits = [("vanishes", recipe.bead_mm), ("single bead", 2.0 * recipe.bead_mm)]
    elif isinstance(rules, VatRules):
        limits = [("vanishes", rules.wall_least_mm)]
    if not limits or rules.wall_structural_mm > limits[-1][1]:
        limits.append(("weak", rules.wall_structural_mm))
    return limits


def _levels(surface: Surface, recipe: Recipe, rules: Rules) -> list[_Level]:
    thickness = surface.thickness_mm
    slack = 1.0 - TOLERANCE_FRAC
    levels: list[_Level] = []
    for verdict, limit_mm in _limits(recipe, rules):
        below = thickness < slack * limit_mm
        if isinstance(recipe, ExtrusionRecipe) and verdict != "weak":
            upright = np.abs(surface.normals[surface.facet, 2])
            level_share = np.sqrt(np.maximum(0.0, 1.0 - upright * upright))
            below = thickness < slack * limit_mm * level_share
            below |= thickness < slack * recipe.layer_mm * upright
        if levels:
            below |= levels[-1].below
        levels.append(_Level(verdict=verdict, limit_mm=limit_mm, below=below))
    return levels


def _judge(surface: Surface, levels: Sequence[_Level]) -> list[ThinWall]:
    """One verdict for each feature, and graver ones for places in it that are far thinner."""
    widest = levels[-1]
    features = _link(surface, widest)
    home = np.full(len(surface.points_mm), -1, np.int64)
    for number, feature in enumerate(features):
        home[feature.samples] = number
    walls: list[list[ThinWall]] = [[] for _ in features]
    judged: set[int] = {-1}
    for level in levels:
        parts: dict[int, list[Region]] = {number: [] for number in range(len(features))}
        for region in features if level is widest else _link(surface, level):
            parts.setdefault(int(home[region.samples[0]]), []).append(region)
        below = np.where(level.below, surface.weight_mm2, 0.0)
        below_mm2 = np.bincount(home + 1, below, len(features) + 1)[1:]
        for number, here in parts.items():
            if number in judged:
                continue
            whole = features[number]
            told = _tell(level, here, whole, walls[number])
            decides = below_mm2[number] >= VERDICT_FRAC * whole.area_mm2
            if decides and not _tapers(whole) and all(one.verdict != "edge" for one in told):
                judged.add(number)
                if not told or max(one.region.area_mm2 for one in told) < SPOT_MM2:
                    told = [_wall(level.verdict, level, whole, whole)]
            walls[number] += told
    rank = {"vanishes": 0, "single bead": 1, "weak": 2, "edge": 3}
    kept = [
        wall
        for alike in walls
        for wall in alike
        if not _is_pin(surface, wall) and _is_new(wall, alike)
    ]
    return sorted(kept, key=lambda wall: (rank[wall.verdict], -wall.region.area_mm2))


def _tell(
    level: _Level, here: Sequence[Region], whole: Region, walls: Sequence[ThinWall]
) -> list[ThinWall]:
    """The places of a feature that are below a level: edges, and walls not told before."""
    return [
        _wall("edge" if _tapers(region) else level.verdict, level, region, whole)
        for region in here
        if _tapers(region) or not _told(region, walls)
    ]


def _link(surface: Surface, level: _Level) -> tuple[Region, ...]:
    return link_regions(surface, "thickness", level.limit_mm, chosen=level.below)


def _wall(verdict: Verdict, level: _Level, region: Region, feature: Region) -> ThinWall:
    return ThinWall(verdict=verdict, limit_mm=level.limit_mm, region=region, feature=feature)


def _tapers(region: Region) -> bool:
    """Whether it is a sharp edge or a tip, which thins out to nothing however it is drawn."""
    return region.low_mm < TAPER_FRAC * region.median_mm


def _told(region: Region, walls: Sequence[ThinWall]) -> bool:
    """Whether it is little more than a place that was judged at a narrower limit, and its rim."""
    inner = [
        wall.region.area_mm2
        for wall in walls
        if wall.verdict != "edge"
        and len(np.intersect1d(wall.region.samples, region.samples, assume_unique=True))
    ]
    return sum(inner) >= RIM_FRAC * region.area_mm2


def _is_new(wall: ThinWall, walls: Sequence[ThinWall]) -> bool:
    """Whether an edge was not told at a narrower limit, as the same edge is at every limit."""
    if wall.verdict != "edge":
        return True
    return not any(
        other is not wall
        and other.limit_mm < wall.limit_mm
        and len(np.intersect1d(other.region.samples, wall.region.samples, assume_unique=True))
        for other in walls
    )


def _is_pin(surface: Surface, wall: ThinWall) -> bool:
    """Whether it is a round pin that can be made at all; the check of pins judges it."""
    region = wall.region
    if region.kind != "rod" or wall.verdict == "vanishes":
        return False
    normals = surface.normals[np.unique(surface.facet[region.samples])]
    sides = normals[np.abs(normals @ np.array(region.axis)) < 0.1]
    return len(np.unique(np.round(sides, 2), axis=0)) >= ROUND_SIDES


def _percentile(values: NDArray[np.float64], weight: NDArray[np.float64], share: float) -> float:
    """Value below which a share of the weight lies."""
    order = np.argsort(values, kind="stable")
    summed = np.cumsum(weight[order])
    return float(values[order[np.searchsorted(summed, share * summed[-1])]])
