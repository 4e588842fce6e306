"""Infill styles: the sparse inside as parallel, crossed, three-way or wave lines, or as loops."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.process.fill.concentric import lay_loops, no_loops
from buildplan.process.fill.lines import make_grid, scan_border, scan_outline, split_fill
from buildplan.process.fill.model import FillLines, Infill, OutlineScans
from buildplan.process.fill.solid import SOLID_ANGLES_RAD, map_tasks
from buildplan.process.layers import Layers
from buildplan.process.roles import Role
from buildplan.process.walls.model import Walls
from buildplan.tables.recipe import ExtrusionRecipe

WAVE_MM = 1.0
"""Wave height (ours)."""

WAVELENGTH_MM = 8.0
"""Wave length (ours)."""

THREE_WAY_SHIFTS = 4
"""Three-way lines take this many positions in turn, layer by layer, so that no part whose sides
run along a line is filled too much or too little in all its layers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Family:
    """Lines of one direction: in every `every`-th layer from `first_layer` on."""

    angle_rad: float
    spread: float
    first_layer: int = 0
    every: int = 1
    shift: float = 0.0
    wave_mm: float = 0.0


def wave_length_factor(wave_mm: float, wavelength_mm: float) -> float:
    """Length of a wave over its straight length, in the mean: (2 / pi) sqrt(1 + a2) E(m).

    a2 = (2 pi wave / wavelength) squared, m = a2 / (1 + a2), E the complete elliptic integral of
    the second kind: the arc length of a sine (closed form, any integral table).
    """
    from scipy.special import ellipe

    a2 = (2.0 * math.pi * wave_mm / wavelength_mm) ** 2
    return float(2.0 / math.pi * math.sqrt(1.0 + a2) * ellipe(a2 / (1.0 + a2)))


def _families(style: str) -> tuple[_Family, ...]:
    """Line directions of a style; `spread` times bead over fraction is their line distance."""
    even, odd = SOLID_ANGLES_RAD
    if style == "parallel":
        return (
            _Family(angle_rad=even, spread=1.0, every=2),
            _Family(angle_rad=odd, spread=1.0, every=2, first_layer=1),
        )
    if style == "crossed":
        return (_Family(angle_rad=even, spread=2.0), _Family(angle_rad=odd, spread=2.0))
    if style == "three_way":
        return tuple(
            _Family(
                angle_rad=math.radians(angle),
                spread=3.0,
                first_layer=turn,
                every=THREE_WAY_SHIFTS,
                shift=turn / THREE_WAY_SHIFTS,
            )
            for turn in range(THREE_WAY_SHIFTS)
            for angle in (0.0, 60.0, 120.0)
        )
    factor = wave_length_factor(WAVE_MM, WAVELENGTH_MM)
    return (
        _Family(angle_rad=0.0, spread=factor, every=2, wave_mm=WAVE_MM),
        _Family(angle_rad=math.pi / 2, spread=factor, every=2, first_layer=1, wave_mm=WAVE_MM),
    )


def plan_infill(
    layers: Layers,
    recipe: ExtrusionRecipe,
    walls: Walls,
    outlines: OutlineScans,
    *,
    workers: int = 1,
) -> Infill:
    """Infill of every layer in the recipe's style.

    Lines stand bead_mm / infill_frac apart ("crossed" twice that in each of two directions,
    "three_way" three times in each of three, "wave" wider by the length of the wave), so that
    length times bead_mm over area is infill_frac in the mean.
    """
    nothing = no_loops(len(walls.border_island_off) - 1)
    if recipe.infill_frac <= 0.0:
        return Infill(lines=(), loops=nothing)
    if recipe.infill_style == "concentric":
        return Infill(lines=(), loops=lay_loops(layers, recipe, walls, workers=workers))
    n_layers = len(layers.z_mm)

    def one(family: _Family) -> FillLines:
        which: NDArray[np.int64] = np.arange(
            family.first_layer, n_layers, family.every, dtype=np.int64
        )
        grid = make_grid(
            layers,
            angle_rad=family.angle_rad,
            pitch_mm=family.spread * recipe.bead_mm / recipe.infill_frac,
            shift=family.shift,
            wave_mm=family.wave_mm,
            wavelength_mm=WAVELENGTH_MM,
        )
        known = [table for table in outlines.tables if table.grid == grid]
        outline = known[0] if known else scan_outline(layers, grid)
        border = scan_border(layers, walls, grid, which)
        return split_fill(
            border,
            outline,
            which,
            floor_layers=recipe.floor_layers,
            roof_layers=recipe.roof_layers,
            role=Role.INFILL,
        )

    lines = map_tasks(one, _families(recipe.infill_style), workers)
    return Infill(lines=tuple(lines), loops=nothing)
