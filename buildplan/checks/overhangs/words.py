"""Overhangs in words: findings that a maker can act on."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from buildplan.checks.marks import Mark
from buildplan.checks.overhangs.columns import Columns
from buildplan.checks.overhangs.limits import FAR_REACH_FACTOR, FAR_SPAN_FACTOR, Limits
from buildplan.checks.overhangs.model import OverhangRegion
from buildplan.errors import TableError
from buildplan.findings import SEVERITIES, Finding, Place, Severity
from buildplan.tables import source_of
from buildplan.tables.recipe import Recipe
from buildplan.tables.rules import Rules

MOST_FINDINGS = 10
"""Findings in full; the rest are one more line."""

ALIKE_FRAC = 0.05
"""Places whose areas and sizes differ by less are told in one finding."""

TINY_MM2 = 1.0
"""Islands smaller than this are told in one finding."""

STEEP_DEG = 10.0
"""A lean within so much of the limit only roughens (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """Places that are alike, the largest first, and how bad they are."""

    severity: Severity
    places: tuple[OverhangRegion, ...]


def word_marks(
    regions: tuple[OverhangRegion, ...],
    columns: Columns,
    recipe: Recipe,
    rules: Rules,
    limits: Limits,
) -> tuple[Mark, ...]:
    """One mark a place (alike ones together), gravest first; with supports one for them all."""
    spoken = [r for r in regions if r.needs_support]
    if recipe.process == "vat":
        spoken = [r for r in spoken if r.kind != "island"]
    marks: list[Mark] = []
    if recipe.supports:
        least = recipe.support_least_mm2 if recipe.process == "extrusion" else 0.0
        missed = [r for r in spoken if r.kind == "island" and r.plan_mm2 < least]
        carried = [r for r in spoken if r.kind != "island" or r.plan_mm2 >= least]
        if missed:
            marks.append(_on_missed(missed, recipe, least))
        if carried:
            marks.append(_on_supports(carried, columns, recipe))
        return tuple(marks)
    groups = _group(spoken, limits)
    marks = [_mark(group, recipe, rules, limits) for group in groups[:MOST_FINDINGS]]
    rest = groups[MOST_FINDINGS:]
    if rest:
        marks.append(_on_rest(rest, recipe))
    return tuple(marks)


def _severity(region: OverhangRegion, limits: Limits) -> Severity:
    """How bad a place is that gets no support."""
    if region.kind == "island":
        return "stop"
    if region.kind == "leaning":
        slight = region.reach_mm <= 3.0 * limits.slight_mm
        return "note" if slight or region.lean_deg <= limits.lean_deg + STEEP_DEG else "caution"
    far = region.reach_mm > FAR_REACH_FACTOR * limits.cantilever_mm
    if region.kind == "bridge":
        far = far or region.span_mm > FAR_SPAN_FACTOR * limits.bridge_mm
    return "stop" if far else "caution"


def _group(regions: list[OverhangRegion], limits: Limits) -> list[_Said]:
    """Places alike in kind, area and size together; slight leans all together; gravest first."""
    groups: list[tuple[Severity, list[OverhangRegion]]] = []
    for region in regions:
        severity = _severity(region, limits)
        for known, places in groups:
            if known == severity and _alike(places[0], region, severity):
                places.append(region)
                break
        else:
            groups.append((severity, [region]))
    groups.sort(key=lambda g: (SEVERITIES.index(g[0]), -sum(r.plan_mm2 for r in g[1])))
    return [_Said(severity=severity, places=tuple(places)) for severity, places in groups]


def _alike(a: OverhangRegion, b: OverhangRegion, severity: Severity) -> bool:
    if a.kind != b.kind:
        return False
    if severity == "note" or (a.kind == "island" and max(a.plan_mm2, b.plan_mm2) < TINY_MM2):
        return True

    def near(of: Callable[[OverhangRegion], float]) -> bool:
        return abs(of(a) - of(b)) <= ALIKE_FRAC * max(of(a), of(b), 1e-9)

    return near(lambda r: r.plan_mm2) and near(lambda r: r.span_mm) and near(lambda r: r.reach_mm)


def _mark(said: _Said, recipe: Recipe, rules: Rules, limits: Limits) -> Mark:
    worst = max(said.places, key=lambda r: (r.span_mm + r.reach_mm, r.plan_mm2))
    write = {
        "island": _on_island,
        "bridge": _on_bridge,
        "cantilever": _on_cantilever,
        "leaning": _on_lean,
    }[worst.kind]
    return _join(write(worst, said, recipe, rules, limits), said.places)


def _on_island(
    worst: OverhangRegion, said: _Said, recipe: Recipe, rules: Rules, limits: Limits
) -> Finding:
    several = len(said.places) > 1
    return Finding(
        check="islands",
        severity=said.severity,
        what=(
            f"{_many(said, 'place')} of {_area(worst.plan_mm2)} begin{'' if several else 's'} in "
            f"mid-air, {worst.low_mm:.3g} mm up, with nothing below"
        ),
        where=_place(worst),
        measured=f"nothing below for {worst.low_mm:.3g} mm",
        required="part or platform below",
        remedy=(
            f"Turn supports on, turn the part over, or join this place to the part by a "
            f"{limits.lean_deg:g} degree slope."
        ),
        source="ours: a layer needs something to lie on",
    )


def _on_bridge(
    worst: OverhangRegion, said: _Said, recipe: Recipe, rules: Rules, limits: Limits
) -> Finding:
    if worst.span_mm <= limits.bridge_mm:
        return _on_cantilever(worst, said, recipe, rules, limits)
    falls = "falls" if said.severity == "stop" else "sags"
    return Finding(
        check="bridges",
        severity=said.severity,
        what=(
            f"{_many(said, 'ceiling')} of {_area(worst.plan_mm2)} must be bridged over "
            f"{worst.span_mm:.3g} mm and {falls}"
        ),
        where=_place(worst),
        measured=f"{worst.span_mm:.3g} mm from hold to hold",
        required=f"at most {limits.bridge_mm:g} mm",
        remedy=(
            f"Turn supports on, or add ribs below it at most {limits.bridge_mm:g} mm apart, or "
            f"slope it at {90.0 - limits.lean_deg:g} degrees or more from level."
        ),
        source=_bridge_source(recipe, rules),
    )


def _on_cantilever(
    worst: OverhangRegion, said: _Said, recipe: Recipe, rules: Rules, limits: Limits
) -> Finding:
    several = len(said.places) > 1
    tall = worst.reach_mm / max(math.tan(math.radians(limits.lean_deg)), 1e-6)
    remedy = "Turn supports on or turn the part over."
    if tall <= worst.low_mm:
        remedy = (
            f"Turn supports on, turn the part over, or put a {limits.lean_deg:g} degree slope "
            f"{tall:.2g} mm tall under it."
        )
    return Finding(
        check="overhangs",
        severity=said.severity,
        what=(
            f"{_many(said, 'level underside')} of {_area(worst.plan_mm2)} reach"
            f"{'' if several else 'es'} {worst.reach_mm:.3g} mm out over nothing"
        ),
        where=_place(worst),
        measured=f"{worst.reach_mm:.3g} mm beyond what holds it",
        required=f"at most {limits.cantilever_mm:g} mm",
        remedy=remedy,
        source=_rule_source(rules, "cantilever_limit_mm"),
    )


def _on_lean(
    worst: OverhangRegion, said: _Said, recipe: Recipe, rules: Rules, limits: Limits
) -> Finding:
    several = len(said.places) > 1
    lean = max(region.lean_deg for region in said.places)
    steps = ("roughen" if said.severity == "note" else "droop") + ("" if several else "s")
    low = worst.low_mm <= limits.layer_mm
    return Finding(
        check="overhangs",
        severity=said.severity,
        what=(
            f"{_many(said, 'underside')} lean{'' if several else 's'} {lean:.0f} degrees from the "
            f"vertical on average over {worst.reach_mm:.3g} mm and {steps}"
        ),
        where=_place(worst),
        measured=f"{lean:.0f} degrees",
        required=f"at most {limits.lean_deg:g} degrees",
        remedy=(
            f"Replace the rounding next to the platform by a {limits.lean_deg:g} degree slope, or "
            "turn supports on."
            if low
            else f"Turn supports on, or steepen it to {limits.lean_deg:g} degrees from the "
            "vertical (a round hole's roof to a pointed one)."
        ),
        source=f"recipe {recipe.key}, overhang_limit_deg",
    )


def _on_missed(places: list[OverhangRegion], recipe: Recipe, least: float) -> Mark:
    """Islands too small to be given a support."""
    said = _Said(severity="caution", places=tuple(places))
    worst = max(places, key=lambda r: r.plan_mm2)
    finding = Finding(
        check="islands",
        severity="caution",
        what=(
            f"{_many(said, 'place')} begin{'' if len(places) > 1 else 's'} in mid-air, "
            f"{worst.low_mm:.3g} mm up, and {'are' if len(places) > 1 else 'is'} too small to be "
            "given a support"
        ),
        where=_place(worst),
        measured=_area(worst.plan_mm2),
        required=f"support from {least:g} mm2 on",
        remedy=(
            f"Lower support_least_mm2 to {0.5 * min(r.plan_mm2 for r in places):.2g}, or flatten "
            "the tip, or turn the part over."
        ),
        source=f"recipe {recipe.key}, support_least_mm2",
    )
    return _join(finding, said.places)


def _on_supports(places: list[OverhangRegion], columns: Columns, recipe: Recipe) -> Mark:
    """Where supports go, when the recipe makes them."""
    said = _Said(severity="note", places=tuple(places))
    on_part = columns.on_part_mm2 > 0.005 * columns.carried_mm2
    lands = f", {_area(columns.on_part_mm2)} of it standing on the part" if on_part else ""
    finding = Finding(
        check="overhangs",
        severity="note",
        what=(
            f"supports carry {len(places)} place{'s' if len(places) > 1 else ''}, "
            f"{_area(columns.carried_mm2)} in plan{lands}"
        ),
        where=_place(places[0]),
        measured=f"{columns.support_mm3 / 1000.0:.3g} cm3 of space under them",
        required="as little as possible",
        remedy=(
            "Plan to reach in and to clean both ends: supports leave marks on the face they carry "
            "and on the part they stand on."
            if on_part
            else "Plan to clean the faces they carry; none of them should be one that must fit."
        ),
        source=f"recipe {recipe.key}, supports",
    )
    return _join(finding, said.places)


def _on_rest(groups: list[_Said], recipe: Recipe) -> Mark:
    places = tuple(region for group in groups for region in group.places)
    severity = groups[0].severity
    said = _Said(severity=severity, places=places)
    finding = Finding(
        check="overhangs",
        severity=severity,
        what=(
            f"and {_many(said, 'smaller place')} that need{'' if len(places) > 1 else 's'} support"
        ),
        where=_place(places[0]),
        measured=f"{_area(sum(region.plan_mm2 for region in places))} in all",
        required="within the limits above",
        remedy="Turn supports on, or try another side down.",
        source=f"recipe {recipe.key}, overhang_limit_deg",
    )
    return _join(finding, places)


def _join(finding: Finding, places: tuple[OverhangRegion, ...]) -> Mark:
    facets = np.unique(np.concatenate([region.facets for region in places]))
    facets.flags.writeable = False
    return Mark(finding=finding, facets=facets)


def _many(said: _Said, noun: str) -> str:
    count = len(said.places)
    if count > 1:
        return f"{count} {noun}s"
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


def _area(area_mm2: float) -> str:
    return f"{area_mm2:.0f} mm2" if area_mm2 >= 100.0 else f"{area_mm2:.2g} mm2"


def _place(region: OverhangRegion) -> Place:
    x, y, z = region.point_mm
    text = f"near ({_round(x)}, {_round(y)}, {_round(z)}) mm"
    return Place(text=text, point_mm=region.point_mm, box_mm=region.box_mm)


def _round(value: float) -> str:
    return f"{round(value, 1) + 0.0:g}"


def _bridge_source(recipe: Recipe, rules: Rules) -> str:
    if recipe.process == "extrusion":
        return f"recipe {recipe.key}, bridge_limit_mm"
    return _rule_source(rules, "bridge_limit_mm")


def _rule_source(rules: Rules, field: str) -> str:
    try:
        return f"rule {rules.key}, {field}: {source_of('rule', rules.key, field)}"
    except TableError:
        return f"rule {rules.key} of the build file, {field}"
