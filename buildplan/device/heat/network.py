"""The heat network: nodes joined by flows that all rise with the warmer side, so it has one root.

Nodes are the air inside, the inner and the outer face of every wall, and the warm parts. Every
flow from i to j rises with the temperature of i and falls with that of j; so the matrix of
derivatives has positive off-diagonals and column sums of 0 or less (what goes to the room): minus
an M-matrix. The balance therefore has one root, and Newton finds it from anywhere with limited
steps.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np

from buildplan.device.heat.air import (
    GRAVITY_M_S2,
    HEAT_J_KGK,
    KELVIN,
    SIGMA_W_M2K4,
    Air,
    Floats,
    air_at,
    still_film_w_m2,
    swept_w_m2,
)
from buildplan.device.heat.box import Box, Wall, WarmPart, check_box, check_part
from buildplan.errors import InputError

ROOM = -1
STEP_K = 1e-4
MOST_STEP_K = 40.0
ROUNDS = 80
OPEN_W = 1e-9
"""A balance open by less than this is closed."""

LEAST_RISE_K = 1e-9

Flow = Callable[[Floats, Floats], Floats]


@dataclass(frozen=True, slots=True, kw_only=True)
class Factors:
    """How far the films, radiation and walls of this network lie from the formulas; any shape."""

    film_frac: float | Floats = 1.0
    radiation_frac: float | Floats = 1.0
    wall_frac: float | Floats = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """Flows of one kind, one column each.

    Attributes:
        start, end: (m,) nodes; ROOM for the room.
        flow_w: From (..., m) temperatures at both ends to (..., m) watts.
    """

    start: tuple[int, ...]
    end: tuple[int, ...]
    flow_w: Flow


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatNet:
    """A box with its warm parts, ready to be solved.

    Attributes:
        names: Of the nodes: "air", "up inside", "up outside", ..., then the parts.
        ambient_c: Of the room; a number or an array of samples.
        power_w: (..., parts) that each part gives off.
        sun_w: (nodes,) sunshine on outer faces.
    """

    box: Box
    parts: tuple[WarmPart, ...]
    names: tuple[str, ...]
    bundles: tuple[Bundle, ...]
    ambient_c: float | Floats
    power_w: Floats
    sun_w: Floats


def heat_net(
    box: Box,
    parts: Sequence[WarmPart],
    power_w: Mapping[str, float | Floats],
    *,
    ambient_c: float | Floats,
    factors: Factors | None = None,
    air: Air | None = None,
) -> HeatNet:
    """The network of a box and the parts in it.

    Args:
        box: With walls and openings.
        parts: In it.
        power_w: Of each part by name; numbers or arrays of samples of one shape.
        ambient_c: Of the room, likewise.
        factors: On films, radiation and walls, likewise.
        air: Fixed properties of air, for comparison with published values; left out, they follow
            the temperature.

    Raises:
        InputError: Numbers that cannot be, or a part without power.
    """
    check_box(box)
    for part in parts:
        check_part(part)
        if part.name not in power_w:
            raise InputError(f"{part.name}: its power is not given; known: {', '.join(power_w)}")
    factors = factors or Factors()
    faces = [f"{wall.face} {side}" for wall in box.walls for side in ("inside", "outside")]
    names = ("air", *faces, *(part.name for part in parts))
    shape = np.broadcast_shapes(
        np.shape(ambient_c), *(np.shape(power_w[part.name]) for part in parts)
    )
    rows = [np.broadcast_to(np.asarray(power_w[part.name], float), shape) for part in parts]
    power = np.stack(rows, axis=-1) if rows else np.zeros((*shape, 0))
    if not (np.isfinite(power).all() and (power >= 0.0).all()):
        wrong = next(
            p.name
            for p, row in zip(parts, rows, strict=True)
            if not (row >= 0.0).all() or np.isinf(row).any()
        )
        least = float(np.min(power_w[wrong]))
        raise InputError(
            f"{wrong}: its power is {least:g} W; a finite number of 0 W or more is needed"
        )
    sun = np.zeros(len(names))
    for place, wall in enumerate(box.walls):
        sun[2 + 2 * place] = wall.sun_w
    bundles = (
        _films(box, factors, air),
        _walls(box, factors),
        *_outside(box, factors, air),
        *_parts(box, parts, factors),
        *_openings(box, factors),
    )
    return HeatNet(
        box=box,
        parts=tuple(parts),
        names=names,
        bundles=bundles,
        ambient_c=ambient_c,
        power_w=power,
        sun_w=sun,
    )


def steady_c(net: HeatNet) -> Floats:
    """Temperature of every node once nothing changes any more; (..., nodes).

    Raises:
        ArithmeticError: The balance did not close, which its one root rules out.
    """
    source = sources_w(net)
    room = np.asarray(net.ambient_c, dtype=np.float64)[..., None]
    temp = np.zeros(source.shape) + room + 0.01 + 3.0 * source.sum(axis=-1, keepdims=True)
    for _ in range(ROUNDS):
        balance, slope = balance_w(net, temp)
        step = np.linalg.solve(slope, -(balance + source)[..., None])[..., 0]
        step = np.clip(step, -MOST_STEP_K, MOST_STEP_K)
        temp = temp + step
        if np.abs(step).max() < 1e-10:
            break
    left = np.abs(flows_w(net, temp) + source).max()
    if not left < max(OPEN_W, 1e-12 * np.abs(source).max()) * 100.0:
        raise ArithmeticError(f"the heat balance stays open by {left:.2g} W")
    return cast("Floats", temp)


def sources_w(net: HeatNet) -> Floats:
    """Power put into every node: (..., nodes)."""
    count = len(net.names)
    found = np.zeros((*net.power_w.shape[:-1], count)) + net.sun_w
    found[..., count - len(net.parts) :] += net.power_w
    return found


def flows_w(net: HeatNet, temp_c: Floats) -> Floats:
    """Power that flows into every node from its neighbours and the room; (..., nodes)."""
    total = np.zeros_like(temp_c)
    for bundle in net.bundles:
        first, second = _ends(net, bundle, temp_c)
        _spread(total, bundle, bundle.flow_w(first, second))
    return total


def room_w(net: HeatNet, temp_c: Floats) -> Floats:
    """Power that leaves into the room; (...,)."""
    return cast("Floats", -flows_w(net, temp_c).sum(axis=-1))


def balance_w(net: HeatNet, temp_c: Floats) -> tuple[Floats, Floats]:
    """Power into every node (..., nodes) and its derivatives (..., nodes, nodes)."""
    total = np.zeros_like(temp_c)
    slope = np.zeros((*temp_c.shape, temp_c.shape[-1]))
    for bundle in net.bundles:
        first, second = _ends(net, bundle, temp_c)
        flow = bundle.flow_w(first, second)
        _spread(total, bundle, flow)
        by_first = (bundle.flow_w(first + STEP_K, second) - flow) / STEP_K
        by_second = (bundle.flow_w(first, second + STEP_K) - flow) / STEP_K
        for column, (i, j) in enumerate(zip(bundle.start, bundle.end, strict=True)):
            slope[..., i, i] -= by_first[..., column]
            if j != ROOM:
                slope[..., i, j] -= by_second[..., column]
                slope[..., j, i] += by_first[..., column]
                slope[..., j, j] += by_second[..., column]
    return total, slope


def _ends(net: HeatNet, bundle: Bundle, temp_c: Floats) -> tuple[Floats, Floats]:
    room = np.broadcast_to(np.asarray(net.ambient_c, dtype=np.float64), temp_c.shape[:-1])
    wide = np.concatenate([temp_c, room[..., None]], axis=-1)
    return wide[..., list(bundle.start)], wide[..., list(bundle.end)]


def _spread(total: Floats, bundle: Bundle, flow: Floats) -> None:
    for column, (i, j) in enumerate(zip(bundle.start, bundle.end, strict=True)):
        total[..., i] -= flow[..., column]
        if j != ROOM:
            total[..., j] += flow[..., column]


def _column(factor: float | Floats) -> Floats:
    """A factor against (..., m): one number for all flows of a sample."""
    return np.asarray(factor, dtype=np.float64)[..., None]


def _faces(walls: Sequence[Wall], *, inside: bool) -> tuple[Floats, Floats]:
    """1 where a face looks up, and where it is upright; an inner face looks the other way."""
    up = "down" if inside else "up"
    return (
        np.array([float(wall.face == up) for wall in walls]),
        np.array([float(wall.face == "side") for wall in walls]),
    )


def _films(box: Box, factors: Factors, air: Air | None) -> Bundle:
    """From the air inside to the inner face of every wall."""
    area = np.array([wall.area_mm2 for wall in box.walls]) * 1e-6
    length = np.array([wall.length_mm for wall in box.walls]) * 1e-3
    up, side = _faces(box.walls, inside=True)

    def flow(air_c: Floats, face_c: Floats) -> Floats:
        film = still_film_w_m2(up, side, face_c, air_c, length, air)
        return -_column(factors.film_frac) * area * film

    places = range(len(box.walls))
    return Bundle(start=tuple(0 for _ in places), end=tuple(1 + 2 * i for i in places), flow_w=flow)


def _walls(box: Box, factors: Factors) -> Bundle:
    """Through every wall."""
    area = np.array([wall.area_mm2 for wall in box.walls]) * 1e-6
    conductance = box.conductivity_w_mk * area / (box.wall_mm * 1e-3)

    def flow(inside_c: Floats, outside_c: Floats) -> Floats:
        return _column(factors.wall_frac) * conductance * (inside_c - outside_c)

    places = range(len(box.walls))
    return Bundle(
        start=tuple(1 + 2 * i for i in places), end=tuple(2 + 2 * i for i in places), flow_w=flow
    )


def _outside(box: Box, factors: Factors, air: Air | None) -> tuple[Bundle, ...]:
    """From every outer face that air reaches into the room: film and radiation."""
    free = [i for i, wall in enumerate(box.walls) if wall.free]
    if not free:
        return ()
    walls = [box.walls[i] for i in free]
    area = np.array([wall.area_mm2 for wall in walls]) * 1e-6
    length = np.array([wall.length_mm for wall in walls]) * 1e-3
    up, side = _faces(walls, inside=False)

    def flow(face_c: Floats, room_c: Floats) -> Floats:
        film = still_film_w_m2(up, side, face_c, room_c, length, air)
        glow = box.emissivity_frac * _radiation(face_c, room_c)
        return area * (_column(factors.film_frac) * film + _column(factors.radiation_frac) * glow)

    bundle = Bundle(
        start=tuple(2 + 2 * i for i in free), end=tuple(ROOM for _ in free), flow_w=flow
    )
    return (bundle,)


def _radiation(first_c: Floats, second_c: Floats) -> Floats:
    """Between two black surfaces, W/m2."""
    return SIGMA_W_M2K4 * ((first_c + KELVIN) ** 4 - (second_c + KELVIN) ** 4)


def _parts(box: Box, parts: Sequence[WarmPart], factors: Factors) -> tuple[Bundle, ...]:
    """From every part to the air, and by radiation to every inner face by its share of area."""
    if not parts:
        return ()
    first = 1 + 2 * len(box.walls)
    area = np.array([part.area_mm2 for part in parts]) * 1e-6
    length = np.sqrt(area / 2.0)
    sink = np.array([part.sink_k_w for part in parts])
    openings = box.openings
    duct = openings.duct_mm2 * 1e-6
    speed = np.array(openings.fan_m3_s / duct if openings.fan_m3_s > 0.0 and duct > 0.0 else 0.0)

    def to_air(part_c: Floats, air_c: Floats) -> Floats:
        rise = part_c - air_c
        if speed > 0.0:
            film = swept_w_m2(part_c, air_c, length, speed)
        else:
            one = np.ones(len(parts))
            film = still_film_w_m2(one, one, part_c, air_c, length)
        through_sink = rise / np.where(sink > 0.0, sink, 1.0)
        given = np.where(sink > 0.0, through_sink, area * film)
        return _column(factors.film_frac) * given

    total = box.area_mm2 * 1e-6
    share = np.array([wall.area_mm2 for wall in box.walls]) / box.area_mm2
    glow = np.array([part.emissivity_frac for part in parts])
    exchange = 1.0 / (1.0 / glow + area / total * (1.0 / box.emissivity_frac - 1.0))
    pairs = [(p, w) for p in range(len(parts)) for w in range(len(box.walls))]
    weight: Floats = np.array([exchange[p] * area[p] * share[w] for p, w in pairs])

    def to_walls(part_c: Floats, face_c: Floats) -> Floats:
        glowing: Floats = weight * _radiation(part_c, face_c)
        return _column(factors.radiation_frac) * glowing

    return (
        Bundle(
            start=tuple(first + p for p in range(len(parts))),
            end=tuple(0 for _ in parts),
            flow_w=to_air,
        ),
        Bundle(
            start=tuple(first + p for p, _ in pairs),
            end=tuple(1 + 2 * w for _, w in pairs),
            flow_w=to_walls,
        ),
    )


def _openings(box: Box, factors: Factors) -> tuple[Bundle, ...]:
    """What air carries out: by its own lift through two openings, and by a fan.

    Q = C A sqrt(g H dT / T) for two equal openings of area A, H apart: 2 g H / 2 of the source,
    the neutral level lying midway.

    Source: ASHRAE Fundamentals (1997), chapter 25, equation 37.
    """
    openings = box.openings
    found = []
    area, rise_m = openings.pair_mm2 * 1e-6, openings.rise_mm * 1e-3
    if area > 0.0 and rise_m > 0.0:

        def lift(inside_c: Floats, room_c: Floats) -> Floats:
            rise = inside_c - room_c
            warm = np.maximum(inside_c, room_c) + KELVIN
            speed = np.sqrt(GRAVITY_M_S2 * rise_m * (np.abs(rise) + LEAST_RISE_K) / warm)
            flow = openings.discharge_frac * area * speed
            carried = air_at(room_c).density_kg_m3 * HEAT_J_KGK * flow
            return _column(factors.film_frac) * carried * rise

        found.append(Bundle(start=(0,), end=(ROOM,), flow_w=lift))
    if openings.fan_m3_s > 0.0:

        def blown(inside_c: Floats, room_c: Floats) -> Floats:
            carried = air_at(room_c).density_kg_m3 * HEAT_J_KGK * openings.fan_m3_s
            return carried * (inside_c - room_c)

        found.append(Bundle(start=(0,), end=(ROOM,), flow_w=blown))
    return tuple(found)
