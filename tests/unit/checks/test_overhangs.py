"""Overhangs: kinds, spans and reaches of closed forms, false alarms, invariance, words."""

import math
from pathlib import Path

import numpy as np
import pytest
import rows
import solids
from hanging_solids import arm, as_part, block, cone, table
from manifold3d import CrossSection, Manifold

from buildplan.checks.overhangs import check_overhangs
from buildplan.errors import InputError
from buildplan.kernels.farthest import MOST_WAITING, farthest_of
from buildplan.part import read_part
from buildplan.process.layers import cut_layers
from buildplan.tables import rules_for

DEMO = Path(__file__).parents[3] / "parts" / "sprout_house"
RULES = rules_for(rows.feedstock())


def check(solid, part=None, **changes):
    part = part or as_part(solid)
    recipe = rows.recipe(**changes)
    return check_overhangs(part, cut_layers(part, recipe.layer_mm), recipe, RULES)


def needing(found):
    return [region for region in found.regions if region.needs_support]


def only(found):
    (region,) = found.regions
    return region


def findings(found):
    return [mark.finding for mark in found.marks]


def wall_table():
    return (
        block(-20, -10, 0, -16, 10, 20)
        + block(16, -10, 0, 20, 10, 20)
        + block(-20, -10, 20, 20, 10, 23)
    )


def cup():
    return block(-15, -15, 0, 15, 15, 20) - block(-12, -12, -1, 12, 12, 17)


def lying_hole(diameter):
    bore = Manifold.cylinder(60.0, diameter / 2, diameter / 2, 96).rotate((90, 0, 0))
    return block(-20, -10, 0, 20, 10, 30) - bore.translate((0, 30, 15))


def curved_c():
    """A C-shaped wall of 4 mm, open over 53 degrees, under a full disc of 20 mm radius."""
    ring = CrossSection.circle(20, 128) - CrossSection.circle(16, 128)
    opening = CrossSection([[(0, 0), (40, -20), (40, 20)]])
    disc = CrossSection.circle(20, 128).extrude(3)
    return (ring - opening).extrude(20) + disc.translate((0, 0, 20))


@pytest.mark.parametrize(
    ("solid", "span", "area"),
    [
        (wall_table(), 32.0, 640.0),
        (cup(), 24.0, 576.0),
        (block(-20, -20, 0, 20, 20, 40) - block(-18, -18, 2, 18, 18, 38), 36.0, 1296.0),
    ],
    ids=["table", "cup", "roof"],
)
def test_a_ceiling_between_holds_is_a_bridge_of_its_span(solid, span, area):
    found = check(solid)
    region = only(found)
    assert region.kind == "bridge"
    assert region.span_mm == pytest.approx(span, rel=1e-6)
    assert region.area_mm2 == pytest.approx(area, rel=1e-9)
    assert region.carried_frac == pytest.approx(1.0)
    assert findings(found)[0].check == "bridges"


@pytest.mark.parametrize(
    ("solid", "reach"),
    [
        (solids.tee(), math.hypot(12.0, 12.0)),
        (block(-3, -10, 0, 3, 10, 20) + block(-3, -10, 20, 37, 10, 23), 34.0),
        (arm(), 24.0),
        (table(), math.hypot(16.0, 16.0)),
    ],
    ids=["mushroom", "beam", "arm", "four legs"],
)
def test_what_is_held_on_one_side_is_a_cantilever_of_its_reach(solid, reach):
    region = only(check(solid))
    assert region.kind == "cantilever"
    assert region.reach_mm == pytest.approx(reach, rel=0.011)


def test_a_loose_block_is_an_island():
    found = check(block(-5, -5, 0, 5, 5, 20) + block(18, -2, 10, 22, 2, 15))
    region = only(found)
    assert region.kind == "island"
    assert region.area_mm2 == pytest.approx(16.0)
    assert region.low_mm == pytest.approx(10.0)
    assert [(f.check, f.severity) for f in findings(found)] == [("islands", "stop")]


def test_a_hanging_tip_is_an_island_though_nothing_of_it_leans():
    tip = Manifold.cylinder(10.0, 0.01, 4.0, 64).translate((16, 0, 11))
    found = check(block(-5, -5, 0, 5, 5, 30) + block(5, -2, 20, 20, 2, 26) + tip)
    (island,) = [region for region in found.regions if region.kind == "island"]
    assert island.low_mm == pytest.approx(11.0)
    assert island.plan_mm2 == pytest.approx(math.pi * (0.01 + 0.2 * 0.399) ** 2, rel=0.02)


def test_a_small_island_that_gets_no_support_is_told_when_supports_are_on():
    tip = Manifold.cylinder(10.0, 0.01, 4.0, 64).translate((16, 0, 11))
    solid = block(-5, -5, 0, 5, 5, 30) + block(5, -2, 20, 20, 2, 26) + tip
    told = findings(check(solid, supports=True))
    assert [(f.check, f.severity) for f in told] == [("islands", "caution")]
    assert "support_least_mm2" in told[0].remedy


@pytest.mark.parametrize(("limit_deg", "regions"), [(46.0, 0), (45.0, 0), (44.0, 1)])
def test_a_cone_is_flagged_beyond_the_limit_only(limit_deg, regions):
    found = check(cone(45.0), overhang_limit_deg=limit_deg)
    assert len(found.regions) == regions
    assert all(region.kind == "leaning" for region in found.regions)
    if regions:
        sides = 128 * 0.5 * 2 * math.sin(math.pi / 128) * (15**2 - 5**2)
        lean = math.cos(math.pi / 128) * math.hypot(1.0, 1.0 / math.cos(math.pi / 128))
        assert found.overhang_mm2 == pytest.approx(sides * lean, rel=1e-3)


def test_c_shaped_support_with_straight_walls_is_bridged_from_arm_to_arm():
    region = only(check(block(-20, -20, 0, 20, 20, 23) - block(-16, -16, -1, 16, 21, 20)))
    assert (region.kind, region.span_mm) == ("bridge", pytest.approx(32.0))
    assert region.carried_frac == pytest.approx(1.0)


def test_c_shaped_support_that_is_curved_is_bridged_over_its_width():
    region = only(check(curved_c()))
    assert region.kind == "bridge"
    assert region.span_mm == pytest.approx(32.0, rel=0.02)
    assert region.carried_frac > 0.9


def test_c_of_a_wall_and_two_far_posts_is_no_bridge_though_its_hull_is_full():
    wall = block(-20, -20, 0, 20, -16, 20)
    posts = block(-20, 16, 0, -16, 20, 20) + block(16, 16, 0, 20, 20, 20)
    region = only(check(wall + posts + block(-20, -20, 20, 20, 20, 23)))
    assert region.kind == "cantilever"
    # point on the free edge or inside that is as far from the wall as from the posts
    assert 18.0 < region.reach_mm < 24.0


def test_two_walls_at_a_corner_leave_the_far_half_hanging():
    region = only(check(block(-20, -20, 0, 20, 20, 23) - block(-16, -16, -1, 21, 21, 20)))
    assert region.kind == "cantilever"
    assert region.carried_frac == pytest.approx(0.5, abs=0.01)
    assert region.reach_mm == pytest.approx(36.0, rel=1e-6)


@pytest.mark.parametrize(
    "solid",
    [
        lying_hole(5.0),
        lying_hole(10.0),
        block(-10, -10, 0, 10, 10, 20),
        # a wall with an engraving half a millimetre deep
        block(-20, -2, 0, 20, 2, 30) - block(-10, 1.5, 8, 10, 3, 20),
        # chamfers of 45 degrees all around the bottom
        Manifold.hull(block(-9, -9, 0, 9, 9, 1) + block(-10, -10, 1, 10, 10, 10)),
        # a bridge of 8 mm with a hole of 2 mm through it
        block(-14, -5, 0, 14, 5, 13)
        - block(-4, -6, -1, 4, 6, 10)
        - Manifold.cylinder(30.0, 1.0, 1.0, 48),
        # rounded bottom edges of 2 mm
        Manifold.hull(
            Manifold.batch_hull(
                [
                    Manifold.sphere(2.0, 64).translate((x, y, 2.0))
                    for x in (-10, 10)
                    for y in (-10, 10)
                ]
            )
            + block(-12, -12, 10, 12, 12, 12)
        ),
    ],
    ids=["hole 5", "hole 10", "cube", "engraving", "chamfer", "holed bridge", "rounding"],
)
def test_what_a_maker_prints_every_day_is_no_alarm(solid):
    found = check(solid)
    assert found.marks == ()
    assert needing(found) == []


def test_a_wide_lying_hole_droops():
    found = check(lying_hole(20.0))
    region = only(found)
    assert region.kind == "leaning"
    assert region.span_mm == pytest.approx(20.0 * math.sin(math.radians(45.0)), rel=0.02)
    assert [(f.check, f.severity) for f in findings(found)] == [("overhangs", "caution")]


def test_one_region_a_feature():
    row = solids.box(150.0, 20.0, 5.0)
    for k in range(5):
        row += solids.tee().translate((15.0 + 30.5 * k, 10.0, 5.0)).scale((1.0, 1.0, 1.0))
    found = check(row)
    assert len(found.regions) == 5
    (finding,) = findings(found)
    assert finding.what.startswith("5 level undersides")


def test_a_stepped_ceiling_is_one_region_a_step():
    stairs = block(0, 0, 0, 4, 20, 20) + block(0, 0, 20, 40, 20, 30)
    for k in range(3):
        stairs += block(4, 0, 17 - 3 * k, 12 - 2 * k, 20, 21)
    assert all(region.kind == "cantilever" for region in check(stairs).regions)


def test_columns_of_the_tee_are_exact():
    found = check(solids.tee())
    assert found.overhang_mm2 == pytest.approx(864.0, rel=1e-9)
    assert found.carried_mm2 == pytest.approx(864.0, rel=1e-9)
    assert found.support_mm3 == pytest.approx(17280.0, rel=1e-9)
    assert found.contact_mm2 == pytest.approx(36.0, rel=1e-9)
    assert found.on_part_mm2 == 0.0


def test_columns_that_land_on_the_part_end_there():
    found = check(arm(), supports=True)
    assert found.support_mm3 == pytest.approx(144.0 * 12.0, rel=1e-9)
    assert found.on_part_mm2 == pytest.approx(144.0, rel=1e-9)
    (finding,) = findings(found)
    assert finding.severity == "note"
    assert "standing on the part" in finding.what


@pytest.mark.parametrize(
    "solid", [solids.tee(), wall_table(), curved_c(), solids.sphere(segments=96)]
)
def test_turning_moving_and_dividing_change_nothing(solid):
    base = check(solid)
    turned = check(solid.rotate((0, 0, 27.3)))
    moved = check(solid.translate((1e5, -1e5, 1e5)))
    divided = check(solid.refine(2))
    for other in (turned, moved, divided):
        assert [r.kind for r in other.regions] == [r.kind for r in base.regions]
        assert other.overhang_mm2 == pytest.approx(base.overhang_mm2, rel=1e-3)
        assert other.support_mm3 == pytest.approx(base.support_mm3, rel=1e-3)
        assert only(other).area_mm2 == pytest.approx(only(base).area_mm2, rel=1e-3)
        assert only(other).span_mm == pytest.approx(only(base).span_mm, rel=0.02)
        assert only(other).reach_mm == pytest.approx(only(base).reach_mm, rel=0.02)
    # places are those of the part as given
    x, _, z = only(moved).point_mm
    assert x > 9e4
    assert z == pytest.approx(only(base).point_mm[2] + 1e5, abs=1e-6)


def test_facets_of_a_mark_face_down_and_are_ascending():
    part = as_part(solids.tee())
    (mark,) = check(None, part=part).marks
    corners = part.vertices_mm[part.facets[mark.facets]]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert (normal[:, 2] < 0.0).all()
    assert (np.diff(mark.facets) > 0).all()
    assert not mark.facets.flags.writeable


def test_vat_bridges_go_by_the_rules_and_islands_are_left_to_the_trapped_check():
    rules = rules_for(rows.vat_feedstock())
    recipe = rows.vat_recipe()
    part = as_part(cup())
    found = check_overhangs(part, cut_layers(part, recipe.layer_mm), recipe, rules)
    assert findings(found)[0].required == f"at most {rules.bridge_limit_mm:g} mm"
    loose = as_part(block(-5, -5, 0, 5, 5, 20) + block(18, -2, 10, 22, 2, 15))
    found = check_overhangs(loose, cut_layers(loose, recipe.layer_mm), recipe, rules)
    assert [region.kind for region in found.regions] == ["island"]
    assert found.marks == ()


def test_rules_of_another_process_and_impossible_limits_are_refused():
    part = as_part(solids.box())
    recipe = rows.recipe()
    layers = cut_layers(part, recipe.layer_mm)
    with pytest.raises(InputError, match="rules of the same process"):
        check_overhangs(part, layers, recipe, rules_for(rows.vat_feedstock()))
    with pytest.raises(InputError, match="overhang_limit_deg is 90"):
        check_overhangs(part, layers, rows.recipe(overhang_limit_deg=90.0), RULES)


def test_farthest_point_of_a_thin_slanted_trapezoid():
    """A parallelogram a millionth high and ten long, ten away from a held edge along x."""
    holds = np.array([[-50.0, -10.0, 50.0, -10.0]])
    waiting, nearest = np.empty((MOST_WAITING, 4)), np.zeros(1, np.int64)
    thin = (0.0, 2.0, 10.0, 12.0, 0.0, 1e-6)
    assert farthest_of(thin, holds, -1.0, waiting, nearest) == pytest.approx(10.0, rel=1e-3)
    tall = (-3.0, 5.0, -1.0, 1.0, 0.0, 7.0)
    assert farthest_of(tall, holds, -1.0, waiting, nearest) == pytest.approx(17.0, rel=0.011)
    assert farthest_of(tall, holds, 40.0, waiting, nearest) == 40.0
    none = np.empty((0, 4))
    assert farthest_of(tall, none, -1.0, waiting, nearest) == math.inf


def test_farthest_point_between_two_edges_is_half_way():
    holds = np.array([[-50.0, 0.0, 50.0, 0.0], [-50.0, 8.0, 50.0, 8.0]])
    waiting, nearest = np.empty((MOST_WAITING, 4)), np.zeros(1, np.int64)
    whole = (-20.0, 20.0, -20.0, 20.0, 0.0, 8.0)
    assert farthest_of(whole, holds, -1.0, waiting, nearest) == pytest.approx(4.0, abs=0.05)


def test_many_places_make_few_findings():
    base = solids.box(200.0, 12.0, 2.0)
    for k in range(30):
        size = 0.6 + 0.1 * k
        base += block(6 * k, 5, 2, 6 * k + 2, 7, 10) + block(
            6 * k, 5 - size - 1, 10, 6 * k + 2, 7, 12
        )
    found = check(base)
    assert 2 <= len(found.marks) <= 12
    assert sum(len(np.unique(m.facets)) for m in found.marks) > 0


def test_meshes_of_others(npm_mesh):
    gear = read_part(npm_mesh("stl-models", "objects/gearwheel.bin.stl"))
    assert check(None, part=gear).marks == ()
    bunny = read_part(npm_mesh("stl-models", "objects/bunny.bin.stl"), unit="m")
    found = check(None, part=bunny)
    assert 1 <= len(found.marks) <= 12
    corners = bunny.vertices_mm[bunny.facets]
    normal = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(normal, axis=1)
    raised = corners[:, :, 2].max(axis=1) > corners[:, :, 2].min() + 0.01
    steep = raised & (-normal[:, 2] > area * math.sin(math.radians(45.03)))
    assert found.overhang_mm2 == pytest.approx(area[steep].sum(), rel=2e-3)


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("base_shell.stl", ["bridges", "overhangs"]),
        ("bottom_plate.stl", []),
        ("hinge_pin.stl", []),
        ("push_rod.obj", []),
        ("sensor_cowl.stl", []),
        ("servo_arm.stl", []),
    ],
)
def test_demo_parts_raise_no_false_alarm(name, told):
    part = read_part(DEMO / name)
    found = findings(check(None, part=part))
    assert [finding.check for finding in found] == told
    assert all(finding.severity != "stop" for finding in found)
