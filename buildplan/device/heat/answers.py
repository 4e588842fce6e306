"""One answer each: vent area, fan flow, heat sink, hottest day, feedstocks that pass."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from buildplan.device.heat.box import MOUNTS, Box, Openings, WarmPart
from buildplan.device.heat.network import heat_net, steady_c
from buildplan.tables.feedstock import Feedstock

MOST_VENT_MM2 = 20_000.0
MOST_FAN_M3_S = 0.02
LEAST_SINK_K_W = 0.2
COLDEST_C, HOTTEST_C = -40.0, 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatQuestion:
    """A box, its parts, their watts in the mode that is looked at, and the room."""

    box: Box
    parts: tuple[WarmPart, ...]
    power_w: Mapping[str, float]
    ambient_c: float


def temps_of(question: HeatQuestion) -> dict[str, float]:
    """Temperature of every node and printed mount by name, once nothing changes any more."""
    net = heat_net(question.box, question.parts, question.power_w, ambient_c=question.ambient_c)
    temps = dict(zip(net.names, map(float, steady_c(net)), strict=True))
    for part in question.parts:
        if part.mount == "printed":
            rise = temps[part.name] - temps["air"]
            temps[MOUNTS + part.name] = temps["air"] + part.mount_frac * rise
    return temps


def vent_for_mm2(question: HeatQuestion, node: str, limit_c: float, *, rise_mm: float) -> float:
    """Area of each of two equal openings that keeps a node at its limit; inf where none does."""

    def over(area: float) -> float:
        openings = replace(
            question.box.openings, low_mm2=area, high_mm2=area, rise_mm=rise_mm, fan_m3_s=0.0
        )
        return _with_box(question, replace(question.box, openings=openings), node) - limit_c

    return _least(over, min(MOST_VENT_MM2, 0.45 * question.box.area_mm2), 0.01)


def fan_for_m3_s(question: HeatQuestion, node: str, limit_c: float) -> float:
    """Flow through the box that keeps a node at its limit; inf where no usual fan does."""

    def over(flow: float) -> float:
        openings = replace(question.box.openings, fan_m3_s=flow)
        return _with_box(question, replace(question.box, openings=openings), node) - limit_c

    return _least(over, MOST_FAN_M3_S, 1e-8)


def sink_for_k_w(question: HeatQuestion, name: str, limit_c: float, *, node: str = "") -> float:
    """Weakest heat sink, in K/W to the air inside, that keeps a part at its limit; 0 where none.

    A larger number is a smaller sink.

    Args:
        question: As it is.
        name: Of the part that gets the sink.
        limit_c: Of the part, or of the node.
        node: What is to stay at the limit instead of the part: its printed mounts.
    """

    def over(sink: float) -> float:
        parts = tuple(
            replace(part, sink_k_w=sink) if part.name == name else part for part in question.parts
        )
        return temps_of(replace(question, parts=parts))[node or name] - limit_c

    if over(LEAST_SINK_K_W) > 0.0:
        return 0.0
    largest = LEAST_SINK_K_W
    while over(largest * 2.0) <= 0.0 and largest < 1000.0:
        largest *= 2.0
    return _root(over, largest, largest * 2.0, 1e-4) if largest < 1000.0 else math.inf


def hottest_day_c(question: HeatQuestion, node: str, limit_c: float) -> float:
    """Warmest room in which a node stays at its limit; -inf or inf beyond -40 to 90 C."""

    def over(ambient: float) -> float:
        return temps_of(replace(question, ambient_c=ambient))[node] - limit_c

    if over(COLDEST_C) > 0.0:
        return -math.inf
    if over(HOTTEST_C) < 0.0:
        return math.inf
    return _root(over, COLDEST_C, HOTTEST_C, 1e-3)


def with_feedstock(question: HeatQuestion, feedstock: Feedstock) -> HeatQuestion:
    """The same box of another feedstock."""
    box = replace(
        question.box,
        conductivity_w_mk=feedstock.conductivity_w_mk,
        density_g_cm3=feedstock.density_g_cm3,
    )
    return replace(question, box=box)


def shut(question: HeatQuestion) -> HeatQuestion:
    """The same box with every opening shut."""
    return replace(question, box=replace(question.box, openings=Openings()))


def _with_box(question: HeatQuestion, box: Box, node: str) -> float:
    return temps_of(replace(question, box=box))[node]


def _least(over: Callable[[float], float], most: float, tolerance: float) -> float:
    """Least value at which a falling function is 0 or below; 0 at once, inf never."""
    if over(0.0) <= 0.0:
        return 0.0
    if over(most) > 0.0:
        return math.inf
    return _root(over, 0.0, most, tolerance)


def _root(over: Callable[[float], float], low: float, high: float, tolerance: float) -> float:
    from scipy.optimize import brentq

    return float(brentq(over, low, high, xtol=tolerance))
