"""The stages of an estimate, each kept in the cache under what it depends on.

A change of speed, acceleration or price finds everything but the timing; a change of infill finds
layers, walls, outline scans, floors and supports; a change of walls or beads finds the layers.
"""

from collections.abc import Hashable
from dataclasses import fields

from buildplan.part.model import Part
from buildplan.process.cache import cached
from buildplan.process.fill.solid import plan_floor_roof, scan_outlines
from buildplan.process.layers import Layers, cut_layers
from buildplan.process.motion import NAME_FIELDS, SPEED_FIELDS
from buildplan.process.paths import Paths, plan_paths
from buildplan.process.supports import plan_supports
from buildplan.process.walls import plan_walls
from buildplan.tables.recipe import ExtrusionRecipe

GEOMETRY_FIELDS = tuple(
    sorted(
        field.name
        for field in fields(ExtrusionRecipe)
        if field.name not in SPEED_FIELDS and field.name not in NAME_FIELDS
    )
)
"""Fields of a recipe that decide where beads lie."""

_WALL_FIELDS = ("layer_mm", "bead_mm", "wall_beads", "slit_fill")
_FLOOR_ROOF_FIELDS = (*_WALL_FIELDS, "floor_layers", "roof_layers")
_SUPPORT_FIELDS = tuple(
    name
    for name in GEOMETRY_FIELDS
    if name.startswith("support")
    or name in ("layer_mm", "bead_mm", "overhang_limit_deg", "bridge_limit_mm")
)


def layers_of(part: Part, layer_mm: float, *, workers: int = 1) -> Layers:
    """Layers of a part, from the cache where they are."""
    return cached(
        ("layers", content_of(part), layer_mm),
        lambda: cut_layers(part, layer_mm, workers=workers),
    )


def paths_of(part: Part, recipe: ExtrusionRecipe, *, workers: int = 1) -> Paths:
    """Paths of a part, from the cache where they are, else from the stages that are kept.

    The paths may carry a recipe of other speeds: only its geometry counts.
    """
    content = content_of(part)
    layers = layers_of(part, recipe.layer_mm, workers=workers)

    def key(stage: str, names: tuple[str, ...]) -> Hashable:
        return (stage, content, *(getattr(recipe, name) for name in names))

    def make() -> Paths:
        walls = cached(
            key("walls", _WALL_FIELDS), lambda: plan_walls(layers, recipe, workers=workers)
        )
        outlines = cached(
            key("outlines", ("layer_mm", "bead_mm")),
            lambda: scan_outlines(layers, recipe, workers=workers),
        )
        floor_roof = cached(
            key("floor and roof", _FLOOR_ROOF_FIELDS),
            lambda: plan_floor_roof(layers, recipe, walls, outlines, workers=workers),
        )
        supports = (
            cached(
                key("supports", _SUPPORT_FIELDS),
                lambda: plan_supports(layers, recipe, workers=workers),
            )
            if recipe.supports
            else None
        )
        return plan_paths(
            layers,
            recipe,
            walls=walls,
            supports=supports,
            outlines=outlines,
            floor_roof=floor_roof,
            workers=workers,
        )

    return cached(key("paths", GEOMETRY_FIELDS), make)


def content_of(part: Part) -> Hashable:
    """What layers depend on: the geometry, its name, and what is known of its health."""
    return (part.key, part.name, part.health)
