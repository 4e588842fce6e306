"""Paths -> hours: trapezoids with look-ahead, cornering, flow limit, least layer time."""

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.kernels.motion import time_layers
from buildplan.process.paths.model import Paths
from buildplan.process.roles import ROLE_COUNT, Role
from buildplan.tables.printer import ExtrusionPrinter
from buildplan.tables.recipe import ExtrusionRecipe

SPEED_FIELDS = frozenset(
    {
        "outline_mm_s",
        "wall_mm_s",
        "centre_mm_s",
        "infill_mm_s",
        "floor_roof_mm_s",
        "support_mm_s",
        "support_face_mm_s",
        "margin_mm_s",
        "first_layer_frac",
        "layer_time_least_s",
        "speed_least_mm_s",
    }
)
"""Fields of a recipe that change the time of given paths but not the paths."""

Number = TypeVar("Number", bound=np.generic)

NAME_FIELDS = frozenset({"key", "name", "process", "about"})


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeEstimate:
    """Time of the moves of a print, without spread.

    Attributes:
        time_h: Warm-up, all layers and layer changes.
        warm_up_h: Part of it before the first bead.
        layer_time_s: (n_layers,) with retractions, layer change and waiting for the least time.
        role_time_s: (n_layers, ROLE_COUNT) moving time by role, before any slowing for the least
            layer time.
        role_length_mm: (n_layers, ROLE_COUNT) length moved.
        retractions: (n_layers,) int64.
        slowed_s: (n_layers,) time added by the least layer time.
    """

    time_h: float
    warm_up_h: float
    layer_time_s: NDArray[np.float64]
    role_time_s: NDArray[np.float64]
    role_length_mm: NDArray[np.float64]
    retractions: NDArray[np.int64]
    slowed_s: NDArray[np.float64]


def rest_to_rest_s(length_mm: float, speed_mm_s: float, accel_mm_s2: float) -> float:
    """Time of one straight move from rest to rest.

    d/v + v/a where d >= v^2/a, else 2 sqrt(d/a). Source: constant-acceleration kinematics.
    """
    if length_mm * accel_mm_s2 >= speed_mm_s * speed_mm_s:
        return length_mm / speed_mm_s + speed_mm_s / accel_mm_s2
    return 2.0 * math.sqrt(length_mm / accel_mm_s2)


def role_speeds_mm_s(recipe: ExtrusionRecipe, printer: ExtrusionPrinter) -> NDArray[np.float64]:
    """Speed of every role, (ROLE_COUNT,), never over the printer's limit."""
    speed = np.empty(ROLE_COUNT)
    speed[Role.TRAVEL] = printer.travel_mm_s
    speed[Role.OUTLINE] = recipe.outline_mm_s
    speed[Role.WALL] = recipe.wall_mm_s
    speed[Role.INFILL] = recipe.infill_mm_s
    speed[Role.FLOOR_ROOF] = recipe.floor_roof_mm_s
    speed[Role.SUPPORT] = recipe.support_mm_s
    speed[Role.SUPPORT_FACE] = recipe.support_face_mm_s
    speed[Role.CENTRE] = recipe.centre_mm_s
    speed[Role.MARGIN] = recipe.margin_mm_s
    return np.minimum(speed, printer.speed_limit_mm_s)


def role_accels_mm_s2(printer: ExtrusionPrinter) -> NDArray[np.float64]:
    """Acceleration of every role, (ROLE_COUNT,)."""
    accel = np.full(ROLE_COUNT, printer.print_accel_mm_s2)
    accel[Role.TRAVEL] = printer.travel_accel_mm_s2
    accel[Role.OUTLINE] = printer.outline_accel_mm_s2
    return accel


def same_geometry(mine: ExtrusionRecipe, other: ExtrusionRecipe) -> str | None:
    """Name of the first field that makes two recipes lay different paths, or None."""
    for field in fields(ExtrusionRecipe):
        if field.name in SPEED_FIELDS or field.name in NAME_FIELDS:
            continue
        if getattr(mine, field.name) != getattr(other, field.name):
            return field.name
    return None


def estimate_time(
    paths: Paths,
    printer: ExtrusionPrinter,
    *,
    recipe: ExtrusionRecipe | None = None,
    flow_limit_mm3_s: float | None = None,
    workers: int = 1,
) -> TimeEstimate:
    """Hours that the moves of a print take on a printer.

    Every layer starts and ends at rest. Within it each move is a trapezoid whose corners, flow and
    neighbours limit its speed (kernels/motion.py). A layer shorter than the least time is slowed:
    extruding only, and never below ``speed_least_mm_s``.

    Args:
        paths: The moves.
        printer: Its speeds, accelerations, corner deviation, flow and retraction time count.
        recipe: Other speeds for the same paths; the paths' own recipe where it is left out.
        flow_limit_mm3_s: The feedstock's melt flow; the lower of it and the printer's counts.
        workers: Threads; the numbers do not depend on it.

    Raises:
        InputError: A speed, acceleration or limit is not above zero, or ``recipe`` would lay
            other paths.
    """
    recipe = _speeds_of(paths, recipe)
    flow = _flow_limit_mm3_s(printer, flow_limit_mm3_s)
    speed = role_speeds_mm_s(recipe, printer)
    accel = role_accels_mm_s2(printer)
    _check_limits(recipe, printer, speed, accel, workers)
    count = len(paths.point_off) - 1
    retractions = np.zeros(count, np.int64)
    role_time_s = np.zeros((count, ROLE_COUNT))
    role_length_mm = np.zeros((count, ROLE_COUNT))
    x_mm, y_mm = _read_only(paths.x_mm), _read_only(paths.y_mm)
    role, retract = _read_only(paths.role), _read_only(paths.retract)
    bead_mm, point_off = _read_only(paths.bead_mm), _read_only(paths.point_off)
    thickness_mm = _read_only(paths.layers.thickness_mm)

    def run(block: tuple[int, int]) -> None:
        time_layers(
            x_mm,
            y_mm,
            role,
            retract,
            bead_mm,
            point_off,
            thickness_mm,
            speed,
            accel,
            float(recipe.first_layer_frac),
            float(printer.corner_deviation_mm),
            float(flow),
            block[0],
            block[1],
            retractions,
            role_time_s,
            role_length_mm,
        )

    blocks = _blocks(paths.point_off, workers)
    if len(blocks) > 1:
        with ThreadPoolExecutor(len(blocks)) as pool:
            list(pool.map(run, blocks))
    elif blocks:
        run(blocks[0])
    return _with_layer_times(paths, printer, recipe, (role_time_s, role_length_mm, retractions))


def _with_layer_times(
    paths: Paths,
    printer: ExtrusionPrinter,
    recipe: ExtrusionRecipe,
    moving: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]],
) -> TimeEstimate:
    """Add retractions, layer changes, the least layer time and the warm-up to the moving time."""
    role_time_s, role_length_mm, retractions = moving
    extruding_s = role_time_s[:, 1:].sum(axis=1)
    extruded_mm = role_length_mm[:, 1:].sum(axis=1)
    other_s = role_time_s[:, Role.TRAVEL] + retractions * printer.retract_s
    other_s += layer_change_s(paths.layers.thickness_mm, printer)
    wanted_s = np.minimum(
        recipe.layer_time_least_s - other_s, extruded_mm / recipe.speed_least_mm_s
    )
    slowed_s = np.maximum(0.0, wanted_s - extruding_s)
    slowed_s[extruded_mm == 0.0] = 0.0
    layer_time_s = extruding_s + other_s + slowed_s
    warm_up_h = printer.warm_up_s / 3600.0
    return TimeEstimate(
        time_h=warm_up_h + float(layer_time_s.sum()) / 3600.0,
        warm_up_h=warm_up_h,
        layer_time_s=_read_only(layer_time_s),
        role_time_s=_read_only(role_time_s),
        role_length_mm=_read_only(role_length_mm),
        retractions=_read_only(retractions),
        slowed_s=_read_only(slowed_s),
    )


def layer_change_s(
    thickness_mm: NDArray[np.float64], printer: ExtrusionPrinter
) -> NDArray[np.float64]:
    """Time of the vertical move before every layer, (n_layers,); none before the first."""
    heights, where = np.unique(thickness_mm, return_inverse=True)
    times = np.array(
        [
            rest_to_rest_s(float(height), printer.layer_speed_mm_s, printer.layer_accel_mm_s2)
            for height in heights
        ]
    )
    change_s = times[where] if len(heights) else np.zeros(0)
    change_s[:1] = 0.0
    return change_s


def _speeds_of(paths: Paths, recipe: ExtrusionRecipe | None) -> ExtrusionRecipe:
    if recipe is None:
        return paths.recipe
    field = same_geometry(paths.recipe, recipe)
    if field is not None:
        raise InputError(
            f"recipe {recipe.key!r} would lay other paths: {field} is "
            f"{getattr(recipe, field)!r}, the paths were laid with "
            f"{getattr(paths.recipe, field)!r}; plan the paths again with this recipe"
        )
    return recipe


def _flow_limit_mm3_s(printer: ExtrusionPrinter, feedstock_mm3_s: float | None) -> float:
    if feedstock_mm3_s is None:
        return printer.flow_limit_mm3_s
    if not feedstock_mm3_s > 0.0:
        raise InputError(
            f"flow_limit_mm3_s must be above 0, found {feedstock_mm3_s:g}; "
            "leave it out to use the printer's own"
        )
    return min(printer.flow_limit_mm3_s, feedstock_mm3_s)


def _check_limits(
    recipe: ExtrusionRecipe,
    printer: ExtrusionPrinter,
    speed: NDArray[np.float64],
    accel: NDArray[np.float64],
    workers: int,
) -> None:
    """Refuse what would divide by zero or run backwards."""
    numbers = {f"speed of {role.name.lower()}": float(speed[role]) for role in Role}
    numbers |= {f"acceleration of {role.name.lower()}": float(accel[role]) for role in Role}
    numbers |= {
        "first_layer_frac": recipe.first_layer_frac,
        "speed_least_mm_s": recipe.speed_least_mm_s,
        "flow_limit_mm3_s": printer.flow_limit_mm3_s,
        "layer_speed_mm_s": printer.layer_speed_mm_s,
        "layer_accel_mm_s2": printer.layer_accel_mm_s2,
        "workers": workers,
    }
    for name, value in numbers.items():
        if not value > 0.0:
            raise InputError(
                f"{name} must be above 0, found {value:g} "
                f"(recipe {recipe.key!r} on printer {printer.key!r}); give a number above 0"
            )
    if printer.corner_deviation_mm < 0.0 or printer.retract_s < 0.0:
        raise InputError(
            f"printer {printer.key!r}: corner_deviation_mm and retract_s must not be negative, "
            f"found {printer.corner_deviation_mm:g} and {printer.retract_s:g}"
        )


def _blocks(point_off: NDArray[np.int64], workers: int) -> list[tuple[int, int]]:
    """Runs of layers with about the same number of points, one for every worker."""
    count = len(point_off) - 1
    cuts = np.searchsorted(point_off, np.linspace(point_off[0], point_off[-1], workers + 1))
    edges = [0, *(int(cut) for cut in cuts[1:-1]), count]
    return [(a, b) for a, b in pairwise(edges) if b > a]


def _read_only(array: NDArray[Number]) -> NDArray[Number]:
    view = np.ascontiguousarray(array).view()
    view.flags.writeable = False
    return view
