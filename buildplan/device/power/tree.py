"""The network of a device as a tree: every wire, converter and load in flat arrays, feed first.

Node 0 is the far end of the source's lead; each converter and each load is one more node at the
end of its own wire. A loop, an unknown feed or a number that cannot be is refused here.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from buildplan.device.power.shape import SOURCE, Converter, Load, Mode, Power, Source
from buildplan.device.power.shelf import Shelf
from buildplan.errors import InputError
from buildplan.tables.hardware import Wire
from buildplan.tables.wording import not_known, show

COPPER_PER_K = 0.00393
"""Temperature coefficient of copper's resistance at 20 C (IEC 60028)."""

COPPER_OHM_MM2_M = 1.0 / 58.0
"""Resistivity of annealed copper at 20 C (IEC 60028)."""

USUAL_MODES = ("idle", "watch", "count", "actuate")
SHARE_SLIP = 1e-6
WIRE_RANGE_C = (-60.0, 200.0)
ABOVE_0 = ("supply_v", "limit_a", "out_v", "efficiency_frac", "cells", "capacity_ah")

Wired = Source | Converter | Load
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class WireEnd:
    """The wire from a node's feed to the node.

    Attributes:
        name: Gauge and cross-section in words ("AWG 24 (0.20 mm2)").
        length_mm: Length of the pair.
        area_mm2: Cross-section of one conductor.
        open_air_a, bundled_a: What one such wire may carry for short and for long.
        pair_ohm: Resistance there and back, contacts included.
    """

    name: str
    length_mm: float
    area_mm2: float
    open_air_a: float
    bundled_a: float
    pair_ohm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """A checked power tree. Arrays have one entry a node: the source's lead, converters, loads.

    Attributes:
        power: What it was made from.
        names: Name of each node.
        feeds: Number of the node that feeds it; -1 for the source's lead. Always lower than its
            own number.
        ends: Its wire.
        link_ohm: Resistance of its wire there and back; for node 0 with the source's own.
        return_ohm: The part of it in the return conductor.
        nominal_v: Volts of the rail on which the node stands, by the labels.
        out_v: Output of a converter, NaN for other nodes.
        out_ohm, efficiency_frac, idle_w: Of a converter; 0, 1, 0 for other nodes.
        loads: Node of each load, in the order of ``power.load``.
        converters: Node of each converter, in the order of ``power.converter``.
    """

    power: Power
    names: tuple[str, ...]
    feeds: tuple[int, ...]
    ends: tuple[WireEnd, ...]
    link_ohm: Floats
    return_ohm: Floats
    nominal_v: Floats
    out_v: Floats
    out_ohm: Floats
    efficiency_frac: Floats
    idle_w: Floats
    loads: tuple[int, ...]
    converters: tuple[int, ...]


def make_network(power: Power, shelf: Shelf | None = None) -> Network:
    """The tree of a device, checked.

    Args:
        power: Source, converters, loads and modes.
        shelf: Rows of wires; the built-in ones where left out.

    Raises:
        InputError: A name used twice, an unknown feed, a loop, a load outside every mode, shares
            that do not make 1, or a number that cannot be; with names and numbers.
    """
    check_power(power)
    rows = tuple((shelf or Shelf()).wires.values())
    nodes, feeds = _in_order(power)
    ends = tuple(wire_end(node, rows, power.wire_c) for node in nodes)
    pair = np.array([end.pair_ohm for end in ends])
    link = pair.copy()
    link[0] += power.source.inner_ohm
    out_v = np.array([n.out_v if isinstance(n, Converter) else math.nan for n in nodes])
    nominal = np.empty(len(nodes))
    for i, feed in enumerate(feeds):
        rail = power.source.supply_v if feed < 0 else out_v[feed]
        nominal[i] = nominal[feed] if math.isnan(rail) else rail
    place = {node.name: i for i, node in enumerate(nodes) if i}
    arrays = [
        link,
        pair / 2.0,
        nominal,
        out_v,
        np.array([n.inner_ohm if isinstance(n, Converter) else 0.0 for n in nodes]),
        np.array([n.efficiency_frac if isinstance(n, Converter) else 1.0 for n in nodes]),
        np.array([n.idle_w if isinstance(n, Converter) else 0.0 for n in nodes]),
    ]
    for array in arrays:
        array.flags.writeable = False
    return Network(
        power=power,
        names=tuple(node.name for node in nodes),
        feeds=feeds,
        ends=ends,
        link_ohm=arrays[0],
        return_ohm=arrays[1],
        nominal_v=arrays[2],
        out_v=arrays[3],
        out_ohm=arrays[4],
        efficiency_frac=arrays[5],
        idle_w=arrays[6],
        loads=tuple(place[load.name] for load in power.load),
        converters=tuple(place[row.name] for row in power.converter),
    )


def copper_ohm(area_mm2: float, length_mm: float, copper_c: float = 20.0) -> float:
    """Resistance of one copper conductor: rho (1 + a (T - 20)) L / A.

    Source: IEC 60028 (1925), resistivity 1/58 ohm mm2/m and coefficient 0.00393 at 20 C.
    """
    rho = COPPER_OHM_MM2_M * (1.0 + COPPER_PER_K * (copper_c - 20.0))
    return rho * length_mm * 1e-3 / area_mm2


def wire_end(node: Wired, rows: Sequence[Wire], copper_c: float) -> WireEnd:
    """The wire of a node with its resistance there and back.

    A cross-section typed in takes the currents of the nearest thinner row.

    Raises:
        InputError: No row has the gauge, or the cross-section is thinner than every row.
    """
    if node.wire_mm2 > 0.0:
        thinner = [row for row in rows if row.area_mm2 <= node.wire_mm2 * 1.0001]
        if not thinner:
            least = min(row.area_mm2 for row in rows)
            raise InputError(
                f"{node.name}: wire_mm2 {node.wire_mm2:g} is thinner than every wire of the "
                f"table; allowed: {least:.3g} or more"
            )
        row = max(thinner, key=lambda row: row.area_mm2)
        area, name = node.wire_mm2, f"{node.wire_mm2:.3g} mm2"
        one = copper_ohm(area, node.wire_mm, copper_c)
    else:
        gauges = {wire.awg: wire for wire in rows}
        if node.wire_awg not in gauges:
            raise InputError(
                f"{node.name}: no wire of the table has gauge {node.wire_awg}; "
                f"allowed: {', '.join(str(awg) for awg in sorted(gauges))}"
            )
        row = gauges[node.wire_awg]
        area, name = row.area_mm2, wire_name(row)
        warm = 1.0 + COPPER_PER_K * (copper_c - 20.0)
        one = row.resistance_ohm_km * warm * node.wire_mm * 1e-6
    return WireEnd(
        name=name,
        length_mm=node.wire_mm,
        area_mm2=area,
        open_air_a=row.open_air_a,
        bundled_a=row.bundled_a,
        pair_ohm=2.0 * (one + node.plugs * node.contact_ohm),
    )


def wire_name(row: Wire) -> str:
    """A wire in words, with both ways in which shops name it."""
    return f"AWG {row.awg} ({row.area_mm2:.2g} mm2)"


def mode_amps(load: Load, mode: str) -> float | None:
    """Amps of a load in a mode, or None where it is off."""
    if mode in load.mode_a:
        return load.mode_a[mode]
    found: float | None = getattr(load, f"{mode}_a") if mode in USUAL_MODES else None
    return found


def with_mode_amps(load: Load, mode: str, amps_a: float) -> Load:
    """The same load with other amps in one mode."""
    others = {name: amps for name, amps in load.mode_a.items() if name != mode}
    return replace(load, mode_a={**others, mode: amps_a})


def most_amps(load: Load, modes: Iterable[Mode]) -> tuple[float, str]:
    """The most that a load takes in any mode, and the first such mode."""
    taken = [(mode_amps(load, mode.name) or 0.0, mode.name) for mode in modes]
    return max(taken, key=lambda pair: pair[0])


def check_power(power: Power) -> None:
    """Refuse what cannot be, with names and numbers.

    Raises:
        InputError: As ``make_network``.
    """
    parts: list[object] = [power.source, *power.converter, *power.load]
    parts += [] if power.battery is None else [power.battery]
    for part in (*parts, *power.mode, *power.event):
        _check_numbers(part)
    low_c, high_c = WIRE_RANGE_C
    if not low_c <= power.wire_c <= high_c:
        raise InputError(
            f"[power] wire_c is {power.wire_c:g}; copper in a device is {low_c:g} to {high_c:g} C"
        )
    _check_names(power)
    total = sum(mode.share_frac for mode in power.mode)
    if abs(total - 1.0) > SHARE_SLIP:
        raise InputError(
            f"the shares of the {len(power.mode)} modes make {total:g} of a day; share_frac of all "
            "modes together must make 1"
        )
    for load in power.load:
        _check_load(load, power)
    for event in power.event:
        _known("event", event.name, "load", event.load, [load.name for load in power.load])
        if event.mode:
            _known("event", event.name, "mode", event.mode, [mode.name for mode in power.mode])
    for group in power.apart:
        if len(group) < 2:
            raise InputError(
                f"a group of apart holds {len(group)} loads; it takes at least 2 to be kept apart"
            )
        for name in group:
            _known("the group", ", ".join(group), "apart", name, [x.name for x in power.load])


def _check_numbers(part: object) -> None:
    """Every number of a record finite and not below 0; efficiencies and capacities above it."""
    for item in fields(part):  # type: ignore[arg-type]  # every record here is a dataclass
        value = getattr(part, item.name)
        pairs = value.items() if isinstance(value, dict) else [(item.name, value)]
        for key, number in pairs:
            if isinstance(number, bool) or not isinstance(number, int | float):
                continue
            above = item.name in ABOVE_0
            if not math.isfinite(number) or number < 0.0 or (above and number == 0.0):
                said = "above 0" if above else "0 or more"
                name = getattr(part, "name", "battery")
                raise InputError(f"{name}: {key} is {number:g}; it must be finite and {said}")
            if item.name == "efficiency_frac" and number > 1.0:
                raise InputError(
                    f"{getattr(part, 'name', '')}: efficiency_frac is {number:g}; no converter "
                    "gives more than it takes: write a share up to 1"
                )


def _check_names(power: Power) -> None:
    if not power.load or not power.mode:
        missing = "load" if not power.load else "mode"
        raise InputError(f"[power] has no {missing}; give at least one [[power.{missing}]]")
    ends = dict.fromkeys((SOURCE, power.source.name))
    for kind, names in (
        ("part", [*ends, *(row.name for row in power.converter), *(x.name for x in power.load)]),
        ("mode", [mode.name for mode in power.mode]),
        ("event", [event.name for event in power.event]),
    ):
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise InputError(
                f"the {kind} name {show(twice[0])} is used {names.count(twice[0])} times in "
                "[power]; give each its own"
            )


def _check_load(load: Load, power: Power) -> None:
    """A load runs in some mode, and names no mode that does not exist."""
    names = [mode.name for mode in power.mode]
    for name in load.mode_a:
        _known("load", load.name, "mode_a", name, names)
    if all(mode_amps(load, name) is None for name in names):
        raise InputError(
            f"load {show(load.name)} has no current in any of the modes {', '.join(names)}; give "
            f"{names[0]}_a, or mode_a = {{ {names[0]} = ... }}, and 0 where it is switched off"
        )
    most, where = most_amps(load, power.mode)
    if most > load.peak_a:
        raise InputError(
            f"load {show(load.name)}: peak_a is {load.peak_a:g} and below the {most:g} A of mode "
            f"{show(where)}; the peak is the most it ever takes"
        )


def _known(what: str, name: str, key: str, found: str, allowed: Sequence[str]) -> None:
    if found not in allowed:
        raise InputError(f"{what} {show(name)}: {not_known(key, found, allowed)}")


def _in_order(power: Power) -> tuple[list[Wired], tuple[int, ...]]:
    """Every node after the node that feeds it, and the number of that node.

    Raises:
        InputError: An unknown feed, or a loop.
    """
    placed: dict[str, int] = {SOURCE: 0}
    nodes: list[Wired] = [power.source]
    feeds: list[int] = [-1]
    waiting: list[tuple[Converter | Load, str]] = [(c, _feed(c, power)) for c in power.converter]
    waiting += [(load, _feed(load, power)) for load in power.load]
    while waiting:
        ready = [(node, feed) for node, feed in waiting if feed in placed]
        if not ready:
            names = " <- ".join(_loop(waiting))
            raise InputError(
                f"the power tree has a loop: {names}; every feed must lead back to the source"
            )
        for node, feed in ready:
            feeds.append(placed[feed])
            placed[node.name] = len(nodes)
            nodes.append(node)
        waiting = [pair for pair in waiting if pair[0].name not in placed]
    return nodes, tuple(feeds)


def _feed(node: Converter | Load, power: Power) -> str:
    """Name of the node at the other end of a node's wire."""
    rails = [SOURCE, *(row.name for row in power.converter)]
    kind = "load" if isinstance(node, Load) else "converter"
    feed = _rail(node, power)
    _known(kind, node.name, "feed", feed, rails)
    if not node.via:
        return feed
    loads = {load.name: load for load in power.load}
    _known(kind, node.name, "via", node.via, list(loads))
    other = loads[node.via]
    if _rail(other, power) != feed:
        raise InputError(
            f"{kind} {show(node.name)}: via {show(other.name)} stands on feed {show(other.feed)}, "
            f"but its own feed is {show(node.feed)}; write the feed of both alike"
        )
    return node.via


def _rail(node: Converter | Load, power: Power) -> str:
    return SOURCE if node.feed == power.source.name else node.feed


def _loop(waiting: Sequence[tuple[Converter | Load, str]]) -> list[str]:
    """Names along the loop that the first waiting node leads into."""
    feed_of = {node.name: feed for node, feed in waiting}
    name, seen = waiting[0][0].name, []
    while name not in seen:
        seen.append(name)
        name = feed_of[name]
    return [*seen[seen.index(name) :], name]
