"""What is said about how a part stands, and the margin of beads that would help."""

import math
from collections.abc import Callable

import numpy as np

from buildplan.checks.marks import Mark
from buildplan.checks.stability.foot import Foot, Growth, tip_margins
from buildplan.checks.stability.model import StabilityCheck
from buildplan.errors import TableError
from buildplan.findings import Finding, Place, Severity
from buildplan.tables import source_of
from buildplan.tables.recipe import ExtrusionRecipe, Recipe
from buildplan.tables.rules import ExtrusionRules, Rules

ROUND_FRAC = 0.5
"""With less flat facet area than this share of the first layer's section, the bottom is round.

A ball or a bowl lays 0.1 of its first section flat within FLAT_LAYERS, a lying cylinder 0.32, a
cone on its tip 0.01, a foot with a chamfer nearly all (ours)."""

LOW_FRAC = 1.0
"""A part no taller than so many roots of its contact area is not levered off (ours)."""

HANGING_FRAC = 0.1
"""A vat part whose contact is below this share of its largest section may be pulled off (ours)."""

CUT_FRAC = 0.1
"""More of the height than this is not cut off for a flat foot (ours)."""

PROP_BEADS = 3
"""Margin that holds supports on which a part leans (common practice, no source)."""

BEADS_MOST = 30
"""A margin wider than this is no sensible advice (ours)."""

TIP_SLACK_DEG = 1e-6
"""Rounding of an angle that just holds."""


def marks_of(
    foot: Foot, growth: Growth, recipe: Recipe, rules: Rules, found: StabilityCheck
) -> tuple[Mark, ...]:
    """The findings about a part's stand, at most four, on the facets that touch the platform."""
    if not (isinstance(rules, ExtrusionRules) and isinstance(recipe, ExtrusionRecipe)):
        return _hanging_marks(foot, recipe, found)
    said = [
        _say_round(foot, recipe, rules, found),
        _say_lean(foot, growth, recipe, rules, found),
        _say_pieces(foot, recipe, rules),
    ]
    findings = [finding for finding in said if finding is not None]
    if said[0] is not None:  # a lean that supports prop is what comes of such a bottom
        findings = [f for f in findings if (f.check, f.severity) != ("stability", "note")]
    if said[0] is None and said[1] is None:
        slender = _say_slender(foot, recipe, rules, found)
        findings += [slender] if slender is not None else []
    narrow = said[1] is not None and found.leaves_z_mm < 0.0  # its margin holds enough as well
    slim = any(finding.what.startswith("tall") for finding in findings)
    if not (narrow or slim or any(finding.check == "adhesion" for finding in findings)):
        small = _say_small(foot, recipe, rules, found)
        findings += [small] if small is not None else []
    return tuple(Mark(finding=finding, facets=foot.facets) for finding in findings)


def reach_of_margin_mm(recipe: Recipe) -> float:
    """How far the recipe's margin reaches out from the first layer."""
    return recipe.margin_beads * recipe.bead_mm if isinstance(recipe, ExtrusionRecipe) else 0.0


def _beads_until(recipe: ExtrusionRecipe, holds: Callable[[float], bool]) -> int:
    """Margin beads from which on something holds; 0 where no sensible margin is enough."""
    for beads in range(recipe.margin_beads, BEADS_MOST + 1):
        if holds(beads * recipe.bead_mm):
            return beads
    return 0


def _rule(rules: Rules, field: str) -> str:
    """Where a limit of the rules comes from."""
    try:
        source = source_of("rule", rules.key, field)
    except TableError:
        source = "your own row"
    return f"rule {rules.key!r}, {field}: {source}"


def _place(foot: Foot, what: str) -> Place:
    """The first layer, its middle and its box on the part as its file has it."""
    x0, y0, x1, y1 = foot.whole.bounds
    x, y, z = foot.layers.origin_mm
    box = (x0 + x, y0 + y, z, x1 + x, y1 + y, z + foot.layers.layer_mm)
    middle = (0.5 * (box[0] + box[3]), 0.5 * (box[1] + box[4]), z)
    return Place(
        text=what,
        point_mm=tuple(float(value) for value in middle),
        box_mm=tuple(float(value) for value in box),
    )


def _more_beads(recipe: ExtrusionRecipe, beads: int, otherwise: str) -> str:
    """Advice to widen the margin, with its number, or other advice where none is enough."""
    if not beads:
        return otherwise
    return (
        f"Set margin_beads = {beads} (now {recipe.margin_beads}), a margin of "
        f"{beads * recipe.bead_mm:.1f} mm that is peeled off later."
    )


def _say_round(
    foot: Foot, recipe: ExtrusionRecipe, rules: ExtrusionRules, found: StabilityCheck
) -> Finding | None:
    if found.flat_mm2 >= ROUND_FRAC * found.contact_mm2:
        return None
    propped = recipe.supports and found.supported_deg >= rules.tip_least_deg - TIP_SLACK_DEG
    return Finding(
        check="adhesion",
        severity="note" if propped else "caution",
        what=(
            f"the bottom is round, uneven or pointed: {found.flat_mm2:.1f} mm2 lie flat on the "
            f"platform, the first layer is {found.contact_mm2:.1f} mm2"
        ),
        where=_place(foot, "the first layer"),
        measured=f"{found.flat_mm2:.1f} mm2 flat",
        required=f"at least {100.0 * ROUND_FRAC:g} % of the first layer",
        remedy=_flat_foot(foot, rules, supports=recipe.supports),
        source="ours: a first layer over a curved face has edges that hang in the air",
    )


def _flat_foot(foot: Foot, rules: ExtrusionRules, *, supports: bool) -> str:
    """Where to cut the bottom flat: the lowest layer with foot enough, and twice the first one."""
    layers = foot.layers
    needed = max(
        rules.contact_least_mm2,
        (layers.height_mm / rules.slenderness_limit_frac) ** 2,
        2.0 * float(foot.whole.area),
    )
    wide = np.flatnonzero(layers.area_mm2 >= needed)
    other = "keep its supports" if supports else "stand it on supports"
    if not len(wide) or layers.z_mm[wide[0]] > CUT_FRAC * layers.height_mm:
        return f"Turn the part onto a flat face, or {other} with a wide margin of beads."
    layer = int(wide[0])
    return (
        f"Cut it flat {layers.z_mm[layer]:.1f} mm above its lowest point, where the section is "
        f"{layers.area_mm2[layer]:.0f} mm2, turn it onto a flat face, or {other} with a wide "
        "margin of beads."
    )


def _say_lean(
    foot: Foot,
    growth: Growth,
    recipe: ExtrusionRecipe,
    rules: ExtrusionRules,
    found: StabilityCheck,
) -> Finding | None:
    """The part leans out over its contact, or nearly so, when done or while it grows."""
    least = rules.tip_least_deg - TIP_SLACK_DEG
    worst_deg = min(found.tip_deg, found.growing_deg)
    if worst_deg >= least or foot.layers.height_mm <= LOW_FRAC * math.sqrt(found.held_mm2):
        return None
    centres = np.vstack([growth.centre_mm, np.array([[*_own(foot, found)]])])

    def holds(reach_mm: float) -> bool:
        grown = foot.grown(reach_mm)
        if grown.area < rules.contact_least_mm2 and reach_mm > reach_of_margin_mm(recipe):
            return False
        margins = tip_margins(grown.convex_hull, centres[:, :2])
        return bool(np.degrees(np.arctan2(margins, centres[:, 2])).min() >= least)

    if holds(reach_of_margin_mm(recipe)):
        return None  # the recipe's margin of beads makes the foot wide enough
    propped = found.supported_deg >= least
    # one layer of beads stiffens a narrow foot, it does not carry what stands beside the foot
    beads = 0 if found.leaves_z_mm >= 0.0 else _beads_until(recipe, holds)
    measured = (
        f"{worst_deg:.1f} degrees; {found.growing_margin_mm:.2f} mm from the edge of the contact, "
        f"{found.contact_mm2:.0f} mm2"
    )
    if propped:
        measured += f"; {found.supported_deg:.1f} degrees with supports as feet"
    return Finding(
        check="stability",
        severity="note" if propped else "caution",
        what=_lean_words(found, worst_deg),
        where=_place(foot, "the whole part on its first layer"),
        measured=measured,
        required=f"at least {rules.tip_least_deg:g} degrees",
        remedy=_lean_remedy(recipe, beads, propped=propped),
        source=_rule(rules, "tip_least_deg"),
    )


def _lean_words(found: StabilityCheck, worst_deg: float) -> str:
    if found.leaves_z_mm >= 0.0:
        what = (
            f"leans out over its foot: the centre of mass is {-found.growing_margin_mm:.1f} mm "
            f"outside the contact, first at {found.leaves_z_mm:.1f} mm of height"
        )
        return what + (", though the finished part stands" if found.tip_margin_mm >= 0.0 else "")
    if found.growing_deg < found.tip_deg - 0.05:
        when = f"while it grows (at {found.growing_z_mm:.0f} mm of height)"
    else:
        when = "when done"
    return f"stands narrow: it tips at a lean of {worst_deg:.1f} degrees {when}"


def _lean_remedy(recipe: ExtrusionRecipe, beads: int, *, propped: bool) -> str:
    brace = "Turn it so that more of it stands on the platform, or widen its foot"
    if propped:
        return (
            "Leave the supports on, they prop it, and give them a margin of "
            f"{max(recipe.margin_beads, PROP_BEADS)} beads so that they hold."
        )
    if beads:
        return _more_beads(recipe, beads, brace + ".")
    if recipe.supports:
        return f"{brace}; neither its supports nor a margin of beads hold it."
    return f"{brace}, or put supports under the side it leans to; a margin of beads is not enough."


def _own(foot: Foot, found: StabilityCheck) -> tuple[float, float, float]:
    """The finished centre of mass in the frame of the layers."""
    x, y, z = found.centre_mm
    return (x - foot.layers.origin_mm[0], y - foot.layers.origin_mm[1], z)


def _say_slender(
    foot: Foot,
    recipe: ExtrusionRecipe,
    rules: ExtrusionRules,
    found: StabilityCheck,
) -> Finding | None:
    limit = rules.slenderness_limit_frac
    if found.slenderness_frac <= limit:
        return None
    height = foot.layers.height_mm
    needed = max((height / limit) ** 2, rules.contact_least_mm2)
    beads = _beads_until(recipe, lambda reach_mm: foot.grown(reach_mm).area >= needed)
    return Finding(
        check="stability",
        severity="caution",
        what=(
            f"tall on a small foot: {height:.0f} mm high on {found.held_mm2:.0f} mm2, the nozzle "
            "pushes its top about"
        ),
        where=_place(foot, "the whole part on its first layer"),
        measured=f"height over root of contact {found.slenderness_frac:.1f}",
        required=f"at most {limit:g}, here {needed:.0f} mm2",
        remedy=_more_beads(
            recipe, beads, "Lay the part down, or widen its foot in the design file."
        ),
        source=_rule(rules, "slenderness_limit_frac"),
    )


def _say_small(
    foot: Foot,
    recipe: ExtrusionRecipe,
    rules: ExtrusionRules,
    found: StabilityCheck,
) -> Finding | None:
    least = rules.contact_least_mm2
    if found.held_mm2 >= least or found.slenderness_frac <= LOW_FRAC:
        return None
    beads = _beads_until(recipe, lambda reach_mm: foot.grown(reach_mm).area >= least)
    severity: Severity = (
        "caution" if found.slenderness_frac > 0.5 * rules.slenderness_limit_frac else "note"
    )
    return Finding(
        check="adhesion",
        severity=severity,
        what=f"first layer holds on {found.held_mm2:.0f} mm2, {found.margin_mm:.1f} mm of margin "
        "beads counted",
        where=_place(foot, "the first layer"),
        measured=f"{found.contact_mm2:.0f} mm2 of the part, {found.held_mm2:.0f} mm2 with margin",
        required=f"at least {least:g} mm2",
        remedy=_more_beads(recipe, beads, "Widen its foot in the design file, or turn the part."),
        source=_rule(rules, "contact_least_mm2"),
    )


def _say_pieces(foot: Foot, recipe: ExtrusionRecipe, rules: ExtrusionRules) -> Finding | None:
    """Pieces of the first layer that are small even with their margin, once joined ones are one."""
    import shapely

    reach_mm = reach_of_margin_mm(recipe)
    grown = shapely.get_parts(foot.grown(reach_mm))
    if len(grown) < 2:
        return None
    least = rules.piece_least_mm2
    small = [piece for piece in grown if piece.area < least]
    if not small:
        return None
    worst = min(small, key=lambda piece: float(piece.area))

    def holds(wider_mm: float) -> bool:
        parts = shapely.get_parts(foot.grown(wider_mm))
        return bool(min(shapely.area(parts)) >= least)

    x, y = worst.centroid.coords[0]
    origin = foot.layers.origin_mm
    x, y, z = float(x + origin[0]), float(y + origin[1]), float(origin[2])
    few = "1 piece" if len(small) == 1 else f"{len(small)} pieces"
    return Finding(
        check="adhesion",
        severity="caution",
        what=(
            f"first layer has {few} of {len(grown)} that may come loose, the smallest "
            f"{worst.area:.1f} mm2 with its margin"
        ),
        where=Place(text=f"near ({x:.0f}, {y:.0f}, {z:.0f}) mm", point_mm=(x, y, z)),
        measured=f"{worst.area:.1f} mm2 ({reach_mm:.1f} mm of margin beads counted)",
        required=f"at least {least:g} mm2 a piece",
        remedy=_more_beads(
            recipe, _beads_until(recipe, holds), "Join the pieces by a thin foot under them."
        ),
        source=_rule(rules, "piece_least_mm2"),
    )


def _hanging_marks(foot: Foot, recipe: Recipe, found: StabilityCheck) -> tuple[Mark, ...]:
    """A part that hangs from its own first layer, without supports, by too little of it."""
    largest = float(foot.layers.area_mm2.max())
    if recipe.process != "vat" or recipe.supports or found.contact_mm2 >= HANGING_FRAC * largest:
        return ()
    finding = Finding(
        check="adhesion",
        severity="caution",
        what=(
            f"hangs from the platform by {found.contact_mm2:.1f} mm2 while layers of "
            f"{largest:.0f} mm2 are pulled off the film"
        ),
        where=_place(foot, "the first layer"),
        measured=f"{100.0 * found.contact_mm2 / largest:.1f} % of the largest layer",
        required=f"at least {100.0 * HANGING_FRAC:g} %",
        remedy="Turn supports on in the recipe, or stand it on a larger face.",
        source="ours: the grip must carry the pull of the film on the largest layer",
    )
    return (Mark(finding=finding, facets=foot.facets),)
