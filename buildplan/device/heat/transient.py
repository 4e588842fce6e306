"""How warm it gets with time: from the room's temperature, in one mode or a cycle of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from buildplan.device.heat.air import HEAT_J_KGK, Floats
from buildplan.device.heat.box import MOUNTS, WarmPart
from buildplan.device.heat.network import HeatNet, balance_w, flows_w, sources_w, steady_c
from buildplan.errors import InputError

AIR_KG_M3 = 1.15
LEAST_AIR_J_K = 1.0
"""What else warms with the air: cables, screws (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """A stretch of time with the power of every part."""

    lasts_s: float
    power_w: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Warming:
    """Temperatures over time.

    Attributes:
        time_s: (n,) rising.
        temp_c: (n, nodes).
        names: Of the nodes.
    """

    time_s: Floats
    temp_c: Floats
    names: tuple[str, ...]


def heat_j_k(net: HeatNet) -> Floats:
    """Heat that warms each node by a kelvin; a wall's is shared by its two faces."""
    box = net.box
    found = [box.air_mm3 * 1e-9 * AIR_KG_M3 * HEAT_J_KGK + LEAST_AIR_J_K]
    for wall in box.walls:
        mass_kg = wall.area_mm2 * box.wall_mm * box.density_g_cm3 * 1e-6
        found += [mass_kg * box.heat_j_kgk / 2.0] * 2
    return np.array([*found, *(part.heat_j_k for part in net.parts)])


def warm_up(
    net: HeatNet,
    phases: Sequence[Phase],
    *,
    start_c: float | Floats | None = None,
    rtol: float = 1e-5,
) -> Warming:
    """Temperatures through a row of phases, each solved from edge to edge (BDF).

    Args:
        net: A single case, no samples.
        phases: In order.
        start_c: Of every node, or of all; the room's where left out.
        rtol: Of the solver.

    Raises:
        InputError: A phase of no length, or a part without power.
    """
    from scipy.integrate import solve_ivp

    heat = heat_j_k(net)
    first = net.ambient_c if start_c is None else start_c
    temp = np.zeros(len(net.names)) + np.asarray(first, dtype=np.float64)
    times, temps, now = [np.zeros(1)], [temp[None]], 0.0
    for phase in phases:
        if not phase.lasts_s > 0.0:
            raise InputError(f"heat: a phase of {phase.lasts_s:g} s; more than 0 is needed")
        source = sources_w(with_power(net, phase.power_w))

        def rate(_: float, state: Floats, source: Floats = source) -> Floats:
            return (flows_w(net, state) + source) / heat

        def slope(_: float, state: Floats) -> Floats:
            return balance_w(net, state)[1] / heat[:, None]

        end = now + phase.lasts_s
        run = solve_ivp(rate, (now, end), temp, method="BDF", rtol=rtol, atol=1e-4, jac=slope)
        temp, now = run.y[:, -1], end
        times.append(run.t[1:])
        temps.append(run.y.T[1:])
    return Warming(time_s=np.concatenate(times), temp_c=np.concatenate(temps), names=net.names)


def settled_cycle(
    net: HeatNet, phases: Sequence[Phase], *, change_k: float = 0.01, most_cycles: int = 500
) -> Warming:
    """One round of a cycle that goes on for ever: its peaks are ``temp_c.max(axis=0)``.

    Rounds are run from the temperatures at the cycle's mean power until one ends where it began,
    within ``change_k`` at every node.

    Raises:
        InputError: No phase, a phase of no length, or a cycle that has not settled in time.
    """
    if not phases or not all(phase.lasts_s > 0.0 for phase in phases):
        said = ", ".join(f"{phase.lasts_s:g}" for phase in phases) or "none"
        raise InputError(f"heat: phases of a cycle last {said} s; each must be more than 0")
    whole = sum(phase.lasts_s for phase in phases)
    mean = {
        part.name: sum(p.lasts_s * p.power_w.get(part.name, 0.0) for p in phases) / whole
        for part in net.parts
    }
    state = steady_c(with_power(net, mean))
    for _ in range(most_cycles):
        warming = warm_up(net, phases, start_c=state)
        change = float(np.abs(warming.temp_c[-1] - state).max())
        state = warming.temp_c[-1]
        if change < change_k:
            return warming
    raise InputError(
        f"heat: after {most_cycles} rounds of {whole:g} s the cycle still drifts by "
        f"{change:.2g} K, more than {change_k:g}; use longer phases"
    )


def with_mounts(warming: Warming, parts: Sequence[WarmPart]) -> Warming:
    """The same with a column for every printed mount: a share of its part's rise over the air."""
    held = [part for part in parts if part.mount == "printed"]
    if not held:
        return warming
    air = warming.temp_c[:, 0]
    columns = [
        air + part.mount_frac * (warming.temp_c[:, warming.names.index(part.name)] - air)
        for part in held
    ]
    return Warming(
        time_s=warming.time_s,
        temp_c=np.column_stack([warming.temp_c, *columns]),
        names=(*warming.names, *(MOUNTS + part.name for part in held)),
    )


def with_power(net: HeatNet, power_w: Mapping[str, float]) -> HeatNet:
    """The same network with other watts.

    Raises:
        InputError: A part has none.
    """
    missing = [part.name for part in net.parts if part.name not in power_w]
    if missing:
        raise InputError(f"{missing[0]}: its power is not given; known: {', '.join(power_w)}")
    return replace(net, power_w=np.array([power_w[part.name] for part in net.parts], dtype=float))


def time_to_s(warming: Warming, node: str, temp_c: float) -> float:
    """When a node first reaches a temperature; inf where it does not."""
    column = warming.temp_c[:, warming.names.index(node)]
    over = np.flatnonzero(column >= temp_c)
    if not len(over):
        return float("inf")
    place = int(over[0])
    if place == 0:
        return 0.0
    t0, t1 = warming.time_s[place - 1 : place + 1]
    y0, y1 = column[place - 1 : place + 1]
    return float(t0 + (t1 - t0) * (temp_c - y0) / max(y1 - y0, 1e-12))
