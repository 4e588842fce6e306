"""Rows that start from another row: what they take over, what they must say themselves."""

from dataclasses import fields, replace

import pytest

from buildplan.tables import feedstock, printer
from buildplan.tables.loader import built_in
from buildplan.tables.rows import read_rows


def rows(kind, *raws, own_source="a test"):
    table, faults = read_rows(kind, list(raws), base=built_in(kind), own_source=own_source)
    assert faults == ()
    return table


def faults(kind, *raws, own_source="a test"):
    _, found = read_rows(kind, list(raws), base=built_in(kind), own_source=own_source)
    return [fault.text for fault in found]


def test_a_row_of_its_own_name_takes_over_what_it_does_not_change():
    table = rows("printer", {"like": "small_moving_bed", "name": "North Bench", "width_mm": 235})
    made = table.rows["north_bench"]
    expected = replace(
        printer("small_moving_bed"), key="north_bench", name="North Bench", width_mm=235.0
    )
    assert made == expected
    assert table.rows["small_moving_bed"] == printer("small_moving_bed")


def test_a_row_without_a_name_changes_the_one_it_is_like():
    table = rows("feedstock", {"like": "petg", "price_cost_kg": 19.5})
    assert table.rows["PETG"] == replace(feedstock("PETG"), price_cost_kg=19.5)
    assert list(table.rows) == list(built_in("feedstock").rows)


def test_a_row_may_be_like_an_earlier_one_of_the_same_file():
    table = rows(
        "printer",
        {"like": "small_moving_bed", "name": "north", "width_mm": 200},
        {"like": "north", "name": "south", "depth_mm": 210},
    )
    assert (table.rows["south"].width_mm, table.rows["south"].depth_mm) == (200, 210)


def test_a_changed_number_has_a_source_of_its_own_and_the_others_keep_theirs():
    table = rows("feedstock", {"like": "PLA", "name": "mine", "density_g_cm3": 1.25})
    old = built_in("feedstock").sources["PLA"]
    assert table.sources["mine"]["density_g_cm3"] == "a test"
    assert table.sources["mine"]["service_c"] == old["service_c"]
    scale = {"density_g_cm3": "my scale"}
    table = rows(
        "feedstock", {"like": "PLA", "name": "mine", "density_g_cm3": 1.25, "sources": scale}
    )
    assert table.sources["mine"]["density_g_cm3"] == "my scale"


def test_a_table_file_must_say_where_a_changed_number_comes_from():
    change = {"like": "PLA", "density_g_cm3": 1.25, "price_cost_kg": 3}
    (text,) = faults("feedstock", change, own_source="")
    assert text.startswith("density_g_cm3, price_cost_kg have no source. Add density_g_cm3 =")
    assert faults("feedstock", {**change, "sources": {"_all": "my notes"}}, own_source="") == []


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"like": "PLAA"}, 'like "PLAA" is not known'),
        ({"like": 3}, "like 3 is not known"),
        ({"like": "PLA", "process": "vat"}, 'process "vat" differs from "extrusion"'),
        ({"like": "PLA", "densty_g_cm3": 1}, "Did you mean density_g_cm3?"),
        ({"like": "PLA", "sources": 3}, "sources must be a table"),
        ({"like": "PLA", "name": ""}, "is empty"),
        ({"like": "PLA", "name": "a\nb"}, "do not print"),
        ({"like": "PLA", "name": "x" * 101}, "has 101 characters. Allowed: up to 100"),
    ],
)
def test_a_wrong_row_says_what_is_wrong(change, said):
    assert any(said in text for text in faults("feedstock", change))


def test_a_row_of_the_file_replaces_the_built_in_one_of_the_same_key():
    raw = {f.name: getattr(feedstock("PLA"), f.name) for f in fields(feedstock("PLA"))}
    table = rows("feedstock", {**raw, "key": "pla", "name": "my PLA"})
    assert table.rows["PLA"].name == "my PLA"
    assert len(table.rows) == len(built_in("feedstock").rows)
