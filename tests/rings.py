"""Layers from polygons drawn by hand, one list of islands a layer."""

import hashlib
import itertools

import numpy as np
import shapely

from buildplan.process.layers import Layers


def polygons_of(shape):
    """Polygons of a shapely geometry, outer rings counter-clockwise and holes clockwise."""
    parts = list(shape.geoms) if hasattr(shape, "geoms") else [shape]
    return [
        shapely.geometry.polygon.orient(part)
        for part in parts
        if part.geom_type == "Polygon" and not part.is_empty
    ]


def rings_of(polygon):
    """Rings of a polygon as (n, 2) arrays, the outer one first, none closed by a repeated point."""
    return [shapely.get_coordinates(ring)[:-1] for ring in (polygon.exterior, *polygon.interiors)]


def layers_from_polygons(polygons, layer_mm):
    """Layers whose k-th section is polygons[k]: a shapely polygon, multipolygon or empty shape."""
    points, ring_off, island_off, layer_off = [np.empty((0, 2))], [0], [0], [0]
    for shape in polygons:
        for polygon in polygons_of(shape):
            for ring in rings_of(polygon):
                points.append(ring)
                ring_off.append(ring_off[-1] + len(ring))
            island_off.append(len(ring_off) - 1)
        layer_off.append(len(island_off) - 1)
    return layers_from_rings(
        np.concatenate(points), np.array(ring_off), np.array(island_off), np.array(layer_off),
        layer_mm,
    )  # fmt: skip


def layers_from_rings(xy, ring_off, island_off, layer_off, layer_mm):
    """Layers from flat arrays of oriented rings."""
    xy = np.array(xy, np.float64)
    ring_off, island_off, layer_off = (
        np.array(off, np.int64) for off in (ring_off, island_off, layer_off)
    )
    rings = [xy[a:b] for a, b in itertools.pairwise(ring_off)]
    ring_area = np.array([signed_area(ring) for ring in rings])
    boxes = [[*np.column_stack([ring.min(0), ring.max(0)]).ravel()] for ring in rings]
    around = np.array([ring_length(ring) for ring in rings])
    ring_layers = island_off[layer_off]
    count = len(layer_off) - 1

    def by_layer(values):
        return np.diff(np.concatenate([[0.0], np.cumsum(values)])[ring_layers])

    area = by_layer(ring_area)
    arrays = {
        "thickness_mm": np.full(count, float(layer_mm)),
        "z_mm": (np.arange(count) + 0.5) * layer_mm,
        "xy_mm": xy,
        "ring_off": ring_off,
        "island_off": island_off,
        "layer_off": layer_off,
        "ring_area_mm2": ring_area,
        "ring_box_mm": np.array(boxes).reshape(-1, 4),
        "area_mm2": area,
        "perimeter_mm": by_layer(around),
        "gap_mm": np.zeros(count),
        "united": np.zeros(count, bool),
    }
    for values in arrays.values():
        values.flags.writeable = False
    return Layers(
        key=hashlib.sha256(xy.tobytes() + ring_off.tobytes()).hexdigest(),
        part_name="drawn",
        grade="exact",
        layer_mm=float(layer_mm),
        height_mm=count * float(layer_mm),
        volume_mm3=float(area.sum() * layer_mm),
        surface_mm2=float(arrays["perimeter_mm"].sum() * layer_mm),
        origin_mm=(0.0, 0.0, 0.0),
        **arrays,
    )


def signed_area(ring):
    """Area of a ring, positive where it runs counter-clockwise."""
    x, y = ring.T
    return 0.5 * float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def ring_length(ring):
    """Length around a ring."""
    return float(np.hypot(*(np.roll(ring, -1, 0) - ring).T).sum())
