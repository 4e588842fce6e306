"""The voltages of a power tree: the exact upper solution, or a named voltage collapse.

A load that takes constant power draws the more, the lower its volts, so the equations bend. Every
branch's current is a convex function of its feed's volts; Newton's method from the no-load volts
therefore comes down to the upper solution without passing it, and where there is none it leaves the
region in which the tangents of all branches are right. On a tree one Newton step is one walk from
the loads to the source and one back, without a matrix.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildplan.device.power.tree import Floats, Network
from buildplan.errors import InputError

ROUNDS = 80
"""Most Newton steps; a double solution, at the very limit, halves its error in each."""

STEP_FRAC = 1e-13
LOOSE_FRAC = 1e-7
TANGENT_LEAST = 1e-9
FLOOR_FRAC = 1e-9
NO_NODE = -1
BLOCK_VALUES = 32_768
"""Samples are solved in blocks of this many values an array, so that they stay in the cache."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """Steady volts and amps; (nodes,) for one case, (nodes, samples) for many.

    Attributes:
        volts_v: At the end of each node's wire; for a converter, at its input. NaN where collapsed.
        out_v: Volts that a node hands on: a converter's output, else as ``volts_v``.
        link_a: Current in each node's wire.
        out_a: Current that a converter gives; for other nodes as ``link_a``.
        ground_v: How far a node's ground lies above the source's, by the currents in the returns.
        holds: Whether steady volts exist; () or (samples,).
        collapsed_at: Number of the node whose branch asks for more than its wire can pass, -1.
        source_w: Power that leaves the source, its own sag included.
        link_w: Power lost in each node's wire, node 0 with the source's own.
        converter_w: Power lost in each converter, 0 for other nodes.
        residual_v: Largest error of any wire's drop: the proof that it is a solution.
        rounds: Newton steps taken.
    """

    volts_v: Floats
    out_v: Floats
    link_a: Floats
    out_a: Floats
    ground_v: Floats
    holds: NDArray[np.bool_]
    collapsed_at: NDArray[np.int64]
    source_w: Floats
    link_w: Floats
    converter_w: Floats
    residual_v: float
    rounds: int


@dataclass(slots=True, kw_only=True)
class _Case:
    """Arrays of one call, (nodes, samples) each: what the loads ask and what the wires offer."""

    watts: Floats
    amps: Floats
    siemens: Floats
    ohm: Floats
    efficiency: Floats
    supply: Floats
    rail: Floats


def solve(
    network: Network,
    amps: ArrayLike,
    *,
    supply_v: ArrayLike | None = None,
    wire_frac: ArrayLike = 1.0,
    efficiency_frac: ArrayLike = 1.0,
) -> Solution:
    """Steady volts at every part for the amps that each load takes at its nominal volts.

    Args:
        network: The tree.
        amps: (loads,) for one case or (loads, samples) for many, 0 or more.
        supply_v: Volts of the source, one or (samples,); the label's where left out.
        wire_frac: Factor on every wire's resistance, one or (samples,).
        efficiency_frac: Factor on every converter's efficiency, one or (samples,).

    Raises:
        InputError: The amps have a wrong shape, are negative or not finite; or a factor or the
            supply's volts are not above 0.

    Source: Kirchhoff's laws; convergence from above: Ortega and Rheinboldt (1970), theorem 13.3.4
    (monotone Newton for convex functions); the limit of one load behind R is V^2 / (4 R).
    """
    asked = _asked(network, amps)
    single = asked.ndim == 1
    asked = asked[:, None] if single else asked
    factors = (supply_v, wire_frac, efficiency_frac)
    width = np.broadcast_shapes((asked.shape[1],), *(np.shape(f) for f in factors if f is not None))
    case = _case(network, asked, factors, width[0])
    single = single and all(np.ndim(f) == 0 for f in factors if f is not None)
    volts, out, culprit, rounds = _in_blocks(network, case)
    return _solution(network, case, (volts, out, culprit, rounds), single)


def _asked(network: Network, amps: ArrayLike) -> Floats:
    asked: Floats = np.asarray(amps, dtype=np.float64)
    count = len(network.loads)
    if asked.ndim not in (1, 2) or asked.shape[0] != count:
        raise InputError(
            f"amps must be ({count},) or ({count}, samples), one row a load; "
            f"found the shape {asked.shape}"
        )
    wrong = ~(np.isfinite(asked) & (asked >= 0.0))
    if wrong.any():
        row = int(np.argwhere(wrong)[0][0])
        found = float(asked[row][wrong[row]][0]) if asked.ndim == 2 else float(asked[row])
        name = network.power.load[row].name
        raise InputError(f"load {name!r} is asked for {found:g} A; it must be finite and 0 or more")
    return asked


def _case(
    network: Network,
    asked: Floats,
    factors: tuple[ArrayLike | None, ArrayLike, ArrayLike],
    width: int,
) -> _Case:
    """What each node draws as watts, amps and siemens, and what feeds it."""
    nodes = len(network.names)
    drawn = {kind: np.zeros((nodes, width)) for kind in ("power", "current", "resistance")}
    for row, (node, load) in enumerate(zip(network.loads, network.power.load, strict=True)):
        rated = load.nominal_v or float(network.nominal_v[node])
        scale = {"power": rated, "current": 1.0, "resistance": 1.0 / rated}[load.kind]
        drawn[load.kind][node] += asked[row] * scale
    given, wire, efficiency = factors
    supply = network.power.source.supply_v if given is None else given
    for name, values in (
        ("supply_v", supply),
        ("wire_frac", wire),
        ("efficiency_frac", efficiency),
    ):
        if not bool((np.asarray(values) > 0.0).all() and np.isfinite(values).all()):
            raise InputError(f"{name} holds {np.min(values):g}; it must be finite and above 0")
    ones = np.ones(width)
    return _Case(
        watts=drawn["power"],
        amps=drawn["current"],
        siemens=drawn["resistance"],
        ohm=network.link_ohm[:, None] * (np.asarray(wire) * ones),
        efficiency=network.efficiency_frac[:, None] * (np.asarray(efficiency) * ones),
        supply=np.asarray(supply, dtype=np.float64) * ones,
        rail=network.out_v[:, None] * ones,
    )


def _in_blocks(network: Network, case: _Case) -> tuple[Floats, Floats, NDArray[np.int64], int]:
    """As ``_newton``, a block of samples at a time."""
    nodes, width = case.ohm.shape
    block = max(1, BLOCK_VALUES // nodes)
    if width <= block:
        return _newton(network, case)
    volts, out = np.empty_like(case.ohm), np.empty_like(case.ohm)
    culprit = np.empty(width, dtype=np.int64)
    most = 0
    for start in range(0, width, block):
        part = slice(start, start + block)
        some = _Case(
            watts=case.watts[:, part],
            amps=case.amps[:, part],
            siemens=case.siemens[:, part],
            ohm=case.ohm[:, part],
            efficiency=case.efficiency[:, part],
            supply=case.supply[part],
            rail=case.rail[:, part],
        )
        volts[:, part], out[:, part], culprit[part], rounds = _newton(network, some)
        most = max(most, rounds)
    return volts, out, culprit, most


def _newton(network: Network, case: _Case) -> tuple[Floats, Floats, NDArray[np.int64], int]:
    """Volts at the end of every wire and handed on, the node of a collapse, steps taken."""
    volts, out = _no_load(network, case)
    top = volts.copy()
    floor = FLOOR_FRAC * top
    culprit = np.full(case.supply.shape, NO_NODE, dtype=np.int64)
    step = np.zeros(case.supply.shape)
    rounds, moving = 0, True
    while moving and rounds < ROUNDS:
        tangent = _walk_up(network, case, volts, out)
        new_volts, new_out = _walk_down(network, case, tangent)
        culprit = np.where(culprit == NO_NODE, _lost(tangent, new_volts <= floor, new_out), culprit)
        alive = culprit == NO_NODE
        step = np.where(alive, (np.abs(new_volts - volts) / top).max(axis=0), 0.0)
        volts = np.where(alive, new_volts, volts)
        out = np.where(alive, new_out, out)
        rounds, moving = rounds + 1, bool(step.max() >= STEP_FRAC)
    culprit = np.where((culprit == NO_NODE) & (step > LOOSE_FRAC), 0, culprit)
    return volts, out, culprit, rounds


def _lost(tangent: "_Tangent", low: NDArray[np.bool_], out: Floats) -> NDArray[np.int64]:
    """The node whose branch has no solution, -1 where all have: (samples,).

    The deepest wire that is asked for more power than it can pass, else the first at whose end no
    volts are left.
    """
    bent = tangent.bend <= TANGENT_LEAST
    empty = low | (out <= 0.0)
    if not (bent.any() or empty.any()):
        return np.full(out.shape[1], NO_NODE, dtype=np.int64)
    deepest = len(bent) - 1 - bent[::-1].argmax(axis=0)
    first = np.where(empty.any(axis=0), empty.argmax(axis=0), NO_NODE)
    return np.where(bent.any(axis=0), deepest, first)


def _no_load(network: Network, case: _Case) -> tuple[Floats, Floats]:
    """The highest volts that can be: at the end of each wire, and handed on."""
    volts = np.empty_like(case.ohm)
    out = np.empty_like(case.ohm)
    for i, feed in enumerate(network.feeds):
        volts[i] = case.supply if feed < 0 else out[feed]
        out[i] = volts[i] if np.isnan(network.out_v[i]) else case.rail[i]
    return volts, out


@dataclass(slots=True, kw_only=True)
class _Tangent:
    """Each node's branch near the volts at hand, (nodes, samples).

    Attributes:
        fixed, slope: Current at the end of the node's wire = fixed + slope * volts there.
        bend: 1 + R * slope of its wire; 0 at the limit of what the wire can pass.
        handed: New output volts of a converter; unused for other nodes.
    """

    fixed: Floats
    slope: Floats
    bend: Floats
    handed: Floats


def _walk_up(network: Network, case: _Case, volts: Floats, out: Floats) -> _Tangent:
    """Tangents from the loads to the source."""
    power_a = case.watts / out
    fixed = case.amps + 2.0 * power_a
    slope = case.siemens - power_a / out
    bend, handed = np.empty_like(volts), np.empty_like(volts)
    for i in range(len(network.feeds) - 1, -1, -1):
        sag: Floats | float = np.inf
        if not np.isnan(network.out_v[i]):
            sag = 1.0 + network.out_ohm[i] * slope[i]
            safe = np.maximum(sag, TANGENT_LEAST)
            handed[i] = (case.rail[i] - network.out_ohm[i] * fixed[i]) / safe
            given_a = fixed[i] + slope[i] * handed[i]
            watts = case.rail[i] * given_a / case.efficiency[i] + network.idle_w[i]
            slope[i] = -watts / volts[i] ** 2
            fixed[i] = 2.0 * watts / volts[i]
        wire = 1.0 + case.ohm[i] * slope[i]
        bend[i] = np.minimum(wire, sag)
        if network.feeds[i] >= 0:
            safe = np.maximum(wire, TANGENT_LEAST)
            fixed[network.feeds[i]] += fixed[i] / safe
            slope[network.feeds[i]] += slope[i] / safe
    return _Tangent(fixed=fixed, slope=slope, bend=bend, handed=handed)


def _walk_down(network: Network, case: _Case, tangent: _Tangent) -> tuple[Floats, Floats]:
    """Volts from the source to the loads, by the tangents of each branch."""
    volts, out = np.empty_like(tangent.bend), np.empty_like(tangent.bend)
    safe = np.maximum(1.0 + case.ohm * tangent.slope, TANGENT_LEAST)
    drop = case.ohm * tangent.fixed
    for i, feed in enumerate(network.feeds):
        volts[i] = ((case.supply if feed < 0 else out[feed]) - drop[i]) / safe[i]
        out[i] = volts[i] if np.isnan(network.out_v[i]) else tangent.handed[i]
    return volts, out


def _solution(
    network: Network,
    case: _Case,
    found: tuple[Floats, Floats, NDArray[np.int64], int],
    single: bool,
) -> Solution:
    """Currents, ground shift, losses and the residual of the volts found."""
    volts, out, culprit, rounds = found
    given = case.watts / out + case.amps + case.siemens * out
    link = given.copy()
    lost = np.zeros_like(given)
    for i in range(len(network.feeds) - 1, -1, -1):
        link[i] = given[i]
        if not np.isnan(network.out_v[i]):
            taken = case.rail[i] * given[i] / case.efficiency[i] + network.idle_w[i]
            link[i] = taken / volts[i]
            lost[i] = taken - out[i] * given[i]
        if network.feeds[i] >= 0:
            given[network.feeds[i]] += link[i]
    ground = np.zeros_like(given)
    share = network.return_ohm / np.where(network.link_ohm > 0.0, network.link_ohm, 1.0)
    worst = 0.0
    holds = culprit == NO_NODE
    for i, feed in enumerate(network.feeds):
        drop = case.ohm[i] * link[i]
        ground[i] = (ground[feed] if feed >= 0 else 0.0) + share[i] * drop
        fed = case.supply if feed < 0 else out[feed]
        wrong = np.abs(np.where(holds, fed - drop - volts[i], 0.0))
        worst = max(worst, float(wrong.max()))
    tables = [
        np.where(holds, table, np.nan)
        for table in (volts, out, link, given, ground, case.ohm * link**2, lost)
    ]
    tables.append(np.where(holds, case.supply * link[0], np.nan))
    if single:
        tables = [table[..., 0] for table in tables]
        holds, culprit = holds[0:1].reshape(()), culprit[0:1].reshape(())
    for array in (*tables, holds, culprit):
        if isinstance(array, np.ndarray):
            array.flags.writeable = False
    return Solution(
        volts_v=tables[0],
        out_v=tables[1],
        link_a=tables[2],
        out_a=tables[3],
        ground_v=tables[4],
        holds=holds,
        collapsed_at=culprit,
        source_w=np.asarray(tables[7]),
        link_w=tables[5],
        converter_w=tables[6],
        residual_v=worst,
        rounds=rounds,
    )
