"""PrintEstimate of a vat photopolymerization print."""

from buildplan.part.model import Part
from buildplan.process.cache import cached
from buildplan.process.estimate.costs import add_costs
from buildplan.process.estimate.grades import grade_spread_frac, joined_spread_frac
from buildplan.process.estimate.model import Prices, PrintEstimate, RoleShare
from buildplan.process.estimate.stages import content_of, layers_of
from buildplan.process.extrusion import DENSITY_SPREAD_FRAC, around
from buildplan.process.vat import VatEstimate, estimate_vat
from buildplan.tables.feedstock import VatFeedstock
from buildplan.tables.printer import VatPrinter
from buildplan.tables.recipe import VatRecipe

WASH_CURE_HANDLING_MIN = 15.0
"""Own time around washing and curing one build cycle: taking the part off, turning, wiping.

The washing and curing minutes themselves run without you.
Source: common practice, no source.
"""

FILM_SPREAD_FRAC = 0.5
"""Spread of the liquid that clings to the surfaces. Source: common practice, no source."""


def estimate_vat_print(
    part: Part,
    printer: VatPrinter,
    feedstock: VatFeedstock,
    recipe: VatRecipe,
    prices: Prices,
    *,
    workers: int = 1,
) -> PrintEstimate:
    """Hours, liquid, energy and money of one copy; see ``estimate_print``."""
    layers = layers_of(part, recipe.layer_mm, workers=workers)
    solid = cached(
        ("vat", content_of(part), recipe, printer, feedstock),
        lambda: estimate_vat(part, layers, recipe, printer, feedstock),
    )
    time_h = solid.time_s / 3600.0
    grade_share = grade_spread_frac(part.health)
    film_g = solid.film_ml * feedstock.liquid_density_g_cm3
    film_share = FILM_SPREAD_FRAC * film_g / solid.mass_g if solid.mass_g > 0.0 else 0.0
    mass_share = joined_spread_frac(DENSITY_SPREAD_FRAC, film_share, grade_share)
    energy_kwh = vat_energy_kwh(printer, solid)
    own_time_h = (printer.set_up_min + WASH_CURE_HANDLING_MIN) / 60.0
    costs = add_costs(
        printer,
        prices,
        feedstock_cost=solid.liquid_ml / 1000.0 * feedstock.price_cost_l,
        energy_kwh=energy_kwh,
        time_h=time_h,
        own_time_h=own_time_h,
    )
    return PrintEstimate(
        part=part.name,
        process="vat",
        printer=printer.key,
        feedstock=feedstock.key,
        recipe=recipe.key,
        grade=part.health.grade,
        time_h=time_h,
        # the hours follow from height and recipe alone, so the mesh's grade does not widen them
        time_spread_h=around(time_h, printer.time_spread_frac),
        mass_g=solid.mass_g,
        mass_spread_g=around(solid.mass_g, mass_share),
        length_m=0.0,
        volume_ml=solid.liquid_ml,
        layers=solid.layers,
        by_role=share_steps(solid, feedstock),
        support_mass_g=solid.support_ml * feedstock.density_g_cm3,
        support_time_h=0.0,
        own_time_h=own_time_h,
        energy_kwh=energy_kwh,
        feedstock_cost=costs.feedstock_cost,
        energy_cost=costs.energy_cost,
        machine_cost=costs.machine_cost,
        own_time_cost=costs.own_time_cost,
        total_cost=costs.total_cost,
        layer_z_mm=solid.layer_z_mm,
        layer_time_s=solid.layer_time_s,
        layer_mass_g=solid.layer_mass_g,
        findings=(*part.findings, *solid.findings),
    )


def vat_energy_kwh(printer: VatPrinter, solid: VatEstimate) -> float:
    """Electrical energy: light while exposing, holding otherwise."""
    dark_s = solid.time_s - solid.exposure_s
    return (printer.light_w * solid.exposure_s + printer.hold_w * dark_s) / 3.6e6


def share_steps(solid: VatEstimate, feedstock: VatFeedstock) -> tuple[RoleShare, ...]:
    """Hours of every step; the cured part counts to the exposure, the film to the wash."""
    support_g = solid.support_ml * feedstock.density_g_cm3
    film_g = solid.film_ml * feedstock.liquid_density_g_cm3
    steps = [
        ("exposure", solid.exposure_s, solid.mass_g - support_g - film_g),
        ("lift", solid.lift_s, 0.0),
        ("rest", solid.rest_s, 0.0),
        ("warm_up", solid.warm_up_s, 0.0),
        ("support", 0.0, support_g),
        ("film", 0.0, film_g),
    ]
    return tuple(
        RoleShare(role=role, time_h=time_s / 3600.0, length_m=0.0, mass_g=mass_g)
        for role, time_s, mass_g in steps
        if time_s > 0.0 or mass_g > 0.0
    )
