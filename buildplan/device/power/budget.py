"""The whole power budget of a device: volts, wires, rails, fuse, battery, energy, events."""

import math
from collections.abc import Sequence

import numpy as np

from buildplan.device.power.cases import low_end, make_cases, mode_rows, peak_choices
from buildplan.device.power.cautions import cautions_for_power
from buildplan.device.power.event import events_of, will_it_reboot
from buildplan.device.power.findings import find_troubles
from buildplan.device.power.fixes import FixPrices
from buildplan.device.power.model import (
    Case,
    EnergyDay,
    EventReport,
    GroundShift,
    PartVolts,
    PowerBudget,
    RailLoad,
    WireLoad,
)
from buildplan.device.power.shape import Power
from buildplan.device.power.shelf import Shelf
from buildplan.device.power.sizing import (
    BatteryLife,
    FuseChoice,
    battery_life,
    choose_fuse,
    wall_efficiency_frac,
)
from buildplan.device.power.tree import Network, make_network
from buildplan.device.power.words import when
from buildplan.errors import InputError

HOURS_A_DAY = 24.0
DAYS_A_YEAR = 365.0


def power_budget(
    power: Power,
    *,
    energy_cost_kwh: float = 0.0,
    shelf: Shelf | None = None,
    prices: FixPrices | None = None,
) -> PowerBudget:
    """Volts at every part against its least, and all that follows, for every mode and event.

    Volts, currents and ratings are taken at the low end of every voltage; energy at the label's.

    Args:
        power: Source, converters, loads, modes, events.
        energy_cost_kwh: What a kilowatt-hour costs.
        shelf: Rows to choose from; the built-in ones where left out.
        prices: Rough prices by which remedies are put in order.

    Raises:
        InputError: As ``make_network``.
    """
    if not (math.isfinite(energy_cost_kwh) and energy_cost_kwh >= 0.0):
        raise InputError(f"energy_cost_kwh is {energy_cost_kwh:g}; it must be 0 or more")
    network = make_network(power, shelf)
    low = make_network(low_end(power, shelf), shelf)
    modes = make_cases(low, mode_rows(power))
    peaks = make_cases(low, [(name, "peak", 0.0, amps) for name, amps in peak_choices(power)])
    events = tuple(
        will_it_reboot(power, event, shelf=shelf, prices=prices) for event in events_of(power)
    )
    held = (*modes, *_worst_phases(events))
    label = make_cases(network, mode_rows(power))
    battery = _battery(power, label, shelf)
    parts = _parts(network, held, peaks)
    lines = _wires(network, low, modes, (*held, *peaks))
    rails = _rails(power, held, peaks)
    ground = _ground(power, held)
    fuse = _fuse(network, modes, shelf)
    day = _day(power, label, energy_cost_kwh)
    cautions = cautions_for_power(power, battery)
    budget = PowerBudget(
        power=power,
        cases=(*held, *peaks),
        parts=parts,
        wires=lines,
        rails=rails,
        ground=ground,
        fuse=fuse,
        day=day,
        battery=battery,
        events=events,
        cautions=cautions,
        findings=(),
    )
    return find_troubles(budget, shelf=shelf, prices=prices)


def _worst_phases(events: Sequence[EventReport]) -> tuple[Case, ...]:
    """Of each event the phase with most power, or the one that collapses."""
    found = []
    for event in events:
        cases = [phase.case for phase in event.phases]
        collapsed = [case for case in cases if case.collapsed_at]
        found.append(collapsed[0] if collapsed else max(cases, key=_source_w))
    return tuple(found)


def _source_w(case: Case) -> float:
    return case.source_w


def _worst(values: Sequence[float], *, least: bool) -> int:
    """Position of the least or most value; NaN counts as the worst."""
    filled = [(-math.inf if least else math.inf) if math.isnan(v) else v for v in values]
    return filled.index(min(filled) if least else max(filled))


def _parts(network: Network, held: Sequence[Case], peaks: Sequence[Case]) -> tuple[PartVolts, ...]:
    lines = []
    for i, load in enumerate(network.power.load):
        volts = [case.volts_v[i] for case in held]
        at_peak = [case.volts_v[i] for case in peaks]
        where = _worst(volts, least=True)
        lines.append(
            PartVolts(
                name=load.name,
                least_v=load.least_v,
                worst_v=volts[where],
                worst_case=when(held[where]),
                peak_v=at_peak[_worst(at_peak, least=True)],
                label_v=float(network.nominal_v[network.loads[i]]),
            )
        )
    return tuple(lines)


def _wires(
    network: Network, low: Network, modes: Sequence[Case], cases: Sequence[Case]
) -> tuple[WireLoad, ...]:
    """Rms over the day's modes and the peak over every case that has a solution."""
    lines = []
    able = [case for case in cases if not case.collapsed_at]
    for node, end in enumerate(network.ends):
        if end.length_mm <= 0.0:
            continue
        rms = math.sqrt(
            sum(case.share_frac * np.nan_to_num(case.link_a[node]) ** 2 for case in modes)
        )
        amps = [case.link_a[node] for case in able]
        where = amps.index(max(amps)) if amps else -1
        peak = amps[where] if amps else math.nan
        feed = network.feeds[node]
        lines.append(
            WireLoad(
                name=network.names[node],
                feed=network.names[feed] if feed >= 0 else "outlet",
                wire=end.name,
                length_mm=end.length_mm,
                rms_a=rms,
                peak_a=peak,
                peak_case=when(able[where]) if amps else "",
                bundled_a=end.bundled_a,
                open_air_a=end.open_air_a,
                drop_v=peak * low.ends[node].pair_ohm,
            )
        )
    return tuple(lines)


def _rails(power: Power, held: Sequence[Case], peaks: Sequence[Case]) -> tuple[RailLoad, ...]:
    def line(name: str, column: int, limit_a: float, least_in_v: float) -> RailLoad:
        def amps(case: Case) -> float:
            return case.source_a if column < 0 else case.rail_a[column]

        most = [amps(case) for case in held]
        peak = [amps(case) for case in peaks]
        inputs = [math.nan if column < 0 else case.rail_in_v[column] for case in held]
        where = _worst(most, least=False)
        return RailLoad(
            name=name,
            most_a=most[where],
            most_case=when(held[where]),
            peak_a=peak[_worst(peak, least=False)],
            limit_a=limit_a,
            in_v=inputs[_worst(inputs, least=True)],
            least_in_v=least_in_v,
        )

    return (
        line(power.source.name, -1, power.source.limit_a, 0.0),
        *(
            line(row.name, column, row.limit_a, row.least_in_v)
            for column, row in enumerate(power.converter)
        ),
    )


def _ground(power: Power, held: Sequence[Case]) -> GroundShift | None:
    """The largest difference between two grounds in any mode or event."""
    able = [case for case in held if not case.collapsed_at]
    if len(power.load) < 2 or not able:
        return None
    spans = [max(case.ground_v) - min(case.ground_v) for case in able]
    case = able[spans.index(max(spans))]
    high, low = (case.ground_v.index(end(case.ground_v)) for end in (max, min))
    return GroundShift(
        high=power.load[high].name, low=power.load[low].name, shift_v=max(spans), case=when(case)
    )


def _fuse(network: Network, modes: Sequence[Case], shelf: Shelf | None) -> FuseChoice:
    """The fuse in the source's lead, for every wire up to the next converter."""
    steady = max((case.source_a for case in modes if not case.collapsed_at), default=0.0)
    behind = [
        node
        for node, feed in enumerate(network.feeds)
        if feed <= 0 or all(math.isnan(network.out_v[above]) for above in _above(network, node))
    ]
    thin = min((network.ends[node] for node in behind), key=lambda end: end.open_air_a)
    return choose_fuse(steady, (thin.name, thin.open_air_a), network.power.source.limit_a, shelf)


def _above(network: Network, node: int) -> list[int]:
    """The nodes between a node and the source."""
    found = []
    while network.feeds[node] >= 0:
        node = network.feeds[node]
        found.append(node)
    return found


def _day(power: Power, label: Sequence[Case], energy_cost_kwh: float) -> EnergyDay:
    """Energy of the day; a mode whose voltage collapses counts nothing."""
    mean = sum(c.share_frac * c.source_w for c in label if not c.collapsed_at)
    mains = mean
    if power.source.kind == "wall supply" and power.battery is None:
        mains = mean / wall_efficiency_frac(power.source.supply_v * power.source.limit_a)
    day_wh = mains * HOURS_A_DAY
    day_cost = day_wh * 1e-3 * energy_cost_kwh
    return EnergyDay(
        mean_w=mean,
        mains_w=mains,
        day_wh=day_wh,
        day_cost=day_cost,
        year_cost=day_cost * DAYS_A_YEAR,
    )


def _battery(power: Power, label: Sequence[Case], shelf: Shelf | None) -> BatteryLife | None:
    if power.battery is None:
        return None
    able = [case for case in label if not case.collapsed_at]
    shares = np.array([case.share_frac for case in able])
    amps = np.array([case.source_a for case in able])
    if not float(shares @ amps) > 0.0:
        raise InputError("the battery gives no current in any mode; give the loads their amps")
    return battery_life(power.battery, shares, amps, shelf)
