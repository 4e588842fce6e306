"""Layers -> Paths: walls, floors, roofs, infill and supports, laid in order."""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.ordering import order_layers
from buildplan.process.fill.infill import plan_infill
from buildplan.process.fill.lines import fixed
from buildplan.process.fill.model import FloorRoof, OutlineScans
from buildplan.process.fill.solid import plan_floor_roof, scan_outlines
from buildplan.process.layers import Layers
from buildplan.process.paths.findings import find_thin_and_slits
from buildplan.process.paths.margin import lay_margin
from buildplan.process.paths.model import Paths
from buildplan.process.paths.tables import (
    PathTable,
    SpanTables,
    make_path_table,
    make_span_tables,
)
from buildplan.process.supports import plan_supports
from buildplan.process.supports.model import Supports
from buildplan.process.walls import plan_walls
from buildplan.process.walls.model import Walls
from buildplan.tables.recipe import ExtrusionRecipe


def plan_paths(
    layers: Layers,
    recipe: ExtrusionRecipe,
    *,
    walls: Walls | None = None,
    supports: Supports | None = None,
    outlines: OutlineScans | None = None,
    floor_roof: FloorRoof | None = None,
    workers: int = 1,
) -> Paths:
    """Every move of a print, in order.

    The volume of a bead is spacing times layer thickness times length; links between spans carry
    none. Layers are put in order one after the other, each from where the one before ended, so the
    answer does not depend on `workers`.

    Args:
        layers: The part's layers.
        recipe: Print settings; speeds and accelerations have no part in the paths.
        walls: Known walls of these layers and this recipe; computed if not given.
        supports: Known supports; computed if not given and the recipe wants them.
        outlines: Known scans of the outlines (`scan_outlines`).
        floor_roof: Known floors and roofs (`plan_floor_roof`).
        workers: Threads.
    """
    walls = plan_walls(layers, recipe, workers=workers) if walls is None else walls
    if supports is None and recipe.supports:
        supports = plan_supports(layers, recipe, workers=workers)
    if not recipe.supports:
        supports = None
    if outlines is None:
        outlines = scan_outlines(layers, recipe, workers=workers)
    if floor_roof is None:
        floor_roof = plan_floor_roof(layers, recipe, walls, outlines, workers=workers)
    infill = plan_infill(layers, recipe, walls, outlines, workers=workers)
    margin = lay_margin(layers, recipe.margin_beads, recipe.bead_mm)
    paths = make_path_table(layers, recipe, walls, infill, margin)
    spans = make_span_tables(layers, recipe, floor_roof, infill, supports, workers=workers)
    volume = paths.volume_mm3 + spans.volume_mm3
    point_off, x, y, role, retract, bead = _order(layers, recipe, paths, spans)
    for array in (volume, point_off, x, y, role, retract, bead):
        array.flags.writeable = False
    return Paths(
        key=paths_key(layers, recipe),
        layers=layers,
        recipe=recipe,
        x_mm=x,
        y_mm=y,
        role=role,
        retract=retract,
        bead_mm=bead,
        point_off=point_off,
        volume_mm3=volume,
        support_column_mm3=supports.column_volume_mm3 if supports else 0.0,
        support_on_part_mm2=supports.on_part_area_mm2 if supports else 0.0,
        findings=find_thin_and_slits(layers, recipe, walls),
    )


SPEED_FIELDS = ("first_layer_frac", "layer_time_least_s", "speed_least_mm_s")
NAME_FIELDS = ("key", "name", "about", "process")


def paths_key(layers: Layers, recipe: ExtrusionRecipe) -> str:
    """Content key of the paths: the layers' key and every recipe field but names and speeds."""
    fields = [
        f"{name}={getattr(recipe, name)!r}"
        for name in sorted(recipe.__slots__)
        if not name.endswith("_mm_s") and name not in SPEED_FIELDS and name not in NAME_FIELDS
    ]
    return ":".join((layers.key, *fields))


def _order(
    layers: Layers, recipe: ExtrusionRecipe, paths: PathTable, spans: SpanTables
) -> tuple[
    NDArray[np.int64],
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.uint8],
    NDArray[np.uint8],
    NDArray[np.float32],
]:
    """Run the ordering kernel into arrays that hold every point there can be."""
    n_layers = len(layers.z_mm)
    room = n_layers + paths.points + spans.points
    x, y = np.empty(room), np.empty(room)
    role, retract = np.empty(room, np.uint8), np.empty(room, np.uint8)
    bead = np.empty(room, np.float32)
    point_off = np.zeros(n_layers + 1, np.int64)
    low = layers.xy_mm.min(axis=0) if len(layers.xy_mm) else np.zeros(2)
    families = spans.families
    used = order_layers(
        fixed(layers.xy_mm),
        fixed(layers.ring_off),
        fixed(layers.island_off),
        fixed(layers.layer_off),
        fixed(layers.ring_box_mm),
        fixed(paths.x_mm),
        fixed(paths.y_mm),
        fixed(paths.width_mm),
        fixed(paths.off),
        fixed(paths.role),
        fixed(paths.closed),
        fixed(paths.wall_off),
        fixed(paths.loop_off),
        paths.first_margin,
        fixed(spans.span),
        fixed(spans.span_y),
        spans.next_span,
        fixed(spans.head),
        fixed(spans.tail),
        fixed(spans.chain_off),
        fixed(np.array([family.role for family in families], np.uint8)),
        fixed(np.array([(family.grid.cosine, family.grid.sine) for family in families])),
        fixed(np.array([(family.grid.wave_mm, family.grid.wavelength_mm) for family in families])),
        fixed(np.array([family.link_mm for family in families])),
        fixed(np.array([family.safe_mm for family in families])),
        fixed(np.array([family.loose for family in families], np.uint8)),
        fixed(spans.bead_mm),
        float(recipe.retract_over_mm),
        float(recipe.retract_always_over_mm),
        True,
        float(low[0]),
        float(low[1]),
        point_off,
        x,
        y,
        role,
        retract,
        bead,
    )
    return (point_off, x[:used], y[:used], role[:used], retract[:used], bead[:used])
