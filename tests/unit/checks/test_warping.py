"""Free shrinking of a foot against what lifts corners.

Source of the closed form: linear thermal expansion, d = a dT L / 2.
"""

import math

import pytest
import rows
import solids
from manifold3d import Manifold

from buildplan.checks.warping import check_warping, free_shrink_mm, setting_c
from buildplan.errors import InputError
from buildplan.part import part_from_mesh
from buildplan.tables import feedstock, printer, rules_for


def bar(length, width=1.0, height=5.0, at=(0, 0, 0)):
    return part_from_mesh(*solids.arrays(solids.box(length, width, height, at)), health="quick")


def check(part, material, machine="large_moving_bed"):
    row = feedstock(material)
    return check_warping(part, printer(machine), row, rules_for(row))


def severity(found):
    return found.marks[0].finding.severity if found.marks else None


def test_the_shrink_is_expansion_times_cooling_times_half_the_chord():
    found = check(bar(199.9975, 1.0), "ABS")
    assert found.chord_mm == pytest.approx(200.0, abs=1e-3)
    assert found.set_c == 105.0
    assert found.shrink_mm == pytest.approx(90e-6 * (105.0 - 25.0) * 100.0, rel=1e-5)
    assert found.shrink_mm == pytest.approx(0.72, abs=1e-4)


@pytest.mark.parametrize(
    ("material", "length", "machine", "expected"),
    [
        ("PLA", 200, "large_moving_bed", None),
        ("ABS", 200, "large_moving_bed", "caution"),
        ("ABS", 200, "enclosed_gantry", "note"),
        ("PETG", 300, "large_moving_bed", "note"),
        ("PETG", 200, "large_moving_bed", None),
        ("ABS", 60, "large_moving_bed", None),
        ("ASA", 120, "large_moving_bed", "caution"),
        ("PA12", 200, "large_moving_bed", "caution"),
        ("TPU", 150, "large_moving_bed", None),
    ],
)
def test_common_practice_is_met(material, length, machine, expected):
    # common practice, no source: what makers meet with feet of this length
    assert severity(check(bar(length), material, machine)) == expected


def test_a_partly_crystalline_feedstock_sets_above_its_glass_transition():
    nylon = feedstock("PA12")
    assert setting_c(nylon) == max(nylon.glass_transition_c, nylon.heat_deflection_c)
    assert setting_c(nylon) > nylon.glass_transition_c
    glassy = feedstock("PC")
    assert setting_c(glassy) == glassy.glass_transition_c


def test_a_warmer_chamber_than_the_feedstock_sets_at_means_no_shrink():
    assert free_shrink_mm(feedstock("PLA"), 70.0, 300.0) == 0.0


def test_the_foot_counts_and_not_what_stands_out_above_it():
    solid = solids.box(20, 20, 30) + solids.box(300, 20, 3, (0, 0, 20))
    part = part_from_mesh(*solids.arrays(solid), health="quick")
    found = check(part, "ABS")
    assert found.chord_mm == pytest.approx(20.0 * math.sqrt(2.0), abs=1e-9)
    assert not found.marks


def test_a_foot_that_widens_is_measured_where_it_is_cut_at_three_millimetres():
    part = part_from_mesh(*solids.arrays(Manifold.cylinder(30.0, 10.0, 40.0, 256)), health="quick")
    assert check(part, "PLA").chord_mm == pytest.approx(2.0 * 13.0, rel=1e-3)


def test_turning_and_moving_change_nothing():
    solid = solids.box(180, 70, 5)
    plain = check(part_from_mesh(*solids.arrays(solid), health="quick"), "ABS")
    moved = solid.rotate((0, 0, 33.0)).translate((700.0, -50.0, 20.0))
    turned = check(part_from_mesh(*solids.arrays(moved), health="quick"), "ABS")
    assert turned.chord_mm == pytest.approx(plain.chord_mm, rel=1e-9)
    assert turned.shrink_mm == pytest.approx(plain.shrink_mm, rel=1e-9)


def test_the_advice_names_a_chamber_and_another_feedstock_with_their_numbers():
    finding = check(bar(200), "ABS").marks[0].finding
    assert "0.72 mm" in finding.what
    assert "45 C of air: 0.54 mm" in finding.remedy
    assert "PETG would shrink 0.33 mm instead of 0.72 mm" in finding.remedy
    assert "65 C instead of 88 C" in finding.remedy
    assert "below 0.6 mm" in finding.required
    assert "ours" in finding.source


def test_a_long_part_is_marked_on_its_foot():
    found = check(bar(300), "ABS")
    assert len(found.marks[0].facets)
    assert not found.marks[0].facets.flags.writeable


def test_a_vat_part_is_not_hot():
    resin = feedstock("standard_photopolymer")
    found = check_warping(bar(300), rows.vat_printer(), resin, rules_for(resin))
    assert found.shrink_mm == 0.0
    assert not found.marks


def test_rows_of_two_processes_are_refused():
    row = feedstock("PLA")
    with pytest.raises(InputError, match="all three must be of one process"):
        check_warping(bar(100), rows.vat_printer(), row, rules_for(row))
