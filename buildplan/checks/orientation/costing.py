"""Hours and money of a way up, by a simple model that takes arrays of ways up."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.orientation.model import OrientationWeights
from buildplan.part.feature import Feature, FeatureKind
from buildplan.process.estimate.costs import machine_cost_h
from buildplan.process.vat.motion import layer_times
from buildplan.tables.feedstock import ExtrusionFeedstock, Feedstock
from buildplan.tables.printer import ExtrusionPrinter, Printer
from buildplan.tables.recipe import ExtrusionRecipe, Recipe, VatRecipe
from buildplan.tables.rules import ExtrusionRules, Rules

Numbers = NDArray[np.float64]

CORNER_FACTOR = 1.25
"""Hours over length / speed, for corners and short beads. Source: ours, no source; it is replaced
where the estimate as placed is at hand."""

LAYER_S = 1.5
"""Seconds of a layer for travel and the step up. Source: ours, no source."""

PULL: dict[FeatureKind, float] = {"hinge": 1.0, "pin": 1.0, "hook": 1.0, "snap": 1.0, "boss": 0.5}
"""Features that are pulled or bent along their long axis, and how much of it is meant to hold.

Source: ours, no source; a boss is mostly pressed, seldom pulled.
"""

VAT_PULL = 0.25
"""Share of that for vat photopolymerization, where layers cure into each other. From memory."""

HELD_FRAC = 0.3
"""What an area on supports holds, against as much flat contact. Source: ours, no source; a support
stands on the platform as the part does, but with less of it."""

WEAK_COS = 0.7
"""A feature is called weak where its axis is within 45 degrees of "up"."""

WEAK_PULL = 0.4
"""Features whose pull is less are not called weak."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What is printed with what, and what its ways up are weighed by.

    Attributes:
        volume_mm3, area_mm2: Of the part.
        axes: (k, 3) long axes of the features that are pulled; pull: (k,) 0 .. 1; names: (k,).
        time_factor_frac: True hours over the model's, as placed.
    """

    printer: Printer
    feedstock: Feedstock
    recipe: Recipe
    rules: Rules
    weights: OrientationWeights
    volume_mm3: float
    area_mm2: float
    axes: Numbers
    pull: Numbers
    names: tuple[str, ...]
    time_factor_frac: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """The parts of what ways up cost, (k,) each; time_h and support_mass_g beside them."""

    time_h: Numbers
    support_mass_g: Numbers
    time_cost: Numbers
    support_cost: Numbers
    removal_cost: Numbers
    break_cost: Numbers
    loose_cost: Numbers
    total_cost: Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Geometry:
    """What the model takes of ways up, (k,) each but up (k, 3).

    Attributes:
        plan_mm2: sum(A |n . up|) over all facets.
        supported_mm2: Area that needs support; supported_plan_mm2 as seen from above.
    """

    up: Numbers
    height_mm: Numbers
    plan_mm2: Numbers
    contact_mm2: Numbers
    supported_mm2: Numbers
    supported_plan_mm2: Numbers
    support_mm3: Numbers
    on_part_frac: Numbers


def pulled_features(
    features: Sequence[Feature], process: str
) -> tuple[Numbers, Numbers, tuple[str, ...]]:
    """Long axes (k, 3), pulls (k,) and names of the features that layers may split.

    The axis is the longest side of the feature's box; its pull is the kind's times
    2 (longest / second - 1), at most 1: a box with two long sides tells no axis.
    """
    axes, pulls, names = [], [], []
    for feature in features:
        box = np.asarray(feature.box_mm, dtype=np.float64)
        sides = box[3:] - box[:3]
        second, longest = np.sort(sides)[1:]
        pull = PULL.get(feature.kind, 0.0) * min(1.0, 2.0 * (longest / max(second, 1e-9) - 1.0))
        if pull > 0.0:
            axes.append(np.eye(3)[int(np.argmax(sides))])
            pulls.append(pull if process == "extrusion" else VAT_PULL * pull)
            names.append(feature.name)
    return np.array(axes).reshape(-1, 3), np.array(pulls), tuple(names)


def weak_features(job: Job, up: Numbers) -> tuple[str, ...]:
    """Names of the features whose layers would be pulled apart."""
    cos = np.abs(job.axes @ up)
    weak = np.flatnonzero((cos > WEAK_COS) & (job.pull >= WEAK_PULL))
    return tuple(job.names[i] for i in weak.tolist())


def needed_contact(job: Job, height_mm: Numbers) -> Numbers:
    """Flat contact (k,) that holds a part of a height: the least, or as its slenderness asks."""
    rules = job.rules
    if not isinstance(rules, ExtrusionRules):
        return np.zeros(len(height_mm))
    return np.maximum(rules.contact_least_mm2, (height_mm / rules.slenderness_limit_frac) ** 2)


def held_area(ways: Geometry) -> Numbers:
    """Flat contact (k,), and a share of the area that supports carry to the platform."""
    carried = ways.supported_plan_mm2 * (1.0 - ways.on_part_frac)
    return ways.contact_mm2 + HELD_FRAC * carried


def cost_ways(job: Job, ways: Geometry) -> Costs:
    """Hours, support feedstock and money of ways up."""
    support_mm3 = _support_volume(job.recipe, ways)
    return cost_of(
        job,
        ways,
        time_h=_hours(job, ways, support_mm3),
        support_mass_g=support_mm3 / 1000.0 * job.feedstock.density_g_cm3,
    )


def cost_of(job: Job, ways: Geometry, *, time_h: Numbers, support_mass_g: Numbers) -> Costs:
    """Money of ways up whose hours and support feedstock are known."""
    weights = job.weights
    own_s = weights.own_time_cost_h / 3600.0
    time_cost = time_h * _hour_cost(job)
    support_cost = support_mass_g * _gram_cost(job.feedstock)
    removal_cost = (
        ways.supported_mm2
        * (1.0 + weights.inside_frac * ways.on_part_frac)
        * (weights.removal_s_mm2 * own_s)
    )
    own_cost = job.printer.set_up_min / 60.0 * weights.own_time_cost_h
    again = time_cost + own_cost + _part_mass(job, ways) * _gram_cost(job.feedstock)
    pulled = np.abs(ways.up @ job.axes.T) * (weights.break_frac * job.pull)
    breaks = 1.0 - np.prod(1.0 - pulled, axis=1)
    needed = needed_contact(job, ways.height_mm)
    lacks = 1.0 - np.minimum(1.0, held_area(ways) / np.where(needed > 0.0, needed, np.inf))
    loose = weights.loose_frac * np.where(needed > 0.0, lacks, 0.0)
    break_cost, loose_cost = breaks * again, loose * again
    return Costs(
        time_h=time_h,
        support_mass_g=support_mass_g,
        time_cost=time_cost,
        support_cost=support_cost,
        removal_cost=removal_cost,
        break_cost=break_cost,
        loose_cost=loose_cost,
        total_cost=time_cost + support_cost + removal_cost + break_cost + loose_cost,
    )


def _hour_cost(job: Job) -> float:
    printer = job.printer
    power_w = (
        printer.hold_w + printer.motion_w
        if isinstance(printer, ExtrusionPrinter)
        else printer.light_w
    )
    energy = power_w / 1000.0 * job.weights.energy_cost_kwh
    return machine_cost_h(printer) + energy + job.weights.wait_cost_h


def _gram_cost(feedstock: Feedstock) -> float:
    if isinstance(feedstock, ExtrusionFeedstock):
        return feedstock.price_cost_kg / 1000.0
    return feedstock.price_cost_l / 1000.0 / feedstock.liquid_density_g_cm3


def _support_volume(recipe: Recipe, ways: Geometry) -> Numbers:
    """Volume of support that is printed (k,)."""
    if isinstance(recipe, ExtrusionRecipe):
        face = ways.supported_plan_mm2 * (recipe.support_face_layers * recipe.layer_mm)
        face = np.minimum(face, ways.support_mm3)
        return face + recipe.support_frac * (ways.support_mm3 - face)
    share = math.pi / 4.0 * recipe.column_mm**2 / recipe.tip_pitch_mm**2
    return min(1.0, share) * ways.support_mm3


def _hours(job: Job, ways: Geometry, support_mm3: Numbers) -> Numbers:
    recipe = job.recipe
    if isinstance(recipe, VatRecipe):
        return _vat_hours(job, recipe, ways.height_mm)
    assert isinstance(job.printer, ExtrusionPrinter)
    layers = np.ceil(ways.height_mm / recipe.layer_mm - 1e-9)
    beads_s, beads_mm3 = _beads(job, recipe, ways, support_mm3)
    seconds = CORNER_FACTOR * beads_s + LAYER_S * layers
    # a layer takes its least time, but no bead is laid slower than the least speed
    slowest = beads_mm3 / (recipe.bead_mm * recipe.layer_mm * recipe.speed_least_mm_s)
    seconds = np.maximum(seconds, np.minimum(recipe.layer_time_least_s * layers, slowest))
    return (job.printer.warm_up_s + job.time_factor_frac * seconds) / 3600.0


def _deposits(
    job: Job, recipe: ExtrusionRecipe, ways: Geometry
) -> tuple[Numbers, Numbers, Numbers]:
    """Volume (k,) of wall beads, of floors and roofs, and of infill.

    Upright area (A - plan) gets wall beads, half of the plan area floors, the other half roofs; a
    part too thin for that is solid.
    """
    walls = recipe.wall_beads * recipe.bead_mm * np.maximum(0.0, job.area_mm2 - ways.plan_mm2)
    caps = (recipe.floor_layers + recipe.roof_layers) * recipe.layer_mm * 0.5 * ways.plan_mm2
    solid = np.minimum(1.0, job.volume_mm3 / np.maximum(walls + caps, 1e-300))
    walls, caps = walls * solid, caps * solid
    return walls, caps, (job.volume_mm3 - walls - caps) * recipe.infill_frac


def _beads(
    job: Job, recipe: ExtrusionRecipe, ways: Geometry, support_mm3: Numbers
) -> tuple[Numbers, Numbers]:
    """Seconds (k,) of all beads at the speeds asked for, held back by the melt flow; volume."""
    printer, feedstock = job.printer, job.feedstock
    assert isinstance(printer, ExtrusionPrinter)
    assert isinstance(feedstock, ExtrusionFeedstock)
    flow = min(printer.flow_limit_mm3_s, feedstock.flow_limit_mm3_s)
    bead_mm2 = recipe.bead_mm * recipe.layer_mm
    walls, caps, infill = _deposits(job, recipe, ways)
    outline = walls / max(1, recipe.wall_beads)
    seconds, volume = np.zeros(len(walls)), np.zeros(len(walls))
    for share, speed in (
        (outline, recipe.outline_mm_s),
        (walls - outline, recipe.wall_mm_s),
        (caps, recipe.floor_roof_mm_s),
        (infill, recipe.infill_mm_s),
        (support_mm3, recipe.support_mm_s),
    ):
        seconds += share / min(flow, bead_mm2 * min(speed, printer.speed_limit_mm_s))
        volume += share
    return seconds, volume


def _vat_hours(job: Job, recipe: VatRecipe, height_mm: Numbers) -> Numbers:
    """Exposure, lift and rest of every layer of the mean section."""
    assert not isinstance(job.printer, ExtrusionPrinter)
    assert not isinstance(job.feedstock, ExtrusionFeedstock)
    layers = np.maximum(1, np.ceil(height_mm / recipe.layer_mm - 1e-9)).astype(np.int64)
    most = int(layers.max())
    times = layer_times(
        np.full(most, job.volume_mm3 / float(np.median(height_mm))),
        np.full(most, recipe.layer_mm),
        recipe,
        job.printer.lift_accel_mm_s2,
        job.feedstock.exposure_factor_frac,
    )
    until = np.cumsum(times.exposure_s + times.hop_s + times.rest_s)
    seconds = job.time_factor_frac * until[layers - 1]
    hours: Numbers = (job.printer.warm_up_s + seconds) / 3600.0
    return hours


def _part_mass(job: Job, ways: Geometry) -> Numbers:
    if isinstance(job.recipe, ExtrusionRecipe):
        volume = sum(_deposits(job, job.recipe, ways))
    else:
        volume = np.full(len(ways.height_mm), job.volume_mm3)
    return np.asarray(volume) / 1000.0 * job.feedstock.density_g_cm3
