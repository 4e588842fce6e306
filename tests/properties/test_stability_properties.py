"""Stability and warping: what must hold for any solid."""

import math

import pytest
import rows
import solids
from hypothesis import given, settings
from hypothesis import strategies as st

from buildplan.checks.stability import check_stability
from buildplan.checks.warping import check_warping
from buildplan.part import part_from_mesh
from buildplan.tables import feedstock, printer, rules_for

PETG = feedstock("PETG")
SIDE = st.floats(3.0, 60.0)


def part_of(solid):
    return part_from_mesh(*solids.arrays(solid), health="quick")


def stand(solid, **changes):
    recipe = rows.recipe(layer_mm=0.5, bead_mm=0.5, **changes)
    return check_stability(part_of(solid), rows.printer(), PETG, recipe, rules_for(PETG))


@settings(max_examples=25, deadline=None)
@given(x=SIDE, y=SIDE, z=SIDE)
def test_a_block_bears_half_its_shorter_side_over_half_its_height(x, y, z):
    found = stand(solids.box(x, y, z))
    assert found.tip_deg == pytest.approx(math.degrees(math.atan(min(x, y) / z)), abs=1e-6)
    assert found.contact_mm2 == pytest.approx(x * y, rel=1e-9)
    assert found.growing_deg <= found.tip_deg <= found.growing_deg + 1.0


@settings(max_examples=20, deadline=None)
@given(reach=st.floats(1.0, 60.0), turn=st.floats(0.0, 360.0), beads=st.integers(0, 12))
def test_any_turn_about_z_keeps_what_is_found_and_what_is_said(reach, turn, beads):
    solid = solids.box(8, 12, 30, (-4, -6, 0)) + solids.box(reach, 6, 5, (0, -3, 25))
    plain = stand(solid, margin_beads=beads)
    turned = stand(solid.rotate((0, 0, turn)).translate((-80.0, 31.0, 5.0)), margin_beads=beads)
    assert turned.tip_margin_mm == pytest.approx(plain.tip_margin_mm, abs=1e-6)
    assert turned.growing_deg == pytest.approx(plain.growing_deg, abs=1e-4)
    assert turned.held_mm2 == pytest.approx(plain.held_mm2, rel=1e-2)  # round corners of margins
    assert plain.growing_margin_mm <= plain.tip_margin_mm
    assert (plain.leaves_z_mm >= 0.0) == (plain.growing_margin_mm < 0.0)


@settings(max_examples=15, deadline=None)
@given(few=st.integers(0, 10), more=st.integers(1, 10))
def test_more_margin_never_gives_more_findings(few, more):
    solid = solids.box(4, 5, 60)
    assert len(stand(solid, margin_beads=few + more).marks) <= len(
        stand(solid, margin_beads=few).marks
    )


@settings(max_examples=20, deadline=None)
@given(x=SIDE, y=SIDE, scale=st.floats(1.1, 5.0))
def test_shrink_grows_with_the_foot_and_falls_with_a_chamber(x, y, scale):
    abs_row = feedstock("ABS")
    rules = rules_for(abs_row)
    open_frame, chamber = printer("large_moving_bed"), printer("enclosed_gantry")
    small = check_warping(part_of(solids.box(x, y, 5)), open_frame, abs_row, rules)
    large = part_of(solids.box(x * scale, y * scale, 5))
    wide = check_warping(large, open_frame, abs_row, rules)
    assert wide.shrink_mm == pytest.approx(scale * small.shrink_mm, rel=1e-9)
    assert check_warping(large, chamber, abs_row, rules).shrink_mm < wide.shrink_mm
