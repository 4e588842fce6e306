"""Numbers of the built-in tables against published values and ranges of common practice.

Sources of the values: tests/published/reference_values.toml (areas feedstock, heat, electrical,
fasteners, printed_rules), each entry with its own. Entries "from memory" never gate: for them the
table must say so too.
"""

import itertools
import math

import pytest

from buildplan.tables import (
    feedstock,
    feedstocks,
    inserts,
    printers,
    recipes,
    screws,
    source_of,
    wires,
)

EXTRUSION = ("PLA", "PETG", "ABS", "ASA", "PA12", "TPU", "PC")
PUBLISHED = [
    ("feedstock", "density_{}", "density_g_cm3", ("PLA", "PETG", "ABS", "ASA", "TPU", "PC")),
    ("feedstock", "tg_{}", "glass_transition_c", ("PLA", "PETG")),
    ("feedstock", "hdt_B_{}", "heat_deflection_c", ("ABS", "PC", "PA12")),
    ("feedstock", "clte_{}", "expansion_um_mk", ("PLA", "ABS", "ASA", "PC", "PA12", "TPU")),
    ("heat", "k_{}", "conductivity_w_mk", ("PLA", "PETG", "ABS", "ASA", "TPU", "PC")),
]
MEMORY = [
    ("feedstock", "density_PA12", "PA12", "density_g_cm3"),
    ("feedstock", "tg_ABS", "ABS", "glass_transition_c"),
    ("feedstock", "tg_ASA", "ASA", "glass_transition_c"),
    ("feedstock", "tg_PC", "PC", "glass_transition_c"),
    ("feedstock", "tg_TPU95A", "TPU", "glass_transition_c"),
    ("feedstock", "hdt_B_PETG", "PETG", "heat_deflection_c"),
    ("feedstock", "clte_PETG", "PETG", "expansion_um_mk"),
]
RESINS = ("standard_photopolymer", "tough_photopolymer", "flexible_photopolymer")
AWG_IN_FULL = (18, 22, 24, 28)
AWG_CURRENTS = (16, 18, 20, 22, 24, 28, 30)
ISO_273 = ("M2", "M3", "M4", "M6")
ISO_4762 = ("M2", "M2.5", "M3", "M4", "M5")
STRESS_AREA = ("M2", "M2.5", "M3", "M4", "M6")
TAP_DRILL = ("M2", "M2.5", "M3", "M4", "M5", "M6")
CHARTED_INSERTS = ("M3", "M4", "M5", "M6")


def is_exactly(reference, area, entry, found):
    """Whether a list or table of published values is met number for number."""
    held = reference[area, entry]
    assert held["provenance"] == "published"
    assert held["tolerance"] == {"abs": 0}
    return held["expected"] == found


def in_file(size):
    return size.replace(".", "p")


@pytest.mark.parametrize(
    ("area", "entry", "key", "field"),
    [
        (area, pattern.format(key), key, field)
        for area, pattern, field, keys in PUBLISHED
        for key in keys
    ],
)
def test_a_feedstock_lies_inside_the_published_range(reference, area, entry, key, field):
    assert reference.agrees(area, entry, getattr(feedstock(key), field))


@pytest.mark.parametrize("entry", ["hdt_B_PLA_amorphous", "hdt_A_PLA_amorphous"])
def test_pla_deflects_where_its_data_sheet_says_and_serves_below(reference, entry):
    pla = feedstock("PLA")
    expected = reference["feedstock", entry]["expected"]
    assert pla.service_c < expected["low"]
    assert reference.agrees("feedstock", "hdt_B_PLA_amorphous", pla.heat_deflection_c)
    assert 45 <= pla.service_c <= 50


def test_asa_deflects_below_the_annealed_heat_grade(reference):
    assert (
        feedstock("ASA").heat_deflection_c
        < (reference["feedstock", "hdt_B_ASA_heat_grade"]["expected"]["low"])
    )


@pytest.mark.parametrize(("area", "entry", "key", "field"), MEMORY)
def test_a_number_known_only_from_memory_says_so(reference, area, entry, key, field):
    assert reference[area, entry]["provenance"] == "from memory"
    assert "from memory" in source_of("feedstock", key, field)


@pytest.mark.parametrize("key", RESINS)
def test_a_photopolymer_has_the_usual_densities(reference, key):
    row = feedstock(key)
    assert reference.agrees("feedstock", "density_resin_liquid", row.liquid_density_g_cm3)
    assert reference.agrees("feedstock", "density_resin_cured", row.density_g_cm3)


def test_the_standard_photopolymer_deflects_in_the_usual_range(reference):
    row = feedstock("standard_photopolymer")
    assert reference.agrees("feedstock", "hdt_B_resin_standard", row.heat_deflection_c)


@pytest.mark.parametrize("key", ["PLA", "PETG", "ABS", "ASA"])
def test_a_kilogram_has_the_published_strand_length(reference, key):
    length_m = 1000.0 / feedstock(key).density_g_cm3 / (math.pi / 4 * 1.75**2)
    assert reference.agrees("feedstock", f"filament_length_1kg_175_{key}", length_m)


@pytest.mark.parametrize("awg", AWG_IN_FULL)
def test_a_wire_has_the_size_of_astm_b258_and_the_resistance_of_iec_60028(reference, awg):
    entry = reference["electrical", f"awg{awg}"]["expected"]
    row = wires()[f"AWG{awg}"]
    assert math.isclose(row.diameter_mm, entry["d_mm"], rel_tol=2e-6)
    assert math.isclose(row.area_mm2, entry["area_mm2"], rel_tol=1e-6)
    assert math.isclose(row.resistance_ohm_km, entry["ohm_per_km"], rel_tol=1e-6)


@pytest.mark.parametrize("row", wires().values(), ids=lambda row: row.key)
def test_every_wire_follows_the_two_formulas(reference, row):
    diameter_mm = 0.127 * 92 ** ((36 - row.awg) / 39)
    rho_ohm_mm2_m = reference["electrical", "rho_cu"]["expected"]
    assert math.isclose(row.diameter_mm, diameter_mm, rel_tol=2e-6)
    assert math.isclose(row.area_mm2, math.pi / 4 * diameter_mm**2, rel_tol=1e-6)
    assert math.isclose(row.resistance_ohm_km * row.area_mm2, 1000 * rho_ohm_mm2_m, rel_tol=1e-6)


@pytest.mark.parametrize("awg", AWG_CURRENTS)
def test_a_wire_carries_the_currents_of_the_public_table(reference, awg):
    row = wires()[f"AWG{awg}"]
    found = [row.open_air_a, row.bundled_a]
    assert is_exactly(reference, "electrical", f"ampacity_awg{awg}", found)


def test_currents_fall_with_the_gauge_number():
    rows = sorted(wires().values(), key=lambda row: row.awg)
    for thick, thin in itertools.pairwise(rows):
        assert thick.open_air_a > thin.open_air_a
        assert thick.bundled_a > thin.bundled_a


@pytest.mark.parametrize("size", ISO_273)
def test_clearance_holes_are_those_of_iso_273(reference, size):
    row = screws()[size]
    found = [row.hole_fine_mm, row.hole_medium_mm, row.hole_coarse_mm]
    assert is_exactly(reference, "fasteners", f"iso273_{in_file(size)}", found)


@pytest.mark.parametrize("size", ISO_4762)
def test_heads_are_those_of_iso_4762(reference, size):
    row = screws()[size]
    found = [row.head_diameter_mm, row.head_height_mm, row.socket_mm, row.pitch_mm]
    assert is_exactly(reference, "fasteners", f"iso4762_{in_file(size)}", found)


@pytest.mark.parametrize("size", STRESS_AREA)
def test_stress_areas_are_those_of_iso_898(reference, size):
    expected = reference["fasteners", f"stress_area_{in_file(size)}"]["expected"]
    assert math.isclose(screws()[size].stress_area_mm2, expected, rel_tol=1e-8)


@pytest.mark.parametrize("size", TAP_DRILL)
def test_tap_holes_follow_the_workshop_rule(reference, size):
    row = screws()[size]
    assert reference.agrees("fasteners", f"tap_drill_{in_file(size)}", row.tap_hole_mm)


@pytest.mark.parametrize("size", CHARTED_INSERTS)
def test_insert_holes_are_those_of_the_chart(reference, size):
    row = inserts()[size]
    found = {
        "hole": row.hole_mm,
        "insert_od": row.outer_mm,
        "tol_plus": row.hole_tolerance_mm,
    }
    assert is_exactly(reference, "fasteners", f"heatset_{size}", found)


def test_small_insert_holes_lie_in_the_makers_ranges(reference):
    ranges = reference["fasteners", "heatset_M2_M2p5"]["expected"]
    for size, (low, high) in ranges.items():
        assert low <= inserts()[size].hole_mm <= high


@pytest.mark.parametrize("row", inserts().values(), ids=lambda row: row.key)
def test_insert_bosses_follow_common_practice(reference, row):
    expected = reference["fasteners", "heatset_depth"]["expected"]
    depth, wall = expected["depth_extra_mm"], expected["boss_wall_mm"]
    assert depth[0] <= row.depth_extra_mm <= depth[1]
    assert wall[0] <= row.boss_wall_mm <= wall[1]


@pytest.mark.parametrize("row", recipes().values(), ids=lambda row: row.key)
def test_a_recipe_stays_inside_common_practice(reference, row):
    layer = "layer_vpp" if row.process == "vat" else "layer_mex"
    assert reference.agrees("printed_rules", layer, row.layer_mm)
    assert reference.agrees("printed_rules", "overhang", row.overhang_limit_deg)
    if row.process == "extrusion":
        assert reference.agrees("printed_rules", "bridge", row.bridge_limit_mm)
        assert reference.agrees("printed_rules", "first_layer_factor", 1 / row.first_layer_frac)


@pytest.mark.parametrize("row", printers().values(), ids=lambda row: row.key)
def test_a_printer_draws_the_usual_power(reference, row):
    if row.process == "vat":
        assert reference.agrees("printed_rules", "power_vpp", row.light_w)
        return
    power_w = row.hold_w + row.motion_w
    hot = row.enclosed or row.width_mm > 300
    assert reference.agrees("printed_rules", "power_mex_hot" if hot else "power_mex", power_w)


def test_every_feedstock_asked_for_is_there():
    assert set(feedstocks()) == {*EXTRUSION, *RESINS}
