"""Overhangs against closed forms.

A sphere's cap that leans beyond the angle a from the vertical has the area 2 pi R^2 (1 - sin a)
(Archimedes, On the Sphere and Cylinder I, propositions 42 and 43); seen from above it is a disc of
radius R cos a, and the space between it and the plane that the sphere stands on is that disc's
cylinder of height R less the half ball's part over it.
"""

import math

import pytest
import rows
import solids
from hanging_solids import as_part

from buildplan.checks.overhangs import check_overhangs
from buildplan.process.layers import cut_layers
from buildplan.tables import rules_for

RADIUS_MM = 20.0


@pytest.mark.parametrize("limit_deg", [45.0, 60.0])
def test_cap_of_a_sphere(limit_deg):
    part = as_part(solids.sphere(RADIUS_MM, segments=256))
    recipe = rows.recipe(overhang_limit_deg=limit_deg)
    found = check_overhangs(
        part, cut_layers(part, recipe.layer_mm), recipe, rules_for(rows.feedstock())
    )
    (region,) = found.regions
    lean = math.radians(limit_deg)
    disc = RADIUS_MM * math.cos(lean)
    # integral over the disc of R - sqrt(R^2 - r^2)
    below = math.pi * disc**2 * RADIUS_MM - 2.0 * math.pi / 3.0 * (
        RADIUS_MM**3 - (RADIUS_MM * math.sin(lean)) ** 3
    )
    area = 2.0 * math.pi * RADIUS_MM**2 * (1.0 - math.sin(lean))
    assert region.kind == "leaning"
    assert region.area_mm2 == pytest.approx(area, rel=0.005)
    assert region.plan_mm2 == pytest.approx(math.pi * disc**2, rel=0.005)
    assert found.support_mm3 == pytest.approx(below, rel=0.01)
    assert region.reach_mm == pytest.approx(disc, rel=0.02)
