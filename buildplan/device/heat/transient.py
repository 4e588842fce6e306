"""How warm it gets with time: from the room's temperature, in one mode or a cycle of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from buildplan.device.heat.air import HEAT_J_KGK, Floats
from buildplan.device.heat.network import HeatNet, balance_w, flows_w, sources_w
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
