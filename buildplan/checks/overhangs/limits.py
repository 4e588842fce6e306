"""The limits of the overhang check, and whose they are."""

import math
from dataclasses import dataclass

from buildplan.errors import InputError
from buildplan.tables.recipe import Recipe
from buildplan.tables.rules import Rules

SLACK_FRAC = 1e-3
"""A face that leans exactly as far as allowed must hold, whatever its last digit."""

SLIGHT_BEADS = 4.0
"""A lean within so many beads of what carries it only roughens (ours)."""

BEAD_OF_PIXELS_MM = 0.4
"""What stands for a bead in vat prints: the usual least wall (ours)."""

FAR_SPAN_FACTOR = 3.0
FAR_REACH_FACTOR = 6.0
"""Bridges and cantilevers so many times their limit do not sag but fall (ours)."""

SPECK_LAYERS = 10.0
"""A tip less deep than this is a speck where it stays narrower than half a bead (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What holds without support.

    Attributes:
        least_down_frac: Downward share of the normal from which a face leans too far.
        slight_mm: Plan reach of a lean that only roughens.
        least_mm2: Smaller places are specks.
        speck_mm2: Tips smaller than this after their first layers are specks too, unless deeper
            than speck_depth_mm.
    """

    layer_mm: float
    lean_deg: float
    least_down_frac: float
    bridge_mm: float
    cantilever_mm: float
    slight_mm: float
    least_mm2: float
    speck_mm2: float
    speck_depth_mm: float


def limits_of(recipe: Recipe, rules: Rules) -> Limits:
    """Limits of a recipe and its rules.

    Raises:
        InputError: The rules are of another process, or the limit is no lean.
    """
    lean_deg = recipe.overhang_limit_deg
    if not 0.0 <= lean_deg < 90.0:
        raise InputError(
            f"recipe {recipe.key}: overhang_limit_deg is {lean_deg:g}, allowed is 0 to below 90 "
            "(lean from the vertical); set it in the recipe"
        )
    if recipe.process == "extrusion" and rules.process == "extrusion":
        bridge_mm, bead_mm = recipe.bridge_limit_mm, recipe.bead_mm
        least_mm2 = recipe.support_least_mm2
    elif recipe.process == "vat" and rules.process == "vat":
        bridge_mm, bead_mm = rules.bridge_limit_mm, BEAD_OF_PIXELS_MM
        least_mm2 = bead_mm**2
    else:
        raise InputError(
            f"rules {rules.key} are for {rules.process}, recipe {recipe.key} is for "
            f"{recipe.process}; give rules of the same process"
        )
    return Limits(
        layer_mm=recipe.layer_mm,
        lean_deg=lean_deg,
        least_down_frac=math.sin(math.atan(math.tan(math.radians(lean_deg)) * (1.0 + SLACK_FRAC))),
        bridge_mm=bridge_mm,
        cantilever_mm=rules.cantilever_limit_mm,
        slight_mm=max(rules.cantilever_limit_mm, SLIGHT_BEADS * bead_mm),
        least_mm2=least_mm2,
        speck_mm2=0.25 * bead_mm**2,
        speck_depth_mm=SPECK_LAYERS * recipe.layer_mm,
    )
