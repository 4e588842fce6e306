"""estimate_print for vat photopolymerization: what it makes of the vat stage's answer."""

import pytest
import solids
from bare_parts import solid_part
from rows import vat_feedstock, vat_printer, vat_recipe

from buildplan.process.cache import clear_caches
from buildplan.process.estimate import Prices, estimate_print, vat_print
from buildplan.process.estimate.stages import layers_of
from buildplan.process.vat import estimate_vat


@pytest.fixture(scope="module")
def tee():
    return solid_part(solids.tee(foot_height=8.0, top=16.0), name="tee")


@pytest.fixture(scope="module")
def solid(tee):
    layers = layers_of(tee, 0.05)
    return estimate_vat(tee, layers, vat_recipe(supports=True), vat_printer(), vat_feedstock())


def estimate_of(tee, **options):
    rows = (vat_printer(), vat_feedstock(), vat_recipe(supports=True))
    return estimate_print(tee, *rows, **options)


def test_hours_and_liquid_are_the_vat_stages(tee, solid):
    estimate = estimate_of(tee)
    assert estimate.process == "vat"
    assert estimate.time_h == pytest.approx(solid.time_s / 3600.0, rel=1e-12)
    assert estimate.volume_ml == solid.liquid_ml
    assert estimate.mass_g == solid.mass_g
    assert estimate.length_m == 0.0
    assert estimate.layers == solid.layers == len(estimate.layer_time_s)
    assert estimate.support_mass_g == pytest.approx(solid.support_ml * 1.18, rel=1e-12)
    assert estimate.support_mass_g > 0.0


def test_steps_add_up_to_the_whole(tee):
    estimate = estimate_of(tee)
    assert {s.role for s in estimate.by_role} == {
        "exposure",
        "lift",
        "rest",
        "warm_up",
        "support",
        "film",
    }
    assert sum(s.time_h for s in estimate.by_role) == pytest.approx(estimate.time_h, rel=1e-12)
    assert sum(s.mass_g for s in estimate.by_role) == pytest.approx(estimate.mass_g, rel=1e-12)


def test_money_energy_and_own_time_by_hand(tee, solid):
    estimate = estimate_of(tee, prices=Prices(energy_cost_kwh=0.5, own_time_cost_h=12.0))
    dark_s = solid.time_s - solid.exposure_s
    energy_kwh = (45.0 * solid.exposure_s + 15.0 * dark_s) / 3.6e6
    assert estimate.energy_kwh == pytest.approx(energy_kwh, rel=1e-12)
    assert estimate.feedstock_cost == pytest.approx(solid.liquid_ml * 0.040, rel=1e-12)
    assert estimate.energy_cost == pytest.approx(energy_kwh * 0.5, rel=1e-12)
    machine = 300.0 / 2000.0 + 0.15
    assert estimate.machine_cost == pytest.approx(estimate.time_h * machine, rel=1e-12)
    own_h = (20.0 + vat_print.WASH_CURE_HANDLING_MIN) / 60.0
    assert estimate.own_time_h == pytest.approx(own_h, rel=1e-12)
    assert estimate.own_time_cost == pytest.approx(12.0 * own_h, rel=1e-12)


def test_spreads_hold_the_printers_and_the_films_share(tee, solid):
    estimate = estimate_of(tee)
    assert estimate.time_spread_h.high == pytest.approx(1.1 * estimate.time_h, rel=1e-12)
    film = 0.5 * solid.film_ml * 1.10 / solid.mass_g
    share = (film**2 + 0.02**2) ** 0.5
    assert estimate.mass_spread_g.low == pytest.approx((1 - share) * estimate.mass_g, rel=1e-9)


def test_prices_reuse_the_vat_stage(tee, monkeypatch):
    clear_caches()
    estimate_of(tee)
    monkeypatch.setattr(vat_print, "estimate_vat", lambda *_: pytest.fail("ran again"))
    assert estimate_of(tee, prices=Prices(energy_cost_kwh=9.0)).energy_cost > 0.0
