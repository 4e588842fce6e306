"""Laws of the tables: every number has a unit, a limit and a source; reading costs little."""

import dataclasses
import subprocess
import sys
from importlib import resources

import pytest

from buildplan.tables.limits import LIMITS
from buildplan.tables.loader import built_in
from buildplan.tables.rows import KINDS, RECORDS, is_number
from buildplan.units import unit_of

ALL_RECORDS = [record for by_process in RECORDS.values() for record in by_process.values()]
ROWS = [(kind, key) for kind in KINDS for key in built_in(kind).rows]


@pytest.mark.parametrize("record", ALL_RECORDS, ids=lambda record: record.__name__)
def test_every_number_of_a_record_has_a_limit_and_every_float_a_unit(record):
    for field in dataclasses.fields(record):
        if is_number(record, field.name):
            assert field.name in LIMITS, field.name
        if field.type is float:
            assert unit_of(field.name), field.name


def test_every_limit_belongs_to_a_field_and_runs_upward():
    names = {field.name for record in ALL_RECORDS for field in dataclasses.fields(record)}
    assert set(LIMITS) <= names
    assert all(low < high for low, high in LIMITS.values())


@pytest.mark.parametrize(("kind", "key"), ROWS)
def test_every_number_of_every_row_has_a_source_in_words(kind, key):
    table = built_in(kind)
    row, sources = table.rows[key], table.sources[key]
    numbers = {f.name for f in dataclasses.fields(row) if is_number(type(row), f.name)}
    assert set(sources) == numbers
    assert all(len(source.split()) >= 2 for source in sources.values())


@pytest.mark.parametrize(("kind", "key"), ROWS)
def test_every_text_of_every_row_says_something(kind, key):
    row = built_in(kind).rows[key]
    texts = [getattr(row, f.name) for f in dataclasses.fields(row) if f.type is str]
    assert all(text.strip() == text and text for text in texts)


@pytest.mark.parametrize("kind", KINDS)
def test_every_table_travels_with_the_package(kind):
    assert resources.files("buildplan.tables").joinpath(f"{kind}s.toml").is_file()


def test_every_insert_takes_a_screw_of_the_table():
    screws = built_in("screw").rows
    for row in built_in("insert").rows.values():
        assert row.thread_mm == screws[row.screw].thread_mm
        assert row.thread_mm < row.hole_mm < row.outer_mm


def test_every_screw_fits_its_holes_and_its_head():
    for row in built_in("screw").rows.values():
        holes = (row.hole_fine_mm, row.hole_medium_mm, row.hole_coarse_mm)
        assert row.tap_hole_mm < row.thread_mm < holes[0] < holes[1] < holes[2]
        assert holes[2] < row.head_diameter_mm


def test_every_feedstock_serves_below_its_heat_deflection_unless_it_is_an_elastomer():
    for row in built_in("feedstock").rows.values():
        if row.key == "TPU":
            assert row.service_c < row.glass_transition_c
        else:
            assert row.service_c < row.heat_deflection_c


def test_every_feedstock_warns_of_its_hazards():
    for row in built_in("feedstock").rows.values():
        assert "not food safe" in row.hazards
        assert "room" in row.hazards or "ventilation" in row.hazards
        if row.process == "vat":
            assert "gloves" in row.hazards
            assert "goggles" in row.hazards


def test_every_extrusion_feedstock_runs_on_the_hottest_printer():
    hot = built_in("printer").rows["enclosed_gantry"]
    for row in built_in("feedstock").rows.values():
        if row.process == "extrusion":
            assert row.nozzle_high_c <= hot.nozzle_max_c
            assert row.platform_c <= hot.platform_max_c


def test_an_uncalibrated_printer_is_worth_twenty_percent():
    assert {row.time_spread_frac for row in built_in("printer").rows.values()} == {0.20}


def test_pydantic_is_imported_only_when_a_file_is_read():
    code = (
        "import sys; import buildplan.tables; assert 'pydantic' not in sys.modules; "
        "buildplan.tables.feedstocks(); assert 'pydantic' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
