"""What is said about thin walls, and what is not said."""

from pathlib import Path

import numpy as np
import pytest
import rows
import solids
import wall_solids
from manifold3d import Manifold

from buildplan.checks.surface import caps_for, measure_surface
from buildplan.checks.walls import check_walls
from buildplan.part import part_from_mesh, read_part
from buildplan.tables import rules_for

PARTS = Path(__file__).parents[3] / "parts" / "sprout_house"
RULES = rules_for(rows.feedstock())
VAT_RULES = rules_for(rows.vat_feedstock())


def check(solid, **changes):
    return check_walls(wall_solids.as_part(solid), rows.recipe(**changes), RULES)


def check_vat(solid):
    return check_walls(wall_solids.as_part(solid), rows.vat_recipe(), VAT_RULES)


def told(found):
    return [(mark.finding.severity, mark.finding.what) for mark in found.marks]


def test_a_solid_cube_and_walls_a_little_over_the_limit_give_nothing():
    for solid in (
        solids.box(40, 40, 40),
        wall_solids.hollow_box(1.02 * RULES.wall_structural_mm),
        wall_solids.hollow_box(RULES.wall_structural_mm),
        solids.tube(20.0, 20.0 - RULES.wall_structural_mm, 20.0, 48),
    ):
        found = check(solid)
        assert found.walls == found.marks == ()
        assert found.thin_area_mm2 == found.thin_frac == found.vanish_frac == 0.0
        assert found.least_mm > 0.99 * RULES.wall_structural_mm


@pytest.mark.parametrize(
    ("wall_mm", "verdict", "severity"),
    [
        (0.3, "vanishes", "stop"),
        (0.6, "single bead", "caution"),
        (1.0, "weak", "caution"),
    ],
)
def test_an_upright_wall_gets_one_finding_by_its_thickness(wall_mm, verdict, severity):
    wall = solids.box(30, 30, 3) + solids.box(wall_mm, 20, 20.0, (15, 5, 2))
    found = check(wall)
    assert [(one.verdict, one.region.kind) for one in found.walls] == [(verdict, "sheet")]
    (mark,) = found.marks
    assert mark.finding.severity == severity
    assert mark.finding.measured == f"{wall_mm:.2f} mm"
    assert f"{wall_mm:.2f} mm thick" in mark.finding.what
    assert np.array_equal(mark.facets, found.walls[0].region.facets)


def test_a_thin_floor_is_made_of_layers_not_of_beads():
    lid = solids.tube(20.0, 17.0, 10.0, 64) + Manifold.cylinder(0.4, 18.0, 18.0, 64)
    found = check(lid)
    assert [one.verdict for one in found.walls] == ["weak"]
    film = solids.tube(20.0, 17.0, 10.0, 64) + Manifold.cylinder(0.1, 18.0, 18.0, 64)
    assert [one.verdict for one in check(film, layer_mm=0.2).walls] == ["vanishes"]
    assert [one.verdict for one in check_vat(lid).walls] == ["weak"]
    assert [one.verdict for one in check_vat(film).walls] == ["vanishes"]


def test_a_leaning_wall_counts_by_its_cut_along_the_layers():
    lean = solids.box(0.7, 20, 20).rotate((0, 0, 0)).translate((-0.35, 0, 0))
    upright = check(lean)
    leaning = check(lean.rotate((0, 60, 0)))
    assert [one.verdict for one in upright.walls] == ["single bead"]
    # 0.7 / cos 60 = 1.4 mm across the layers' plane: two beads, but no wall that carries
    assert [one.verdict for one in leaning.walls] == ["weak"]


def test_a_wall_that_thins_out_gets_the_gravest_verdict_once():
    found = check(wall_solids.taper().rotate((90, 0, 0)))
    assert [one.verdict for one in found.walls] == ["vanishes"]
    assert len(found.marks) == 1


def test_a_small_far_thinner_place_in_a_large_thin_wall_is_told_apart():
    wall = solids.box(1.0, 80, 80) - solids.box(1.0, 4, 4, (0.3, 40, 40))
    found = check(wall)
    assert [one.verdict for one in found.walls] == ["vanishes", "weak"]
    assert found.walls[0].region.area_mm2 < 0.05 * found.walls[1].region.area_mm2


@pytest.mark.parametrize("angle_deg", [20, 30, 45])
def test_a_knife_edge_is_one_note_and_no_alarm(angle_deg):
    found = check(wall_solids.knife(angle_deg))
    assert {one.verdict for one in found.walls} == {"edge"}
    assert [severity for severity, _ in told(found)] == ["note"]
    assert "prints blunt" in found.marks[0].finding.what


def test_a_sharp_tip_is_no_alarm():
    spike = Manifold.cylinder(30.0, 6.0, 0.0, 64)
    assert [severity for severity, _ in told(check(spike))] in ([], ["note"])


def test_walls_that_are_alike_are_one_finding():
    comb = solids.box(60, 20, 3, (0, 0, -3))
    for number in range(12):
        comb += solids.box(0.6, 20, 10, (2 + 4.5 * number, 0, -1))
    found = check(comb)
    assert len(found.walls) == 12
    (mark,) = found.marks
    assert "so do 11 more like it" in mark.finding.what
    assert len(mark.facets) >= 12 * 4


def test_many_different_walls_give_a_few_findings():
    comb = solids.box(200, 30, 3, (0, 0, -3))
    for number in range(30):
        comb += solids.box(0.2 + 0.03 * number, 20, 4 + 0.5 * number, (2 + 6 * number, 0, -1))
    found = check(comb)
    assert len(found.walls) >= 25
    assert len(found.marks) <= 12
    assert "smaller places" in " ".join(what for _, what in told(found))


def test_features_that_are_alike_get_one_verdict_even_near_a_limit():
    # the tips of trapezoidal teeth, with a share of their area near the limit of two beads
    body = solids.box(100, 10, 5, (0, 0, -5))
    for number in range(12):
        x = 5.0 + 7.5 * number
        tooth = wall_solids.prism([[0, -1], [1.35, -1], [1.02, 4], [0.33 - 0.18, 4]], 10.0)
        body += tooth.translate((x, 10.0, 0.0))
    found = check(body)
    assert len({one.verdict for one in found.walls}) == 1
    assert len(found.walls) == 12
    assert len(found.marks) == 1


def test_crumbs_are_summed_up_in_one_note():
    body = solids.box(100, 100, 10)
    for number in range(12):
        body += solids.box(0.3, 1.5, 1.5, (5 + 7 * number, 50, 9.9))
    found = check(body)
    assert [severity for severity, _ in told(found)] == ["note"]
    assert "12 small places" in found.marks[0].finding.what


def test_round_pins_are_left_to_their_own_check_unless_they_vanish():
    assert check(wall_solids.pin(1.0)).marks == ()
    assert [one.verdict for one in check(wall_solids.pin(0.4)).walls] == ["vanishes"]
    bar = solids.box(12, 12, 3, (-6, -6, -3)) + solids.box(0.8, 0.8, 10, (0, 0, -1))
    assert [one.verdict for one in check(bar).walls] == ["single bead"]


def test_soft_feedstock_asks_for_more_and_the_finding_says_whose_rule_it_is():
    soft = rules_for(rows.feedstock(modulus_mpa=30.0))
    part = wall_solids.as_part(wall_solids.hollow_box(1.4))
    (mark,) = check_walls(part, rows.recipe(), soft).marks
    assert mark.finding.required == "at least 1.6 mm"
    assert mark.finding.source.startswith("rule soft_extrusion, wall_structural_mm")
    assert check_walls(part, rows.recipe(), RULES).marks == ()


def test_the_numbers_of_the_whole_part_agree_with_the_surface():
    part = wall_solids.as_part(wall_solids.fins())
    inside_mm, outside_mm = caps_for(rows.recipe(), RULES)
    surface = measure_surface(part, inside_cap_mm=inside_mm, outside_cap_mm=outside_mm)
    found = check_walls(part, rows.recipe(), RULES, surface=surface)
    thin = surface.weight_mm2[surface.thickness_mm < 0.99 * found.limit_mm].sum()
    assert found.thin_area_mm2 == pytest.approx(thin)
    assert found.thin_frac == pytest.approx(thin / part.area_mm2)
    assert found.vanish_frac == pytest.approx(wall_solids.fins_area(0.45) / part.area_mm2, rel=0.01)
    assert found.least_mm == pytest.approx(0.3)
    assert found.low_mm == pytest.approx(0.3)


def test_a_surface_with_too_narrow_a_cap_is_measured_anew():
    part = wall_solids.as_part(wall_solids.hollow_box(1.0))
    narrow = measure_surface(part, inside_cap_mm=0.5, outside_cap_mm=0.5)
    assert check_walls(part, rows.recipe(), RULES, surface=narrow).marks


@pytest.mark.parametrize("name", ["roof_vent.stl", "hinge_pin.stl", "servo_arm.stl"])
def test_demo_parts_with_sound_walls_raise_no_alarm(name):
    part = read_part(PARTS / name)
    assert check_walls(part, rows.recipe(), RULES).marks == ()


def test_a_gear_of_an_npm_package_gets_one_finding_for_all_its_teeth(npm_mesh):
    part = read_part(npm_mesh("stl-models", "objects/gearwheel.bin.stl"))
    found = check_walls(part, rows.recipe(), RULES)
    assert [severity for severity, _ in told(found)] == ["caution"]
    assert "39 more like it" in told(found)[0][1]


def test_a_scan_of_an_npm_package_has_few_findings_and_no_stop(npm_mesh):
    raw = read_part(npm_mesh("stl-models", "objects/bunny.bin.stl"), health="quick")
    scale = 100.0 / max(raw.size_mm)
    part = part_from_mesh(raw.vertices_mm * scale, raw.facets, health="quick")
    found = check_walls(part, rows.recipe(), RULES)
    assert len(found.marks) <= 4
    assert all(severity != "stop" for severity, _ in told(found))
