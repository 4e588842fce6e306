"""split_part: pieces are whole, fit and add up; the table is real; refusals carry numbers."""

import math
from dataclasses import replace

import numpy as np
import pytest
import solids

import buildplan as bp
from buildplan.errors import InputError, MeshError, NoPlanError
from buildplan.part import part_from_mesh
from buildplan.part.feature import KeepOut
from buildplan.part.turn import turn_part
from buildplan.segments.assembly import as_printed, assembly_steps, bought_for
from buildplan.segments.cut import turn_down
from buildplan.segments.joints import JointSpec
from buildplan.segments.model import SplitWeights
from buildplan.segments.planes import make_plane
from buildplan.segments.restart import FailureOdds, expected_time_h, expected_times_h
from buildplan.segments.run import split_part
from buildplan.segments.solid import solid_of

GLUE = (JointSpec(kind="glue", size_mm=1.0, depth_mm=3.0, clearance_mm=0.0),)


def as_part(solid, name="part"):
    return part_from_mesh(*solids.arrays(solid), name=name, health="quick")


def trough(x=400.0, y=60.0, z=30.0, wall=3.0):
    """A long open box, longer than the small printer."""
    inner = solids.box(x - 2 * wall, y - 2 * wall, z, (wall, wall, wall))
    return solids.box(x, y, z) - inner


@pytest.fixture(scope="module")
def printing():
    coarse = replace(bp.recipe("everyday"), layer_mm=0.3)
    return bp.printer("small_moving_bed"), bp.feedstock("pla"), coarse


@pytest.fixture(scope="module")
def part():
    return as_part(trough(), "trough")


@pytest.fixture(scope="module")
def plan(part, printing):
    return split_part(part, *printing, most_pieces=4)


def closed(part):
    facets = part.facets
    directed = np.concatenate([facets[:, [0, 1]], facets[:, [1, 2]], facets[:, [2, 0]]])
    there = {tuple(edge) for edge in directed.tolist()}
    return len(there) == len(directed) and all((b, a) in there for a, b in there)


def test_the_chosen_row_is_the_cheapest_that_keeps_the_limits(plan):
    able = [row for row in plan.table if row.fits]
    assert plan.table[plan.chosen].cost == min(row.cost for row in able)
    assert [row.pieces for row in plan.table] == [1, 2, 3, 4]
    assert not plan.table[0].fits
    assert "does not fit" in plan.table[0].reason
    assert "mm too long" in plan.table[0].reason


def test_every_piece_is_whole_and_they_add_up(plan, part):
    assert len(plan.pieces) == plan.table[plan.chosen].pieces
    for piece in plan.pieces:
        assert closed(piece.part)
        assert len(solid_of(piece.part).decompose()) == 1
        assert piece.fit.fits
    kept = sum(piece.part.volume_mm3 for piece in plan.pieces)
    whole = solid_of(part)
    inside = sum((solid_of(p.part) ^ whole).volume() for p in plan.pieces)
    assert inside <= whole.volume() * (1 + 1e-9)
    assert kept - inside >= -1e-6
    for joint in plan.joints:
        assert joint.proof.faults == ()
        assert joint.proof.volume_error_frac <= 1e-9
    for a, first in enumerate(plan.pieces):
        for second in plan.pieces[:a]:
            assert (solid_of(first.part) ^ solid_of(second.part)).volume() <= 1e-6


def test_plain_cuts_put_together_are_the_part_again(part, printing):
    made = split_part(part, *printing, most_pieces=2, joints=GLUE, check_pieces=False)
    assert sum(p.part.volume_mm3 for p in made.pieces) == pytest.approx(part.volume_mm3, rel=1e-9)
    together = solid_of(made.pieces[0].part) + solid_of(made.pieces[1].part)
    whole = solid_of(part)
    change = (together - whole).volume() + (whole - together).volume()
    assert change <= 1e-9 * part.volume_mm3


def test_estimating_a_piece_again_gives_the_plan_s_numbers(plan, printing):
    for piece in (*plan.pieces, *plan.loose):
        again = bp.estimate_print(turn_part(piece.part, piece.orientation), *printing)
        assert again.time_h == piece.estimate.time_h
        assert again.mass_g == piece.estimate.mass_g
    row = plan.table[plan.chosen]
    hours = [piece.estimate.time_h for piece in (*plan.pieces, *plan.loose)]
    assert row.alone_h == pytest.approx(sum(hours))
    assert row.joints_in
    assert row.run.expected_h == pytest.approx(sum(expected_time_h(h, plan.odds) for h in hours))


def test_pieces_as_printed_stand_on_the_platform_inside_the_build_volume(plan, printing):
    printer = printing[0]
    for piece in (*plan.pieces, *plan.loose):
        vertices = as_printed(piece).vertices_mm
        low, high = vertices.min(axis=0), vertices.max(axis=0)
        assert low[2] == pytest.approx(0.0, abs=1e-9)
        assert (low[:2] >= printer.platform_margin_mm - 1e-6).all()
        assert high[0] <= printer.width_mm - printer.platform_margin_mm + 1e-6
        assert high[1] <= printer.depth_mm - printer.platform_margin_mm + 1e-6


def test_the_findings_name_their_piece(plan):
    names = tuple(f"piece {piece.name}: " for piece in plan.pieces)
    assert plan.findings[0].check == "segments"
    for finding in plan.findings[1:]:
        assert finding.where.text.startswith(names)


def test_the_same_split_twice_has_the_same_bytes(plan, part, printing):
    again = split_part(part, *printing, most_pieces=4, workers=2)
    assert [p.part.key for p in again.pieces] == [p.part.key for p in plan.pieces]
    assert again.table == plan.table
    assert again.summary == plan.summary
    assert again.rejected == plan.rejected


def test_a_part_turned_by_a_quarter_gets_its_plan_turned(part, printing):
    printer, feedstock, recipe = printing
    square = replace(printer, depth_mm=printer.width_mm)
    turn = np.eye(4)
    turn[:2, :2] = [[0.0, -1.0], [1.0, 0.0]]
    turned = turn_part(part, tuple(turn.ravel()))
    one, other = (
        split_part(p, square, feedstock, recipe, most_pieces=2, joints=GLUE, check_pieces=False)
        for p in (part, turned)
    )
    volumes, again = (
        sorted(piece.part.volume_mm3 for piece in made.pieces) for made in (one, other)
    )
    assert again == pytest.approx(volumes, rel=1e-6)
    assert abs(one.joints[0].plane.normal[0]) == 1.0
    assert abs(other.joints[0].plane.normal[1]) == 1.0


def test_hours_and_keep_outs_are_kept(part, printing):
    whole = bp.estimate_print(part, *printing).time_h
    keep = KeepOut(name="mark", box_mm=(195.0, 0.0, 0.0, 205.0, 60.0, 30.0))
    made = split_part(
        part,
        *printing,
        most_h=0.6 * whole,
        most_pieces=4,
        keep_outs=[keep],
        joints=GLUE,
        check_pieces=False,
    )
    assert all(piece.estimate.time_h <= 0.6 * whole for piece in made.pieces)
    for plane in made.table[made.chosen].cuts:
        assert plane.normal != (1.0, 0.0, 0.0) or not 195.0 < plane.offset_mm < 205.0
    assert any(entry.reason == "would cut mark" for entry in made.rejected)


def test_hours_that_no_cut_reaches_give_the_nearest_number(part, printing):
    with pytest.raises(NoPlanError, match=r"the longest takes \d+\.\d h .*0\.2 h are allowed"):
        split_part(part, *printing, most_h=0.2, most_pieces=3, joints=GLUE)


def test_what_must_stay_whole_is_named_where_it_is_what_takes_too_long(part, printing):
    keep = KeepOut(name="bay", box_mm=(20.0, 0.0, 0.0, 400.0, 60.0, 30.0))
    with pytest.raises(NoPlanError, match="bay in it must stay whole"):
        split_part(part, *printing, most_pieces=3, keep_outs=[keep], joints=GLUE)


def test_given_planes_are_used(part, printing):
    plane = make_plane("x", 190.0)
    made = split_part(part, *printing, planes=[plane], joints=GLUE, check_pieces=False)
    assert made.table[made.chosen].cuts == (plane,)
    assert sorted(round(p.part.size_mm[0]) for p in made.pieces) == [190, 210]
    two = split_part(
        part, *printing, planes=[plane, make_plane("y", 30.0)], joints=GLUE, check_pieces=False
    )
    assert len(two.pieces) == 4
    assert len(two.joints) == 3


def test_planes_that_miss_or_cut_what_must_stay_whole_are_refused(part, printing):
    with pytest.raises(NoPlanError, match=r"x = 500\.0 mm misses it: .* from 0\.0 to 400\.0 mm"):
        split_part(part, *printing, planes=[make_plane("x", 500.0)])
    keep = KeepOut(name="hinge", box_mm=(180.0, 0.0, 0.0, 200.0, 60.0, 30.0))
    with pytest.raises(NoPlanError, match=r"x = 190\.0 mm would cut hinge"):
        split_part(part, *printing, planes=[make_plane("x", 190.0)], keep_outs=[keep])


def test_a_pin_too_thick_for_the_wall_is_refused_with_both_numbers(part, printing):
    pins = JointSpec(kind="pins", size_mm=4.0, depth_mm=8.0, clearance_mm=0.1)
    with pytest.raises(
        NoPlanError, match=r"largest inscribed radius 1\.\d+ mm, this pin needs 2\.92 mm"
    ):
        split_part(part, *printing, planes=[make_plane("x", 190.0)], joints=[pins])


def test_a_keep_out_larger_than_the_build_volume_leaves_no_plan(part, printing):
    keep = KeepOut(name="all of it", box_mm=(-1.0, -1.0, -1.0, 401.0, 61.0, 31.0))
    with pytest.raises(NoPlanError, match=r"would cut all of it; in one piece: .* does not fit"):
        split_part(part, *printing, keep_outs=[keep])


def test_an_open_mesh_is_refused_with_its_edges(part, printing):
    broken = replace(part, closed=False, health=replace(part.health, open_edges=4))
    with pytest.raises(MeshError, match=r"the surface is open \(4 open edges"):
        split_part(broken, *printing)


@pytest.mark.parametrize(
    "changes", [{"most_h": 0.0}, {"most_h": math.nan}, {"most_pieces": 0}, {"workers": 0}]
)
def test_impossible_limits_are_refused(part, printing, changes):
    with pytest.raises(InputError, match="split"):
        split_part(part, *printing, **changes)


def test_an_impossible_weight_is_refused(part, printing):
    bad = SplitWeights(machine_cost_h=1.0, own_cost_h=-1.0)
    with pytest.raises(InputError, match="own_cost_h is -1"):
        split_part(part, *printing, weights=bad)


def test_more_weight_on_long_runs_and_worse_odds_ask_for_more_pieces(part, printing):
    printer, feedstock, recipe = printing
    large = replace(printer, width_mm=500.0, depth_mm=500.0)
    calm, rough = (
        split_part(
            part,
            large,
            feedstock,
            recipe,
            most_pieces=3,
            joints=GLUE,
            odds=FailureOdds(hazard_frac_h=hazard),
            weights=SplitWeights(machine_cost_h=1.0, own_cost_h=cost, joint_min=5.0),
            check_pieces=False,
        )
        for hazard, cost in ((0.001, 15.0), (0.4, 0.1))
    )
    assert len(calm.pieces) == 1
    assert "Print it in one piece" in calm.summary
    assert len(rough.pieces) > 1


def test_hours_of_many_prints_at_once_are_those_of_each():
    hours = np.array([0.0, 1e-7, 0.5, 7.0, 60.0])
    for odds in (FailureOdds(), FailureOdds(hazard_frac_h=0.0), FailureOdds(hazard_frac_h=0.2)):
        expected = [expected_time_h(float(h), odds) for h in hours]
        assert expected_times_h(hours, odds) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    "way", [(1.0, 0, 0), (0, -1.0, 0), (0, 0, 1.0), (0.6, 0.0, 0.8), (-0.36, 0.48, -0.8)]
)
def test_a_face_is_turned_straight_down(way):
    matrix = np.array(turn_down(np.array(way, dtype=float))).reshape(4, 4)[:3, :3]
    assert matrix @ np.array(way) == pytest.approx([0.0, 0.0, -1.0], abs=1e-12)
    assert np.linalg.det(matrix) == pytest.approx(1.0)


def test_assembly_goes_backwards_through_the_cuts(part, printing):
    made = split_part(
        part,
        *printing,
        planes=[make_plane("x", 130.0), make_plane("x", 260.0)],
        joints=GLUE,
        check_pieces=False,
    )
    steps = assembly_steps(made)
    assert [step.index for step in steps] == [1, 0]
    assert (len(steps[0].first), len(steps[0].second)) == (1, 1)
    assert sorted((len(steps[1].first), len(steps[1].second))) == [1, 2]
    assert "clamp it 1 h" in steps[0].text
    assert "leave it 24 h" in steps[1].text
    glue = bought_for(made.joints)
    assert [(g.item, g.unit) for g in glue] == [("two-part epoxy glue", "ml")]
    assert glue[0].quantity == pytest.approx(sum(j.bought[0].quantity for j in made.joints))
