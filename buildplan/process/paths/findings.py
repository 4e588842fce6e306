"""What the paths tell about the part: walls thinner than a bead, slits that no bead fits."""

import numpy as np

from buildplan.findings import Finding, Place
from buildplan.process.fill.solid import layer_sums
from buildplan.process.layers import Layers
from buildplan.process.walls.model import Walls
from buildplan.tables.recipe import ExtrusionRecipe

THINNEST_BEADS = 0.6
"""A bead narrower than this share of its usual width is not laid well (ours)."""

SLIT_NOTE_SHARE = 0.02
"""Share of the part's volume in slits that is worth a note (ours)."""

SLIT_CAUTION_SHARE = 0.10
"""Share of the part's volume in slits that is worth a look first (ours)."""


def island_place(layers: Layers, island: int, text: str) -> Place:
    """Place of an island on the part as its file has it: its box, one layer high."""
    layer = int(np.searchsorted(layers.layer_off, island, side="right")) - 1
    x0, x1, y0, y1 = layers.ring_box_mm[layers.island_off[island]]
    half = 0.5 * layers.thickness_mm[layer]
    x, y, z = layers.origin_mm
    low = (x0 + x, y0 + y, layers.z_mm[layer] - half + z)
    high = (x1 + x, y1 + y, layers.z_mm[layer] + half + z)
    return Place(
        text=f"{text}layer {layer + 1}, {layers.z_mm[layer]:.1f} mm up",
        box_mm=tuple(round(float(value), 3) for value in (*low, *high)),
    )


def find_thin_and_slits(
    layers: Layers, recipe: ExtrusionRecipe, walls: Walls
) -> tuple[Finding, ...]:
    """Findings of the wall stage, at most one of a kind."""
    found = (_find_thin(layers, recipe, walls), _find_slits(layers, recipe, walls))
    return tuple(finding for finding in found if finding is not None)


def _find_thin(layers: Layers, recipe: ExtrusionRecipe, walls: Walls) -> Finding | None:
    thin = walls.thin_mm < recipe.bead_mm
    if not thin.any():
        return None
    island = int(np.argmin(walls.thin_mm))
    least = float(walls.thin_mm[island])
    layer_of = np.repeat(np.arange(len(layers.z_mm)), np.diff(layers.layer_off))
    count = len(np.unique(layer_of[thin]))
    grave = least < THINNEST_BEADS * recipe.bead_mm
    return Finding(
        check="thin wall",
        severity="caution" if grave else "note",
        what=(
            f"a feature only {least:.2f} mm thick is laid as one bead narrower than "
            f"{recipe.bead_mm:g} mm ({count} of {len(layers.z_mm)} layers have such places)"
        ),
        where=island_place(layers, island, "thinnest in "),
        measured=f"{least:.2f} mm",
        required=f"at least {recipe.bead_mm:g} mm",
        remedy=f"make it at least {recipe.bead_mm:g} mm thick, or choose a finer bead",
        source="one bead is the thinnest wall; common practice, no source",
    )


def _find_slits(layers: Layers, recipe: ExtrusionRecipe, walls: Walls) -> Finding | None:
    volume = layer_sums(layers, walls.slit_mm2) * layers.thickness_mm
    solid = float((layers.area_mm2 * layers.thickness_mm).sum())
    share = float(volume.sum()) / solid if solid > 0.0 else 0.0
    if share < SLIT_NOTE_SHARE:
        return None
    island = int(np.argmax(walls.slit_mm2))
    beads = 2 * recipe.wall_beads
    slit_cm3 = float(volume.sum()) / 1000.0
    filled = 1.0 if recipe.slit_fill == "dense" else recipe.infill_frac
    return Finding(
        check="slit",
        severity="caution" if share > SLIT_CAUTION_SHARE else "note",
        what=(
            f"{100 * share:.0f} % of the part lies in slits between wall beads that no whole "
            f"number of {recipe.bead_mm:g} mm beads fills; they get {recipe.slit_fill} fill"
        ),
        where=island_place(layers, island, "widest in "),
        measured=f"{slit_cm3:.1f} cm3 in slits",
        required=f"at most {100 * SLIT_NOTE_SHARE:g} % of the part",
        remedy=(
            f"a wall of {beads} whole beads ({beads * recipe.bead_mm:g} mm) leaves no slit and "
            f"saves up to {filled * slit_cm3:.1f} cm3 of fill and its short moves; "
            f"{beads + 1} beads ({(beads + 1) * recipe.bead_mm:g} mm) make a solid wall"
        ),
        source="whole beads across a wall; ours",
    )
