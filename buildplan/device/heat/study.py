"""The whole study of an enclosure: every mode, every limit, what would mend it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from buildplan.device.heat.air import Floats, dew_point_c
from buildplan.device.heat.answers import (
    HeatQuestion,
    fan_for_m3_s,
    hottest_day_c,
    sink_for_k_w,
    temps_of,
    vent_for_mm2,
    with_feedstock,
)
from buildplan.device.heat.box import MOUNTS
from buildplan.device.heat.cautions import cautions_for_heat
from buildplan.device.heat.inputs import HeatCase
from buildplan.device.heat.model import FeedstockHeat, HeatAnswers, HeatStudy, NodeHeat, NodeKind
from buildplan.device.heat.network import Factors, heat_net, steady_c
from buildplan.device.heat.transient import Phase, time_to_s, warm_up, with_mounts
from buildplan.device.heat.words import answer_line, heat_findings
from buildplan.errors import InputError
from buildplan.tables.feedstock import Feedstock

DOUBT_FRAC = 0.25
"""Of a rise: handbooks' films lie 20 to 30 % apart for small boxes (findings of the sealed box)."""

TOUCH_C = 60.0
"""Plastic that is touched for up to a minute: 60 C (ISO 13732-1, IEC 62368-1; from memory)."""

DRAWS = 500
FILM_SPREAD_FRAC, POWER_SPREAD_FRAC = 0.25, 0.2
WALL_LOW_FRAC, WALL_HIGH_FRAC = 0.7, 1.4
"""Conductivity of prints: published values of one feedstock lie that far apart."""

HELD_H = 12.0
"""Longest stretch that is looked at for how long a mode may last."""

Powers = Mapping[str, float]


def study_heat(
    case: HeatCase,
    *,
    ambient_c: float,
    feedstocks: Sequence[Feedstock] = (),
    humidity_frac: float = 0.0,
    touch_c: float = TOUCH_C,
) -> HeatStudy:
    """Temperatures in every mode held for hours, against limits of parts, walls and mounts.

    Args:
        case: Of heat_of.
        ambient_c: Of the room on the warmest day.
        feedstocks: To compare for walls and mounts.
        humidity_frac: Of the room's air, for its dew point; 0 leaves it out.
        touch_c: What an outer face may have where it is touched.

    Raises:
        InputError: Numbers that cannot be.
    """
    if not -60.0 <= ambient_c <= 100.0:
        raise InputError(f"heat: a room of {ambient_c:g} C; -60 to 100 is allowed")
    mean = _mean_power(case)
    held = {mode: _temps(case, case.power_w[mode], ambient_c) for mode, _ in case.modes}
    by_mode = {
        mode: _after(case, mode, mean, ambient_c) if mode in case.longest_min else held[mode]
        for mode in held
    }
    nodes = _nodes(case, (by_mode, held), _temps(case, mean, ambient_c), ambient_c, touch_c)
    worst = _lacks_most(nodes)
    answers = None if worst is None else _answers(case, worst, mean, ambient_c)
    study = HeatStudy(
        case=case,
        ambient_c=ambient_c,
        nodes=nodes,
        minutes_to_90=_minutes_to_90(case, nodes, ambient_c),
        feedstocks=_feedstocks(case, feedstocks, ambient_c),
        answers=answers,
        dew_point_c=dew_point_c(ambient_c, humidity_frac) if humidity_frac > 0.0 else math.nan,
        cautions=cautions_for_heat(nodes),
        findings=(),
    )
    return replace(study, findings=heat_findings(study))


def _mean_power(case: HeatCase) -> dict[str, float]:
    """Watts of every part over the day; modes that do not fill it count by their shares."""
    whole = sum(share for _, share in case.modes) or 1.0
    return {
        part.name: sum(share * case.power_w[mode][part.name] for mode, share in case.modes) / whole
        for part in case.parts
    }


def _question(case: HeatCase, power: Powers, ambient_c: float) -> HeatQuestion:
    return HeatQuestion(box=case.box, parts=case.parts, power_w=power, ambient_c=ambient_c)


def _temps(case: HeatCase, power: Powers, ambient_c: float) -> dict[str, float]:
    return temps_of(_question(case, power, ambient_c))


def _after(case: HeatCase, mode: str, mean: Powers, ambient_c: float) -> dict[str, float]:
    """Warmest temperature of every node and mount in a mode's stretch, from the day's mean."""
    net = heat_net(case.box, case.parts, mean, ambient_c=ambient_c)
    stretch = Phase(lasts_s=60.0 * case.longest_min[mode], power_w=case.power_w[mode])
    warming = with_mounts(warm_up(net, [stretch], start_c=steady_c(net)), case.parts)
    return dict(zip(warming.names, map(float, warming.temp_c.max(axis=0)), strict=True))


def _nodes(
    case: HeatCase,
    temps: tuple[Mapping[str, Mapping[str, float]], Mapping[str, Mapping[str, float]]],
    mean: Mapping[str, float],
    ambient_c: float,
    touch_c: float,
) -> tuple[NodeHeat, ...]:
    by_mode, held = temps
    spread = {
        mode: _scaled(
            _draws(case, case.power_w[mode], ambient_c), held[mode], by_mode[mode], ambient_c
        )
        for mode in by_mode
    }
    wall_c = case.feedstock.service_c if case.feedstock else math.nan
    rows: list[tuple[str, NodeKind, float]] = [("air", "air", math.nan)]
    for wall in case.box.walls:
        rows.append((f"{wall.face} inside", "wall", wall_c))
        rows.append((f"{wall.face} outside", "outside", touch_c))
    rows += [(part.name, "part", part.limit_c) for part in case.parts]
    found = [
        _node(name, kind, limit, by_mode, mean, spread, ambient_c) for name, kind, limit in rows
    ]
    found = [replace(node, longest_min=case.longest_min.get(node.mode, 0.0)) for node in found]
    shares = {part.name: part.mount_frac for part in case.parts if part.mount == "printed"}
    parts = [node for node in found if node.name in shares]
    mounts = [
        _mount(node, found[0], shares[node.name], by_mode[node.mode]["air"], wall_c, ambient_c)
        for node in parts
    ]
    return (*found, *mounts)


def _node(
    name: str,
    kind: NodeKind,
    limit_c: float,
    by_mode: Mapping[str, Mapping[str, float]],
    mean: Mapping[str, float],
    spread: Mapping[str, Mapping[str, tuple[float, float]]],
    ambient_c: float,
) -> NodeHeat:
    mode = max(by_mode, key=lambda key: by_mode[key][name])
    temp = by_mode[mode][name]
    low, high = spread[mode][name]
    return NodeHeat(
        name=name,
        kind=kind,
        mode=mode,
        longest_min=0.0,
        temp_c=temp,
        doubt_k=DOUBT_FRAC * max(temp - ambient_c, 0.0),
        low_c=low,
        high_c=high,
        limit_c=limit_c,
        mean_c=mean[name],
    )


def _mount(
    part: NodeHeat, air: NodeHeat, share: float, air_c: float, limit_c: float, ambient_c: float
) -> NodeHeat:
    """The printed mounts of a part: a share of its rise over the air of the same mode."""

    def between(temp: float, base: float) -> float:
        return base + share * (temp - base)

    temp = between(part.temp_c, air_c)
    return replace(
        part,
        name=MOUNTS + part.name,
        kind="mount",
        temp_c=temp,
        low_c=between(part.low_c, air_c - (air.temp_c - air.low_c)),
        high_c=between(part.high_c, air_c + (air.high_c - air.temp_c)),
        doubt_k=DOUBT_FRAC * max(temp - ambient_c, 0.0),
        limit_c=limit_c,
        mean_c=between(part.mean_c, air.mean_c),
    )


def _draws(case: HeatCase, power: Powers, ambient_c: float) -> dict[str, tuple[float, float]]:
    """5 and 95 of 100 at every node, over films, walls and watts; the same draws every time."""
    rng = np.random.default_rng(0)
    film = rng.uniform(1.0 - FILM_SPREAD_FRAC, 1.0 + FILM_SPREAD_FRAC, DRAWS)
    wall = rng.uniform(WALL_LOW_FRAC, WALL_HIGH_FRAC, DRAWS)
    watts: dict[str, float | Floats] = {
        part.name: power[part.name]
        * rng.triangular(1.0 - POWER_SPREAD_FRAC, 1.0, 1.0 + POWER_SPREAD_FRAC, DRAWS)
        for part in case.parts
    }
    factors = Factors(film_frac=film, wall_frac=wall)
    net = heat_net(
        case.box, case.parts, watts, ambient_c=np.full(DRAWS, ambient_c), factors=factors
    )
    low, high = np.percentile(steady_c(net), (5.0, 95.0), axis=0)
    return {name: (float(low[i]), float(high[i])) for i, name in enumerate(net.names)}


def _scaled(
    spread: Mapping[str, tuple[float, float]],
    held: Mapping[str, float],
    reached: Mapping[str, float],
    ambient_c: float,
) -> dict[str, tuple[float, float]]:
    """The spread of a mode held for hours, in proportion to the rise that it reaches."""
    found = {}
    for name, (low, high) in spread.items():
        full = max(held[name] - ambient_c, 1e-9)
        share = (reached[name] - ambient_c) / full
        found[name] = (
            ambient_c + share * (low - ambient_c),
            ambient_c + share * (high - ambient_c),
        )
    return found


def _lacks_most(nodes: Sequence[NodeHeat]) -> NodeHeat | None:
    """The place with least margin after its doubt."""
    limited = [node for node in nodes if math.isfinite(node.limit_c)]
    if not limited:
        return None
    return min(limited, key=lambda node: node.margin_c - node.doubt_k)


def _answers(case: HeatCase, worst: NodeHeat, mean: Powers, ambient_c: float) -> HeatAnswers:
    """What would bring the worst place to its limit, its doubt included, each change alone."""
    target = worst.limit_c - worst.doubt_k
    power, extra = case.power_w[worst.mode], 0.0
    if worst.longest_min:  # a short stretch: the day's mean plus what the stretch adds to it
        power, extra = mean, worst.temp_c - worst.mean_c
    question = _question(case, power, ambient_c)
    node, aim = worst.name, target - extra
    rise_mm = case.box.openings.rise_mm
    name = node.removeprefix(MOUNTS)
    has_part = worst.kind in ("part", "mount")
    answers = HeatAnswers(
        node=worst.name,
        target_c=target,
        vent_mm2=vent_for_mm2(question, node, aim, rise_mm=rise_mm) if rise_mm else math.nan,
        fan_l_s=1e3 * fan_for_m3_s(question, node, aim),
        sink_k_w=sink_for_k_w(question, name, aim, node=node) if has_part else math.nan,
        hottest_c=hottest_day_c(question, node, aim),
        held_min=_held_min(case, worst, mean, ambient_c),
        line="",
    )
    return replace(answers, line=answer_line(answers, worst))


def _held_min(case: HeatCase, worst: NodeHeat, mean: Powers, ambient_c: float) -> float:
    """Minutes that the warmest mode may last, from the day's mean."""
    question = _question(case, case.power_w[worst.mode], ambient_c)
    target = worst.limit_c - worst.doubt_k
    if temps_of(question)[worst.name] <= target:
        return math.inf
    if worst.mean_c >= target:
        return 0.0
    net = heat_net(case.box, case.parts, mean, ambient_c=ambient_c)
    stretch = Phase(lasts_s=HELD_H * 3600.0, power_w=question.power_w)
    warming = with_mounts(warm_up(net, [stretch], start_c=steady_c(net)), case.parts)
    return time_to_s(warming, worst.name, target) / 60.0


def _minutes_to_90(case: HeatCase, nodes: Sequence[NodeHeat], ambient_c: float) -> float:
    """Until the warmest part has nine tenths of its rise, from a cold start; nan without parts."""
    parts = [node for node in nodes if node.kind == "part"]
    if not parts:
        return math.nan
    hot = max(parts, key=lambda node: node.temp_c)
    power = case.power_w[hot.mode]
    net = heat_net(case.box, case.parts, power, ambient_c=ambient_c)
    warming = warm_up(net, [Phase(lasts_s=HELD_H * 3600.0, power_w=power)])
    goal = ambient_c + 0.9 * (hot.temp_c - ambient_c)
    return time_to_s(warming, hot.name, goal) / 60.0


def _feedstocks(
    case: HeatCase, feedstocks: Sequence[Feedstock], ambient_c: float
) -> tuple[FeedstockHeat, ...]:
    """Walls and printed mounts of every feedstock, in its warmest mode."""
    found = [_feedstock(case, feedstock, ambient_c) for feedstock in feedstocks]
    return tuple(sorted(found, key=lambda row: row.limit_c))


def _feedstock(case: HeatCase, feedstock: Feedstock, ambient_c: float) -> FeedstockHeat:
    mean = _mean_power(case)
    made = replace(
        case,
        box=with_feedstock(_question(case, mean, ambient_c), feedstock).box,
        feedstock=feedstock,
    )
    rows = [
        _after(made, mode, mean, ambient_c)
        if mode in made.longest_min
        else _temps(made, made.power_w[mode], ambient_c)
        for mode, _ in made.modes
    ]
    walls = [row[f"{wall.face} inside"] for row in rows for wall in made.box.walls]
    mounts = [temp for row in rows for name, temp in row.items() if name.startswith(MOUNTS)]
    warmest = max([*walls, *mounts])
    doubt = DOUBT_FRAC * max(warmest - ambient_c, 0.0)
    return FeedstockHeat(
        key=feedstock.key,
        name=feedstock.name,
        wall_c=max(walls),
        mount_c=max(mounts) if mounts else math.nan,
        limit_c=feedstock.service_c,
        passes=warmest + doubt <= feedstock.service_c,
    )
