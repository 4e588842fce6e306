"""Layers -> Paths: walls, floors, roofs, infill and supports, laid in order."""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

from buildplan.findings import Finding
from buildplan.process.fill.infill import plan_infill
from buildplan.process.fill.model import FloorRoof, OutlineScans
from buildplan.process.fill.solid import plan_floor_roof, scan_outlines
from buildplan.process.layers import Layers
from buildplan.process.paths.findings import advise_slits, find_thin_and_slits, wall_facts
from buildplan.process.paths.margin import lay_margin
from buildplan.process.paths.model import Paths
from buildplan.process.paths.order import order_and_lay
from buildplan.process.paths.tables import make_path_table, make_span_tables
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
    none. Layers are put in order in blocks of fixed size, which do not depend on `workers`.

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
    with beside(lambda: find_thin_and_slits(layers, recipe, walls), workers) as found:
        infill = plan_infill(layers, recipe, walls, outlines, workers=workers)
        margin = lay_margin(layers, recipe.margin_beads, recipe.bead_mm)
        paths = make_path_table(layers, recipe, walls, infill, margin)
        spans = make_span_tables(layers, recipe, floor_roof, infill, supports, workers=workers)
        volume = paths.volume_mm3 + spans.volume_mm3
        moves = order_and_lay(layers, recipe, paths, spans, workers=workers)
        findings = found()
    slit_share = wall_facts(layers, recipe, walls).slit_share
    for array in (volume, *(getattr(moves, name) for name in moves.__slots__)):
        array.flags.writeable = False
    return Paths(
        key=paths_key(layers, recipe),
        layers=layers,
        recipe=recipe,
        x_mm=moves.x_mm,
        y_mm=moves.y_mm,
        role=moves.role,
        retract=moves.retract,
        bead_mm=moves.bead_mm,
        point_off=moves.point_off,
        volume_mm3=volume,
        slit_share=slit_share,
        slit_advice=advise_slits(layers, recipe, walls),
        support_column_mm3=supports.column_volume_mm3 if supports else 0.0,
        support_on_part_mm2=supports.on_part_area_mm2 if supports else 0.0,
        findings=findings,
    )


@contextmanager
def beside(
    make: Callable[[], tuple[Finding, ...]], workers: int
) -> Iterator[Callable[[], tuple[Finding, ...]]]:
    """A way to the result of something that runs beside what is done meanwhile, if threads may."""
    if workers < 2:
        yield make
        return
    with ThreadPoolExecutor(1) as pool:
        yield pool.submit(make).result


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
