"""Times of a vat print: exposures, hops, rests."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.tables.recipe import VatRecipe


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerTimes:
    """Exposure of every layer, and the hop and the rests after it (0 after the last)."""

    exposure_s: NDArray[np.float64]
    hop_s: NDArray[np.float64]
    rest_s: NDArray[np.float64]


def hop_time(distance_mm: float, speed_mm_s: float, accel_mm_s2: float) -> float:
    """Seconds of one straight move from rest to rest.

    d / v + v / a where the speed v is reached (d >= v^2 / a), else 2 sqrt(d / a).

    Raises:
        InputError: when speed or acceleration is not positive or the distance is negative.

    Source: kinematics of constant acceleration (any mechanics text).
    """
    if not (distance_mm >= 0 and speed_mm_s > 0 and accel_mm_s2 > 0):
        raise InputError(
            f"a move of {distance_mm:g} mm at {speed_mm_s:g} mm/s and {accel_mm_s2:g} mm/s2 is "
            "impossible; allowed: a distance of 0 or more, speed and acceleration above 0"
        )
    if distance_mm >= speed_mm_s**2 / accel_mm_s2:
        return distance_mm / speed_mm_s + speed_mm_s / accel_mm_s2
    return 2.0 * math.sqrt(distance_mm / accel_mm_s2)


def exposure_times(layers: int, recipe: VatRecipe, factor_frac: float) -> NDArray[np.float64]:
    """Exposure of every layer (n,): the first ones long, then a linear ramp, then the usual.

    Layer i of the ramp (0, 1, ...) gets first + (usual - first) * (i + 1) / (ramp_layers + 1).
    """
    index = np.arange(layers)
    ramp = np.clip((index - recipe.first_layers + 1) / (recipe.ramp_layers + 1), 0.0, 1.0)
    usual, first = recipe.exposure_s, recipe.first_exposure_s
    times: NDArray[np.float64] = (first + (usual - first) * ramp) * factor_frac
    return times


def layer_times(
    area_mm2: NDArray[np.float64],
    thickness_mm: NDArray[np.float64],
    recipe: VatRecipe,
    accel_mm_s2: float,
    factor_frac: float,
) -> LayerTimes:
    """Times of every layer from its cured area (n,) and thickness (n,).

    After every layer but the last the platform rests, rises by lift_mm, sinks by that less the next
    layer, and rests; over slow_area_mm2 it rises slowly.

    Raises:
        InputError: when the lift is no higher than a layer, or a speed is not positive.
    """
    layers = len(area_mm2)
    if layers and recipe.lift_mm <= float(thickness_mm.max()):
        raise InputError(
            f"recipe {recipe.key}: lift_mm is {recipe.lift_mm:g}, allowed is more than one layer "
            f"({float(thickness_mm.max()):g} mm); raise it"
        )
    rise = hop_time(recipe.lift_mm, recipe.lift_mm_s, accel_mm_s2)
    slow_rise = hop_time(recipe.lift_mm, recipe.slow_lift_mm_s, accel_mm_s2)
    hop = np.zeros(layers)
    rest = np.zeros(layers)
    for layer in range(layers - 1):
        sink = recipe.lift_mm - float(thickness_mm[layer + 1])
        up = slow_rise if area_mm2[layer] > recipe.slow_area_mm2 else rise
        hop[layer] = up + hop_time(sink, recipe.lower_mm_s, accel_mm_s2)
        rest[layer] = recipe.rest_before_s + recipe.rest_after_s
    return LayerTimes(
        exposure_s=exposure_times(layers, recipe, factor_frac), hop_s=hop, rest_s=rest
    )
