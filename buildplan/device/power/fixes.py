"""Changes that would let an event or a mode pass, each computed by solving the changed tree."""

import dataclasses
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from buildplan.device.power.cases import amps_in_mode, low_end
from buildplan.device.power.changes import (
    HEADROOM,
    OWN_RAIL,
    moved_with_followers,
    path_nodes,
    rating_up,
    with_part,
)
from buildplan.device.power.margins import margins, worst_miss
from buildplan.device.power.model import Fix
from buildplan.device.power.shape import SOURCE, Converter, Load, Power
from buildplan.device.power.shelf import Shelf
from buildplan.device.power.sizing import BulkCapacitor, choose_capacitor
from buildplan.device.power.solve import solve
from buildplan.device.power.tree import Floats, Network, make_network, wire_name
from buildplan.device.power.words import farads
from buildplan.tables.hardware import Wire

ROOM_FRAC = 0.005
"""A change serves if the part has this share of its least volts to spare (ours)."""

LENGTH_STEP_MM = 5.0
SHORTEST_FRAC = 0.4
"""A lead has to reach: no shorter than this share of what it is (ours)."""

HALVINGS = 9
MOST_FIRST = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class FixPrices:
    """Rough prices by which changes are put in order, in the build's currency (no source).

    Attributes:
        wire_cost: A metre of wire.
        converter_cost, supply_cost, capacitor_cost: One of each.
    """

    wire_cost: float = 1.0
    converter_cost: float = 8.0
    supply_cost: float = 20.0
    capacitor_cost: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """What fails and when.

    Attributes:
        part, how: The part that fails first, and how (as in Margins).
        load: The load whose current is the trouble.
        before, amps: Amps of all loads without and with it, (loads,).
        when: The moment in words ("when roof servo starts").
        lasts_ms: How long; inf for a mode.
        mode: What the other loads do.
    """

    power: Power
    part: str
    how: str
    load: str
    before: Floats
    amps: Floats
    when: str
    lasts_ms: float
    mode: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Try:
    """A changed device, solved at the trouble's amps."""

    passes: bool
    volts_v: float
    rail_a: float


def fixes_for(
    trouble: Trouble,
    *,
    shelf: Shelf | None = None,
    prices: FixPrices | None = None,
    capacitor: BulkCapacitor | None = None,
) -> tuple[Fix, ...]:
    """Changes, those that pass first and the cheapest first.

    Of each kind the smallest that passes is kept, or the largest where none does. Where no single
    change passes, those that help most are joined with a second one.
    """
    shelf = shelf or Shelf()
    cost = prices or FixPrices()
    found = [*_singles(trouble, shelf, cost), *_capacitor(trouble, cost, capacitor)]
    if not any(fix.passes for fix in found):
        found += _pairs(trouble, shelf, cost, found)
    return tuple(sorted(found, key=_order))


def _singles(trouble: Trouble, shelf: Shelf, cost: FixPrices) -> list[Fix]:
    return [
        *_wait(trouble, shelf),
        *_leads(trouble, shelf, cost),
        *_own_rails(trouble, shelf, cost),
        *_ratings(trouble, shelf, cost),
    ]


def _pairs(trouble: Trouble, shelf: Shelf, cost: FixPrices, singles: list[Fix]) -> Iterator[Fix]:
    """Two changes together that pass, on top of the single ones that leave most volts."""
    changed = [fix for fix in singles if fix.power is not trouble.power]
    changed.sort(key=lambda fix: (math.isnan(fix.volts_v), -fix.volts_v))
    for fix in changed[:MOST_FIRST]:
        network = make_network(low_end(fix.power, shelf), shelf)
        state = margins(network, solve(network, trouble.amps[:, None]))
        miss = worst_miss(state, 0)
        rest = dataclasses.replace(trouble, power=fix.power, part=miss.part, how=miss.how)
        for second in _singles(rest, shelf, cost):
            if second.passes and second.power is not fix.power:
                yield dataclasses.replace(
                    second,
                    text=f"{fix.text.rsplit(': ', 1)[0]}, and {second.text}",
                    cost=fix.cost + second.cost,
                )


def _order(fix: Fix) -> tuple[bool, float, str]:
    return not fix.passes, fix.cost, fix.text


def capacitor_for(trouble: Trouble, shelf: Shelf | None) -> BulkCapacitor | None:
    """What a capacitor at the failing part can do; None where volts at a load are not the trouble.

    The feed's resistance is taken from the dip itself: how far the part's volts fall in steady
    state for each amp more that its rail gives.
    """
    if trouble.how != "low volts":
        return None
    network = make_network(low_end(trouble.power, shelf), shelf)
    row = [load.name for load in trouble.power.load].index(trouble.part)
    node = network.loads[row]
    both = solve(network, np.stack([trouble.before, trouble.amps], axis=1))
    start_v, end_v = (float(v) for v in both.volts_v[node])
    least = trouble.power.load[row].least_v
    if not start_v > least:
        return None
    first = path_nodes(network, node)[-1]
    step = float(both.link_a[first, 1] - both.link_a[first, 0])
    rise = float(np.sum(trouble.amps - trouble.before))
    step = step if math.isfinite(step) and step > 0.0 else rise
    feed = (start_v - end_v) / step if math.isfinite(end_v) else 0.0
    return choose_capacitor(step, start_v - least, min(trouble.lasts_ms, 1e7), feed, shelf)


def _attempt(trouble: Trouble, power: Power, shelf: Shelf, amps: Floats) -> _Try:
    """The changed device at the trouble's amps."""
    network = make_network(low_end(power, shelf), shelf)
    solution = solve(network, amps[:, None])
    state = margins(network, solution)
    passes = not bool(state.fails.any())
    for part, how, slack in zip(state.parts, state.hows, state.slack_frac[:, 0], strict=True):
        if part == trouble.part and how == trouble.how and how != "overload":
            passes = passes and bool(slack >= ROOM_FRAC)
    node = network.names.index(trouble.part)
    is_rail = node == 0 or not np.isnan(network.out_v[node])
    amps_out = float(solution.out_a[node, 0]) if node else float(solution.link_a[0, 0])
    return _Try(
        passes=passes,
        volts_v=float(solution.volts_v[node, 0]),
        rail_a=amps_out if is_rail else math.nan,
    )


def _then(trouble: Trouble, tried: _Try) -> str:
    """What follows from a change, in words."""
    if trouble.how == "overload":
        return f"{trouble.part} then gives {tried.rail_a:.2f} A {trouble.when}"
    if math.isnan(tried.volts_v):
        return f"the voltage still collapses {trouble.when}"
    return f"{trouble.part} then gets {tried.volts_v:.2f} V {trouble.when}"


def _fix(trouble: Trouble, kind: str, text: str, tried: _Try, rest: tuple[float, Power]) -> Fix:
    return Fix(
        kind=kind,  # type: ignore[arg-type]  # every caller writes one of the literals
        text=f"{text}: {_then(trouble, tried)}",
        volts_v=tried.volts_v,
        passes=tried.passes,
        cost=rest[0],
        power=rest[1],
    )


def _leads(trouble: Trouble, shelf: Shelf, cost: FixPrices) -> Iterator[Fix]:
    """A shorter or thicker wire, for each wire between the failing part and its rail."""
    if trouble.how == "overload":
        return
    network = make_network(trouble.power, shelf)
    for node in path_nodes(network, network.names.index(trouble.part)):
        if network.ends[node].length_mm > 0.0:
            yield from _shorter(trouble, shelf, network, node)
            yield from _thicker(trouble, shelf, network, (node, cost))


def _shorter(trouble: Trouble, shelf: Shelf, network: Network, node: int) -> Iterator[Fix]:
    """The longest lead that passes, if there is one."""
    name, length = network.names[node], network.ends[node].length_mm

    def attempt(wire_mm: float) -> _Try:
        return _attempt(
            trouble, with_part(trouble.power, name, wire_mm=wire_mm), shelf, trouble.amps
        )

    low, high = SHORTEST_FRAC * length, length
    if not attempt(low).passes:
        return
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if attempt(middle).passes else (low, middle)
    wire_mm = math.floor(low / LENGTH_STEP_MM) * LENGTH_STEP_MM
    wire_mm = max(SHORTEST_FRAC * length, wire_mm)
    text = f"shorten the lead to the {name} from {length:g} mm to {wire_mm:g} mm"
    changed = with_part(trouble.power, name, wire_mm=wire_mm)
    yield _fix(trouble, "shorter lead", text, attempt(wire_mm), (0.0, changed))


def _thicker(
    trouble: Trouble, shelf: Shelf, network: Network, at: tuple[int, FixPrices]
) -> Iterator[Fix]:
    """The thinnest of the thicker wires that passes, or the thickest."""
    node, cost = at
    name, end = network.names[node], network.ends[node]
    better = sorted((w for w in shelf.wires.values() if w.area_mm2 > end.area_mm2), key=_area)
    last = None
    for wire in better:
        changed = with_part(trouble.power, name, wire_awg=wire.awg, wire_mm2=0.0)
        tried = _attempt(trouble, changed, shelf, trouble.amps)
        text = (
            f"lay {wire_name(wire)} instead of {end.name} in the {end.length_mm:g} mm lead to the "
            f"{name}"
        )
        price = 2.0 * end.length_mm * 1e-3 * cost.wire_cost
        last = _fix(trouble, "thicker wire", text, tried, (price, changed))
        if tried.passes:
            break
    if last is not None:
        yield last


def _area(wire: Wire) -> float:
    return wire.area_mm2


def _own_rails(trouble: Trouble, shelf: Shelf, cost: FixPrices) -> Iterator[Fix]:
    """The troubling load on a wire of its own to the rail, or on a converter of its own."""
    power = trouble.power
    load = next(load for load in power.load if load.name == trouble.load)
    network = make_network(power, shelf)
    above = [network.names.index(load.name)]
    while network.feeds[above[-1]] > 0:
        above.append(network.feeds[above[-1]])
    names = [network.names[node] for node in above]
    parts: tuple[Load | Converter, ...] = (*power.load, *power.converter)
    for part in parts:
        if part.name in names and part.via:
            changed = with_part(power, part.name, via="")
            price = 2.0 * part.wire_mm * 1e-3 * cost.wire_cost
            text = (
                f"run a pair of wires of its own from {part.feed} to the {part.name} instead of "
                f"through the {part.via}"
            )
            tried = _attempt(trouble, changed, shelf, trouble.amps)
            yield _fix(trouble, "own rail", text, tried, (price, changed))
    if load.feed in (SOURCE, power.source.name) or OWN_RAIL in network.names:
        return
    old = next(row for row in power.converter if row.name == load.feed)
    needed = HEADROOM * float(trouble.amps[power.load.index(load)])
    rail = Converter(
        name=OWN_RAIL,
        feed=SOURCE,
        out_v=old.out_v,
        limit_a=rating_up(needed),
        tolerance_frac=old.tolerance_frac,
    )
    changed = moved_with_followers(with_part(power, load.name, via=""), load.name)
    changed = dataclasses.replace(changed, converter=(*changed.converter, rail))
    text = (
        f"give the {load.name} its own {rail.out_v:g} V converter of {rail.limit_a:g} A on the "
        f"{power.source.name}"
    )
    tried = _attempt(trouble, changed, shelf, trouble.amps)
    yield _fix(trouble, "own rail", text, tried, (cost.converter_cost, changed))


def _ratings(trouble: Trouble, shelf: Shelf, cost: FixPrices) -> Iterator[Fix]:
    """A stronger source or converter where its rating is the trouble."""
    if trouble.how != "overload":
        return
    at_source = trouble.part == trouble.power.source.name
    now = _attempt(trouble, trouble.power, shelf, trouble.amps)
    if math.isnan(now.rail_a):
        return
    rating = rating_up(HEADROOM * now.rail_a)
    changed = with_part(trouble.power, trouble.part, limit_a=rating)
    text = f"take a {'supply' if at_source else 'converter'} of {rating:g} A as {trouble.part}"
    price = cost.supply_cost if at_source else cost.converter_cost
    tried = _attempt(trouble, changed, shelf, trouble.amps)
    yield _fix(trouble, "larger rating", text, tried, (price, changed))


def _wait(trouble: Trouble, shelf: Shelf) -> Iterator[Fix]:
    """The others in the mode in which they take least, while the troubling load runs."""
    power = trouble.power
    row = [load.name for load in power.load].index(trouble.load)
    quiet = min(power.mode, key=lambda m: float(np.delete(amps_in_mode(power, m.name), row).sum()))
    if quiet.name == trouble.mode or not trouble.mode:
        return
    amps = amps_in_mode(power, quiet.name)
    amps[row] = trouble.amps[row]
    tried = _attempt(trouble, power, shelf, amps)
    text = f"let the program run the {trouble.load} only while the others are in {quiet.name}"
    yield _fix(trouble, "wait", text, tried, (0.0, power))


def _capacitor(trouble: Trouble, cost: FixPrices, capacitor: BulkCapacitor | None) -> Iterator[Fix]:
    """A capacitor beside the failing part, with its limit said."""
    if capacitor is None:
        return
    serves = bool(capacitor.name) and math.isfinite(trouble.lasts_ms)
    if serves:
        text = (
            f"solder a {capacitor.name} across the {trouble.part}: it holds the volts for the "
            f"{trouble.lasts_ms:g} ms (it needs {farads(capacitor.need_uf)})"
        )
    elif math.isinf(capacitor.need_uf):
        text = (
            f"a capacitor does not cure this: a {capacitor.limit_name} sags too far by its own "
            "resistance"
        )
    else:
        held = "under 0.1 ms" if capacitor.holds_ms < 0.1 else f"{capacitor.holds_ms:.1f} ms"
        text = (
            f"a capacitor does not cure this: it would need {farads(capacitor.need_uf)}, and a "
            f"{capacitor.limit_name} holds for {held}"
        )
    yield Fix(
        kind="capacitor",
        text=text,
        volts_v=math.nan,
        passes=serves,
        cost=cost.capacitor_cost,
        power=trouble.power,
    )
