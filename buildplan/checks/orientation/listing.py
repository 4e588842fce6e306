"""The ways up that are listed: estimated in full where asked, sorted, described."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import Mark
from buildplan.checks.orientation.costing import (
    Costs,
    cost_of,
    cost_ways,
    held_area,
    needed_contact,
    weak_features,
)
from buildplan.checks.orientation.model import Orientation, OrientationCheck
from buildplan.checks.orientation.scene import (
    MANY_POINTS,
    Scene,
    Way,
    geometry_of,
    hanging_facets,
    measured_way,
    order_ways,
    rows_of,
)
from buildplan.checks.orientation.support import Support
from buildplan.checks.orientation.words import note_for, reason_for
from buildplan.process.estimate import Prices, PrintEstimate, estimate_print
from buildplan.tables.recipe import ExtrusionRecipe

Matrix = NDArray[np.float64]


def sorted_ways(scene: Scene, ways: Sequence[Way], costs: Costs) -> tuple[tuple[Way, ...], Costs]:
    """As placed first, then the others from the best to the worst."""
    if len(ways) == 1:
        return tuple(ways), costs
    others = order_ways(
        scene, rows_of(ways[1:]), geometry_of(scene, ways[1:]), costs.total_cost[1:]
    )
    order = [0, *(1 + others).tolist()]
    picked = {name: getattr(costs, name)[order] for name in Costs.__slots__}
    return tuple(ways[k] for k in order), Costs(**picked)


def estimate_way(scene: Scene, turn: Matrix, workers: int) -> PrintEstimate:
    """Full estimate of a way up, with supports."""
    from buildplan.part.turn import turn_part

    job = scene.job
    return estimate_print(
        turn_part(scene.part, _numbers(turn)),
        job.printer,
        job.feedstock,
        replace(job.recipe, supports=True),
        prices=Prices(
            energy_cost_kwh=job.weights.energy_cost_kwh,
            own_time_cost_h=job.weights.own_time_cost_h,
        ),
        workers=workers,
    )


def calibrate(scene: Scene, estimate: PrintEstimate) -> Scene:
    """The scene with hours that agree with the estimate of the part as placed."""
    job = scene.job
    way = measured_way(scene, 0, np.eye(3), fits=True, samples=MANY_POINTS)
    ways = geometry_of(scene, (way,))
    if isinstance(job.recipe, ExtrusionRecipe) and not job.recipe.supports:
        ways = replace(ways, support_mm3=np.zeros(1), supported_plan_mm2=np.zeros(1))
    warm_up_h = job.printer.warm_up_s / 3600.0
    modelled = float(cost_ways(job, ways).time_h[0]) - warm_up_h
    factor = max(0.0, estimate.time_h - warm_up_h) / modelled
    return replace(scene, job=replace(job, time_factor_frac=factor))


def estimate_in_full(
    scene: Scene, listed: tuple[tuple[Way, ...], Costs], workers: int
) -> tuple[tuple[Way, ...], Costs]:
    """The listed ways with hours and support of the full estimate, sorted anew."""
    ways, _ = listed
    made = [estimate_way(scene, way.turn, workers) for way in ways]
    ways = tuple(
        way if estimate.support_mass_g > 0.0 else replace(way, support=_without(way.support))
        for way, estimate in zip(ways, made, strict=True)
    )
    costs = cost_of(
        scene.job,
        geometry_of(scene, ways),
        time_h=np.array([estimate.time_h for estimate in made]),
        support_mass_g=np.array([estimate.support_mass_g for estimate in made]),
    )
    return sorted_ways(scene, ways, costs)


def _without(support: Support) -> Support:
    return replace(support, supported_mm2=0.0, plan_mm2=0.0, support_mm3=0.0, on_part_frac=0.0)


def _numbers(turn: Matrix) -> tuple[float, ...]:
    """16 numbers of a rotation, row by row; what is 0 or 1 but for rounding is made so."""
    whole = np.rint(turn)
    clean = np.where(np.abs(turn - whole) < 1e-12, whole, turn) + 0.0
    square = np.eye(4)
    square[:3, :3] = clean
    return tuple(float(x) for x in square.ravel())


def make_check(
    scene: Scene, listed: tuple[tuple[Way, ...], Costs], exact: bool
) -> OrientationCheck:
    """The check's answer from the ways that are listed, as placed first."""
    ways, costs = listed
    geometry = geometry_of(scene, ways)
    needed = needed_contact(scene.job, geometry.height_mm).tolist()
    held = held_area(geometry).tolist()
    raw = [_orientation(scene, way, costs, k, exact) for k, way in enumerate(ways)]
    said = [
        replace(
            way, reason=reason_for(way, raw[0], scene.faces, needed_mm2=needed[k], held_mm2=held[k])
        )
        for k, way in enumerate(raw)
    ]
    as_placed, best = said[0], tuple(said[1:])
    note = note_for(best[0], as_placed, scene.part.name, scene.job.printer.name) if best else None
    marks: tuple[Mark, ...] = ()
    if note is not None:
        facets, _ = hanging_facets(scene, 0)
        facets.flags.writeable = False
        marks = (Mark(finding=note, facets=facets),)
    return OrientationCheck(
        part=scene.part.name,
        printer=scene.job.printer.name,
        directions=len(scene.weighed.up),
        weights=scene.job.weights,
        as_placed=as_placed,
        best=best,
        marks=marks,
    )


def _orientation(scene: Scene, way: Way, costs: Costs, k: int, exact: bool) -> Orientation:
    weighed, support, row = scene.weighed, way.support, way.row
    x, y, z = (float(v) for v in weighed.up[row] + 0.0)
    return Orientation(
        matrix=_numbers(way.turn),
        up=(x, y, z),
        turn_deg=math.degrees(math.acos(max(-1.0, min(1.0, z)))),
        fits=way.fits,
        height_mm=float(weighed.height_mm[row]),
        contact_mm2=float(weighed.contact_mm2[row]),
        overhang_mm2=float(weighed.overhang_mm2[row]),
        column_mm3=float(weighed.column_mm3[row]),
        supported_mm2=support.supported_mm2,
        support_mm3=support.support_mm3,
        on_part_frac=support.on_part_frac,
        support_mass_g=float(costs.support_mass_g[k]),
        time_h=float(costs.time_h[k]),
        exact=exact,
        weak=weak_features(scene.job, weighed.up[row]),
        time_cost=float(costs.time_cost[k]),
        support_cost=float(costs.support_cost[k]),
        removal_cost=float(costs.removal_cost[k]),
        break_cost=float(costs.break_cost[k]),
        loose_cost=float(costs.loose_cost[k]),
        total_cost=float(costs.total_cost[k]),
        reason="",
    )
