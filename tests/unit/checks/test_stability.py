"""How a part stands: closed forms of statics, and what is said to the maker.

Source of the closed forms: statics of rigid bodies. A body on a flat base bears a lean of
atan(m / z) with its centre of mass z above the base and m inside the base's convex outline.
"""

import math

import numpy as np
import pytest
import rows
import solids
from manifold3d import CrossSection, Manifold

from buildplan.checks.stability import check_stability
from buildplan.errors import InputError
from buildplan.part import part_from_mesh
from buildplan.tables import feedstock, printer, recipe, rules_for

PETG = feedstock("PETG")
RULES = rules_for(PETG)


def check(solid, **changes):
    part = part_from_mesh(*solids.arrays(solid), name="sample", health="quick")
    settings = rows.recipe(**{"layer_mm": 0.2, "bead_mm": 0.45, "margin_beads": 0, **changes})
    return check_stability(part, rows.printer(), PETG, settings, RULES)


def said(found):
    return [mark.finding for mark in found.marks]


def turned(part, axes):
    """A part with its axes exchanged in a circle."""
    return part_from_mesh(part.vertices_mm[:, axes], part.facets, name=part.name, health="quick")


def leaning_column(lean_deg=45.0, side=10.0, height=40.0):
    """A square column whose middle moves tan(lean) along x for every mm of height."""
    shift = height * math.tan(math.radians(lean_deg))
    base = solids.box(side, side, 1.0, (-side / 2, -side / 2, 0.0)).to_mesh64()
    vertices = np.array(base.vert_properties[:, :3])
    top = vertices[:, 2] > 0.5
    vertices[top] += (shift, 0.0, height - 1.0)
    return vertices, np.array(base.tri_verts, dtype=np.int64)


def test_a_square_tower_bears_the_lean_of_half_its_side_over_half_its_height():
    found = check(solids.box(5, 5, 100))
    assert found.tip_margin_mm == pytest.approx(2.5, abs=1e-9)
    assert found.tip_deg == pytest.approx(math.degrees(math.atan(2.5 / 50)), abs=1e-9)
    assert found.tip_deg == pytest.approx(2.86, abs=0.005)
    assert found.slenderness_frac == pytest.approx(20.0, rel=1e-9)
    (lean,) = said(found)
    assert (lean.check, lean.severity) == ("stability", "caution")
    assert "2.9 degrees when done" in lean.what


def test_the_margin_that_is_advised_is_enough_and_one_bead_less_is_not():
    lean = said(check(solids.box(5, 5, 100)))[0]
    beads = int(lean.remedy.split("margin_beads = ")[1].split(" ")[0])
    needed_mm = 50.0 * math.tan(math.radians(RULES.tip_least_deg)) - 2.5
    assert beads == math.ceil(needed_mm / 0.45)
    checks = [f.check for f in said(check(solids.box(5, 5, 100), margin_beads=beads))]
    assert "stability" not in checks
    less = said(check(solids.box(5, 5, 100), margin_beads=beads - 1))
    assert less[0].check == "stability"


def test_a_thin_pin_gets_one_margin_that_serves_both_its_lean_and_its_contact():
    pin = Manifold.cylinder(40.0, 2.0, 2.0, 128)
    (finding,) = said(check(pin, margin_beads=2))
    beads = int(finding.remedy.split("margin_beads = ")[1].split(" ")[0])
    needed_mm = max(20.0 * math.tan(math.radians(10.0)), math.sqrt(60.0 / math.pi)) - 2.0
    assert beads == math.ceil(needed_mm / 0.45)
    assert not check(pin, margin_beads=beads).marks


def test_a_cantilever_off_its_foot_has_its_centre_of_mass_outside():
    # foot 6 x 20 x 20 and arm 40 x 20 x 3 from x = -3 to 37: x = 2400 * 17 / 4800 = 8.5, so 5.5 out
    solid = solids.box(6, 20, 20, (-3, -10, 0)) + solids.box(40, 20, 3, (-3, -10, 20))
    found = check(solid)
    assert found.tip_margin_mm == pytest.approx(-5.5, abs=1e-6)
    assert found.growing_margin_mm == pytest.approx(-5.5, abs=1e-6)
    # in the arm of thickness t above 20: 2400 * 0 + 800 t * 17 = 3 (2400 + 800 t), t = 7200 / 11200
    assert found.leaves_z_mm == pytest.approx(20.0 + 7200 / 11200, abs=0.2)
    (finding,) = said(found)
    assert "5.5 mm outside" in finding.what
    assert "support" in finding.remedy


def test_a_counterweight_set_on_late_does_not_hide_the_lean_while_it_grows():
    # the arm goes one way first, a heavy block higher up on the other side brings it back
    solid = (
        solids.box(6, 20, 40, (-3, -10, 0))
        + solids.box(40, 20, 3, (-3, -10, 20))
        + solids.box(30, 20, 10, (-27, -10, 30))
    )
    found = check(solid)
    assert found.tip_margin_mm > 0.0
    assert found.growing_margin_mm < -3.0
    assert 20.0 < found.leaves_z_mm < 23.0
    assert "though the finished part stands" in said(found)[0].what


def test_a_leaning_column_tips_at_the_height_of_its_side_over_the_tangent():
    # centre of mass of the column up to z is z tan(lean) / 2 off; it leaves the foot at side / tan
    part = part_from_mesh(*leaning_column(), name="leaning", health="quick")
    settings = rows.recipe(layer_mm=0.1, margin_beads=0)
    found = check_stability(part, rows.printer(), PETG, settings, RULES)
    assert found.leaves_z_mm == pytest.approx(10.0, abs=0.25)
    # the foot is the section at the middle of the first layer, shifted by 0.05 mm
    assert found.tip_margin_mm == pytest.approx(5.05 - 20.0, abs=0.01)


def test_a_ball_and_a_cone_on_its_tip_have_no_flat_contact():
    for solid in (solids.sphere(20.0), Manifold.cylinder(15.0, 0.01, 15.0, 64)):
        found = check(solid)
        assert found.flat_mm2 < 0.2 * found.contact_mm2
        assert any("round, uneven or pointed" in finding.what for finding in said(found))
    ball = check(solids.sphere(20.0))
    # pi (2 R h - h^2) = 60 mm2, the least contact, at h = 0.48
    assert "Cut it flat 0.5 mm" in said(ball)[0].remedy
    # section of the ball 0.1 mm up: pi (2 R h - h^2)
    assert ball.contact_mm2 == pytest.approx(math.pi * (40.0 * 0.1 - 0.01), rel=0.03)


def test_a_cone_on_its_base_stands_and_bears_what_its_quarter_height_gives():
    found = check(Manifold.cylinder(20.0, 20.0, 0.0, 512))
    assert found.tip_deg == pytest.approx(math.degrees(math.atan(19.9 / 5.0)), abs=0.1)
    assert not found.marks


def test_supports_under_an_arm_prop_it_and_make_a_note_of_the_caution():
    solid = solids.box(6, 20, 20, (-3, -10, 0)) + solids.box(40, 20, 3, (-3, -10, 20))
    found = check(solid, supports=True, overhang_limit_deg=45.0)
    # the arm's underside widens the outline to x = 37; the foot alone, 6 wide, 20 high, is worst
    assert found.supported_deg == pytest.approx(math.degrees(math.atan(3.0 / 10.0)), abs=0.2)
    (finding,) = said(found)
    assert finding.severity == "note"
    assert "they prop it" in finding.remedy
    assert check(solid).supported_deg == check(solid).growing_deg


def test_a_column_that_leans_no_further_than_allowed_gets_no_props():
    part = part_from_mesh(*leaning_column(), name="leaning", health="quick")
    settings = rows.recipe(layer_mm=0.2, margin_beads=0, supports=True, overhang_limit_deg=45.0)
    found = check_stability(part, rows.printer(), PETG, settings, RULES)
    assert found.supported_deg == found.growing_deg < 0.0


def test_a_table_stands_on_the_outline_of_its_four_feet():
    solid = solids.box(60, 60, 4, (0, 0, 20))
    for x in (0, 54):
        for y in (0, 54):
            solid += solids.box(6, 6, 20, (x, y, 0))
    found = check(solid)
    assert found.contact_mm2 == pytest.approx(4 * 36.0, rel=1e-9)
    assert found.pieces_mm2 == pytest.approx((36.0,) * 4)
    assert found.tip_margin_mm == pytest.approx(30.0, abs=1e-6)
    assert not found.marks


def test_small_pieces_of_the_first_layer_are_one_finding_with_the_margin_that_holds_them():
    solid = solids.box(30, 30, 5, (0, 0, 4)) + solids.box(20, 30, 4)
    for y in (2, 12, 22):
        solid += solids.box(2, 2, 4, (27, y, 0))
    (finding,) = said(check(solid))
    assert "3 pieces of 4" in finding.what
    assert "smallest 4.0 mm2" in finding.what
    beads = int(finding.remedy.split("margin_beads = ")[1].split(" ")[0])
    # a square of 2 mm grown by r: 4 + 8 r + pi r^2 >= 12
    assert 4 + 8 * 0.45 * beads + math.pi * (0.45 * beads) ** 2 >= 12.0
    assert 4 + 8 * 0.45 * (beads - 1) + math.pi * (0.45 * (beads - 1)) ** 2 < 12.0
    assert not check(solid, margin_beads=beads).marks


def test_pieces_narrower_than_a_bead_are_counted():
    solid = solids.box(30, 30, 5, (0, 0, 4)) + solids.box(20, 30, 4)
    found = check(solid + solids.box(0.3, 30, 4, (26, 0, 0)))
    assert found.thin_pieces == 1


def test_a_low_washer_and_a_cube_are_not_worth_a_word():
    ring = CrossSection.circle(4.0, 64) - CrossSection.circle(2.5, 64)
    assert not check(ring.extrude(1.0)).marks
    assert not check(solids.box(20, 20, 20)).marks
    chamfered = Manifold.hull(
        solids.box(20, 20, 19.6, (0, 0, 0.4)) + solids.box(19, 19, 1, (0.5, 0.5, 0))
    )
    assert not check(chamfered).marks


@pytest.mark.parametrize("turn", [17.0, 90.0, 211.0])
def test_turning_about_z_and_moving_change_nothing(turn):
    solid = solids.box(6, 20, 20, (-3, -10, 0)) + solids.box(20, 20, 3, (-3, -10, 20))
    plain = check(solid)
    moved = check(solid.rotate((0, 0, turn)).translate((900.0, -400.0, 70.0)))
    for field in ("tip_margin_mm", "tip_deg", "growing_margin_mm", "contact_mm2", "flat_mm2"):
        assert getattr(moved, field) == pytest.approx(getattr(plain, field), abs=1e-3), field
    assert moved.centre_mm[2] == pytest.approx(plain.centre_mm[2], abs=1e-6)


def test_the_marked_facets_lie_at_the_bottom_and_are_read_only():
    found = check(solids.box(5, 5, 100))
    facets = found.marks[0].facets
    assert len(facets) == 2
    assert not facets.flags.writeable


def test_a_vat_part_hangs_and_is_judged_by_its_grip_alone():
    part = part_from_mesh(*solids.arrays(Manifold.cylinder(30.0, 1.0, 15.0, 64)), health="quick")
    resin = feedstock("standard_photopolymer")
    machine = rows.vat_printer()
    bare = check_stability(part, machine, resin, rows.vat_recipe(supports=False), rules_for(resin))
    (finding,) = said(bare)
    assert finding.check == "adhesion"
    assert "hangs from the platform" in finding.what
    held = check_stability(part, machine, resin, rows.vat_recipe(supports=True), rules_for(resin))
    assert not held.marks


def test_rows_of_two_processes_are_refused():
    part = part_from_mesh(*solids.arrays(solids.box()), health="quick")
    with pytest.raises(InputError, match="all four must be of one process"):
        check_stability(part, rows.vat_printer(), PETG, rows.recipe(), RULES)


def test_the_scanned_bunny_gets_few_words(npm_mesh):
    from buildplan.part import read_part

    part = read_part(npm_mesh("stl-models", "objects/bunny.bin.stl"), unit="m", health="quick")
    found = check_stability(part, printer("large_moving_bed"), PETG, recipe("everyday"), RULES)
    # its file lays it on its round side, with supports by the recipe
    (finding,) = said(found)
    assert (finding.check, finding.severity) == ("adhesion", "note")
    # standing up, its scanned bottom is uneven by some tenths of a millimetre
    upright = turned(part, (2, 0, 1))
    found = check_stability(upright, printer("large_moving_bed"), PETG, recipe("everyday"), RULES)
    (finding,) = said(found)
    assert "uneven" in finding.what
    cut_mm = float(finding.remedy.split("Cut it flat ")[1].split(" ")[0])
    assert 0.5 < cut_mm < 4.0
