"""An estimate with what the log has learned put on it."""

from dataclasses import replace

from buildplan.findings import Spread
from buildplan.journal.learn import Learned, LearnedFactor, factor_for
from buildplan.journal.model import Attempt
from buildplan.process.estimate import PrintEstimate

WALL_ROLES = frozenset({"outline", "wall", "centre"})
"""Roles of bead that run along walls."""


def learned_estimate(estimate: PrintEstimate, learned: Learned) -> PrintEstimate:
    """The estimate with hours and grams multiplied by the log's factors, and the log's spread.

    Hours carry energy and machine cost along, grams the feedstock's length, volume and cost, so
    that shares and layers still add up. Own time and its cost stay. Where no finished print is in
    the log, the estimate is given back as it is. Log the numbers of the estimate that goes in, not
    of the one that comes out.
    """
    walls = walls_frac_of(estimate)
    time = factor_for(learned.time, estimate.printer, estimate.feedstock, walls)
    mass = factor_for(learned.mass, estimate.printer, estimate.feedstock)
    if time.prints:
        estimate = _scale_time(estimate, time)
    if mass.prints:
        estimate = _scale_mass(estimate, mass)
    if not (time.prints or mass.prints):
        return estimate
    total = (
        estimate.feedstock_cost
        + estimate.energy_cost
        + estimate.machine_cost
        + estimate.own_time_cost
    )
    return replace(estimate, total_cost=total)


def walls_frac_of(estimate: PrintEstimate) -> float | None:
    """Share of an estimate's hours in beads along walls; None for vat."""
    if estimate.process != "extrusion" or estimate.time_h <= 0.0:
        return None
    hours = sum(share.time_h for share in estimate.by_role if share.role in WALL_ROLES)
    return min(max(hours / estimate.time_h, 0.0), 1.0)


def attempt_of(estimate: PrintEstimate, *, uid: str, started_utc: str, piece: int = 1) -> Attempt:
    """An attempt as the log takes it, from an estimate that nothing learned was put on yet."""
    return Attempt(
        uid=uid,
        started_utc=started_utc,
        part=estimate.part,
        piece=piece,
        printer=estimate.printer,
        feedstock=estimate.feedstock,
        recipe=estimate.recipe,
        predicted_h=estimate.time_h,
        predicted_g=estimate.mass_g or None,
        walls_frac=walls_frac_of(estimate),
    )


def spread_of(likely: float, factor: LearnedFactor) -> Spread:
    """Spread of a predicted number once it is multiplied by the factor."""
    return Spread(
        low=likely * factor.spread_frac.low,
        likely=likely * factor.spread_frac.likely,
        high=likely * factor.spread_frac.high,
    )


def _scale_time(estimate: PrintEstimate, factor: LearnedFactor) -> PrintEstimate:
    by = factor.likely_frac
    seconds = estimate.layer_time_s * by
    seconds.flags.writeable = False
    return replace(
        estimate,
        time_h=estimate.time_h * by,
        time_spread_h=spread_of(estimate.time_h, factor),
        support_time_h=estimate.support_time_h * by,
        energy_kwh=estimate.energy_kwh * by,
        energy_cost=estimate.energy_cost * by,
        machine_cost=estimate.machine_cost * by,
        by_role=tuple(replace(share, time_h=share.time_h * by) for share in estimate.by_role),
        layer_time_s=seconds,
    )


def _scale_mass(estimate: PrintEstimate, factor: LearnedFactor) -> PrintEstimate:
    by = factor.likely_frac
    grams = estimate.layer_mass_g * by
    grams.flags.writeable = False
    return replace(
        estimate,
        mass_g=estimate.mass_g * by,
        mass_spread_g=spread_of(estimate.mass_g, factor),
        support_mass_g=estimate.support_mass_g * by,
        length_m=estimate.length_m * by,
        volume_ml=estimate.volume_ml * by,
        feedstock_cost=estimate.feedstock_cost * by,
        by_role=tuple(replace(share, mass_g=share.mass_g * by) for share in estimate.by_role),
        layer_mass_g=grams,
    )
