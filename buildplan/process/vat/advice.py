"""What a vat print's user should look at."""

from buildplan.findings import Finding, Place
from buildplan.process.vat.columns import Tips
from buildplan.tables import VatFeedstock, VatRules, rules_for
from buildplan.tables.recipe import VatRecipe

DRAIN_HOLES = 2
"""Holes a hollow needs: liquid out, air in. Source: common practice, no source."""


def vat_findings(
    part: str,
    recipe: VatRecipe,
    tips: Tips,
    islands: tuple[Place, ...],
    hollow_mm3: float,
    feedstock: VatFeedstock,
) -> tuple[Finding, ...]:
    """Findings on islands and hollows; the rules of the feedstock say how wide a drain must be."""
    findings = []
    if islands:
        findings.append(_on_islands(recipe, islands))
    elif not recipe.supports and tips.area_mm2 > 0.0:
        findings.append(_on_overhangs(part, tips))
    if recipe.hollow_wall_mm > 0.0:
        findings.append(_on_hollow(part, recipe, hollow_mm3, feedstock))
    return tuple(findings)


def _on_islands(recipe: VatRecipe, islands: tuple[Place, ...]) -> Finding:
    """Layers that begin in mid-air."""
    many = len(islands)
    what = f"{many} island{'s begin' if many > 1 else ' begins'} in mid-air"
    return Finding(
        check="islands",
        severity="note" if recipe.supports else "stop",
        what=what + ("; each gets a support tip" if recipe.supports else " and nothing holds it"),
        where=islands[0],
        measured=f"{many}",
        required="0 without supports",
        remedy="Turn the part so that it grows from one place, or keep supports on.",
        source="geometry: a section that touches nothing in the layer below",
    )


def _on_overhangs(part: str, tips: Tips) -> Finding:
    """Hanging area that nothing carries."""
    return Finding(
        check="overhang",
        severity="caution",
        what=f"{tips.area_mm2:.0f} mm2 lean too far and supports are off",
        where=Place(text=part),
        measured=f"{tips.area_mm2:.0f} mm2",
        required="0 mm2 without supports",
        remedy="Turn the part or switch supports on in the recipe.",
        source="recipe: overhang_limit_deg",
    )


def _on_hollow(part: str, recipe: VatRecipe, hollow_mm3: float, feedstock: VatFeedstock) -> Finding:
    """A hollow must drain, and needs room to exist."""
    wall = recipe.hollow_wall_mm
    if hollow_mm3 <= 0.0:
        return Finding(
            check="hollow",
            severity="note",
            what=f"no room for a hollow behind a wall of {wall:g} mm",
            where=Place(text=part),
            measured="0 ml",
            required=f"more than {2.0 * wall:g} mm of thickness",
            remedy="Print it solid or lower hollow_wall_mm.",
            source="geometry: the part shrunk by the wall is empty",
        )
    rules = rules_for(feedstock)
    assert isinstance(rules, VatRules)  # rules_for gives the rules of the feedstock's process
    return Finding(
        check="hollow",
        severity="note",
        what=f"a hollow of {hollow_mm3 / 1000.0:.1f} ml must drain",
        where=Place(text=part),
        measured="no drain holes counted",
        required=f"{DRAIN_HOLES} holes of {rules.drain_least_mm:g} mm in every hollow",
        remedy="Put one hole where the hollow hangs lowest, far from the platform, one opposite.",
        source="common practice, no source",
    )
