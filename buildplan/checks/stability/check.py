"""Stability: does the part stand on what touches the platform, when done and while it grows."""

import math
from dataclasses import replace

import numpy as np

from buildplan.checks.stability.foot import (
    Foot,
    Growth,
    find_foot,
    grow,
    tip_margins,
    tip_with_supports,
)
from buildplan.checks.stability.model import StabilityCheck
from buildplan.checks.stability.words import marks_of, reach_of_margin_mm
from buildplan.errors import InputError
from buildplan.part.model import Part
from buildplan.process.layers import Layers, cut_layers
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import ExtrusionRecipe, Recipe
from buildplan.tables.rules import Rules


def check_stability(
    part: Part,
    printer: Printer,
    feedstock: Feedstock,
    recipe: Recipe,
    rules: Rules,
    *,
    layers: Layers | None = None,
) -> StabilityCheck:
    """How the part stands on the platform, when done and at every height while it grows.

    Tip angle = atan(m / z), with z the height of the centre of mass and m its distance, seen from
    above, inside the convex outline of the contact. The part is taken as solid: infill moves the
    centre of mass of most parts little. Supports count as feet in
    supported_deg only.

    A vat part hangs from the platform; gravity does not tip it, so only its contact is judged.

    Args:
        part: Stands as its file places it.
        printer: Of the recipe's process; nothing else of it is used.
        feedstock: Likewise.
        recipe: layer_mm, and bead_mm and margin_beads where it lays beads.
        rules: Limits of lean, slenderness, contact and pieces.
        layers: Sections at the recipe's layer_mm, where they were cut already.

    Raises:
        InputError: Recipe, rules, printer and feedstock are of different processes.

    Source: statics of rigid bodies (a body stands while the line of its weight meets the base).
    """
    processes = {recipe.process, rules.process, printer.process, feedstock.process}
    if len(processes) > 1:
        raise InputError(
            f"stability of {part.name!r}: printer, feedstock, recipe and rules are for "
            f"{' and '.join(sorted(processes))}; all four must be of one process"
        )
    layers = layers if layers is not None else cut_layers(part, recipe.layer_mm, simplify_mm=0.0)
    foot = find_foot(part, layers)
    growth = grow(layers)
    result = _measure(part, foot, growth, recipe)
    return replace(result, marks=marks_of(foot, growth, recipe, rules, result))


def _measure(part: Part, foot: Foot, growth: Growth, recipe: Recipe) -> StabilityCheck:
    import shapely

    hull = foot.whole.convex_hull
    margins = tip_margins(hull, growth.centre_mm[:, :2])
    heights = growth.centre_mm[:, 2]
    origin = foot.layers.origin_mm
    bead_mm = recipe.bead_mm if isinstance(recipe, ExtrusionRecipe) else 0.0
    reach_mm = reach_of_margin_mm(recipe)
    # the finished part by the exact centre of mass of the mesh, where it has one
    centre = growth.centre_mm[-1]
    if part.closed and not foot.layers.united.any():
        centre = np.subtract(part.centre_of_mass_mm, origin)
    done = float(tip_margins(hull, centre[None, :2])[0])
    done_deg = math.degrees(math.atan2(done, float(centre[2])))
    lean = np.degrees(np.arctan2(margins, heights))
    worst = int(np.argmin(lean))
    growing_deg = min(float(lean[worst]), done_deg)
    supported_deg = growing_deg
    if isinstance(recipe, ExtrusionRecipe) and recipe.supports:
        supported_deg = max(
            growing_deg, tip_with_supports(part, foot, growth, recipe.overhang_limit_deg)
        )
    out = np.flatnonzero(margins < 0.0)
    areas = sorted(float(piece.area) for piece in foot.pieces)
    held = float(foot.grown(reach_mm).area)
    narrow = shapely.is_empty(shapely.buffer(foot.pieces, -0.499 * bead_mm))
    return StabilityCheck(
        flat_mm2=foot.flat_mm2,
        touching_mm2=foot.touching_mm2,
        contact_mm2=float(foot.whole.area),
        held_mm2=held,
        margin_mm=reach_mm,
        centre_mm=(
            float(centre[0] + origin[0]),
            float(centre[1] + origin[1]),
            float(centre[2]),
        ),
        tip_margin_mm=done,
        tip_deg=done_deg,
        growing_margin_mm=min(float(margins.min()), done),
        growing_deg=growing_deg,
        growing_z_mm=float(growth.z_mm[worst]),
        supported_deg=supported_deg,
        leaves_z_mm=float(growth.z_mm[out[0]]) if len(out) else -1.0,
        slenderness_frac=foot.layers.height_mm / math.sqrt(held) if held > 0.0 else math.inf,
        pieces_mm2=tuple(areas),
        thin_pieces=int(np.count_nonzero(narrow)) if bead_mm else 0,
        marks=(),
    )
