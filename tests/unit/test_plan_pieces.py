"""Parts that fit nothing or take too long are planned in pieces; long prints get coupons."""

import pytest
import solids

import buildplan as bp
from buildplan.part import part_from_mesh
from buildplan.part.write import write_part

HEAD = """
[build]
name = "bench"
currency = "EUR"
energy_cost_kwh = 0.3
own_time_cost_h = 12.0
longest_print_h = {longest}
printers = ["small_moving_bed"]

[[bought]]
name = "dowel pin 4 x 20 mm"
quantity = 1
pack = 10
price_cost = 3.50
needed = false

[[part]]
name = "beam"
file = "beam.stl"
unit = "mm"
feedstock = "pla"
"""
FEATURE = """
[[part.feature]]
name = "eye"
kind = "hole"
box_mm = [10.0, 0.0, 0.0, 30.0, 30.0, 24.0]
"""


def build(folder, solid, longest=0.0, more=""):
    part = part_from_mesh(*solids.arrays(solid), name="beam", health="quick")
    write_part(part, folder / "beam.stl")
    (folder / "build.toml").write_text(HEAD.format(longest=longest) + more)
    return bp.load_build(folder)


def beam(length):
    return solids.box(length, 30.0, 24.0)


@pytest.fixture(scope="module")
def long_plan(tmp_path_factory):
    folder = tmp_path_factory.mktemp("long")
    return bp.make_plan(build(folder, beam(420.0)), workers=1)


def test_a_part_that_fits_nothing_is_planned_in_pieces(long_plan):
    (answer,) = long_plan.splits
    assert answer.plan is not None
    assert len(answer.plan.pieces) >= 2
    assert all(piece.fit.fits for piece in answer.plan.pieces)
    checks = {finding.check for finding in long_plan.parts[0].findings}
    assert "fit" not in checks
    assert "segments" in checks
    assert long_plan.verdict != "stop"


def test_totals_are_those_of_the_pieces(long_plan):
    pieces = long_plan.splits[0].plan
    estimates = [piece.estimate for piece in (*pieces.pieces, *pieces.loose)]
    assert long_plan.time_h.likely == pytest.approx(sum(e.time_h for e in estimates))
    assert long_plan.mass_g.likely == pytest.approx(sum(e.mass_g for e in estimates))
    row = pieces.table[pieces.chosen]
    assert long_plan.own_time_h == pytest.approx(row.own_min / 60.0)
    assert float(long_plan.print_cost) == pytest.approx(row.print_cost, abs=0.006)


def test_what_joints_need_is_on_the_bill(long_plan):
    lines = [line for line in long_plan.bill if line.wanted.kind == "joint"]
    assert lines
    asked = {piece.item for joint in long_plan.splits[0].plan.joints for piece in joint.bought}
    for line in lines:
        item = line.wanted.item.removesuffix(" (not priced in the build file)")
        assert item in asked
        priced = item == "dowel pin 4 x 20 mm"
        assert (line.cost > 0) == priced
        assert line.wanted.used_in == "beam"


def test_a_part_that_takes_too_long_is_cut_to_the_hours_allowed(tmp_path):
    whole = bp.make_plan(build(tmp_path, beam(150.0)), workers=1)
    assert whole.splits == ()
    hours = whole.time_h.likely
    cut = bp.make_plan(build(tmp_path, beam(150.0), longest=0.7 * hours), workers=1)
    (answer,) = cut.splits
    assert all(piece.estimate.time_h <= 0.7 * hours for piece in answer.plan.pieces)


def test_a_limit_that_no_cut_meets_is_told_and_the_part_stays_whole(tmp_path):
    plan = bp.make_plan(build(tmp_path, beam(150.0), longest=0.2), workers=1)
    (answer,) = plan.splits
    assert answer.plan is None
    (told,) = [f for f in plan.parts[0].findings if f.check == "segments"]
    assert told.severity == "caution"
    assert "0.2 h are allowed" in told.remedy
    assert plan.time_h.likely > 0.2


def test_a_long_print_with_features_gets_a_coupon_of_them(tmp_path):
    plan = bp.make_plan(build(tmp_path, solids.box(200.0, 150.0, 60.0), more=FEATURE), workers=1)
    assert plan.time_h.likely > 4.0
    (coupon,) = plan.coupons
    assert (coupon.part, coupon.kind, coupon.coupon.feature) == ("beam", "hole", "eye")
    assert coupon.estimate.time_h < 0.2 * plan.time_h.likely
