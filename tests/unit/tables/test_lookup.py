"""Looking rows up by key or name, and saying which names there are."""

import pytest

from buildplan.errors import TableError
from buildplan.tables import (
    feedstock,
    feedstocks,
    inserts,
    printer,
    printers,
    recipe,
    recipes,
    screws,
    source_of,
    wires,
)
from buildplan.tables.match import why_not


@pytest.mark.parametrize("key", ["PETG", "petg", " Petg ", "PETG, glycol-modified polyester"])
def test_a_feedstock_is_found_in_any_capitalisation_and_by_its_name(key):
    assert feedstock(key).key == "PETG"


@pytest.mark.parametrize(
    "key", ["small_moving_bed", "small moving bed", "Small-Moving-Bed", "small moving-bed printer"]
)
def test_blanks_hyphens_and_underscores_are_the_same(key):
    assert printer(key).key == "small_moving_bed"


def test_a_misspelt_feedstock_is_answered_with_the_allowed_ones_and_the_near_one():
    with pytest.raises(TableError) as error:
        feedstock("PTEG")
    message = str(error.value)
    assert message.startswith('feedstock "PTEG" is not known. Allowed: PLA, PETG, ABS')
    assert message.endswith("Did you mean PETG?")


@pytest.mark.parametrize("key", ["", "zzz", "\x00", "a" * 10_000])
def test_a_strange_key_gets_no_near_name_and_a_short_message(key):
    with pytest.raises(TableError) as error:
        printer(key)
    assert "Did you mean" not in str(error.value)
    assert len(str(error.value)) < 250


@pytest.mark.parametrize("key", [None, 3, [], {}])
def test_a_key_that_is_no_text_is_a_table_error(key):
    with pytest.raises(TableError):
        feedstock(key)


def test_everyday_exists_for_both_processes():
    assert recipe("everyday").process == "extrusion"
    assert recipe("Everyday", "vat").process == "vat"
    assert recipe("vat_everyday", process="vat") == recipe("everyday", process="vat")
    assert recipe("everyday").name == recipe("everyday", "vat").name == "everyday"


def test_a_recipe_of_the_other_process_is_named_as_such():
    with pytest.raises(TableError) as error:
        recipe("sturdy", "vat")
    assert '"sturdy" is for extrusion' in str(error.value)
    assert "Allowed: everyday, detail" in str(error.value)


def test_a_source_is_shown_for_a_number():
    assert "ASTM D792" in source_of("feedstock", "pla", "density_g_cm3")
    assert source_of("printer", "mid_vat", "time_spread_frac").startswith("an uncalibrated")


@pytest.mark.parametrize(
    ("kind", "key", "field", "said"),
    [
        ("feedstok", "PLA", "density_g_cm3", "Did you mean feedstock?"),
        ("feedstock", "PLLA", "density_g_cm3", "Did you mean PLA?"),
        ("feedstock", "PLA", "density", "Did you mean density_g_cm3?"),
        ("feedstock", "PLA", "hazards", "is not known"),
    ],
)
def test_a_source_that_is_not_there_is_a_table_error(kind, key, field, said):
    with pytest.raises(TableError, match=said.replace("?", r"\?")):
        source_of(kind, key, field)


def test_changing_what_a_table_function_gives_changes_no_table():
    for table in (feedstocks, printers, recipes, wires, screws, inserts):
        table().clear()
        assert table()


def test_a_printer_runs_what_its_process_and_nozzle_allow():
    small, hot = printer("small_moving_bed"), printer("enclosed_gantry")
    vat = printer("small_vat")
    assert why_not(small, feedstock("PETG")) == ""
    assert why_not(hot, feedstock("PC")) == ""
    assert why_not(vat, feedstock("tough_photopolymer")) == ""
    assert why_not(vat, feedstock("PLA")) == "small_vat is for vat, PLA for extrusion"
    from dataclasses import replace

    cool = replace(small, nozzle_max_c=240.0)
    assert why_not(cool, feedstock("PC")) == (
        "the nozzle of small_moving_bed reaches 240 C, PC needs 260 C"
    )
