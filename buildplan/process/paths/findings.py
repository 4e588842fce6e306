"""What the paths tell about the part: walls thinner than a bead, slits that no bead fits."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.findings import Finding, Place
from buildplan.process.cache import cached
from buildplan.process.fill.solid import layer_sums
from buildplan.process.layers import Layers
from buildplan.process.walls.advice import WallAdvice, wall_advice
from buildplan.process.walls.model import Walls
from buildplan.tables.recipe import ExtrusionRecipe

THINNEST_BEADS = 0.6
"""A bead narrower than this share of its usual width is not laid well (ours)."""

SLIT_NOTE_SHARE = 0.02
"""Share of the part's volume in slits that is worth a note (ours)."""

SLIT_CAUTION_SHARE = 0.10
"""Share of the part's volume in slits that is worth a look first (ours)."""

SLIT_CAUTION_CM3 = 5.0
"""Slits of less volume than this are worth no more than a note: little is to be saved (ours)."""

THIN_CAUTION_SHARE = 0.05
"""Thin places in a smaller share of the layers are edges and tips: worth a note only (ours)."""

ADVICE_FIELDS = ("bead_mm", "wall_beads", "slit_fill")
"""Fields of a recipe that wall_advice looks at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WallFacts:
    """What is told of the walls, in which the rest of the recipe has no part.

    Attributes:
        slit_share: (n_layers,) share of the area inside the walls' borders that lies in slits.
        slit_cm3: Volume of all slits; slit_frac of the part's.
        thin: That a wall is thinner than a bead, or nothing.
    """

    slit_share: NDArray[np.float64]
    slit_cm3: float
    slit_frac: float
    thin: tuple[Finding, ...]


def wall_facts(layers: Layers, recipe: ExtrusionRecipe, walls: Walls) -> WallFacts:
    """What is told of the walls, kept for as long as they are."""

    def make() -> WallFacts:
        share = share_of_slits(layers, walls)
        share.flags.writeable = False
        slit_cm3, slit_frac = _slits(layers, walls)
        thin = _find_thin(layers, recipe, walls)
        return WallFacts(
            slit_share=share,
            slit_cm3=slit_cm3,
            slit_frac=slit_frac,
            thin=() if thin is None else (thin,),
        )

    return cached(("wall facts", layers.key, walls.key, recipe.bead_mm), make)


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


def share_of_slits(layers: Layers, walls: Walls) -> NDArray[np.float64]:
    """Share of the area inside the walls' borders that lies in slits, (n_layers,)."""
    slit = layer_sums(layers, walls.slit_mm2)
    border = layer_sums(layers, walls.border_area_mm2)
    share = np.where(border > 0.0, slit / np.where(border > 0.0, border, 1.0), 0.0)
    return np.asarray(np.clip(share, 0.0, 1.0))


def find_thin_and_slits(
    layers: Layers, recipe: ExtrusionRecipe, walls: Walls
) -> tuple[Finding, ...]:
    """Findings of the wall stage, at most one of a kind."""
    facts = wall_facts(layers, recipe, walls)
    slits = _find_slits(layers, recipe, walls, facts)
    return facts.thin if slits is None else (*facts.thin, slits)


def _find_thin(layers: Layers, recipe: ExtrusionRecipe, walls: Walls) -> Finding | None:
    thin = walls.thin_mm < recipe.bead_mm
    if not thin.any():
        return None
    island = int(np.argmin(walls.thin_mm))
    least = float(walls.thin_mm[island])
    layer_of = np.repeat(np.arange(len(layers.z_mm)), np.diff(layers.layer_off))
    count = len(np.unique(layer_of[thin]))
    layers_in_all = len(layers.z_mm)
    grave = least < THINNEST_BEADS * recipe.bead_mm and count >= THIN_CAUTION_SHARE * layers_in_all
    return Finding(
        check="thin wall",
        severity="caution" if grave else "note",
        what=f"edges and walls thinner than one bead in {count} of {layers_in_all} layers",
        where=island_place(layers, island, "thinnest in "),
        measured=f"{least:.2f} mm",
        required=f"at least {recipe.bead_mm:g} mm, one bead",
        remedy=f"Make them at least {recipe.bead_mm:g} mm thick, or choose a finer bead.",
        source="one bead is the thinnest wall; common practice, no source",
    )


def advise_slits(layers: Layers, recipe: ExtrusionRecipe, walls: Walls) -> tuple[WallAdvice, ...]:
    """The commonest wall that leaves a slit; empty where the slits are not worth a note."""
    if wall_facts(layers, recipe, walls).slit_frac < SLIT_NOTE_SHARE:
        return ()
    # infill has no part in it, so a change of infill finds it
    return cached(
        ("wall advice", layers.key, walls.key, *(getattr(recipe, name) for name in ADVICE_FIELDS)),
        lambda: wall_advice(walls, layers, recipe, most=1),
    )


def _slits(layers: Layers, walls: Walls) -> tuple[float, float]:
    """Volume of all slits in cm3, and their share of the part's volume."""
    slit_mm3 = float((layer_sums(layers, walls.slit_mm2) * layers.thickness_mm).sum())
    solid_mm3 = float((layers.area_mm2 * layers.thickness_mm).sum())
    return slit_mm3 / 1000.0, slit_mm3 / solid_mm3 if solid_mm3 > 0.0 else 0.0


def _find_slits(
    layers: Layers, recipe: ExtrusionRecipe, walls: Walls, facts: WallFacts
) -> Finding | None:
    slit_cm3, share = facts.slit_cm3, facts.slit_frac
    if share < SLIT_NOTE_SHARE:
        return None
    advice = advise_slits(layers, recipe, walls)
    large = share > SLIT_CAUTION_SHARE and slit_cm3 > SLIT_CAUTION_CM3
    bead = f"{recipe.bead_mm:g} mm"
    return Finding(
        check="slit",
        severity="caution" if large else "note",
        what=(
            f"a wall of {advice[0].wall_mm:g} mm is not a whole number of beads"
            if advice
            else "walls are not a whole number of beads"
        ),
        where=island_place(layers, int(np.argmax(walls.slit_mm2)), "widest in "),
        measured=_measured(advice, share, recipe),
        required=f"whole beads of {bead} across",
        remedy=_remedy(advice, slit_cm3, recipe),
        source="whole beads across a wall; ours",
    )


def _measured(advice: tuple[WallAdvice, ...], share: float, recipe: ExtrusionRecipe) -> str:
    lies = f"{100 * share:.0f} % of the part lies in slits with {recipe.slit_fill} fill"
    return f"a slit of {advice[0].slit_mm:.2f} mm is left; {lies}" if advice else lies


def _remedy(advice: tuple[WallAdvice, ...], slit_cm3: float, recipe: ExtrusionRecipe) -> str:
    filled = (1.0 if recipe.slit_fill == "dense" else recipe.infill_frac) * slit_cm3
    fill = f"the {filled:.1f} cm³ of fill in it and " if filled >= 0.05 else ""
    saves = f"saves {fill}its many short moves"
    beads = 2 * recipe.wall_beads
    plain = f"Make it {beads * recipe.bead_mm:g} mm, {beads} beads of {recipe.bead_mm:g} mm"
    if not advice or advice[0].whole_beads == beads:
        return f"{plain}: that {saves}."
    best = advice[0]
    return (
        f"{plain}: that {saves}. Or make it {best.better_mm:g} mm, {best.whole_beads} beads, and "
        f"lay {best.beads_needed} wall beads: solid and without short moves."
    )
