"""Hours and grams of a build cycle, layer by layer, and what is lost when it fails."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import dist

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.packing.model import AtStake, Loss, PackRequest
from buildplan.checks.packing.profile import Profile
from buildplan.process.estimate.model import PrintEstimate
from buildplan.process.motion import rest_to_rest_s
from buildplan.process.vat.motion import layer_times
from buildplan.tables.feedstock import VatFeedstock
from buildplan.tables.printer import ExtrusionPrinter, Printer, VatPrinter
from buildplan.tables.recipe import VatRecipe

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """One run of the machine, or of one part after another within it.

    Attributes:
        lead_s: Time before the first layer (warm-up; between parts the move to the next).
        lead_g: Feedstock spent by then (the purge).
        layer_z_mm, layer_time_s, layer_mass_g: (n_layers,).
        travel_s: Extra moves between parts, within layer_time_s.
        cooling_s: Waits that the parts save each other.
    """

    lead_s: float
    lead_g: float
    layer_z_mm: NDArray[np.float64]
    layer_time_s: NDArray[np.float64]
    layer_mass_g: NDArray[np.float64]
    travel_s: float = 0.0
    cooling_s: float = 0.0

    @property
    def time_h(self) -> float:
        """Hours with the lead."""
        return (self.lead_s + float(self.layer_time_s.sum())) / 3600.0

    @property
    def mass_g(self) -> float:
        """Grams with the lead."""
        return self.lead_g + float(self.layer_mass_g.sum())


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """What grams, hours and set-ups cost.

    Attributes:
        warm_cost_h: Energy while warming up; likewise print_cost_h after it.
        set_up_cost: Own time of one cycle.
    """

    feedstock_cost_g: float
    warm_cost_h: float
    print_cost_h: float
    machine_cost_h: float
    set_up_cost: float


def purge_g(estimate: PrintEstimate) -> float:
    """Feedstock that a cycle spends before its first layer."""
    return sum(share.mass_g for share in estimate.by_role if share.role == "warm_up")


def rates_of(estimates: Sequence[PrintEstimate], printer: Printer) -> Rates:
    """Rates that are in the estimates of the parts of one cycle."""
    mass_g = sum(e.mass_g for e in estimates)
    energy_kwh = sum(e.energy_kwh for e in estimates)
    price = sum(e.energy_cost for e in estimates) / energy_kwh if energy_kwh > 0.0 else 0.0
    time_h = sum(e.time_h for e in estimates)
    if isinstance(printer, ExtrusionPrinter):
        warm = printer.warm_up_w / 1000.0 * price
        run = (printer.hold_w + printer.motion_w) / 1000.0 * price
    else:
        warm = run = energy_kwh * price / time_h
    return Rates(
        feedstock_cost_g=sum(e.feedstock_cost for e in estimates) / mass_g if mass_g else 0.0,
        warm_cost_h=warm,
        print_cost_h=run,
        machine_cost_h=sum(e.machine_cost for e in estimates) / time_h,
        set_up_cost=max(e.own_time_cost for e in estimates),
    )


def run_alone(profile: Profile, estimate: PrintEstimate, printer: Printer) -> Run:
    """A copy in a cycle of its own: its estimate."""
    return Run(
        lead_s=printer.warm_up_s,
        lead_g=purge_g(estimate),
        layer_z_mm=profile.layer_z_mm,
        layer_time_s=profile.layer_time_s,
        layer_mass_g=profile.mass_g,
    )


def run_together(
    requests: Sequence[PackRequest],
    profiles: Sequence[Profile],
    points: Sequence[Point],
    printer: Printer,
) -> Run:
    """All copies layer by layer.

    Extrusion: the beads, travel and retractions of all parts, the extra moves from part to part,
    one layer change, and what is then still lacking to the least layer time. Vat: a layer is
    exposed once; the tallest part decides, and the slow lift follows the area of all.

    Args:
        requests: One for every copy.
        profiles: Likewise.
        points: Middle of every copy on the platform.
        printer: The machine.
    """
    tallest = max(profiles, key=lambda p: len(p.layer_time_s))
    count = len(tallest.layer_time_s)
    mass = _summed([p.mass_g for p in profiles], count)
    estimates = [r.estimate for r in requests if r.estimate is not None]
    lead_g = max(purge_g(e) for e in estimates)
    if isinstance(printer, VatPrinter):
        time_s = _vat_layer_s(requests, profiles, tallest, printer)
        return Run(
            lead_s=printer.warm_up_s,
            lead_g=lead_g,
            layer_z_mm=tallest.layer_z_mm,
            layer_time_s=time_s,
            layer_mass_g=mass,
        )
    travel_s = travel_layers_s([len(p.layer_time_s) for p in profiles], points, printer)
    beads = _summed([p.beads_s for p in profiles], count)
    change = np.zeros(count)
    for profile in profiles:
        n = len(profile.change_s)
        change[:n] = np.maximum(change[:n], profile.change_s)
    other = _summed([p.other_s for p in profiles], count) + change + travel_s
    most = _summed([p.slow_most_s for p in profiles], count)
    least = max(p.least_s for p in profiles)
    slowed = np.maximum(0.0, np.minimum(least - other, most) - beads)
    alone = sum(
        float((p.layer_time_s - p.beads_s - p.other_s - p.change_s).sum())
        for p in profiles
        if p.shared
    )
    return Run(
        lead_s=printer.warm_up_s,
        lead_g=lead_g,
        layer_z_mm=tallest.layer_z_mm,
        layer_time_s=beads + other + slowed,
        layer_mass_g=mass,
        travel_s=float(travel_s.sum()),
        cooling_s=max(0.0, alone - float(slowed.sum())),
    )


def _vat_layer_s(
    requests: Sequence[PackRequest],
    profiles: Sequence[Profile],
    tallest: Profile,
    printer: VatPrinter,
) -> NDArray[np.float64]:
    recipe, feedstock = requests[0].recipe, requests[0].feedstock
    if not (
        all(p.shared for p in profiles)
        and isinstance(recipe, VatRecipe)
        and isinstance(feedstock, VatFeedstock)
    ):
        return tallest.layer_time_s
    area = _summed([p.cured_mm2 for p in profiles], len(tallest.layer_time_s))
    times = layer_times(
        area,
        tallest.thickness_mm,
        recipe,
        printer.lift_accel_mm_s2,
        feedstock.exposure_factor_frac,
    )
    return np.asarray(times.exposure_s + times.hop_s + times.rest_s)


def _summed(arrays: Sequence[NDArray[np.float64]], count: int) -> NDArray[np.float64]:
    """Sum of arrays of different lengths, all from the bottom."""
    total = np.zeros(count)
    for array in arrays:
        total[: len(array)] += array
    return total


def travel_layers_s(
    layers: Sequence[int], points: Sequence[Point], printer: ExtrusionPrinter
) -> NDArray[np.float64]:
    """Extra moves of every layer, (max layers,): from the middle of one part to that of the next.

    A layer visits every part that is still growing once and the next layer goes back the same way,
    so a layer with n parts has n - 1 moves of rest to rest, each with one retraction.
    """
    extra = np.zeros(max(layers))
    below = 0
    for top in sorted(set(layers)):
        alive = [points[k] for k in range(len(layers)) if layers[k] >= top]
        order = short_path(alive)
        seconds = sum(_move_s(dist(a, b), printer) for a, b in pairwise(order))
        extra[below:top] = seconds
        below = top
    return extra


def _move_s(length_mm: float, printer: ExtrusionPrinter) -> float:
    speed = min(printer.travel_mm_s, printer.speed_limit_mm_s)
    return rest_to_rest_s(length_mm, speed, printer.travel_accel_mm_s2) + printer.retract_s


def short_path(points: Sequence[Point]) -> list[Point]:
    """A short way through all points: to the nearest next, then with crossings undone.

    Source: Croes, G. A. (1958), A method for solving traveling-salesman problems, Operations
    Research 6, 791-812 (2-opt), for an open path.
    """
    rest = sorted(points, key=lambda p: (p[0] + p[1], p))
    path = [rest.pop(0)] if rest else []
    while rest:
        nearest = min(rest, key=lambda p: (dist(path[-1], p), p))
        rest.remove(nearest)
        path.append(nearest)
    shorter = True
    while shorter:
        shorter = False
        for i in range(len(path) - 1):
            for j in range(i + 1, len(path)):
                if _saved_by_turning(path, i, j) > 1e-9:
                    path[i : j + 1] = path[i : j + 1][::-1]
                    shorter = True
    return path


def _saved_by_turning(path: Sequence[Point], i: int, j: int) -> float:
    """Length saved when the stretch from i to j is gone the other way round."""
    saved = 0.0
    if i > 0:
        saved += dist(path[i - 1], path[i]) - dist(path[i - 1], path[j])
    if j < len(path) - 1:
        saved += dist(path[j], path[j + 1]) - dist(path[i], path[j + 1])
    return saved


def run_in_turn(
    runs: Sequence[Run], points: Sequence[Point], printer: ExtrusionPrinter
) -> list[Run]:
    """Copies one after another on one platform: one warm-up, one purge, a move to the next."""
    turned = [runs[0]]
    for number, run in enumerate(runs[1:], start=1):
        height = float(runs[number - 1].layer_z_mm[-1])
        lead_s = _move_s(dist(points[number - 1], points[number]), printer)
        lead_s += rest_to_rest_s(height, printer.layer_speed_mm_s, printer.layer_accel_mm_s2)
        turned.append(
            Run(
                lead_s=lead_s,
                lead_g=0.0,
                layer_z_mm=run.layer_z_mm,
                layer_time_s=run.layer_time_s,
                layer_mass_g=run.layer_mass_g,
            )
        )
    return turned


def spent_cost(run: Run, rates: Rates, *, warms_up: bool = True) -> float:
    """Feedstock, energy and machine of a run that goes through."""
    lead_h, layers_h = run.lead_s / 3600.0, float(run.layer_time_s.sum()) / 3600.0
    warm = rates.warm_cost_h if warms_up else rates.print_cost_h
    return (
        run.mass_g * rates.feedstock_cost_g
        + lead_h * warm
        + layers_h * rates.print_cost_h
        + run.time_h * rates.machine_cost_h
    )


def loss_of(run: Run, rates: Rates, *, warms_up: bool = True) -> AtStake:
    """What a failure of one run costs, everything on the platform lost.

    The moment is equally likely anywhere: mean hours = T / 2; mean grams = (1 / T) of the integral
    of the grams spent until t, which rise evenly within a layer. Worst: at the very end.
    """
    total_s = run.lead_s + float(run.layer_time_s.sum())
    if total_s <= 0.0:
        nothing = Loss(mass_g=0.0, time_h=0.0, cost=0.0)
        return AtStake(mean=nothing, worst=nothing)
    before_g = run.lead_g + np.cumsum(run.layer_mass_g) - run.layer_mass_g
    mean_g = float((run.layer_time_s * (before_g + 0.5 * run.layer_mass_g)).sum()) / total_s
    warm = rates.warm_cost_h if warms_up else rates.print_cost_h
    layers_s = total_s - run.lead_s
    lead_cost = warm * run.lead_s / 3600.0
    mean_energy = (
        0.5 * lead_cost * run.lead_s
        + layers_s * (lead_cost + 0.5 * rates.print_cost_h * layers_s / 3600.0)
    ) / total_s
    mean_h = 0.5 * total_s / 3600.0
    return AtStake(
        mean=Loss(
            mass_g=mean_g,
            time_h=mean_h,
            cost=mean_g * rates.feedstock_cost_g
            + mean_energy
            + mean_h * rates.machine_cost_h
            + rates.set_up_cost,
        ),
        worst=Loss(
            mass_g=run.mass_g,
            time_h=run.time_h,
            cost=spent_cost(run, rates, warms_up=warms_up) + rates.set_up_cost,
        ),
    )


def loss_in_turn(runs: Sequence[Run], rates: Rates) -> AtStake:
    """What a failure costs where finished parts stay good: only the one being printed is lost.

    Mean over all moments: sum of (T_i / T) times the mean of part i. Worst: the dearest part.
    """
    each = [loss_of(run, rates, warms_up=k == 0) for k, run in enumerate(runs)]
    shares = np.array([run.time_h for run in runs])
    shares = shares / shares.sum() if shares.sum() > 0.0 else shares
    mean = Loss(
        mass_g=float(sum(s * e.mean.mass_g for s, e in zip(shares, each, strict=True))),
        time_h=float(sum(s * e.mean.time_h for s, e in zip(shares, each, strict=True))),
        cost=float(sum(s * e.mean.cost for s, e in zip(shares, each, strict=True))),
    )
    return AtStake(mean=mean, worst=max((e.worst for e in each), key=lambda loss: loss.cost))
