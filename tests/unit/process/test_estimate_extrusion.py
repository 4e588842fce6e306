"""estimate_print for material extrusion: mass, money, energy, spreads, roles, cached stages."""

import math
from dataclasses import replace

import numpy as np
import pytest
import solids
from bare_parts import solid_part
from rows import feedstock, printer, recipe, vat_feedstock, vat_printer, vat_recipe

from buildplan.errors import InputError
from buildplan.process import extrusion
from buildplan.process.cache import clear_caches
from buildplan.process.estimate import PRICE_SOURCES, Prices, estimate_print, stages

SOLID = recipe(infill_frac=1.0, layer_mm=0.25)


@pytest.fixture(scope="module")
def box():
    return solid_part(solids.box(20.0, 20.0, 10.0), name="box")


@pytest.fixture(scope="module")
def tee():
    return solid_part(solids.tee(), name="tee")


def numbers(estimate):
    """Everything of an estimate that is a number, as comparable bytes."""
    arrays = (estimate.layer_z_mm, estimate.layer_time_s, estimate.layer_mass_g)
    shares = [(s.role, s.time_h, s.length_m, s.mass_g) for s in estimate.by_role]
    plain = (estimate.time_h, estimate.mass_g, estimate.length_m, estimate.total_cost, shares)
    return (plain, [a.tobytes() for a in arrays], estimate.findings)


def test_a_solid_part_weighs_its_volume_and_the_purge(box):
    estimate = estimate_print(box, printer(), feedstock(), SOLID)
    purge_g = extrusion.purge_mm3(printer()) * 1.24e-3
    assert estimate.mass_g - purge_g == pytest.approx(20.0 * 20.0 * 10.0 * 1.24e-3, rel=2e-3)
    assert estimate.layers == 40
    assert estimate.volume_ml == pytest.approx(estimate.mass_g / 1.24, rel=1e-12)
    strand_mm2 = math.pi * 1.75**2 / 4.0
    assert estimate.length_m == pytest.approx(estimate.volume_ml / strand_mm2, rel=1e-12)


def test_roles_and_layers_add_up_to_the_whole(tee):
    estimate = estimate_print(tee, printer(), feedstock(), recipe(supports=True, margin_beads=3))
    roles = [share.role for share in estimate.by_role]
    assert {"travel", "outline", "wall", "infill", "support", "margin", "warm_up"} <= set(roles)
    assert len(set(roles)) == len(roles)
    assert sum(s.time_h for s in estimate.by_role) == pytest.approx(estimate.time_h, rel=1e-12)
    assert sum(s.mass_g for s in estimate.by_role) == pytest.approx(estimate.mass_g, rel=1e-12)
    warm_up = next(s for s in estimate.by_role if s.role == "warm_up")
    assert warm_up.time_h == 240.0 / 3600.0
    assert estimate.layer_time_s.sum() / 3600.0 + warm_up.time_h == pytest.approx(estimate.time_h)
    assert estimate.layer_mass_g.sum() + warm_up.mass_g == pytest.approx(estimate.mass_g)
    assert len(estimate.layer_z_mm) == len(estimate.layer_time_s) == estimate.layers


def test_supports_are_shown_separately(tee):
    without = estimate_print(tee, printer(), feedstock(), recipe())
    with_supports = estimate_print(tee, printer(), feedstock(), recipe(supports=True))
    assert without.support_mass_g == without.support_time_h == 0.0
    assert with_supports.support_mass_g > 1.0
    assert with_supports.support_time_h > 0.0
    assert with_supports.mass_g - with_supports.support_mass_g == pytest.approx(
        without.mass_g, rel=1e-9
    )


def test_money_is_four_sums_made_by_hand(box):
    machine = printer(price_cost=500.0, life_h=2000.0, upkeep_cost_h=0.1, set_up_min=12.0)
    estimate = estimate_print(
        box,
        machine,
        feedstock(price_cost_kg=30.0),
        recipe(),
        prices=Prices(energy_cost_kwh=0.4, own_time_cost_h=20.0),
    )
    assert estimate.feedstock_cost == pytest.approx(estimate.mass_g * 0.030, rel=1e-12)
    assert estimate.energy_cost == pytest.approx(estimate.energy_kwh * 0.4, rel=1e-12)
    assert estimate.machine_cost == pytest.approx(estimate.time_h * (0.25 + 0.1), rel=1e-12)
    assert estimate.own_time_h == 0.2
    assert estimate.own_time_cost == pytest.approx(4.0, rel=1e-12)
    assert estimate.total_cost == pytest.approx(
        estimate.feedstock_cost
        + estimate.energy_cost
        + estimate.machine_cost
        + estimate.own_time_cost,
        rel=1e-12,
    )


def test_energy_is_warm_up_then_holding_and_moving(box):
    machine = printer(warm_up_s=360.0, warm_up_w=300.0, hold_w=80.0, motion_w=20.0)
    estimate = estimate_print(box, machine, feedstock(), recipe())
    by_hand = (300.0 * 0.1 + 100.0 * (estimate.time_h - 0.1)) / 1000.0
    assert estimate.energy_kwh == pytest.approx(by_hand, rel=1e-12)


def test_default_prices_have_sources():
    assert set(PRICE_SOURCES) == set(Prices.__slots__)
    assert all("no source" in text for text in PRICE_SOURCES.values())


@pytest.mark.parametrize("bad", [{"energy_cost_kwh": -0.1}, {"own_time_cost_h": float("nan")}])
def test_prices_that_cannot_be_are_refused(box, bad):
    with pytest.raises(InputError, match="allowed is 0 or more"):
        estimate_print(box, printer(), feedstock(), recipe(), prices=Prices(**bad))


def test_an_exact_mesh_has_the_printers_spread_and_the_strands(box):
    estimate = estimate_print(box, printer(time_spread_frac=0.2), feedstock(), recipe())
    assert estimate.time_spread_h.low == pytest.approx(0.8 * estimate.time_h, rel=1e-12)
    assert estimate.time_spread_h.likely == estimate.time_h
    assert estimate.time_spread_h.high == pytest.approx(1.2 * estimate.time_h, rel=1e-12)
    strand = (1.77 / 1.75) ** 2 - 1.0
    share = math.hypot(strand, 0.02)
    assert estimate.mass_spread_g.high == pytest.approx((1.0 + share) * estimate.mass_g, rel=1e-12)
    assert estimate.mass_spread_g.low == pytest.approx((1.0 - share) * estimate.mass_g, rel=1e-12)


def test_a_repaired_or_open_mesh_has_wider_spreads(box):
    def width(grade, change=0.0):
        health = replace(box.health, grade=grade, volume_change_frac=change)
        part = replace(box, health=health)
        estimate = estimate_print(part, printer(), feedstock(), recipe())
        assert estimate.grade == grade
        return (
            estimate.time_spread_h.high - estimate.time_h,
            estimate.mass_spread_g.high - estimate.mass_g,
        )

    exact, repaired, changed = width("exact"), width("repaired"), width("repaired", -0.05)
    estimate = width("estimate")
    for i in (0, 1):
        assert exact[i] < repaired[i] < changed[i] < estimate[i]


def test_three_processes_must_match_and_all_are_named(box):
    with pytest.raises(InputError, match=r"test-vat.*for vat.*test-pla.*for extrusion"):
        estimate_print(box, vat_printer(), feedstock(), recipe())
    with pytest.raises(InputError, match=r"test-printer.*test-resin.*for vat"):
        estimate_print(box, printer(), vat_feedstock(), recipe())
    with pytest.raises(InputError, match=r"recipe 'test-vat-recipe' for vat"):
        estimate_print(box, printer(), feedstock(), vat_recipe())


def test_impossible_rows_are_refused(box):
    with pytest.raises(InputError, match="density_g_cm3 must be above 0, found 0"):
        estimate_print(box, printer(), feedstock(density_g_cm3=0.0), recipe())
    with pytest.raises(InputError, match="life_h must be above 0, found 0"):
        estimate_print(box, printer(life_h=0.0), feedstock(), recipe())
    with pytest.raises(InputError, match="diameter must be above 0 mm, found 0"):
        extrusion.strand_length_m(100.0, 0.0)


def test_the_feedstocks_flow_limit_counts(box):
    slow = estimate_print(box, printer(), feedstock(flow_limit_mm3_s=2.0), recipe())
    assert slow.time_h > estimate_print(box, printer(), feedstock(), recipe()).time_h


STAGES = (
    "cut_layers",
    "plan_walls",
    "scan_outlines",
    "plan_floor_roof",
    "plan_supports",
    "plan_paths",
)


@pytest.mark.parametrize(
    ("change", "runs"),
    [
        ({}, ()),
        ({"infill_mm_s": 50.0, "first_layer_frac": 0.3, "layer_time_least_s": 1.0}, ()),
        ({"key": "other", "name": "other"}, ()),
        ({"infill_frac": 0.4, "infill_style": "wave"}, ("plan_paths",)),
        ({"retract_over_mm": 5.0}, ("plan_paths",)),
        ({"roof_layers": 2}, ("plan_floor_roof", "plan_paths")),
        ({"support_frac": 0.3}, ("plan_supports", "plan_paths")),
        ({"wall_beads": 3}, ("plan_walls", "plan_floor_roof", "plan_paths")),
        (
            {"bead_mm": 0.5},
            ("plan_walls", "scan_outlines", "plan_floor_roof", "plan_supports", "plan_paths"),
        ),
        ({"layer_mm": 0.3}, STAGES),
    ],
)
def test_a_change_runs_only_the_stages_that_depend_on_it(tee, monkeypatch, change, runs):
    usual = recipe(supports=True)
    clear_caches()
    first = estimate_print(tee, printer(), feedstock(), usual)
    ran = []

    def counted(name):
        stage = getattr(stages, name)

        def call(*args, **options):
            ran.append(name)
            return stage(*args, **options)

        return call

    for name in STAGES:
        monkeypatch.setattr(stages, name, counted(name))
    changed = estimate_print(tee, printer(), feedstock(), replace(usual, **change))
    assert tuple(ran) == runs
    monkeypatch.undo()
    clear_caches()
    fresh = estimate_print(tee, printer(), feedstock(), replace(usual, **change))
    assert numbers(changed) == numbers(fresh)
    assert (numbers(changed) == numbers(first)) == (not set(change) - {"key", "name"})


def test_other_printers_and_prices_reuse_everything(tee, monkeypatch):
    estimate_print(tee, printer(), feedstock(), recipe())
    for name in STAGES:
        monkeypatch.setattr(stages, name, lambda *_, **__: pytest.fail("ran again"))
    other = printer(key="other", print_accel_mm_s2=4000.0, price_cost=900.0)
    estimate_print(tee, other, feedstock(density_g_cm3=1.1), recipe(), prices=Prices())


def test_numbers_do_not_depend_on_workers(tee):
    clear_caches()
    alone = estimate_print(tee, printer(), feedstock(), recipe(supports=True))
    clear_caches()
    together = estimate_print(tee, printer(), feedstock(), recipe(supports=True), workers=3)
    assert numbers(alone) == numbers(together)


def test_results_cannot_be_written(box):
    estimate = estimate_print(box, printer(), feedstock(), recipe())
    for array in (estimate.layer_z_mm, estimate.layer_time_s, estimate.layer_mass_g):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1.0


def test_more_infill_walls_or_roof_never_weigh_less(box):
    usual = estimate_print(box, printer(), feedstock(), recipe()).mass_g
    for change in ({"infill_frac": 0.3}, {"wall_beads": 3}, {"roof_layers": 8}):
        assert estimate_print(box, printer(), feedstock(), recipe(**change)).mass_g > usual
    assert np.isfinite(usual)
