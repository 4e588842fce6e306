"""Findings of a power budget in the common form, each with a computed remedy."""

import dataclasses
import math
from collections.abc import Iterator

import numpy as np

from buildplan.device.power.cases import amps_in_mode, least_amps, low_end
from buildplan.device.power.cautions import TOUCH_LIMIT_V
from buildplan.device.power.changes import HEADROOM, rating_up
from buildplan.device.power.fixes import (
    ROOM_FRAC,
    FixPrices,
    Trouble,
    fixes_for,
)
from buildplan.device.power.margins import margins, short_of
from buildplan.device.power.model import Fix, PowerBudget, WireLoad
from buildplan.device.power.peaks import find_peaks
from buildplan.device.power.shape import PORT_LIMITS
from buildplan.device.power.shelf import Shelf
from buildplan.device.power.solve import solve
from buildplan.device.power.tree import Floats, Network, make_network, wire_name
from buildplan.device.power.words import LABEL, capital, pair, power_finding
from buildplan.findings import SEVERITIES, Finding

GROUND_LIMIT_V = 0.4
"""Room of 3.3 V logic between 0.4 V sent and 0.8 V still read as low (JESD8C, from memory)."""

DROP_LIMIT_FRAC = 0.05
"""Most drop in a wire on a low-voltage rail (common practice: 2 to 5 %)."""

PRACTICE = "common practice, no source"
WIRE_SOURCE = "public table of currents for copper wires; no wiring code"

Said = Iterator[Finding]


def find_troubles(
    budget: PowerBudget,
    *,
    shelf: Shelf | None = None,
    prices: FixPrices | None = None,
) -> PowerBudget:
    """The budget with its findings, the gravest first."""
    shelf = shelf or Shelf()
    found = [
        *_modes(budget, shelf, prices),
        *_events(budget),
        *_little_room(budget),
        *find_peaks(budget, shelf),
        *_wires(budget, shelf),
        *_ground(budget),
        *_fuse(budget),
        *_source(budget),
    ]
    found.sort(key=lambda finding: SEVERITIES.index(finding.severity))
    return dataclasses.replace(budget, findings=tuple(found))


def remedy_of(fixes: tuple[Fix, ...]) -> str:
    """The cheapest change that passes, with the next one; or what helps most."""
    able = [fix for fix in fixes if fix.passes]
    if able:
        more = f" Or {able[1].text}." if len(able) > 1 else ""
        return f"{capital(able[0].text)}.{more}"
    tried = [fix for fix in fixes if not math.isnan(fix.volts_v)]
    if not tried:
        return "No single change is enough: take less current, or a stronger supply."
    best = max(tried, key=lambda fix: fix.volts_v)
    return f"No one or two changes are enough; the best single one: {best.text}."


def _modes(budget: PowerBudget, shelf: Shelf, prices: FixPrices | None) -> Said:
    """A mode in which some part does not get what it needs: one finding a part, the worst mode."""
    power = budget.power
    network = make_network(low_end(power, shelf), shelf)
    worst: dict[tuple[str, str], tuple[float, str, float, float]] = {}
    for mode in power.mode:
        amps = amps_in_mode(power, mode.name)
        state = margins(network, solve(network, amps[:, None]))
        if state.collapsed_at[0]:
            line = (-math.inf, mode.name, math.nan, math.nan)
            worst[state.collapsed_at[0], "collapse"] = line
            continue
        for i in np.flatnonzero(state.fails[:, 0]):
            key = (state.parts[i], state.hows[i])
            line = (
                float(state.slack_frac[i, 0]),
                mode.name,
                float(state.found[i, 0]),
                float(state.required[i]),
            )
            worst[key] = min(worst.get(key, line), line)
    for (part, how), (_, mode_name, found, required) in worst.items():
        trouble = Trouble(
            power=power,
            part=part,
            how=how,
            load=_heaviest(network, part, amps_in_mode(power, mode_name)),
            before=least_amps(power),
            amps=amps_in_mode(power, mode_name),
            when=f"in {mode_name}",
            lasts_ms=math.inf,
            mode="",
        )
        fixes = fixes_for(trouble, shelf=shelf, prices=prices)
        unit = "A" if how == "overload" else "V"
        yield power_finding(
            "caution" if _is_optional(budget, part) else "stop",
            f"in {mode_name}, {short_of(part, how, found, required)}",
            part,
            pair(found, required, unit),
            (remedy_of(fixes), LABEL),
        )


def _heaviest(network: Network, part: str, amps: Floats) -> str:
    """The load that takes most behind the same wires as a part."""
    node = network.names.index(part)

    def shares(other: int) -> bool:
        while other > 0 and other != node:
            other = network.feeds[other]
        return other == node

    behind = [
        (float(taken), load.name)
        for load, place, taken in zip(network.power.load, network.loads, amps, strict=True)
        if shares(place)
    ]
    return max(behind)[1]


def _is_optional(budget: PowerBudget, part: str) -> bool:
    return any(load.name == part and load.optional for load in budget.power.load)


def _events(budget: PowerBudget) -> Said:
    """Events in which something fails; a start and a stall that fail alike are said once."""
    said = set()
    for event in budget.events:
        failure = event.failure
        if failure is None or failure.phase == "before":
            continue  # what fails without the event is said by its mode
        if (event.load, failure.part, failure.how) in said:
            continue
        said.add((event.load, failure.part, failure.how))
        also = [name for name in event.reboots if name != failure.part]
        more = f"; {', '.join(also)} follow" if also else ""
        yield power_finding(
            "caution" if _is_optional(budget, failure.part) else "stop",
            f"{failure.text}{more}",
            failure.part,
            pair(failure.found, failure.required, failure.unit),
            (remedy_of(event.fixes), LABEL),
        )


def _little_room(budget: PowerBudget) -> Said:
    for part in budget.parts:
        room = part.worst_v - part.least_v
        if part.least_v > 0.0 and 0.0 <= room < ROOM_FRAC * part.least_v:
            yield power_finding(
                "caution",
                f"{part.name} gets {part.worst_v:.2f} V {part.worst_case} and needs "
                f"{part.least_v:g} V",
                part.name,
                (f"{part.worst_v:.2f} V", f"at least {part.least_v * (1.0 + ROOM_FRAC):.2f} V"),
                ("Shorten its lead or take the next thicker wire.", PRACTICE),
            )


def _wires(budget: PowerBudget, shelf: Shelf) -> Said:
    """One finding a wire: too warm over the day, too much for an instant, or too much drop."""
    labels = {part.name: part.label_v for part in budget.parts}
    for line in budget.wires:
        if line.rms_a > line.bundled_a or line.peak_a > line.open_air_a:
            yield _too_thin(line, shelf)
        volts = labels.get(line.name, 0.0)
        if volts and line.drop_v > DROP_LIMIT_FRAC * volts:
            yield power_finding(
                "note",
                f"the wire to the {line.name} loses {line.drop_v:.2f} V of {volts:g} V "
                f"{line.peak_case}",
                line.name,
                (f"{line.drop_v:.2f} V", f"at most {DROP_LIMIT_FRAC * volts:.2f} V"),
                ("Shorten it or take a thicker one.", "common practice: 2 to 5 % of the rail"),
            )


def _too_thin(line: WireLoad, shelf: Shelf) -> Finding:
    able = [
        w for w in shelf.wires.values() if w.bundled_a >= line.rms_a and w.open_air_a >= line.peak_a
    ]
    thin = min(able, key=lambda wire: wire.area_mm2) if able else None
    remedy = (
        f"Lay {wire_name(thin)}: it carries {thin.bundled_a:g} A for long."
        if thin
        else "Split the current over two wires: no wire of the table carries it."
    )
    warm = line.rms_a > line.bundled_a
    found, limit = (line.rms_a, line.bundled_a) if warm else (line.peak_a, line.open_air_a)
    how = "over the day" if warm else f"for an instant {line.peak_case}"
    return power_finding(
        "caution",
        f"{line.wire} to the {line.name} carries {found:.2f} A {how}",
        line.name,
        (f"{found:.2f} A", f"at most {limit:g} A"),
        (remedy, WIRE_SOURCE),
    )


def _ground(budget: PowerBudget) -> Said:
    ground = budget.ground
    if ground is not None and ground.shift_v > GROUND_LIMIT_V:
        yield power_finding(
            "caution",
            f"the ground of {ground.high} lies {ground.shift_v:.2f} V above that of {ground.low} "
            f"{ground.case}",
            ground.high,
            (f"{ground.shift_v:.2f} V", f"at most {GROUND_LIMIT_V:g} V"),
            (
                "Join the grounds at one point, at the rail, by a thicker return; signals between "
                "the two are misread otherwise.",
                "LVTTL levels of JESD8C (from memory)",
            ),
        )


def _fuse(budget: PowerBudget) -> Said:
    fuse = budget.fuse
    numbers = (f"{fuse.steady_a:.2f} A steady", f"fuse at most {fuse.wire_a:g} A")
    if not fuse.name or not fuse.guards:
        had = f"the {fuse.name} that {fuse.steady_a:.2f} A asks for does not guard"
        yield power_finding(
            "caution",
            f"{had if fuse.name else 'no fuse of the table guards'} the thinnest wire on the "
            f"source, {fuse.wire_name}",
            budget.power.source.name,
            numbers,
            (
                f"Take a thicker wire than {fuse.wire_name} there, or give that wire a fuse of its "
                "own.",
                "fuse makers' derating to 75 %, common practice",
            ),
        )
    else:
        more = (
            ""
            if fuse.blows
            else (
                f"; the source gives {fuse.supply_a:g} A and may limit before it blows: its own "
                "limit guards too"
            )
        )
        yield power_finding(
            "note",
            f"a {fuse.name} suits the source's lead{more}",
            budget.power.source.name,
            numbers,
            (
                f"Put a {fuse.name} near the source.",
                "fuse makers' derating to 75 %, common practice",
            ),
        )


def _source(budget: PowerBudget) -> Said:
    """The source against its kind: a port's limit, a voltage that can shock, a battery's hours."""
    source = budget.power.source
    port = PORT_LIMITS.get(source.kind)
    most = max((rail.most_a for rail in budget.rails[:1]), default=0.0)
    if port is not None and (source.limit_a > port.limit_a or most > port.limit_a):
        yield power_finding(
            "stop",
            f"{source.name} is asked for {most:.2f} A; a {source.kind} port gives "
            f"{port.limit_a:g} A",
            source.name,
            (f"{max(most, source.limit_a):.2f} A", f"at most {port.limit_a:g} A"),
            (
                f"Take a supply of {rating_up(HEADROOM * most):g} A, or a port that gives it.",
                "USB 2.0 ch. 7.2.1, USB 3.x, Battery Charging 1.2, USB Type-C",
            ),
        )
    if source.supply_v > TOUCH_LIMIT_V:
        yield power_finding(
            "caution",
            f"{source.name} has {source.supply_v:g} V, more than may be touched without thought",
            source.name,
            (f"{source.supply_v:g} V", f"at most {TOUCH_LIMIT_V:g} V"),
            (
                "Take a source below it, or have the device looked at by a qualified person.",
                "42.4 V peak and 60 V d.c. of IEC 60950-1 and IEC 62368-1",
            ),
        )
    if budget.battery is not None:
        yield power_finding(
            "note",
            f"{budget.battery.name} last {budget.battery.runtime_h:.1f} h",
            source.name,
            (f"{budget.battery.runtime_h:.1f} h", "no limit given"),
            ("Charge or change it before then.", "Peukert's law over the day's modes"),
        )
