"""Gaps, holes and pins: one of each feature, its figures, and what is said about it."""

from dataclasses import replace

import gap_solids as gs
import numpy as np
import pytest
import rows
import solids
from manifold3d import CrossSection, Manifold
from solids import box

from buildplan.checks.gaps import check_gaps
from buildplan.checks.marks import findings_of
from buildplan.checks.surface import measure_surface
from buildplan.tables import rules

WIDE = replace(gs.RULES, gap_moving_mm=1.2)


def said(found, check):
    return [one for one in findings_of(found.marks) if one.check == check]


@pytest.fixture(scope="module")
def board():
    return gs.gaps_of(gs.board(), WIDE)


def test_every_slot_hole_and_pin_of_the_board_is_one_item(board):
    assert len(board.gaps) + len(board.holes) == 9
    assert len(board.pins) == 3


def test_slots_have_their_exact_width_and_area(board):
    by_width = sorted(board.gaps, key=lambda gap: gap.least_mm)
    for width, gap in zip(gs.SLOTS, by_width, strict=True):
        assert (gap.least_mm, gap.low_mm, gap.median_mm) == pytest.approx([width] * 3, abs=1e-9)
        assert gap.area_mm2 == pytest.approx(144.0, abs=1e-9)
        assert not gap.two_bodies


def test_holes_and_pins_have_the_diameter_that_was_drawn(board):
    drawn = sorted(hole.drawn_mm for hole in board.holes)
    assert drawn == pytest.approx(gs.HOLES, rel=1e-6)
    thick = sorted(pin.diameter_mm for pin in board.pins)
    assert thick == pytest.approx(gs.PINS, rel=1e-6)
    assert [hole.depth_mm for hole in board.holes] == pytest.approx([6.0] * 3)
    assert all(hole.through and hole.upright for hole in board.holes)
    assert [pin.length_mm for pin in board.pins] == pytest.approx([9.0] * 3)


def test_facets_are_those_of_the_feature(board):
    part = gs.as_part(gs.board())
    centre = part.vertices_mm[part.facets].mean(axis=1)
    for item in (*board.gaps, *board.holes, *board.pins):
        assert len(item.facets)
        assert (np.diff(item.facets) > 0).all()
        assert not item.facets.flags.writeable
        low, high = np.array(item.box_mm).reshape(2, 3)
        # a slot's large facets reach beyond its samples by less than a pitch
        assert (centre[item.facets] > low - 2.0).all()
        assert (centre[item.facets] < high + 2.0).all()


@pytest.mark.parametrize(
    "solid",
    [
        box,
        lambda: solids.sphere(segments=64),
        gs.ribbed,
        gs.louvred,
        gs.engraved,
        lambda: solids.tube(10.0, 8.0, 10.0, 64),
    ],
)
def test_plain_solids_louvres_ribs_and_engravings_have_none(solid):
    found = gs.gaps_of(solid())
    assert (found.gaps, found.holes, found.pins, found.marks) == ((), (), (), ())


def test_a_fine_engraving_is_a_note_about_gaps_and_no_hole():
    found = gs.gaps_of(gs.engraved(wide=0.3))
    assert found.holes == ()
    (note,) = said(found, "gaps")
    assert note.severity == "note"
    assert note.what.endswith("may close in places; 3 more gaps like it")


def test_grooves_and_bosses_that_close_to_nothing_are_no_gaps():
    groove = CrossSection([[(0, 0), (0.6, 3), (-0.6, 3)]]).extrude(60)
    vee = box(40, 20, 5) - groove.rotate((90, 0, 0)).translate((20, 30, 3))
    beside = box(40, 3, 20) + gs.bar(8, 20, 64).translate((20, -3.98, 10))
    assert gs.gaps_of(vee).gaps == ()
    assert gs.gaps_of(beside).gaps == ()


def test_the_slots_that_fuse_are_a_caution_and_those_that_may_a_note():
    caution, note = said(gs.gaps_of(gs.board()), "gaps")
    assert (caution.severity, note.severity) == ("caution", "note")
    assert caution.what == "a gap of 0.15 mm over 72 mm² closes up"
    assert note.what == "a gap of 0.20 mm over 72 mm² may close in places; 1 more gap like it"
    assert "0.4 mm" in caution.remedy


@pytest.mark.parametrize(("play", "severity"), [(0.15, "stop"), (0.3, "caution"), (0.5, None)])
def test_a_pivot_in_one_file_is_a_gap_between_two_bodies(play, severity):
    found = gs.gaps_of(gs.pivot(play))
    told = said(found, "gaps")
    if severity is None:
        assert found.gaps == ()
        return
    (finding,) = told
    assert finding.severity == severity
    assert "between two bodies" in finding.what
    (gap,) = found.gaps
    assert gap.two_bodies
    assert gap.low_mm == pytest.approx(play, rel=0.01)
    assert gap.area_mm2 == pytest.approx(2 * np.pi * (2 + 2 + play) * 10, rel=0.03)


def test_bodies_that_touch_are_told_to_print_as_one():
    pair = box(10, 10, 5) + box(10, 10, 5, (0, 0, 5.02))
    (finding,) = said(gs.gaps_of(pair), "gaps")
    assert finding.severity == "caution"
    assert finding.what == "two bodies touch over 100 mm² and print as one"


def test_a_hole_that_is_taken_by_another_body_is_no_hole():
    assert gs.gaps_of(gs.pivot(0.15)).holes == ()


def test_bodies_side_by_side_are_told_apart_from_slots():
    pair = box(10, 10, 5) + box(10, 10, 5, (0, 0, 5.15))
    pair += box(10, 10, 5, (30, 0, 0)) + box(10, 10, 10, (40.3, 0, 0))
    near, far = sorted(gs.gaps_of(pair).gaps, key=lambda gap: gap.low_mm)
    assert near.two_bodies
    assert far.two_bodies
    assert near.area_mm2 == pytest.approx(200.0, rel=0.01)
    assert far.area_mm2 == pytest.approx(100.0, rel=0.03)  # and a strip above the edge


def test_holes_of_a_screw_plate_with_their_depths_and_ends():
    found = gs.gaps_of(gs.screw_plate())
    holes = {(round(h.drawn_mm, 3), round(h.depth_mm, 3), h.through) for h in found.holes}
    assert holes == {(3.4, 10.0, True), (3.4, 6.0, True), (3.0, 6.0, False), (2.5, 10.0, True)}
    assert len(found.holes) == 5  # two blind ones alike; the hex socket is none


def test_the_printed_diameter_is_narrower_and_more_so_lying():
    body = box(20, 20, 20) - gs.bar(3.0, 60).translate((5, 5, 0))
    body -= gs.bar(3.0, 60).rotate((0, 90, 0)).translate((0, 14, 14))
    by_way = {hole.upright: hole for hole in gs.gaps_of(body).holes}
    assert by_way[True].printed_mm == pytest.approx(3.0 - gs.RULES.hole_shrink_mm)
    assert by_way[False].printed_mm == pytest.approx(3.0 - gs.RULES.hole_lying_shrink_mm)
    assert by_way[False].axis == pytest.approx((1.0, 0.0, 0.0), abs=1e-9)


@pytest.mark.parametrize(("lean", "upright"), [(29.0, True), (31.0, False)])
def test_a_hole_that_leans_by_thirty_degrees_lies(lean, upright):
    body = box(30, 30, 10, (-15, -15, -5)) - gs.bar(3.0, 60).rotate((0, lean, 0))
    (hole,) = gs.gaps_of(body).holes
    assert hole.upright is upright
    assert hole.drawn_mm == pytest.approx(3.0, rel=1e-6)


def test_what_is_said_about_a_hole_names_the_drawing_and_the_drill():
    body = box(60, 20, 6)
    for x in range(5, 60, 10):
        body -= gs.bar(3.4, 40).translate((x, 10, 0))
    (finding,) = said(gs.gaps_of(body), "holes")
    assert finding.severity == "note"
    assert finding.what == (
        "an upright hole of 3.40 mm (through) prints about 3.20 mm wide; 5 more holes like it"
    )
    assert finding.remedy == (
        "Draw it 3.60 mm wide, or ream it with a 3.4 mm drill, where the fit matters."
    )
    assert finding.source.startswith("rule extrusion, hole_shrink_mm: common practice")


def test_a_hole_below_the_least_closes_and_one_of_exactly_the_least_does_not():
    body = box(20, 10, 4) - gs.bar(0.9, 40).translate((5, 5, 0))
    body -= gs.bar(1.0, 40).translate((12, 5, 0))
    found = gs.gaps_of(body)
    assert sorted(hole.printed_mm for hole in found.holes) == pytest.approx([0.0, 0.8])
    closes, note = said(found, "holes")
    assert closes.severity == "caution"
    assert "closes up" in closes.what
    assert "0.9 mm drill" in closes.remedy
    assert note.severity == "note"


def test_many_kinds_of_holes_are_summed_up():
    body = box(200, 20, 5)
    for i in range(20):
        body -= gs.bar(1.5 + 0.2 * i, 40, 24).translate((6 + 10 * i, 10, 0))
    told = said(gs.gaps_of(body), "holes")
    assert len(told) == 9
    assert told[-1].what == "12 more holes of 3.1 to 5.3 mm print narrower than drawn"


def test_wide_holes_and_closed_cavities_are_not_listed():
    body = box(40, 40, 20) - gs.bar(6.5, 60).translate((10, 10, 0))
    body -= gs.bar(4.0, 10).translate((30, 30, 10))
    assert gs.gaps_of(body).holes == ()


def test_upright_pins_snap_lying_ones_are_weak_and_knobs_are_left_alone():
    foot = box(30, 30, 3)
    upright = foot + gs.peg(2.0, 8, (8, 8, 3))
    lying = (
        foot + box(3, 3, 10, (0, 0, 0)) + gs.bar(2.0, 14).rotate((0, 90, 0)).translate((7, 1.5, 8))
    )
    knob = foot + gs.peg(2.6, 2.6, (8, 8, 3))
    (snaps,) = said(gs.gaps_of(upright), "pins")
    (weak,) = said(gs.gaps_of(lying), "pins")
    assert (snaps.severity, weak.severity) == ("caution", "note")
    assert snaps.what == "an upright pin of 2.00 mm, 8.0 mm long, snaps off between two layers"
    assert "metal pin" in snaps.remedy
    assert gs.gaps_of(knob).pins == ()


def test_a_pin_below_two_beads_is_told_so():
    body = box(20, 20, 3) + gs.peg(0.8, 6, (8, 8, 3))
    (finding,) = said(gs.gaps_of(body), "pins")
    assert "thinner than two beads" in finding.what
    assert finding.required == "at least 3 mm (0.9 mm are two beads)"


def test_a_pin_below_one_bead_is_left_to_the_check_of_walls():
    body = box(20, 20, 3) + gs.peg(0.4, 6, (8, 8, 3))
    found = gs.gaps_of(body)
    assert len(found.pins) == 1
    assert said(found, "pins") == []


def test_a_tube_is_no_pin():
    body = box(20, 20, 3) + gs.peg(2.8, 8, (8, 8, 3)) - gs.bar(1.6, 30).translate((8, 8, 5))
    assert gs.gaps_of(body).pins == ()


def test_a_rounded_bottom_and_a_rounded_tip_are_left_out():
    ball = Manifold.sphere(2, 48)
    pocket = box(20, 20, 15) - (gs.bar(4, 16) + ball.translate((0, 0, -8))).translate((10, 10, 15))
    (hole,) = gs.gaps_of(pocket).holes
    assert (hole.drawn_mm, hole.depth_mm) == pytest.approx((4.0, 8.0), rel=1e-6)
    assert not hole.through
    tip = Manifold.sphere(1, 48).translate((8, 8, 11))
    (pin,) = gs.gaps_of(box(20, 20, 3) + gs.peg(2, 8, (8, 8, 3)) + tip).pins
    assert (pin.diameter_mm, pin.length_mm) == pytest.approx((2.0, 8.0), rel=1e-6)


def test_raised_letters_and_dimples_are_no_holes():
    body = box(40, 20, 3)
    for x, radius in ((8, 2.5), (16, 1.4), (24, 3.5)):
        body += gs.ring_groove(radius, 0.8, 0.8, 0.8).translate((x, 10, 2.2))
    body -= gs.bar(1.2, 1.2).translate((34, 10, 3))
    assert gs.gaps_of(body).holes == ()


def test_threads_honeycombs_chains_and_notches_are_no_holes():
    grooves = [(0, 0)]
    for k in range(15):
        grooves += [(4, k), (3.4, k + 0.5)]
    thread = Manifold.revolve(CrossSection([[*grooves, (4, 15), (0, 15)]]), 48)
    honeycomb = box(30, 30, 4)
    for i in range(7):
        for j in range(8):
            cell = gs.bar(3.2, 20, 6).translate((5 + 3.2 * i + 1.6 * (j % 2), 5 + 2.8 * j, 0))
            honeycomb -= cell
    notched = box(30, 30, 4) - gs.bar(3, 20).translate((30, 20, 0))
    keyhole = notched - gs.bar(5, 20).translate((10, 10, 0)) - box(3, 5, 20, (8.5, 10, -5))
    for body in (thread, honeycomb, keyhole):
        found = gs.gaps_of(body)
        assert (found.gaps, found.holes, found.pins) == ((), (), ())


def test_a_tapered_hole_is_measured_at_its_narrow_end():
    body = box(20, 20, 10) - Manifold.cylinder(10, 1.5, 1.9, 48).translate((10, 10, 0))
    (hole,) = gs.gaps_of(body).holes
    assert hole.drawn_mm == pytest.approx(3.0, rel=0.001)
    assert gs.gaps_of(box(20, 20, 10) - Manifold.cylinder(10, 1, 2.9, 48)).holes == ()


def test_vat_rules_have_their_own_limits():
    part = gs.as_part(gs.board())
    found = check_gaps(part, rows.vat_recipe(), rules()["vat"])
    assert sorted(h.drawn_mm for h in found.holes) == pytest.approx(gs.HOLES, rel=1e-6)
    assert [round(pin.diameter_mm, 3) for pin in found.pins] == [0.6]
    assert "beads" not in said(found, "pins")[0].required


def test_a_surface_at_hand_gives_the_same():
    part = gs.as_part(gs.board())
    surface = measure_surface(part, inside_cap_mm=2.0, outside_cap_mm=0.5)
    fresh = check_gaps(part, rows.recipe(), gs.RULES)
    given = check_gaps(part, rows.recipe(), gs.RULES, surface=surface)
    assert findings_of(given.marks)[0].measured == findings_of(fresh.marks)[0].measured
    assert [hole.drawn_mm for hole in given.holes] == [hole.drawn_mm for hole in fresh.holes]
    narrow = measure_surface(part, inside_cap_mm=0.2, outside_cap_mm=0.2)
    again = check_gaps(part, rows.recipe(), gs.RULES, surface=narrow)
    assert len(again.gaps) == len(fresh.gaps)
