"""Trapped liquid, suction cups, drain holes and islands: what is said, where, and what helps."""

import bare_parts
import hollow_solids as hs
import numpy as np
import pytest
import rows
import solids

import buildplan as bp
from buildplan.checks.trapped import check_trapped
from buildplan.kernels.minima import find_minima
from buildplan.part import part_from_mesh, read_part
from buildplan.part.turn import turn_part
from buildplan.tables import rules_for

RECIPE = bp.recipe("everyday", process="vat")
FEEDSTOCK = bp.feedstock("standard_photopolymer")
RULES = rules_for(FEEDSTOCK)
HALF_TURN = (1.0, 0.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0, 0.0, 0.0, 1.0)


def part_of(solid):
    return part_from_mesh(*solids.arrays(solid), name="part", health="quick")


def check(solid, recipe=RECIPE):
    return check_trapped(part_of(solid), recipe, RULES)


def findings(result):
    return [mark.finding for mark in result.marks]


def minima(solid, least=0.05):
    part = part_of(solid)
    order = np.argsort(part.vertices_mm[:, 2], kind="stable")
    return find_minima(part.vertices_mm, part.facets, order, least, 1e-5, least)[0]


@pytest.mark.parametrize(
    ("make", "count"),
    [
        (hs.fins, 1),
        (lambda: hs.upside_down(hs.fins()), 7),
        (lambda: solids.tub(96), 1),
        (hs.hollow_box, 1),
        (lambda: hs.upside_down(hs.cup_up()), 1),
        (lambda: solids.sphere(10.0, 32), 1),
        (solids.box, 1),
    ],
)
def test_solid_begins_at_every_low_place_and_nowhere_else(make, count):
    assert len(minima(make())) == count


def test_what_begins_above_the_platform_is_an_island():
    arm = solids.box(4, 4, 24) + solids.box(14, 4, 4, (0, 0, 20)) + solids.box(4, 4, 8, (10, 0, 13))
    result = check(arm)
    (island,) = result.islands
    assert island.point_mm[2] == 13.0
    assert island.depth_mm == pytest.approx(7.0)
    (finding,) = findings(result)
    assert (finding.check, finding.severity) == ("islands", "note")
    assert "support tip" in finding.what
    heights = part_of(arm).vertices_mm[part_of(arm).facets[island.facets]][:, :, 2]
    assert (heights.min(axis=1) == 13.0).all()


def test_islands_without_supports_stop_the_print():
    arm = solids.box(4, 4, 24) + solids.box(14, 4, 4, (0, 0, 20)) + solids.box(4, 4, 8, (10, 0, 13))
    (finding,) = findings(check(arm, rows.replace(RECIPE, supports=False)))
    assert finding.severity == "stop"


def test_a_loose_piece_in_mid_air_is_an_island():
    (island,) = check(solids.box() + solids.box(5, 5, 5, (0, 0, 30))).islands
    assert island.depth_mm == np.inf


def test_a_bump_lower_than_a_layer_is_no_island():
    shelf = solids.box(4, 4, 24) + solids.box(14, 4, 4, (0, 0, 20))
    assert not check(shelf + solids.box(2, 2, 1, (9, 1, 19.97))).islands
    assert check(shelf + solids.box(2, 2, 1, (9, 1, 19.9))).islands


@pytest.mark.parametrize("make", [solids.box, solids.tee, solids.sphere, hs.fins])
def test_nothing_is_said_of_a_part_that_traps_nothing(make):
    result = check(make())
    assert not [f for f in findings(result) if f.check == "trapped"]


def test_a_closed_cavity_stops_the_print_and_gets_two_holes():
    result = check(hs.hollow_box())
    (finding,) = findings(result)
    assert finding.severity == "stop"
    assert "46.7 ml" in finding.what
    assert "2 holes of 3.5 mm" in finding.remedy
    (pocket,) = result.pockets
    liquid, air = pocket.holes
    assert liquid.purpose == "liquid"
    assert liquid.point_mm[2] > 34.0
    assert air.purpose == "air"
    assert air.point_mm[2] < 6.0
    assert air.direction[2] == pytest.approx(0.0, abs=1e-9)  # not into the platform
    assert [h.wall_mm for h in pocket.holes] == pytest.approx([2.0, 2.0])


def test_the_marked_facets_are_those_of_the_cavity():
    part = part_of(hs.hollow_box())
    (mark,) = check_trapped(part, RECIPE, RULES).marks
    corners = part.vertices_mm[part.facets]
    inside = ((corners > 1.0) & (corners < 39.0)).all(axis=(1, 2))
    np.testing.assert_array_equal(mark.facets, np.flatnonzero(inside))
    assert not mark.facets.flags.writeable


@pytest.mark.parametrize("make", [hs.cup_up, hs.cup_down])
def test_the_marked_facets_are_those_of_the_cup(make):
    part = part_of(make())
    (mark,) = check_trapped(part, RECIPE, RULES).marks
    corners = part.vertices_mm[part.facets]
    walls = ((corners[..., :2] > 2.0) & (corners[..., :2] < 28.0)).all(axis=(1, 2))
    rims = np.isin(part.vertices_mm[part.facets][..., 2], (0.0, 20.0)).all(axis=1)
    np.testing.assert_array_equal(mark.facets, np.flatnonzero(walls & ~rims))


@pytest.mark.parametrize(
    "make",
    [
        hs.hollow_box,
        lambda: hs.bottom_drain(2.0),
        lambda: hs.top_drain(2.0),
        lambda: hs.side_drain(2.0),
        hs.labyrinth,
        hs.cup_up,
        hs.cup_down,
        lambda: solids.sphere(20.0, 64) - solids.sphere(18.0, 64).translate((0, 0, 2)),
    ],
)
def test_the_holes_that_are_advised_let_the_liquid_out(make):
    solid = make()
    (before,) = check(solid).pockets
    drilled = solid
    for hole in before.holes:
        start = np.array(hole.point_mm) - np.array(hole.direction)
        drilled -= hs.drill(hole.diameter_mm, start, hole.direction, hole.wall_mm + 2.0, 64)
    after = check(drilled).pockets
    assert not [p for p in after if p.kind in ("closed", "narrow")]
    assert sum(p.volume_mm3 for p in after) < 0.05 * before.volume_mm3
    assert sum(p.pooled_mm3 for p in after) < 0.05 * before.volume_mm3


def test_a_drain_that_is_too_small_is_told_from_one_that_is_wide_enough():
    (finding,) = findings(check(hs.side_drain(2.0)))
    assert finding.severity == "caution"
    assert float(finding.measured.removesuffix(" mm")) == pytest.approx(2.0, abs=0.11)
    assert "Widen the opening to 3.5 mm" in finding.remedy
    assert {p.kind for p in check(hs.side_drain(3.6)).pockets} == {"cup", "pool"}


def test_a_drain_on_the_platform_is_shut_by_it_until_the_part_is_off():
    (pocket,) = check(hs.bottom_drain(4.0)).pockets
    assert pocket.by_platform
    assert pocket.kind == "cup"
    (finding,) = findings(check(hs.bottom_drain(4.0)))
    assert finding.remedy.startswith("Raise the part on supports")


def test_a_drain_at_the_film_lets_the_liquid_out_but_not_the_air_in():
    (pocket,) = check(hs.top_drain(4.0)).pockets
    assert pocket.pooled_mm3 == 0.0
    assert pocket.suction_area_mm2 == pytest.approx(1296.0)
    assert (pocket.suction_low_mm, pocket.suction_high_mm) == pytest.approx((2.0, 40.0))
    (hole,) = pocket.holes
    assert hole.purpose == "air"


def test_a_cup_says_how_much_pulls_and_over_which_height():
    (finding,) = findings(check(hs.cup_up()))
    assert finding.severity == "caution"
    assert "576 mm2 from 3.0 to 20.0 mm above the platform" in finding.what
    assert "at one atmosphere" in finding.source


def test_a_tall_tube_on_the_platform_is_a_cup_and_a_flat_ring_only_noted():
    (tall,) = findings(check(solids.tube(12.0, 10.0, 60.0, 64)))
    assert tall.severity == "caution"
    (flat,) = findings(check(solids.tube(12.0, 10.0, 4.0, 64)))
    assert flat.severity == "note"
    assert "an opening begins on the platform" in flat.what


def test_many_windows_in_a_flat_panel_are_one_note():
    panel = solids.box(100, 60, 3)
    for turn in range(6):
        panel -= solids.box(12, 40, 9, (4 + 16 * turn, 10, -3))
    (finding,) = findings(check(panel))
    assert finding.severity == "note"
    assert "6 openings" in finding.what
    assert "5 smaller places" in finding.where.text


def test_screw_holes_are_not_worth_a_word():
    block = solids.box(30, 30, 12)
    for x in (6, 24):
        block -= hs.drill(3.0, (x, 6, 2), (0, 0, 1), 20)
        block -= hs.drill(3.0, (x, 24, -8), (0, 0, 1), 18)
    assert not check(block).marks


def test_a_foam_of_cavities_is_summed_up():
    foam = solids.box(60, 60, 12)
    for x in range(8):
        for y in range(8):
            foam -= solids.box(4, 4, 4, (2 + 7 * x, 2 + 7 * y, 4))
    result = check(foam)
    assert len(result.pockets) == 64
    found = findings(result)
    assert len(found) == 4
    assert "60 smaller places" in found[-1].where.text
    assert sum(p.volume_mm3 for p in result.pockets) == pytest.approx(64 * 64.0, rel=1e-12)


def test_extruded_parts_trap_nothing_but_their_cavities_are_counted():
    rules = rules_for(bp.feedstock("PLA"))
    result = check_trapped(part_of(hs.hollow_box()), bp.recipe("everyday"), rules)
    assert not result.marks
    assert [p.volume_mm3 for p in result.pockets] == pytest.approx([hs.BOX_MM3])


def test_the_same_part_gives_the_same_result():
    one, two = check(hs.side_drain(2.0)), check(hs.side_drain(2.0))
    assert findings(one) == findings(two)


def test_the_hollow_of_a_recipe_asks_for_drains_of_the_same_width():
    from buildplan.process.layers import cut_layers
    from buildplan.process.vat import estimate_vat

    recipe = rows.replace(RECIPE, hollow_wall_mm=2.0)
    part = part_of(solids.box())
    layers = cut_layers(part, recipe.layer_mm)
    printer = bp.printer("small_vat")
    estimate = estimate_vat(part, layers, recipe, printer, FEEDSTOCK)
    (finding,) = [f for f in estimate.findings if f.check == "hollow"]
    assert f"2 holes of {RULES.drain_least_mm:g} mm" in finding.required


def test_the_vat_parts_of_the_demo_are_no_false_alarm():
    from buildplan.demo import demo_folder

    part = read_part(demo_folder() / "camera_ring.3mf")
    (finding,) = findings(check_trapped(part, RECIPE, RULES))
    assert finding.severity == "note"


@pytest.mark.parametrize("pose", [(), HALF_TURN])
def test_a_scanned_solid_closes_nothing(npm_mesh, pose):
    part = read_part(npm_mesh("stl-models", "objects/bunny.bin.stl"), unit="m", health="quick")
    result = check_trapped(turn_part(part, pose) if pose else part, RECIPE, RULES)
    assert {p.kind for p in result.pockets} <= {"cup", "pool"}
    assert sum(p.volume_mm3 for p in result.pockets) < 1e-3 * part.volume_mm3


def test_shells_that_overlap_hold_liquid_together():
    panels = (
        solids.box(30, 30, 3),
        solids.box(3, 30, 20),
        solids.box(3, 30, 20, (27, 0, 0)),
        solids.box(30, 3, 20),
        solids.box(30, 3, 20, (0, 27, 0)),
    )
    (pocket,) = check_trapped(bare_parts.heap_part(*panels), RECIPE, RULES).pockets
    assert pocket.kind == "cup"
    assert pocket.volume_mm3 == pytest.approx(hs.CUP_MM3, rel=1e-9)


def test_a_missing_facet_is_bridged_and_its_edge_is_no_island():
    vertices, facets = solids.arrays(hs.hollow_box())
    part = bare_parts.bare_part(vertices, facets[1:], closed=False, shells=2, open_edges=3)
    result = check_trapped(part, RECIPE, RULES)
    assert not result.islands
    (pocket,) = result.pockets
    assert pocket.kind == "closed"
    assert pocket.volume_mm3 == pytest.approx(hs.BOX_MM3, rel=5e-3)
