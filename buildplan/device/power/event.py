"""Will it reboot? The timeline of a start or a stall, and the first part to fail in it.

Volts follow currents at once here: wires have no inductance worth counting at tens of
milliseconds, and a motor that stands still draws its stall current from the first instant.
"""

import math
from dataclasses import dataclass

import numpy as np

from buildplan.device.power.cases import amps_in_mode, least_amps, low_end, make_cases
from buildplan.device.power.fixes import FixPrices, Trouble, capacitor_for, fixes_for
from buildplan.device.power.margins import Margins, margins, short_of, worst_miss
from buildplan.device.power.model import CaseKind, EventReport, Failure, Fix, Phase
from buildplan.device.power.shape import Event, Load, Power
from buildplan.device.power.shelf import Shelf
from buildplan.device.power.solve import solve
from buildplan.device.power.tree import Floats, Network, make_network, most_amps
from buildplan.errors import InputError
from buildplan.tables.wording import not_known

PEAK_RATIO = 2.5
"""A load whose peak is this many times its modes is taken for a motor (ours)."""

PEAK_LEAST_A = 0.1
RAMP_STEPS = 33
RAMP_ZOOMS = 4
BEFORE_MS = 500.0
AFTER_MS = 500.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """A phase before it is solved."""

    name: str
    lasts_ms: float
    load_a: float


def events_of(power: Power) -> tuple[Event, ...]:
    """The events of the tables, or a start and a stall of every load that peaks like a motor."""
    if power.event:
        return power.event
    found = []
    for load in power.load:
        most, _ = most_amps(load, power.mode)
        if load.kind != "power" and load.peak_a >= max(PEAK_RATIO * most, PEAK_LEAST_A):
            found.append(Event(name=f"{load.name} starts", load=load.name, kind="start"))
            found.append(Event(name=f"{load.name} stalls", load=load.name, kind="stall"))
    return tuple(found)


def will_it_reboot(
    power: Power,
    event: Event,
    *,
    shelf: Shelf | None = None,
    prices: FixPrices | None = None,
) -> EventReport:
    """The timeline of an event at the low volts, the first part to fail, and what would help.

    Args:
        power: Source, converters, loads, modes.
        event: Which load starts or stalls, and when.
        shelf: Wires and capacitors to choose from; the built-in ones where left out.
        prices: Rough prices by which the changes are put in order.

    Raises:
        InputError: The event names a load or a mode that is not there, or the tables cannot be.
    """
    load, mode = _load_and_mode(power, event)
    low = low_end(power, shelf)
    network = make_network(low, shelf)
    row = power.load.index(load)
    others = amps_in_mode(power, mode)
    steps = _steps(power, event, load, row)
    phases = _phases(network, event, steps, (row, others))
    before, peak = others.copy(), others.copy()
    before[row], peak[row] = steps[0].load_a, load.peak_a
    failure = _first_failure(network, (before, peak), (event, row), phases)
    reboots = _reboots(low, phases)
    fixes: tuple[Fix, ...] = ()
    capacitor = None
    if failure is not None:
        trouble = Trouble(
            power=power,
            part=failure.part,
            how=failure.how,
            load=load.name,
            before=before,
            amps=peak,
            when=f"when {event.name}",
            lasts_ms=event.start_ms if event.kind == "start" else event.stall_ms,
            mode=mode,
        )
        capacitor = capacitor_for(trouble, shelf)
        fixes = fixes_for(trouble, shelf=shelf, prices=prices, capacitor=capacitor)
    return EventReport(
        name=event.name,
        load=load.name,
        kind=event.kind,
        mode=mode,
        phases=phases,
        failure=failure,
        reboots=reboots,
        fixes=fixes,
        capacitor=capacitor,
    )


def _load_and_mode(power: Power, event: Event) -> tuple[Load, str]:
    """The event's load and the mode of the others, checked."""
    loads = {load.name: load for load in power.load}
    if event.load not in loads:
        raise InputError(f"event {event.name!r}: {not_known('load', event.load, loads)}")
    load = loads[event.load]
    names = [mode.name for mode in power.mode]
    if event.mode and event.mode not in names:
        raise InputError(f"event {event.name!r}: {not_known('mode', event.mode, names)}")
    return load, event.mode or most_amps(load, power.mode)[1]


def _steps(power: Power, event: Event, load: Load, row: int) -> list[_Step]:
    """What the event's load takes from before to after."""
    rest = float(least_amps(power)[row])
    runs = most_amps(load, power.mode)[0]
    steps = [
        _Step(name="before", lasts_ms=BEFORE_MS, load_a=rest),
        _Step(name="start", lasts_ms=event.start_ms, load_a=load.peak_a),
        _Step(name="run", lasts_ms=event.run_ms, load_a=runs),
    ]
    if event.kind == "stall":
        steps.append(_Step(name="stall", lasts_ms=event.stall_ms, load_a=load.peak_a))
    steps.append(_Step(name="after", lasts_ms=AFTER_MS, load_a=rest))
    return steps


def _phases(
    network: Network, event: Event, steps: list[_Step], drawn: tuple[int, Floats]
) -> tuple[Phase, ...]:
    """The timeline, solved in one batch."""
    row, others = drawn
    kind: CaseKind = "event"
    rows = []
    for step in steps:
        amps = others.copy()
        amps[row] = step.load_a
        is_it = step.name == event.kind
        rows.append((event.name if is_it else f"{event.name}, {step.name}", kind, 0.0, amps))
    phases, begin = [], -BEFORE_MS
    for step, case in zip(steps, make_cases(network, rows), strict=True):
        phases.append(
            Phase(
                name=step.name,
                begin_ms=begin,
                lasts_ms=step.lasts_ms,
                load_a=step.load_a,
                case=case,
            )
        )
        begin += step.lasts_ms
    return tuple(phases)


def _first_failure(
    network: Network,
    ends: tuple[Floats, Floats],
    event_row: tuple[Event, int],
    phases: tuple[Phase, ...],
) -> Failure | None:
    """What fails first as the event's load rises from ``before`` to its peak.

    The rise is searched on a grid that is refined around the first point that fails.
    """
    before, peak = ends
    event, row = event_row
    low, high = 0.0, 1.0
    found = _at(network, before, peak, np.array([1.0]))
    if not found.fails.any():
        return None
    for _ in range(RAMP_ZOOMS):
        shares = np.linspace(low, high, RAMP_STEPS)
        found = _at(network, before, peak, shares)
        first = int(found.fails.any(axis=0).argmax())
        low, high = float(shares[max(first - 1, 0)]), float(shares[first])
    column = int(found.fails.any(axis=0).argmax())
    miss = worst_miss(found, column)
    value = required = math.nan
    if miss.row >= 0:
        at_peak = _at(network, before, peak, np.array([1.0]))
        value = float(at_peak.found[miss.row, 0])
        required = float(found.required[miss.row])
    at_a = float(before[row] + high * (peak[row] - before[row]))
    phase = phases[0] if high == 0.0 else phases[1]
    text = short_of(miss.part, miss.how, value, required)
    return Failure(
        part=miss.part,
        how=miss.how,
        phase=phase.name,
        begin_ms=phase.begin_ms,
        at_a=at_a,
        found=value,
        required=required,
        unit="A" if miss.how == "overload" else "V",
        text=f"when {event.name}, {text}, from {at_a:.2f} A of {peak[row]:g} A on",
    )


def _at(network: Network, before: Floats, peak: Floats, shares: Floats) -> Margins:
    amps = before[:, None] + (peak - before)[:, None] * shares
    return margins(network, solve(network, amps))


def _reboots(low: Power, phases: tuple[Phase, ...]) -> tuple[str, ...]:
    """Loads that get less than they need in some phase."""
    names = []
    for i, load in enumerate(low.load):
        volts = [phase.case.volts_v[i] for phase in phases]
        if load.least_v > 0.0 and any(not v >= load.least_v for v in volts):
            names.append(load.name)
    return tuple(names)
