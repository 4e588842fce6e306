"""Layers and recipe -> Supports."""

import hashlib
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.process.layers import Layers
from buildplan.process.roles import Role
from buildplan.process.supports.grow import Grown, grow_supports
from buildplan.process.supports.hanging import (
    Grid,
    Hanging,
    find_hanging,
    lay_grid,
    ring_off_of_layers,
    scan_along_x,
)
from buildplan.process.supports.model import Supports
from buildplan.tables.recipe import ExtrusionRecipe


def plan_supports(layers: Layers, recipe: ExtrusionRecipe, *, workers: int = 1) -> Supports:
    """Support columns under everything that leans too far or bridges too much.

    Columns go straight down from what hangs, stay off the part sideways by the clearance, leave the
    gap layers free under it, and end on the platform or on the part below. Their top face layers
    are laid line by line, the rest at support_frac. Volumes come from the space of the columns
    (space * support_frac, face layers in full), never from the beads, whose number on a slender
    column is a matter of luck. The answer does not depend on ``workers``.

    Raises:
        InputError: when a support setting of the recipe is impossible.
    """
    _check(recipe)
    grid = lay_grid(layers, recipe.bead_mm)
    if not recipe.supports or grid.n_lines == 0:
        return _no_supports(layers, recipe, grid)
    outlines = scan_along_x(layers, ring_off_of_layers(layers), grid, workers)
    hanging = find_hanging(
        layers,
        outlines,
        grid,
        overhang_limit_deg=recipe.overhang_limit_deg,
        bridge_limit_mm=recipe.bridge_limit_mm,
        least_mm2=recipe.support_least_mm2,
        workers=workers,
    )
    if len(hanging.span_mm) == 0:
        return _no_supports(layers, recipe, grid)
    grown = grow_supports(
        layers,
        hanging,
        clearance_mm=recipe.support_clearance_mm,
        gap_layers=recipe.support_gap_layers,
        face_layers=recipe.support_face_layers,
        laid_frac=recipe.support_frac,
        workers=workers,
    )
    return _record(layers, recipe, hanging, grown)


def _check(recipe: ExtrusionRecipe) -> None:
    """Refuse support settings that mean nothing."""
    for name, least in (
        ("bridge_limit_mm", 0.0),
        ("support_frac", 0.0),
        ("support_gap_layers", 0.0),
        ("support_clearance_mm", 0.0),
        ("support_face_layers", 0.0),
        ("support_least_mm2", 0.0),
    ):
        found = getattr(recipe, name)
        if not least <= found < math.inf:
            raise InputError(
                f"recipe {recipe.key}: {name} is {found:g}, allowed is {least:g} or more; set it"
            )
    if recipe.support_frac > 1.0:
        raise InputError(
            f"recipe {recipe.key}: support_frac is {recipe.support_frac:g}, allowed is 0 to 1; "
            "set it"
        )


def _key(layers: Layers, recipe: ExtrusionRecipe) -> str:
    """Content key of the layers and of every setting that supports depend on."""
    settings = (
        recipe.supports,
        recipe.bead_mm,
        recipe.overhang_limit_deg,
        recipe.bridge_limit_mm,
        recipe.support_frac,
        recipe.support_gap_layers,
        recipe.support_clearance_mm,
        recipe.support_face_layers,
        recipe.support_least_mm2,
    )
    return hashlib.sha256(f"supports {layers.key} {settings}".encode()).hexdigest()


def _no_supports(layers: Layers, recipe: ExtrusionRecipe, grid: Grid) -> Supports:
    """The record of a part that stands by itself."""
    n_layers = len(layers.z_mm)
    return Supports(
        key=_key(layers, recipe),
        pitch_mm=recipe.bead_mm,
        first_line=grid.first_line,
        n_lines=grid.n_lines,
        span_mm=_closed(np.zeros((0, 2))),
        span_role=_closed(np.zeros(0, np.uint8)),
        line_off=_closed(np.zeros(n_layers * grid.n_lines + 1, np.int64)),
        volume_mm3=_closed(np.zeros(n_layers)),
        column_volume_mm3=0.0,
        supported_area_mm2=0.0,
        on_part_area_mm2=0.0,
    )


def _record(layers: Layers, recipe: ExtrusionRecipe, hanging: Hanging, grown: Grown) -> Supports:
    """Supports of the grown columns."""
    sparse = grown.area_mm2 - grown.face_area_mm2
    volume = (sparse * recipe.support_frac + grown.face_area_mm2) * layers.thickness_mm
    role = np.where(grown.span_full == 1, Role.SUPPORT_FACE, Role.SUPPORT).astype(np.uint8)
    return Supports(
        key=_key(layers, recipe),
        pitch_mm=recipe.bead_mm,
        first_line=grown.first_line,
        n_lines=grown.n_lines,
        span_mm=_closed(grown.span_mm),
        span_role=_closed(role),
        line_off=_closed(grown.line_off),
        volume_mm3=_closed(volume),
        column_volume_mm3=float((grown.area_mm2 * layers.thickness_mm).sum()),
        supported_area_mm2=hanging.area_mm2,
        on_part_area_mm2=grown.on_part_area_mm2,
    )


def _closed(array: NDArray[Any]) -> NDArray[Any]:
    """The array, closed to writing."""
    array.flags.writeable = False
    return array
