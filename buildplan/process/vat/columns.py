"""Supports of a vat print: islands, tips under what hangs, columns below the tips."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.columns import find_landings
from buildplan.process.layers import Layers
from buildplan.process.supports.hanging import (
    Hanging,
    find_hanging,
    lay_grid,
    ring_off_of_layers,
    scan_along_x,
)
from buildplan.tables.recipe import VatRecipe

LINE_PITCH_MM = 0.5
"""Lines on which hanging area is measured and column heights are sampled."""

BRIDGE_LIMIT_MM = 2.0
"""Span between two anchors that cures without support. Source: common practice, no source."""

LEAST_PIECE_MM2 = 0.25
"""A hanging piece smaller than one cell of the lines needs no tip of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tips:
    """Support tips and their columns.

    Attributes:
        count: Tips that touch the part.
        area_mm2: Hanging area of the part that needs tips.
        volume_mm3: Cones and columns.
        surface_mm2: Their side surface.
        island_at: (n_islands, 3) x, y, z where a layer begins in mid-air, in the layers'
            coordinates.
        layer_volume_mm3: (n_layers,) share of the volume that is cured in a layer.
    """

    count: int
    area_mm2: float
    volume_mm3: float
    surface_mm2: float
    island_at: NDArray[np.float64]
    layer_volume_mm3: NDArray[np.float64]


def column_volume(height_mm: float, recipe: VatRecipe) -> tuple[float, float]:
    """Volume (mm3) and side surface (mm2) of one column: a cone to the tip, a cylinder below it.

    Cone frustum: pi L (D^2 + D d + d^2) / 12 and pi (D + d) / 2 * side. A column shorter than the
    tip's cone is the upper end of that cone only.

    Source: solid geometry of the cone frustum (any mathematics handbook).
    """
    tip, column = recipe.tip_mm, recipe.column_mm
    cone = min(height_mm, recipe.tip_length_mm)
    foot = tip + (column - tip) * cone / recipe.tip_length_mm
    side = math.hypot(cone, (foot - tip) / 2.0)
    straight = height_mm - cone
    volume = math.pi * cone * (foot**2 + foot * tip + tip**2) / 12.0
    volume += math.pi * column**2 / 4.0 * straight
    surface = math.pi * (foot + tip) / 2.0 * side + math.pi * column * straight
    return volume, surface


def find_islands(layers: Layers, suspects: NDArray[np.int64]) -> NDArray[np.float64]:
    """Where a layer begins in mid-air: (n, 3) a point of every island that touches nothing below.

    Args:
        layers: The layers.
        suspects: Layers to look at: those that hang.
    """
    import shapely

    found: list[tuple[float, float, float]] = []
    counts = np.diff(layers.layer_off)
    more = np.flatnonzero(counts[1:] > counts[:-1]) + 1 if len(counts) > 1 else suspects[:0]
    for layer in np.union1d(suspects, more):
        own = _polygons(layers, int(layer))
        below = _polygons(layers, int(layer) - 1)
        tree = shapely.STRtree(below)
        touching = np.unique(tree.query(own, predicate="intersects")[0])
        for index in np.setdiff1d(np.arange(len(own)), touching):
            point = own[index].representative_point()
            found.append(
                (point.x, point.y, float(layers.z_mm[layer] - 0.5 * layers.thickness_mm[layer]))
            )
    return np.array(found).reshape(-1, 3)


def _polygons(layers: Layers, layer: int) -> list[object]:
    """Islands of a layer as shapely polygons."""
    import shapely

    shapes: list[object] = []
    for island in range(layers.layer_off[layer], layers.layer_off[layer + 1]):
        rings = [
            layers.xy_mm[layers.ring_off[r] : layers.ring_off[r + 1]]
            for r in range(layers.island_off[island], layers.island_off[island + 1])
        ]
        shapes.append(shapely.make_valid(shapely.Polygon(rings[0], rings[1:])))
    return shapes


def place_tips(layers: Layers, recipe: VatRecipe, *, workers: int = 1) -> Tips:
    """Tips under every island and under all that hangs, one per tip_pitch_mm^2.

    Columns stand straight below, on the platform or on the part. What hangs lower than a tip is
    wide (a part that lies flat on the platform) needs none.

    Raises:
        InputError: when overhang_limit_deg is no lean.
    """
    n_layers = len(layers.z_mm)
    grid = lay_grid(layers, LINE_PITCH_MM)
    if grid.n_lines == 0:
        return _no_tips(n_layers)
    outlines = scan_along_x(layers, ring_off_of_layers(layers), grid, workers)
    hanging = find_hanging(
        layers,
        outlines,
        grid,
        overhang_limit_deg=recipe.overhang_limit_deg,
        bridge_limit_mm=BRIDGE_LIMIT_MM,
        least_mm2=LEAST_PIECE_MM2,
        workers=workers,
    )
    islands = find_islands(layers, hanging.layer)
    layer, line, x, area = _samples(hanging)
    top = np.concatenate([layer, np.searchsorted(layers.z_mm, islands[:, 2])])
    own_line = np.floor(islands[:, 1] / grid.pitch_mm).astype(np.int64) - grid.first_line
    landing = find_landings(
        *outlines,
        grid.n_lines,
        top,
        np.concatenate([line, own_line]),
        np.concatenate([x, islands[:, 0]]),
    )
    floor = np.concatenate([[0.0], np.cumsum(layers.thickness_mm)])
    height = floor[top] - floor[landing + 1]
    stands = height >= recipe.tip_mm
    spread = np.where(stands[: len(area)], area, 0.0)
    hanging_mm2 = float(spread.sum())
    if not recipe.supports:
        return replace(_no_tips(n_layers), area_mm2=hanging_mm2, island_at=islands)
    under_area = math.ceil(hanging_mm2 / recipe.tip_pitch_mm**2 - 1e-9)
    tips = np.concatenate([spread, stands[len(area) :].astype(float)])
    if under_area:
        tips[: len(area)] *= under_area / hanging_mm2
    grown = _sum_columns(tips, height, top, landing + 1, recipe, n_layers)
    return replace(grown, area_mm2=hanging_mm2, island_at=islands)


def _no_tips(n_layers: int) -> Tips:
    """The record of a part that needs no support."""
    return Tips(
        count=0,
        area_mm2=0.0,
        volume_mm3=0.0,
        surface_mm2=0.0,
        island_at=np.zeros((0, 3)),
        layer_volume_mm3=np.zeros(n_layers),
    )


def _samples(
    hanging: Hanging,
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Points that stand for the hanging area: layer, line, x and area of each.

    Every span is cut into equal pieces of at most one pitch; the middle of a piece speaks for it.
    """
    pitch = hanging.grid.pitch_mm
    counts = np.diff(hanging.line_off) // 2
    cell = np.repeat(np.arange(len(counts)), counts)
    low, high = hanging.span_mm[::2], hanging.span_mm[1::2]
    pieces = np.maximum(1, np.ceil((high - low) / pitch - 1e-9)).astype(np.int64)
    which = np.repeat(np.arange(len(low)), pieces)
    first = np.concatenate([[0], np.cumsum(pieces)[:-1]]) if len(pieces) else pieces
    part = np.arange(len(which)) - first[which]
    step = (high - low) / pieces
    x = low[which] + (part + 0.5) * step[which]
    n_lines = hanging.grid.n_lines
    layer = hanging.layer[cell // n_lines] if len(cell) else cell
    return layer[which], (cell % n_lines)[which], x, step[which] * pitch


def _sum_columns(
    tips: NDArray[np.float64],
    height: NDArray[np.float64],
    top: NDArray[np.int64],
    foot: NDArray[np.int64],
    recipe: VatRecipe,
    n_layers: int,
) -> Tips:
    """Volumes and surfaces of columns: tips (n,) is how many stand at a point."""
    used = tips > 0.0
    tips, height, top, foot = tips[used], height[used], top[used], foot[used]
    heights, which = np.unique(np.round(height, 6), return_inverse=True)
    each = np.array([column_volume(float(h), recipe) for h in heights]).reshape(-1, 2)
    volume = tips * each[which, 0]
    change = np.zeros(n_layers + 1)
    np.add.at(change, foot, volume / (top - foot))
    np.add.at(change, top, -volume / (top - foot))
    return Tips(
        count=round(float(tips.sum())),
        area_mm2=0.0,
        volume_mm3=float(volume.sum()),
        surface_mm2=float((tips * each[which, 1]).sum()),
        island_at=np.zeros((0, 3)),
        layer_volume_mm3=np.maximum(np.cumsum(change)[:-1], 0.0),
    )
