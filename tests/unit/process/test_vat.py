"""Vat estimates: islands, tips, hollows, and several parts on one platform."""

import hanging_solids as hs
import numpy as np
import pytest
import rows
import solids

from buildplan.errors import InputError
from buildplan.process.layers import cut_layers
from buildplan.process.vat import cycle_time, estimate_vat

PRINTER = rows.vat_printer()
FEEDSTOCK = rows.vat_feedstock()


def estimate(solid, name="part", *, printer=PRINTER, feedstock=FEEDSTOCK, **changes):
    plain = {"layer_mm": 0.1, "hollow_wall_mm": 0.0, "supports": True}
    recipe = rows.vat_recipe(**(plain | changes))
    part = hs.as_part(solid, name)
    return estimate_vat(part, cut_layers(part, recipe.layer_mm), recipe, printer, feedstock)


def arch(move=(0.0, 0.0, 0.0)):
    """An arch with a post that hangs from its top down to 18 mm above the platform."""
    body = hs.block(-14, -5, 0, -8, 5, 30) + hs.block(8, -5, 0, 14, 5, 30)
    body += hs.block(-14, -5, 30, 14, 5, 34) + hs.block(-2, -2, 18, 2, 2, 30)
    return body.translate(move)


def test_a_hanging_post_is_an_island_at_its_place_in_the_file():
    got = estimate(arch((100.0, 50.0, 7.0)))
    assert len(got.islands) == 1
    assert got.islands[0].point_mm == pytest.approx((100.0, 50.0, 25.0), abs=1e-6)
    assert "18.0 mm up" in got.islands[0].text


def test_an_island_is_a_note_with_supports_and_a_stop_without():
    assert [f.severity for f in estimate(arch()).findings] == ["note"]
    without = estimate(arch(), supports=False)
    assert [f.severity for f in without.findings] == ["stop"]
    assert without.n_tips == 0
    assert without.support_ml == 0.0


def test_an_overhang_without_supports_is_a_caution_with_its_area():
    (finding,) = estimate(solids.tee(), supports=False).findings
    assert finding.severity == "caution"
    assert finding.measured == "864 mm2"


def test_a_t_has_no_islands():
    assert estimate(solids.tee()).islands == ()


def test_an_island_gets_a_tip_of_its_own():
    # a pin of 1 mm hangs 5 mm lower than the rest: its own tip, and its area as before
    body = arch() + hs.block(-5.5, -0.5, 25, -4.5, 0.5, 30)
    assert len(estimate(body).islands) == 2
    assert estimate(body).n_tips == estimate(arch()).n_tips + 1


def test_a_body_that_floats_over_another_is_an_island():
    got = estimate(hs.block(-5, -5, 0, 5, 5, 5) + hs.block(-4, -4, 12, 4, 4, 15))
    assert [place.point_mm[2] for place in got.islands] == pytest.approx([12.0])
    assert got.n_tips >= 1


def test_a_part_flat_on_the_platform_needs_no_columns():
    # a lip 0.2 mm above the platform, lower than a tip is wide
    flat = hs.block(-10, -10, 0, 10, 10, 5) + hs.block(-15, -15, 0.2, 15, 15, 5)
    got = estimate(flat)
    assert got.n_tips == 0
    assert got.support_ml == 0.0


def test_columns_under_an_arm_stand_on_the_part():
    on_foot = estimate(hs.arm())
    lower = estimate(hs.arm() - hs.block(-9, -3, 0, 15, 3, 4))
    assert on_foot.n_tips == lower.n_tips
    assert on_foot.support_ml < lower.support_ml


def test_a_cube_needs_neither_tips_nor_findings():
    got = estimate(solids.box())
    assert (got.n_tips, got.support_ml, got.findings) == (0, 0.0, ())


def test_a_hollow_must_drain():
    (finding,) = estimate(solids.box(), hollow_wall_mm=2.0).findings
    assert finding.check == "hollow"
    assert finding.severity == "note"
    assert "4.1 ml" in finding.what


def test_a_part_too_thin_to_hollow_says_so():
    got = estimate(solids.box(20, 20, 3), hollow_wall_mm=2.0)
    assert got.hollow_ml == 0.0
    assert "no room" in got.findings[0].what


def test_a_thicker_wall_never_leaves_a_larger_hollow():
    found = [estimate(hs.arm(), hollow_wall_mm=w).hollow_ml for w in (0.6, 1.0, 1.5, 2.5)]
    assert found == sorted(found, reverse=True)
    assert found[0] > 0


def test_several_parts_cost_the_time_of_the_tallest_and_all_their_liquid():
    tall, low = estimate(solids.box(), "tall"), estimate(solids.box(10, 10, 5), "low")
    cycle = cycle_time([low, tall, low])
    assert cycle.time_s == pytest.approx(tall.time_s, rel=1e-12)
    assert cycle.layers == tall.layers
    assert cycle.liquid_ml == pytest.approx(tall.liquid_ml + 2 * low.liquid_ml, rel=1e-12)
    assert cycle.mass_g == pytest.approx(tall.mass_g + 2 * low.mass_g, rel=1e-12)
    assert cycle.parts == ("low", "tall", "low")
    assert (cycle.wash_min, cycle.cure_min) == (FEEDSTOCK.wash_min, FEEDSTOCK.cure_min)


def test_areas_on_one_platform_add_up_to_a_slow_lift():
    # 400 mm2 alone lift fast; with 400 mm2 beside them up to 10 mm they lift slowly that far
    tall = estimate(solids.box(), "tall", slow_area_mm2=500.0)
    low = estimate(solids.box(20, 20, 10), "low", slow_area_mm2=500.0)
    recipe = tall.recipe
    accel = PRINTER.lift_accel_mm_s2
    fast = recipe.lift_mm / recipe.lift_mm_s + recipe.lift_mm_s / accel
    slow = recipe.lift_mm / recipe.slow_lift_mm_s + recipe.slow_lift_mm_s / accel
    more = cycle_time([tall, low]).time_s - tall.time_s
    assert more == pytest.approx(100 * (slow - fast), rel=1e-9)


def test_a_cycle_of_one_is_the_part_alone():
    one = estimate(solids.tee())
    assert cycle_time([one]).time_s == pytest.approx(one.time_s, rel=1e-12)


def test_parts_of_two_recipes_cannot_share_a_platform():
    other = estimate(solids.box(), "other", exposure_s=9.0)
    with pytest.raises(InputError, match="recipe"):
        cycle_time([estimate(solids.box()), other])
    with pytest.raises(InputError, match="at least one part"):
        cycle_time([])


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("lift_mm", 0.05),
        ("lift_mm_s", 0.0),
        ("tip_pitch_mm", 0.0),
        ("tip_length_mm", -1.0),
        ("exposure_s", -1.0),
        ("hollow_wall_mm", -0.5),
        ("overhang_limit_deg", 90.0),
    ],
)
def test_an_impossible_setting_is_refused(name, value):
    with pytest.raises(InputError, match="allowed"):
        estimate(solids.tee(), **{name: value})


def test_layers_cut_at_another_thickness_are_refused():
    part = hs.as_part(solids.box())
    with pytest.raises(InputError, match="layer_mm"):
        estimate_vat(
            part, cut_layers(part, 0.2), rows.vat_recipe(layer_mm=0.05), PRINTER, FEEDSTOCK
        )


def test_arrays_fit_together_and_are_closed_to_writing():
    got = estimate(solids.tee())
    for name in ("layer_z_mm", "layer_time_s", "layer_area_mm2", "layer_mass_g"):
        array = getattr(got, name)
        assert len(array) == got.layers
        assert not array.flags.writeable
    assert got.layer_mass_g.sum() == pytest.approx(got.mass_g, rel=1e-9)
    assert np.all(got.layer_mass_g >= 0)
    assert got.time_s == pytest.approx(got.layer_time_s.sum() + PRINTER.warm_up_s, rel=1e-12)


def test_workers_change_nothing():
    part = hs.as_part(solids.sphere(segments=96))
    recipe = rows.vat_recipe(layer_mm=0.1)
    layers = cut_layers(part, 0.1)
    one = estimate_vat(part, layers, recipe, PRINTER, FEEDSTOCK)
    two = estimate_vat(part, layers, recipe, PRINTER, FEEDSTOCK, workers=2)
    assert (one.time_s, one.mass_g, one.n_tips) == (two.time_s, two.mass_g, two.n_tips)
