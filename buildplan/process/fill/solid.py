"""Floors and roofs: solid layers over every downward face and under every upward one."""

import math
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

import numpy as np

from buildplan.kernels.spans import group_lengths
from buildplan.process.fill.lines import make_grid, scan_border, scan_outline, split_fill
from buildplan.process.fill.model import FloorRoof, OutlineScans, SpanTable
from buildplan.process.layers import Layers
from buildplan.process.roles import Role
from buildplan.process.walls.model import Walls
from buildplan.tables.recipe import ExtrusionRecipe

SOLID_ANGLES_RAD = (math.pi / 4, -math.pi / 4)
"""Directions of solid lines in even and odd layers (common practice, no source)."""

Item = TypeVar("Item")


def map_tasks(function: Callable[[Item], Any], items: Iterable[Item], workers: int) -> list[Any]:
    """Results of a function for all items in their order, with some threads."""
    if workers <= 1:
        return [function(item) for item in items]
    with ThreadPoolExecutor(workers) as pool:
        return list(pool.map(function, items))


def scan_outlines(layers: Layers, recipe: ExtrusionRecipe, *, workers: int = 1) -> OutlineScans:
    """Outlines of all layers along the solid lines of both directions.

    It depends on the layers and on bead_mm only, so a cache may hold it under its key.
    """
    grids = [
        make_grid(layers, angle_rad=angle, pitch_mm=recipe.bead_mm) for angle in SOLID_ANGLES_RAD
    ]
    even, odd = map_tasks(lambda grid: scan_outline(layers, grid), grids, workers)
    return OutlineScans(key=f"{layers.key}:bead={recipe.bead_mm!r}", tables=(even, odd))


def layer_sums(layers: Layers, island_mm2: Any) -> Any:
    """Sum of a number per island over the islands of every layer."""
    running = np.concatenate(([0.0], np.cumsum(island_mm2)))
    return running[layers.layer_off[1:]] - running[layers.layer_off[:-1]]


def plan_floor_roof(
    layers: Layers,
    recipe: ExtrusionRecipe,
    walls: Walls,
    outlines: OutlineScans,
    *,
    workers: int = 1,
) -> FloorRoof:
    """Floor and roof lines of all layers; infill settings have no part in it."""
    n_layers = len(layers.z_mm)

    def one(direction: int) -> tuple[Any, Any]:
        which = np.arange(direction, n_layers, 2, dtype=np.int64)
        outline: SpanTable = outlines.tables[direction]
        border = scan_border(layers, walls, outline.grid, which)
        lines = split_fill(
            border,
            outline,
            which,
            floor_layers=recipe.floor_layers,
            roof_layers=recipe.roof_layers,
            role=Role.FLOOR_ROOF,
        )
        return lines, group_lengths(border.line_off, border.cross_mm, outline.grid.n_lines)

    (even, even_mm), (odd, odd_mm) = map_tasks(one, (0, 1), workers)
    border_mm = even_mm + odd_mm
    border_mm2 = layer_sums(layers, walls.border_area_mm2)
    border_mm.flags.writeable = False
    border_mm2.flags.writeable = False
    return FloorRoof(
        key=f"{walls.key}:floor={recipe.floor_layers}:roof={recipe.roof_layers}",
        lines=(even, odd),
        border_mm=border_mm,
        border_mm2=border_mm2,
    )
