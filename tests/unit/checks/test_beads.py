"""Beads: what one bead cannot fill, gathered into places, and what is said about it."""

import gap_solids as gs
import numpy as np
import pytest
import rows
from manifold3d import CrossSection, Manifold
from solids import box

from buildplan.checks.beads import check, check_beads
from buildplan.checks.beads.model import NARROWEST_BEADS
from buildplan.checks.marks import findings_of
from buildplan.process.layers import cut_layers
from buildplan.process.walls import fallback, plan_walls


@pytest.mark.parametrize(
    ("solid", "bead_mm"),
    [
        (lambda: box(40, 40, 40), 1.2),
        (lambda: box(40, 40, 40) - box(37.6, 37.6, 37.6, (1.2,) * 3), 0.45),
        (lambda: box(40, 40, 40) - box(37.6, 37.6, 37.6, (1.2,) * 3), 1.2 / 1.02),
        (lambda: box(40, 0.45, 10), 0.45),
        (gs.board, 0.45),
        (gs.engraved, 0.45),
        (gs.ribbed, 1.15),
        (gs.louvred, 0.45),
        (lambda: Manifold.cylinder(20, 5, 0, 48), 0.45),
    ],
)
def test_corners_and_walls_of_a_bead_or_more_are_no_places(solid, bead_mm):
    found = gs.beads_of(solid(), bead_mm)
    assert found.places == () == found.marks
    assert found.thin_mm3 == 0.0


def test_a_thin_fin_is_one_place_over_all_its_layers():
    found = gs.beads_of(gs.fins(), 0.5)
    wider, narrower = found.places
    assert wider.volume_mm3 == pytest.approx(0.4 * 20 * 15, rel=0.001)
    assert narrower.volume_mm3 == pytest.approx(0.3 * 20 * 15, rel=0.001)
    assert narrower.width_mm == pytest.approx(0.3, abs=0.003)
    assert narrower.length_mm == pytest.approx(20.0, abs=0.05)
    assert (narrower.low_mm, narrower.high_mm) == pytest.approx((3.0, 18.0))
    assert narrower.layers == found.thin_layers == 75
    assert narrower.lost
    assert not wider.lost


def test_places_stand_in_the_parts_own_coordinates():
    solid = gs.fins().translate((100.0, -50.0, 7.0))
    narrower = gs.beads_of(solid, 0.5).places[1]
    assert narrower.box_mm == pytest.approx((102.0, -50.0, 7.0, 102.3, -30.0, 22.0), abs=0.01)
    low, high = np.array(narrower.box_mm).reshape(2, 3)
    assert (low < narrower.point_mm).all()
    assert (narrower.point_mm < high).all()


def test_what_no_bead_can_fill_is_a_caution_and_a_squeezed_bead_a_note():
    caution, note = findings_of(gs.beads_of(gs.fins(), 0.5).marks)
    assert (caution.severity, note.severity) == ("caution", "note")
    assert "0.30 mm wide and 20.0 mm long" in caution.what
    assert "over 15.0 mm of height" in caution.what
    assert "squeezed" in note.what
    assert caution.required == "at least 0.5 mm, one bead (0.30 mm squeezed)"
    assert "1.2 mm where it carries load" in caution.remedy
    assert {one.check for one in (caution, note)} == {"beads"}
    assert caution.where.text.endswith("3.0 to 18.0 mm up")


def test_places_alike_are_told_once_with_their_number():
    found = gs.beads_of(gs.fins((0.25,) * 6), 0.45)
    assert len(found.places) == 6
    (finding,) = findings_of(found.marks)
    assert finding.what.endswith("; 5 more places like it")


def test_places_that_walls_have_told_get_no_mark():
    body = gs.fins()
    narrower = gs.beads_of(body, 0.5).places[1]
    told = gs.beads_of(body, 0.5, told_mm=[narrower.box_mm])
    assert len(told.places) == 2
    (finding,) = findings_of(told.marks)
    assert finding.what.startswith("a strip 0.40 mm wide")
    assert gs.beads_of(body, 0.5, told_mm=[p.box_mm for p in told.places]).marks == ()


def test_a_pin_thinner_than_a_bead_is_a_place_and_the_tip_of_a_cone_is_not():
    pin = box(10, 10, 2) + gs.peg(0.4, 7, (5, 5, 2))
    (place,) = gs.beads_of(pin).places
    assert place.high_mm - place.low_mm == pytest.approx(7.0)
    assert gs.beads_of(Manifold.cylinder(20, 5, 0, 48)).places == ()


def test_a_leaning_thin_wall_is_one_place():
    leaning = CrossSection([[(0, 0), (0.3, 0), (8.3, 10), (8.0, 10)]]).extrude(20)
    found = gs.beads_of(leaning.rotate((90, 0, 0)))
    (place,) = found.places
    assert place.volume_mm3 == pytest.approx(0.3 * 10 * 20, rel=0.01)


def test_a_ridge_of_less_height_than_a_bead_is_no_place():
    roof = CrossSection([[(0, 0), (20, 0), (10, 8)]]).extrude(30).rotate((90, 0, 0))
    assert gs.beads_of(roof).places == ()
    crest = gs.bar(8, 20).rotate((90, 0, 0))
    assert gs.beads_of(crest).places == ()


def test_sound_islands_left_out_change_nothing(monkeypatch):
    for solid in (gs.board(), gs.fins(), gs.wedge(), gs.ribbed()):
        quick = gs.beads_of(solid, 0.8, 0.4)
        monkeypatch.setattr(check, "SURE_BEADS", np.inf)
        full = gs.beads_of(solid, 0.8, 0.4)
        monkeypatch.undo()
        assert quick.places == full.places


def test_the_walls_of_an_estimate_and_the_workers_change_nothing():
    layers = cut_layers(gs.as_part(gs.fins()), 0.2)
    recipe = rows.recipe(bead_mm=0.5)
    plain = check_beads(layers, recipe, gs.RULES)
    walls = plan_walls(layers, recipe)
    assert check_beads(layers, recipe, gs.RULES, walls=walls).places == plain.places
    assert check_beads(layers, recipe, gs.RULES, workers=2).places == plain.places


def test_places_lie_in_islands_that_the_walls_call_thin_too():
    layers = cut_layers(gs.as_part(gs.fins()), 0.2)
    recipe = rows.recipe(bead_mm=0.5)
    thin = plan_walls(layers, recipe).thin_mm < recipe.bead_mm
    layer_of = np.repeat(np.arange(len(layers.z_mm)), np.diff(layers.layer_off))
    assert len(np.unique(layer_of[thin])) == check_beads(layers, recipe, gs.RULES).thin_layers


def test_the_narrowest_bead_is_the_one_that_the_walls_lay():
    assert NARROWEST_BEADS == fallback.LEAST_WIDTH


def test_a_part_far_away_or_of_finer_facets_has_the_same_places():
    plain = [place.volume_mm3 for place in gs.beads_of(gs.fins(), 0.5).places]
    recipe = rows.recipe(bead_mm=0.5)
    far = gs.turned(gs.fins(), (1, 0, 0, 0), shift=(1e5, -1e5, 1e5))
    fine = gs.as_part(gs.fins().refine(4))
    for part in (far, fine):
        found = check_beads(cut_layers(part, 0.2), recipe, gs.RULES)
        assert [place.volume_mm3 for place in found.places] == pytest.approx(plain, rel=0.001)


def test_a_part_turned_about_z_has_the_same_places():
    straight = gs.beads_of(gs.fins(), 0.5)
    turned = gs.beads_of(gs.fins().rotate((0, 0, 33.0)), 0.5)
    assert [p.volume_mm3 for p in turned.places] == pytest.approx(
        [p.volume_mm3 for p in straight.places], rel=0.001
    )
