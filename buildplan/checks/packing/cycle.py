"""One filled platform -> a build cycle with its hours, grams and what is at stake."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.packing.hours import (
    Rates,
    Run,
    loss_in_turn,
    loss_of,
    rates_of,
    run_alone,
    run_in_turn,
    run_together,
    spent_cost,
)
from buildplan.checks.packing.in_turn import find_clash, order_in_turn
from buildplan.checks.packing.model import (
    AtStake,
    Cycle,
    Loss,
    PackRequest,
    Placing,
    Way,
)
from buildplan.checks.packing.outline import polygon_of
from buildplan.checks.packing.platform import Platform
from buildplan.checks.packing.profile import profile_of
from buildplan.errors import NoPlanError
from buildplan.process.estimate.model import PrintEstimate
from buildplan.tables.printer import ExtrusionPrinter, Printer


@dataclass(frozen=True, slots=True)
class Group:
    """What parts of one cycle have in common."""

    feedstock: str
    recipe: str
    layer_um: int


def group_of(request: PackRequest) -> Group:
    """Feedstock and layer of an extrusion estimate; feedstock and recipe of a vat estimate."""
    estimate = request.estimate
    if estimate is None:
        return Group("", "", 0)
    z = estimate.layer_z_mm
    # the first two middles are a layer apart; a part of one layer has its middle half a layer up
    layer_mm = float(z[1] - z[0]) if len(z) > 2 else 2.0 * float(z[0])
    recipe = estimate.recipe if estimate.process == "vat" else ""
    return Group(estimate.feedstock, recipe, round(1000.0 * layer_mm))


def make_cycle(
    asked: Sequence[PackRequest],
    placings: Sequence[Placing],
    printer: Printer,
    platform: Platform,
    way: Way,
    number: int,
) -> Cycle:
    """A filled platform as a build cycle.

    Raises:
        NoPlanError: "one by one", and the head or the beam would hit a finished part.
    """
    ordered = tuple(placings)
    if way == "one by one" and isinstance(printer, ExtrusionPrinter):
        ordered = order_in_turn(ordered, printer)
        clash = find_clash(ordered, printer)
        if clash is not None:
            raise NoPlanError(
                f"printing {clash.printed} after {clash.finished} the {clash.what} would hit it: "
                f"{clash.found_mm:.1f} mm, allowed {clash.allowed_mm:.1f} mm; print them in "
                "separate cycles"
            )
    requests = {request.name: request for request in asked}
    own = [requests[placing.name] for placing in ordered]
    shapes = [polygon_of(placing.outline) for placing in ordered]
    timed = all(request.estimate is not None for request in own)
    figures = _timed(own, ordered, printer, way) if timed else _untimed()
    first = own[0].estimate
    names = dict.fromkeys(r.estimate.recipe for r in own if r.estimate is not None)
    return Cycle(
        number=number,
        way=way,
        printer=printer.key,
        feedstock=first.feedstock if first is not None else "",
        recipe=", ".join(names),
        placings=ordered,
        least_gap_mm=least_gap_mm(ordered),
        used_frac=float(sum(shape.area for shape in shapes)) / platform.area_mm2,
        timed=timed,
        time_h=figures.time_h,
        apart_h=figures.apart_h,
        own_time_h=figures.own_time_h,
        mass_g=figures.mass_g,
        travel_h=figures.travel_h,
        cooling_h=figures.cooling_h,
        spent_cost=figures.spent_cost,
        layer_z_mm=figures.layer_z_mm,
        layer_time_s=figures.layer_time_s,
        at_stake=figures.at_stake,
        run_h=figures.run_h,
        run_loss=figures.run_loss,
    )


def least_gap_mm(placings: Sequence[Placing]) -> float:
    """Least distance between any two outlines; infinite for one alone."""
    import shapely

    shapes = [polygon_of(placing.outline) for placing in placings]
    gaps = [
        float(shapely.distance(shapes[i], shapes[j])) for i in range(len(shapes)) for j in range(i)
    ]
    return min(gaps, default=math.inf)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Figures:
    time_h: float
    apart_h: float
    own_time_h: float
    mass_g: float
    travel_h: float
    cooling_h: float
    spent_cost: float
    layer_z_mm: NDArray[np.float64]
    layer_time_s: NDArray[np.float64]
    at_stake: AtStake
    run_h: tuple[float, ...]
    run_loss: tuple[Loss, ...]


def _timed(
    own: Sequence[PackRequest], placings: Sequence[Placing], printer: Printer, way: Way
) -> _Figures:
    known = {request.name: profile_of(request, printer) for request in own}
    profiles = [known[request.name] for request in own]
    estimates = [_estimate(request) for request in own]
    rates = rates_of(estimates, printer)
    points = [_middle(placing) for placing in placings]
    alone = [run_alone(p, e, printer) for p, e in zip(profiles, estimates, strict=True)]
    if len(own) == 1:
        runs = alone
    elif way == "one by one" and isinstance(printer, ExtrusionPrinter):
        runs = run_in_turn(alone, points, printer)
    else:
        runs = [run_together(own, profiles, points, printer)]
    at_stake = loss_in_turn(runs, rates) if len(runs) > 1 else loss_of(runs[0], rates)
    return _Figures(
        time_h=sum(run.time_h for run in runs),
        apart_h=sum(run.time_h for run in alone),
        own_time_h=max(e.own_time_h for e in estimates),
        mass_g=sum(run.mass_g for run in runs),
        travel_h=_travel_s(runs) / 3600.0,
        cooling_h=sum(run.cooling_s for run in runs) / 3600.0,
        spent_cost=_spent(runs, rates),
        layer_z_mm=_joined([run.layer_z_mm for run in runs]),
        layer_time_s=_joined([run.layer_time_s for run in runs]),
        at_stake=at_stake,
        run_h=tuple(run.time_h for run in runs),
        run_loss=tuple(loss_of(r, rates, warms_up=k == 0).mean for k, r in enumerate(runs)),
    )


def _travel_s(runs: Sequence[Run]) -> float:
    return sum(run.travel_s for run in runs) + sum(run.lead_s for run in runs[1:])


def _spent(runs: Sequence[Run], rates: Rates) -> float:
    spent = sum(spent_cost(run, rates, warms_up=k == 0) for k, run in enumerate(runs))
    return spent + rates.set_up_cost


def _untimed() -> _Figures:
    nothing = Loss(mass_g=0.0, time_h=0.0, cost=0.0)
    return _Figures(
        time_h=0.0,
        apart_h=0.0,
        own_time_h=0.0,
        mass_g=0.0,
        travel_h=0.0,
        cooling_h=0.0,
        spent_cost=0.0,
        layer_z_mm=_joined([]),
        layer_time_s=_joined([]),
        at_stake=AtStake(mean=nothing, worst=nothing),
        run_h=(),
        run_loss=(),
    )


def _joined(arrays: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    whole = np.concatenate([np.zeros(0), *arrays])
    whole.flags.writeable = False
    return whole


def _estimate(request: PackRequest) -> PrintEstimate:
    assert request.estimate is not None, "only cycles with all estimates are timed"
    return request.estimate


def _middle(placing: Placing) -> tuple[float, float]:
    centre = polygon_of(placing.outline).centroid
    return float(centre.x), float(centre.y)
