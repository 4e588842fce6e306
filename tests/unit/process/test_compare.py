"""compare_feedstocks: one part, one printer, several feedstocks side by side."""

from dataclasses import replace

import pytest
import solids
from bare_parts import solid_part
from rows import feedstock, printer, recipe, vat_feedstock, vat_printer, vat_recipe

from buildplan.errors import InputError
from buildplan.process.cache import clear_caches
from buildplan.process.compare import compare_feedstocks, why_not
from buildplan.process.estimate import Prices, estimate_print, stages
from buildplan.tables import feedstocks as table_feedstocks
from buildplan.tables import printers as table_printers


@pytest.fixture(scope="module")
def box():
    return solid_part(solids.box(20.0, 20.0, 10.0), name="box")


def test_each_row_is_that_feedstocks_own_estimate(box):
    light = feedstock(key="light", density_g_cm3=1.0, flow_limit_mm3_s=4.0, price_cost_kg=50.0)
    prices = Prices(energy_cost_kwh=1.0, own_time_cost_h=1.0)
    rows = compare_feedstocks(box, printer(), (feedstock(), light), recipe(), prices=prices)
    assert [row.feedstock for row in rows] == ["test-pla", "light"]
    for row, material in zip(rows, (feedstock(), light), strict=True):
        estimate = estimate_print(box, printer(), material, recipe(), prices=prices)
        assert row.runs
        assert row.reason == ""
        for name in (
            "time_h",
            "time_spread_h",
            "mass_g",
            "mass_spread_g",
            "volume_ml",
            "length_m",
            "feedstock_cost",
            "total_cost",
        ):
            assert getattr(row, name) == getattr(estimate, name), name
        assert (row.good_for, row.bad_for) == (material.good_for, material.bad_for)
        assert (row.moisture, row.hazards) == (material.moisture, material.hazards)
        assert row.service_c == material.service_c
        assert row.stiffness_mpa == material.modulus_mpa
    assert rows[1].mass_g == pytest.approx(rows[0].mass_g / 1.24, rel=1e-9)
    assert rows[1].volume_ml == pytest.approx(rows[0].volume_ml, rel=1e-12)
    assert rows[1].time_h > rows[0].time_h


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"nozzle_low_c": 265.0}, "needs a nozzle of at least 265 °C, this one reaches 260 °C"),
        ({"platform_c": 110.0}, "needs a platform of 110 °C, this one reaches 100 °C"),
        ({"needs_enclosure": True}, "closed, warm chamber"),
    ],
)
def test_what_cannot_run_says_why_and_has_no_numbers(box, changes, reason):
    (row,) = compare_feedstocks(box, printer(), [feedstock(**changes)], recipe())
    assert not row.runs
    assert reason in row.reason
    assert row.time_h == row.mass_g == row.total_cost == 0.0
    assert row.good_for == feedstock().good_for


def test_limits_that_are_just_met_run():
    assert why_not(printer(), feedstock(nozzle_low_c=260.0, platform_c=100.0)) == ""
    assert why_not(printer(enclosed=True), feedstock(needs_enclosure=True)) == ""


def test_a_feedstock_of_the_other_process_says_so(box):
    (row,) = compare_feedstocks(box, printer(), [vat_feedstock()], recipe())
    assert row.reason == "is for vat photopolymerization, this printer for material extrusion"
    assert not row.runs


def test_photopolymers_differ_by_exposure_and_price(box):
    slow = vat_feedstock(key="slow", exposure_factor_frac=2.0, price_cost_l=80.0)
    usual, slower = compare_feedstocks(box, vat_printer(), [vat_feedstock(), slow], vat_recipe())
    assert slower.time_h > usual.time_h
    assert slower.feedstock_cost == pytest.approx(2.0 * usual.feedstock_cost)
    assert usual.length_m == 0.0
    assert usual.volume_ml > 0.0


def test_a_recipe_of_the_other_process_is_refused(box):
    with pytest.raises(InputError, match=r"test-printer.*extrusion.*test-vat-recipe.*vat"):
        compare_feedstocks(box, printer(), [feedstock()], vat_recipe())


def test_the_geometry_is_planned_once(box, monkeypatch):
    clear_caches()
    planned = []
    real = stages.plan_paths
    monkeypatch.setattr(stages, "plan_paths", lambda *a, **k: planned.append(1) or real(*a, **k))
    many = [replace(feedstock(), key=f"f{i}", density_g_cm3=1.0 + 0.1 * i) for i in range(6)]
    assert len(compare_feedstocks(box, printer(), many, recipe())) == 6
    assert len(planned) == 1


def test_every_feedstock_of_the_table_answers_on_every_printer():
    part = solid_part(solids.box(10.0, 10.0, 4.0), name="chip")
    for machine in table_printers().values():
        settings = recipe() if machine.process == "extrusion" else vat_recipe()
        rows = compare_feedstocks(part, machine, table_feedstocks().values(), settings)
        assert len(rows) == len(table_feedstocks())
        assert any(row.runs for row in rows)
        for row in rows:
            assert row.runs == (row.reason == "")
            assert (row.total_cost > 0.0) == row.runs
            assert row.good_for
            assert row.bad_for
            assert row.hazards
