"""PrintEstimate of a material extrusion print."""

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.findings import Finding
from buildplan.part.model import Part
from buildplan.process import extrusion
from buildplan.process.estimate.costs import add_costs
from buildplan.process.estimate.findings import LAYER_OVER_NOZZLE, find_process
from buildplan.process.estimate.grades import grade_spread_frac, joined_spread_frac
from buildplan.process.estimate.model import Prices, PrintEstimate, RoleShare
from buildplan.process.estimate.slits import say_hours
from buildplan.process.estimate.stages import paths_of
from buildplan.process.estimate.steps import find_steps
from buildplan.process.motion import TimeEstimate, estimate_time, layer_change_s
from buildplan.process.paths import Paths
from buildplan.process.roles import ROLE_NAMES, Role
from buildplan.tables.feedstock import ExtrusionFeedstock
from buildplan.tables.printer import ExtrusionPrinter
from buildplan.tables.recipe import ExtrusionRecipe

SUPPORT_ROLES = [Role.SUPPORT, Role.SUPPORT_FACE]


def estimate_extrusion(
    part: Part,
    printer: ExtrusionPrinter,
    feedstock: ExtrusionFeedstock,
    recipe: ExtrusionRecipe,
    prices: Prices,
    *,
    workers: int = 1,
) -> PrintEstimate:
    """Hours, strand, energy and money of one copy; see ``estimate_print``."""
    if not feedstock.density_g_cm3 > 0.0:
        raise InputError(
            f"feedstock {feedstock.key!r}: density_g_cm3 must be above 0, "
            f"found {feedstock.density_g_cm3:g}"
        )
    paths = paths_of(part, recipe, workers=workers)
    times = estimate_time(
        paths,
        printer,
        recipe=recipe,
        flow_limit_mm3_s=feedstock.flow_limit_mm3_s,
        workers=workers,
    )
    findings = (
        *part.findings,
        *say_hours(paths.findings, paths, times, printer, recipe),
        *find_steps(part, paths.layers, most_mm=LAYER_OVER_NOZZLE * printer.nozzle_mm),
        *find_process(paths, times, printer, feedstock, recipe),
    )
    return price_extrusion(part, printer, feedstock, recipe, prices, (paths, times, findings))


def price_extrusion(
    part: Part,
    printer: ExtrusionPrinter,
    feedstock: ExtrusionFeedstock,
    recipe: ExtrusionRecipe,
    prices: Prices,
    planned: tuple[Paths, TimeEstimate, tuple[Finding, ...]],
) -> PrintEstimate:
    """Mass, energy and money of paths whose times are known."""
    paths, times, findings = planned
    density_g_mm3 = feedstock.density_g_cm3 / 1000.0
    purge_mm3 = extrusion.purge_mm3(printer)
    volume_mm3 = float(paths.volume_mm3.sum()) + purge_mm3
    mass_g = volume_mm3 * density_g_mm3
    grade_share = grade_spread_frac(part.health)
    time_share = joined_spread_frac(printer.time_spread_frac, grade_share)
    energy_kwh = extrusion.energy_kwh(printer, times.time_h, times.warm_up_h)
    own_time_h = printer.set_up_min / 60.0
    costs = add_costs(
        printer,
        prices,
        feedstock_cost=mass_g / 1000.0 * feedstock.price_cost_kg,
        energy_kwh=energy_kwh,
        time_h=times.time_h,
        own_time_h=own_time_h,
    )
    layer_mass_g = paths.volume_mm3.sum(axis=1) * density_g_mm3
    layer_mass_g.setflags(write=False)
    shares = share_roles(paths, times, printer, density_g_mm3, purge_mm3)
    supports = [share for share in shares if share.role in ("support", "support_face")]
    return PrintEstimate(
        part=part.name,
        process="extrusion",
        printer=printer.key,
        feedstock=feedstock.key,
        recipe=recipe.key,
        grade=part.health.grade,
        time_h=times.time_h,
        time_spread_h=extrusion.around(times.time_h, time_share),
        mass_g=mass_g,
        mass_spread_g=extrusion.mass_spread_g(mass_g, printer.reel_diameter_mm, grade_share),
        length_m=extrusion.strand_length_m(volume_mm3, printer.reel_diameter_mm),
        volume_ml=volume_mm3 / 1000.0,
        layers=len(paths.layers.z_mm),
        by_role=shares,
        support_mass_g=sum(share.mass_g for share in supports),
        support_time_h=sum(share.time_h for share in supports),
        own_time_h=own_time_h,
        energy_kwh=energy_kwh,
        feedstock_cost=costs.feedstock_cost,
        energy_cost=costs.energy_cost,
        machine_cost=costs.machine_cost,
        own_time_cost=costs.own_time_cost,
        total_cost=costs.total_cost,
        layer_z_mm=paths.layers.z_mm,
        layer_time_s=times.layer_time_s,
        layer_mass_g=layer_mass_g,
        findings=findings,
    )


def share_roles(
    paths: Paths,
    times: TimeEstimate,
    printer: ExtrusionPrinter,
    density_g_mm3: float,
    purge_mm3: float,
) -> tuple[RoleShare, ...]:
    """Every role that occurs, and what belongs to none; hours and grams add up to the whole.

    The least layer time slows beads, so its wait is shared among the beads of its layer.
    Retractions count as travel.
    """
    role_s = slowed_role_s(times)
    role_s[Role.TRAVEL] += float(times.retractions.sum()) * printer.retract_s
    length_mm = times.role_length_mm.sum(axis=0)
    volume_mm3 = paths.volume_mm3.sum(axis=0)
    shares = [
        RoleShare(
            role=ROLE_NAMES[role],
            time_h=float(role_s[role]) / 3600.0,
            length_m=float(length_mm[role]) / 1000.0,
            mass_g=float(volume_mm3[role]) * density_g_mm3,
        )
        for role in Role
        if role_s[role] > 0.0 or volume_mm3[role] > 0.0
    ]
    change_h = float(layer_change_s(paths.layers.thickness_mm, printer).sum()) / 3600.0
    for role_name, time_h, mass_g in (
        ("layer_change", change_h, 0.0),
        ("warm_up", times.warm_up_h, purge_mm3 * density_g_mm3),
    ):
        shares.append(RoleShare(role=role_name, time_h=time_h, length_m=0.0, mass_g=mass_g))
    return tuple(shares)


def slowed_role_s(times: TimeEstimate) -> NDArray[np.float64]:
    """Seconds of every role over all layers, (ROLE_COUNT,), with the wait of short layers."""
    beads_s = times.role_time_s[:, 1:]
    sums = beads_s.sum(axis=1)
    factor = 1.0 + times.slowed_s / np.where(sums > 0.0, sums, 1.0)
    role_s = np.empty(times.role_time_s.shape[1])
    role_s[0] = times.role_time_s[:, 0].sum()
    role_s[1:] = (beads_s * factor[:, None]).sum(axis=0)
    return role_s
