"""Layers and walls made straight from shapely sections, for tests of fill and paths alone."""

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry.polygon import orient

from buildplan.process.fill.concentric import island_polygons
from buildplan.process.layers.model import Layers
from buildplan.process.walls.model import Walls
from buildplan.tables.recipe import ExtrusionRecipe

RECIPE = {
    "key": "test",
    "name": "test",
    "about": "for tests",
    "layer_mm": 0.2,
    "bead_mm": 0.45,
    "wall_beads": 2,
    "floor_layers": 4,
    "roof_layers": 4,
    "infill_frac": 0.15,
    "infill_style": "parallel",
    "slit_fill": "sparse",
    "margin_beads": 0,
    "supports": False,
    "overhang_limit_deg": 45.0,
    "bridge_limit_mm": 10.0,
    "support_frac": 0.15,
    "support_gap_layers": 1,
    "support_clearance_mm": 0.8,
    "support_face_layers": 3,
    "support_least_mm2": 2.0,
    "outline_mm_s": 35.0,
    "wall_mm_s": 50.0,
    "centre_mm_s": 35.0,
    "infill_mm_s": 60.0,
    "floor_roof_mm_s": 50.0,
    "support_mm_s": 60.0,
    "support_face_mm_s": 40.0,
    "margin_mm_s": 40.0,
    "first_layer_frac": 0.5,
    "retract_over_mm": 1.5,
    "retract_always_over_mm": 60.0,
    "layer_time_least_s": 8.0,
    "speed_least_mm_s": 10.0,
}


def make_recipe(**changes):
    return ExtrusionRecipe(**{**RECIPE, **changes})


def rings_of(geometry):
    """Rings of every polygon, outer ring first, solid on the left."""
    parts = [orient(part) for part in shapely.get_parts(geometry) if not part.is_empty]
    return [
        [np.array(ring.coords)[:-1] for ring in (part.exterior, *part.interiors)] for part in parts
    ]


def offsets(sizes):
    return np.concatenate(([0], np.cumsum(sizes))).astype(np.int64)


def layers_of(sections, layer_mm=0.2, origin_mm=(0.0, 0.0, 0.0)):
    """Layers with the given sections (shapely geometries), bottom first."""
    islands = [rings_of(section) for section in sections]
    rings = [ring for layer in islands for island in layer for ring in island]
    n = len(sections)
    ends = [np.roll(ring, -1, axis=0) for ring in rings]
    areas = [
        0.5 * float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum())
        for a, b in zip(rings, ends, strict=True)
    ]
    boxes = [
        (ring[:, 0].min(), ring[:, 0].max(), ring[:, 1].min(), ring[:, 1].max()) for ring in rings
    ]
    area = np.array([section.area for section in sections])
    return Layers(
        key=f"test {area.sum()!r}",
        part_name="test",
        grade="exact",
        layer_mm=layer_mm,
        height_mm=n * layer_mm,
        volume_mm3=float(area.sum()) * layer_mm,
        surface_mm2=0.0,
        origin_mm=origin_mm,
        thickness_mm=np.full(n, layer_mm),
        z_mm=(np.arange(n) + 0.5) * layer_mm,
        xy_mm=np.concatenate(rings),
        ring_off=offsets([len(ring) for ring in rings]),
        island_off=offsets([len(island) for layer in islands for island in layer]),
        layer_off=offsets([len(layer) for layer in islands]),
        ring_area_mm2=np.array(areas),
        ring_box_mm=np.array(boxes),
        area_mm2=area,
        perimeter_mm=np.array([section.length for section in sections]),
        gap_mm=np.zeros(n),
        united=np.zeros(n, bool),
    )


def walls_of(layers, recipe):
    """Walls by shapely buffers: plain offsets at (m + 0.5) beads, border at wall_beads beads."""
    islands = island_polygons(layers.xy_mm, layers.ring_off, layers.island_off)
    bead = recipe.bead_mm

    def inset(polygon, beads):
        return polygon.buffer(-beads * bead, join_style="mitre")

    loops = [
        [
            (ring, 1 if m == 0 else 2)
            for m in range(recipe.wall_beads)
            for part in rings_of(inset(island, m + 0.5))
            for ring in part
        ]
        for island in islands
    ]
    inner = [inset(island, recipe.wall_beads) for island in islands]
    borders = [[ring for part in rings_of(region) for ring in part] for region in inner]
    flat = [ring for island in loops for ring, _ in island]
    points = np.concatenate([*flat, np.empty((0, 2))])
    n = len(islands)
    return Walls(
        key=f"walls {layers.key} {bead!r} {recipe.wall_beads}",
        bead_mm=bead,
        wall_beads=recipe.wall_beads,
        x_mm=points[:, 0].copy(),
        y_mm=points[:, 1].copy(),
        width_mm=np.full(len(points), bead),
        path_off=offsets([len(ring) for ring in flat]),
        path_role=np.array([role for island in loops for _, role in island], np.uint8),
        path_closed=np.ones(len(flat), np.uint8),
        island_path_off=offsets([len(island) for island in loops]),
        border_xy_mm=np.concatenate(
            [*(ring for island in borders for ring in island), np.empty((0, 2))]
        ),
        border_ring_off=offsets([len(ring) for island in borders for ring in island]),
        border_island_off=offsets([len(island) for island in borders]),
        wall_area_mm2=np.array(
            [sum(shapely.LinearRing(ring).length for ring, _ in island) * bead for island in loops]
        ),
        border_area_mm2=np.array([region.area for region in inner]),
        fallback=np.zeros(n, np.int8),
        thin_mm=np.full(n, np.inf),
        slit_mm2=np.zeros(n),
    )


def sections_of(solid, layer_mm=0.2):
    """Shapely sections of a manifold3d solid at the middle of every layer."""
    _, _, low, _, _, high = solid.bounding_box()
    sections = []
    for layer in range(max(1, round((high - low) / layer_mm))):
        section = shapely.Polygon()
        for ring in solid.slice(low + (layer + 0.5) * layer_mm).to_polygons():
            section = section.symmetric_difference(shapely.Polygon(ring))
        sections.append(section)
    return sections


def pillars(layers=70, columns=8, rows=5, pitch=18.0, outer=3.5, inner=1.1):
    """Sections of a field of hollow pillars."""
    ring = (
        shapely.Point(0, 0)
        .buffer(outer, quad_segs=12)
        .difference(shapely.Point(0, 0).buffer(inner, quad_segs=6))
    )
    field = shapely.MultiPolygon(
        [
            shapely.affinity.translate(ring, column * pitch, row * pitch)
            for column in range(columns)
            for row in range(rows)
        ]
    )
    return [field] * layers


def role_lengths(paths):
    """Length of all moves by role (9,)."""
    step = np.hypot(np.diff(paths.x_mm), np.diff(paths.y_mm))
    return np.bincount(paths.role[1:], weights=step, minlength=9)
