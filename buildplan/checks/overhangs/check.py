"""Part, layers, recipe, rules -> OverhangCheck."""

import numpy as np

from buildplan.checks.overhangs.columns import measure_columns
from buildplan.checks.overhangs.judge import judge_regions
from buildplan.checks.overhangs.limits import limits_of
from buildplan.checks.overhangs.model import OverhangCheck
from buildplan.checks.overhangs.surface import find_lows, find_steep
from buildplan.checks.overhangs.words import word_marks
from buildplan.part.model import Part
from buildplan.process.layers import Layers
from buildplan.tables.recipe import Recipe
from buildplan.tables.rules import Rules


def check_overhangs(part: Part, layers: Layers, recipe: Recipe, rules: Rules) -> OverhangCheck:
    """What of a part hangs free as it stands: bridges, cantilevers, islands, faces that lean.

    Regions are the connected facets that lean beyond recipe.overhang_limit_deg, so areas and
    outlines are those of the mesh, whatever the layers. A border edge holds where the surface
    beyond it goes on downwards. Strips in one direction that run from hold to hold carry what they
    cross; the direction that carries most, at the shortest span, decides: with more than 0.6 of
    the plan carried a level region is a bridge, else a cantilever. An island is a lowest place of
    the surface above the platform. Supports are counted straight down.

    A vat part's islands are regions here without a mark of their own: check_trapped words them.

    Args:
        part: Closed, shells united; an open edge counts as free.
        layers: Of the part; their origin is the height of the platform.
        recipe: Limits of lean and bridge, and whether supports are made.
        rules: Of the recipe's process.

    Raises:
        InputError: Rules of another process, or a limit that is no lean.
    """
    limits = limits_of(recipe, rules)
    steep = find_steep(part, limits)
    shift = np.array([0.0, 0.0, float(layers.origin_mm[2])])
    regions = judge_regions(steep, find_lows(steep, limits), limits, shift)
    columns = measure_columns(steep, regions)
    return OverhangCheck(
        part=part.name,
        marks=word_marks(regions, columns, recipe, rules, limits),
        regions=regions,
        overhang_mm2=float(steep.area_mm2[steep.label >= 0].sum()),
        carried_mm2=columns.carried_mm2,
        support_mm3=columns.support_mm3,
        on_part_mm2=columns.on_part_mm2,
        contact_mm2=steep.contact_mm2,
    )
