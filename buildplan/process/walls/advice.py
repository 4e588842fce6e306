"""wall_advice: which walls leave a slit between their beads, and what thickness would not."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.thickness import thickness_lengths
from buildplan.process.layers import Layers
from buildplan.process.walls.model import Walls
from buildplan.process.walls.plan import CELL_BEADS, DENSE_BEADS, most_beads_across
from buildplan.tables.recipe import ExtrusionRecipe

BIN_MM = 0.05
"""Walls are told apart by this step of thickness (our choice)."""

MOST_VERTICES = 40_000
"""Layers are sampled evenly until their rings have about this many vertices (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WallAdvice:
    """A wall thickness of the part that is not a whole number of beads.

    Attributes:
        wall_mm: Thickness as drawn.
        slit_mm: Width left between its wall beads.
        whole_beads: Most whole beads that fit across.
        better_mm: Thickness that is just these beads.
        beads_needed: Wall beads on each side that fill it (recipe.wall_beads; half of
            whole_beads, an odd one runs along the middle).
        length_mm: Length of such walls, summed over all layers.
        slit_mm3: Volume of the slits.
    """

    wall_mm: float
    slit_mm: float
    whole_beads: int
    better_mm: float
    beads_needed: int
    length_mm: float
    slit_mm3: float


def wall_advice(
    walls: Walls, layers: Layers, recipe: ExtrusionRecipe, *, most: int = 3
) -> tuple[WallAdvice, ...]:
    """The commonest wall thicknesses that leave a slit, the longest first.

    A slit is left where a wall is thicker than the beads laid across it and thinner than what
    "dense" would fill. The local thickness is taken of evenly sampled layers and weighted by
    length; neighbouring thicknesses are summed into the commonest.

    Args:
        walls: Used to skip parts without slits.
        layers: Sections of the part.
        recipe: The recipe the walls were planned with.
        most: Longest answer.
    """
    bead_mm = float(recipe.bead_mm)
    least_mm = (most_beads_across(recipe) + 0.5) * bead_mm
    most_mm = (DENSE_BEADS + 0.5) * bead_mm
    if least_mm >= most_mm or not len(walls.fallback):
        return ()
    islands, weight = _sampled(layers)
    lengths = thickness_lengths(
        layers.xy_mm,
        layers.ring_off,
        layers.island_off,
        islands,
        CELL_BEADS * bead_mm,
        most_mm + BIN_MM,
        BIN_MM,
        CELL_BEADS * bead_mm,
    )
    thickness = np.arange(len(lengths)) * BIN_MM
    # both sides of a wall are counted
    lengths = np.where((thickness > least_mm) & (thickness < most_mm), 0.5 * weight * lengths, 0.0)
    found: list[WallAdvice] = []
    while len(found) < most and lengths.max() > 0.0:
        peak = int(lengths.argmax())
        near = slice(max(0, peak - 1), peak + 2)
        length_mm = float(lengths[near].sum())
        wall_mm = float((thickness[near] * lengths[near]).sum() / length_mm)
        lengths[near] = 0.0
        found.append(_advice(wall_mm, length_mm, layers.layer_mm, recipe))
    return tuple(found)


def _advice(
    wall_mm: float, length_mm: float, layer_mm: float, recipe: ExtrusionRecipe
) -> WallAdvice:
    bead_mm = float(recipe.bead_mm)
    whole = int(wall_mm / bead_mm + 0.05)
    slit = wall_mm - 2 * recipe.wall_beads * bead_mm
    return WallAdvice(
        wall_mm=round(wall_mm, 2),
        slit_mm=round(slit, 3),
        whole_beads=whole,
        better_mm=round(whole * bead_mm, 3),
        beads_needed=whole // 2,
        length_mm=length_mm,
        slit_mm3=slit * length_mm * layer_mm,
    )


def _sampled(layers: Layers) -> tuple[NDArray[np.int64], float]:
    """Islands of evenly spaced layers, and how many layers each stands for."""
    count = len(layers.layer_off) - 1
    step = max(1, -(-len(layers.xy_mm) // MOST_VERTICES))
    taken = np.arange(min(step // 2, max(0, count - 1)), count, step)
    islands = [np.arange(layers.layer_off[k], layers.layer_off[k + 1]) for k in taken]
    chosen = np.concatenate([np.empty(0, np.int64), *islands]).astype(np.int64)
    return chosen, count / max(1, len(taken))
