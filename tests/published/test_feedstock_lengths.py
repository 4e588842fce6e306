"""Strand length, grams per metre and diameter tolerance against published and computed values.

Source of every number: tests/published/reference_values.toml, area "feedstock": metres of a
kilogram by cylinder volume (public articles quote about 335 m of 1.75 mm at 1.24 g/cm3 and about
400 m at 1.04 g/cm3), mass per metre, and what 0.02 mm on the diameter does to the mass.
"""

import pytest

from buildplan.process.extrusion import (
    DENSITY_SPREAD_FRAC,
    STRAND_TOLERANCE_MM,
    mass_spread_g,
    strand_length_m,
    strand_mass_g,
)


@pytest.mark.parametrize("material", ["PLA", "PETG", "ABS", "ASA", "TPU95A"])
def test_metres_of_a_kilogram_of_thin_strand(reference, material):
    name = f"filament_length_1kg_175_{material}"
    inputs = reference["feedstock", name]["inputs"]
    volume_mm3 = inputs["mass_kg"] * 1000.0 / inputs["density_g_cm3"] * 1000.0
    length_m = strand_length_m(volume_mm3, inputs["diameter_mm"])
    assert reference.agrees("feedstock", name, length_m)
    assert strand_mass_g(length_m, inputs["diameter_mm"], inputs["density_g_cm3"]) == (
        pytest.approx(1000.0 * inputs["mass_kg"], rel=1e-12)
    )


def test_metres_of_a_kilogram_of_thick_strand(reference):
    name = "filament_length_1kg_285_PLA"
    assert reference.agrees("feedstock", name, strand_length_m(1000.0 / 1.24 * 1000.0, 2.85))


def test_grams_of_a_metre(reference):
    assert reference.agrees("feedstock", "filament_g_per_m_175_PLA", strand_mass_g(1.0, 1.75, 1.24))


def test_diameter_tolerance_moves_the_mass_as_published(reference):
    name = "filament_diameter_tolerance_effect"
    inputs = reference["feedstock", name]["inputs"]
    assert inputs["e_mm"] == STRAND_TOLERANCE_MM
    spread = mass_spread_g(100.0, inputs["d_mm"], 0.0)
    strand_share = ((spread.high / 100.0 - 1.0) ** 2 - DENSITY_SPREAD_FRAC**2) ** 0.5
    assert reference.agrees("feedstock", name, strand_share)


@pytest.mark.parametrize("material", ["PLA", "ABS", "PC"])
def test_density_spread_covers_what_data_sheets_give(reference, material):
    entry = reference["feedstock", f"density_{material}"]["expected"]
    half = (entry["high"] - entry["low"]) / 2.0
    middle = (entry["high"] + entry["low"]) / 2.0
    assert half / middle <= DENSITY_SPREAD_FRAC
