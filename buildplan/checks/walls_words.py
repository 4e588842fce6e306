"""The findings on thin walls, in words."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import Mark
from buildplan.checks.regions import Region
from buildplan.errors import TableError
from buildplan.findings import Finding, Place, Severity
from buildplan.tables import source_of
from buildplan.tables.recipe import ExtrusionRecipe, Recipe
from buildplan.tables.rules import Rules

MOST = 4
"""Places of one verdict that get a finding each; the others are summed up in the last of them."""

SAME_FRAC, SAME_AREA_FRAC = 0.05, 0.5
"""Walls are alike up to such a difference in thickness, and down to such a share of the area."""

CRUMB_MM2, CRUMB_FRAC = 5.0, 0.005
"""Thin places smaller than this, both sides together, or than this share of the whole surface
where that is less, are summed up in one note: they go into the beads' own rounding (ours)."""

STOP_MM2 = 20.0
"""A wall that will not be made over more than this, both sides together, stops the print; a
smaller one is worth a look (ours)."""

Told = tuple[str, float, Region]
"""Verdict, limit in mm, and the region below it."""


def marks_of(
    walls: Sequence[Told], recipe: Recipe, rules: Rules, *, area_mm2: float
) -> tuple[Mark, ...]:
    """A mark for thin walls that are alike, the gravest first, and one for all sharp edges.

    ``area_mm2`` is the whole surface's: what is a crumb of it is only summed up.
    """
    crumb_mm2 = min(CRUMB_MM2, CRUMB_FRAC * area_mm2)
    marks = []
    for verdict in ("vanishes", "single bead", "weak"):
        groups = _alike(
            [wall for wall in walls if wall[0] == verdict and wall[2].area_mm2 >= crumb_mm2]
        )
        for number, group in enumerate(groups[:MOST]):
            more = [wall for rest in groups[MOST:] for wall in rest] if number == MOST - 1 else []
            marks.append(_on_walls(group, more, recipe, rules))
    crumbs = [wall for wall in walls if wall[0] != "edge" and wall[2].area_mm2 < crumb_mm2]
    if sum(wall[2].area_mm2 for wall in crumbs) >= crumb_mm2:
        marks.append(_on_crumbs(crumbs, recipe, rules))
    edges = [wall for wall in walls if wall[0] == "edge"]
    if sum(wall[2].area_mm2 for wall in edges) >= crumb_mm2:
        marks.append(_on_edges(edges, recipe, rules))
    return tuple(marks)


def _alike(walls: Sequence[Told]) -> list[list[Told]]:
    """Walls of one verdict in groups of the same kind, thickness and about the same area."""
    groups: list[list[Told]] = []
    for wall in walls:
        for group in groups:
            first = group[0][2]
            if (
                first.kind == wall[2].kind
                and math.isclose(first.low_mm, wall[2].low_mm, rel_tol=SAME_FRAC)
                and wall[2].area_mm2 >= SAME_AREA_FRAC * first.area_mm2
            ):
                group.append(wall)
                break
        else:
            groups.append([wall])
    return groups


def _on_walls(group: Sequence[Told], more: Sequence[Told], recipe: Recipe, rules: Rules) -> Mark:
    verdict, limit_mm, region = group[0]
    low_mm = region.low_mm
    fate = {
        "vanishes": _vanishing(recipe, limit_mm),
        "single bead": "prints as a single bead",
        "weak": "carries little load",
    }[verdict]
    remedy = {
        "vanishes": f"Make it at least {_enough(verdict, recipe, rules):.2g} mm thick"
        + (", or choose a narrower bead." if isinstance(recipe, ExtrusionRecipe) else "."),
        "single bead": f"Make it at least {_enough(verdict, recipe, rules):.2g} mm, two beads, "
        "thick; leave it only where it carries nothing.",
        "weak": f"Make it at least {_enough(verdict, recipe, rules):.2g} mm thick where it is "
        "loaded; leave it where it only covers.",
    }[verdict]
    severity: Severity = "caution"
    area_mm2 = sum(wall[2].area_mm2 for wall in group)
    if verdict == "vanishes" and area_mm2 >= STOP_MM2:
        severity = "stop"
    least = f", {region.least_mm:.2f} mm at the thinnest" if region.least_mm < 0.9 * low_mm else ""
    what = (
        f"{_noun(region)} {low_mm:.2f} mm thick{least}, {_area(region.area_mm2)} of surface, {fate}"
    )
    if len(group) > 1:
        what += f"; so do {len(group) - 1} more like it"
    if more:
        what += f"; and {len(more)} smaller place{'s' if len(more) > 1 else ''}"
    return Mark(
        finding=Finding(
            check="walls",
            severity=severity,
            what=what,
            where=_place(region),
            measured=f"{low_mm:.2f} mm",
            required=f"at least {limit_mm:.3g} mm",
            remedy=remedy,
            source=_source(verdict, recipe, rules),
        ),
        facets=_facets([wall[2] for wall in (*group, *more)]),
    )


def _on_crumbs(crumbs: Sequence[Told], recipe: Recipe, rules: Rules) -> Mark:
    """One note for all places too small for a finding each."""
    verdict, limit_mm, region = crumbs[0]
    area_mm2 = sum(wall[2].area_mm2 for wall in crumbs)
    places = "1 small place" if len(crumbs) == 1 else f"{len(crumbs)} small places"
    return Mark(
        finding=Finding(
            check="walls",
            severity="note",
            what=f"{places} thinner than {max(wall[1] for wall in crumbs):.3g} mm, "
            f"{_area(area_mm2)} of surface together, may not come out",
            where=_place(region),
            measured=f"{region.low_mm:.2f} mm",
            required=f"at least {limit_mm:.3g} mm",
            remedy="Look at them in the picture; thicken those that matter to "
            f"{_enough(verdict, recipe, rules):.2g} mm.",
            source=_source(verdict, recipe, rules),
        ),
        facets=_facets([wall[2] for wall in crumbs]),
    )


def _on_edges(edges: Sequence[Told], recipe: Recipe, rules: Rules) -> Mark:
    """One note for all sharp edges and tips."""
    _, limit_mm, region = max(edges, key=lambda wall: wall[2].area_mm2)
    area_mm2 = sum(wall[2].area_mm2 for wall in edges)
    count = "a sharp edge or tip thins" if len(edges) == 1 else f"{len(edges)} sharp edges thin"
    return Mark(
        finding=Finding(
            check="walls",
            severity="note",
            what=f"{count} out to nothing: {_area(area_mm2)} of surface is below {limit_mm:.3g} mm "
            "and prints blunt",
            where=_place(region),
            measured=f"{region.least_mm:.2f} mm at the thinnest",
            required=f"at least {limit_mm:.3g} mm",
            remedy=f"Nothing to do where a blunt edge serves; else end it {limit_mm:.3g} mm thick.",
            source=_source("vanishes", recipe, rules),
        ),
        facets=_facets([wall[2] for wall in edges]),
    )


def _vanishing(recipe: Recipe, limit_mm: float) -> str:
    if isinstance(recipe, ExtrusionRecipe):
        return f"will vanish: it is less than one bead of {limit_mm:g} mm"
    return "does not form or tears off"


def _enough(verdict: str, recipe: Recipe, rules: Rules) -> float:
    """Thickness to advise: never one that the next limit would find too thin again."""
    if isinstance(recipe, ExtrusionRecipe) and verdict == "single bead":
        return 2.0 * recipe.bead_mm
    if isinstance(recipe, ExtrusionRecipe):
        return max(rules.wall_structural_mm, 2.0 * recipe.bead_mm)
    return rules.wall_structural_mm


def _noun(region: Region) -> str:
    return {"sheet": "a wall", "rod": "a bar", "blob": "a small piece"}[region.kind]


def _area(area_mm2: float) -> str:
    return f"{area_mm2:.0f} mm²" if area_mm2 >= 10.0 else f"{area_mm2:.1f} mm²"


def _place(region: Region) -> Place:
    x, y, z = region.point_mm
    return Place(
        text=f"near ({x:.4g}, {y:.4g}, {z:.4g}) mm",
        point_mm=region.point_mm,
        box_mm=region.box_mm,
    )


def _source(verdict: str, recipe: Recipe, rules: Rules) -> str:
    if isinstance(recipe, ExtrusionRecipe) and verdict != "weak":
        return f"recipe {recipe.key}, bead_mm"
    field = "wall_structural_mm" if verdict == "weak" else "wall_least_mm"
    try:
        return f"rule {rules.key}, {field}: {source_of('rule', rules.key, field)}"
    except TableError:
        # a row of the build file's own: its sources are there
        return f"rule {rules.key}, {field}"


def _facets(regions: Sequence[Region]) -> NDArray[np.int64]:
    facets = np.unique(np.concatenate([region.facets for region in regions]))
    facets.flags.writeable = False
    return facets
