"""Fuses, capacitors and cells: preferred numbers by their series, cells in their order."""

import math

import pytest

from buildplan.errors import TableError
from buildplan.tables import capacitors, cells, fuses, load_table, source_of


@pytest.mark.parametrize("row", fuses().values(), ids=lambda row: row.key)
def test_a_fuse_has_a_rating_of_the_r10_series(row):
    # ISO 3: R10 is 10^(n/10), rounded by up to 1.3 %
    step = 10.0 * math.log10(row.rating_a)
    assert math.isclose(row.rating_a, 10.0 ** (round(step) / 10.0), rel_tol=0.013)


@pytest.mark.parametrize("row", capacitors().values(), ids=lambda row: row.key)
def test_a_capacitor_has_a_value_of_the_e3_or_e6_series(row):
    # IEC 60063: E6 is 10, 15, 22, 33, 47, 68
    first = row.capacitance_uf / 10.0 ** math.floor(math.log10(row.capacitance_uf))
    assert round(first, 6) in (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)


def test_a_larger_capacitor_sags_less_by_itself():
    rows = sorted(capacitors().values(), key=lambda row: row.capacitance_uf)
    esr = [row.esr_ohm for row in rows]
    assert esr == sorted(esr, reverse=True)


def test_every_cell_runs_from_full_to_empty_and_lithium_is_marked():
    for row in cells().values():
        assert row.cell_empty_v < row.cell_v < row.cell_full_v
        assert row.lithium == ("lithium" in row.name)
        assert 1.0 <= row.peukert_frac <= 1.3
    assert "from memory" in source_of("cell", "nimh", "peukert_frac")


def test_a_cell_that_is_empty_above_its_label_is_refused():
    text = """
    [[cell]]
    key = "odd"
    name = "odd cell"
    cell_v = 1.2
    cell_full_v = 1.4
    cell_empty_v = 1.3
    rated_h = 5.0
    peukert_frac = 1.1
    usable_frac = 0.9
    lithium = false
    note = "odd"
    sources = { _all = "a try out" }
    """
    with pytest.raises(TableError, match=r"cell_empty_v 1.3 and cell_v 1.2 do not agree"):
        load_table("cell", text)
