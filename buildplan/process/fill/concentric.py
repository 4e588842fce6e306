"""Concentric infill: loops that follow the border of the sparse region inwards."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildplan.process.fill.model import FillLoops
from buildplan.process.fill.solid import map_tasks
from buildplan.process.layers import Layers
from buildplan.process.walls.model import Walls
from buildplan.tables.recipe import ExtrusionRecipe

MITRE = 4.0
"""Corners of a loop are kept sharp up to this many times the distance."""

LEAST_REGION_MM2 = 0.01
"""Sparse pieces smaller than this are left out."""


LEAST_TOLERANCE_MM = 0.02
"""The inscribed circle is never sought more closely than this."""


def no_loops(n_islands: int) -> FillLoops:
    """No loops in any island."""
    return FillLoops(
        xy_mm=np.empty((0, 2)),
        loop_off=np.zeros(1, np.int64),
        island_off=np.zeros(n_islands + 1, np.int64),
        bead_mm=np.empty(0),
    )


def island_polygons(
    xy_mm: NDArray[np.float64], ring_off: NDArray[np.int64], island_off: NDArray[np.int64]
) -> Any:
    """One shapely geometry per island; rings that are too small or overlap are mended."""
    import shapely

    polygons = np.empty(len(island_off) - 1, object)
    for island in range(len(polygons)):
        rings = [
            xy_mm[ring_off[ring] : ring_off[ring + 1]]
            for ring in range(island_off[island], island_off[island + 1])
        ]
        rings = [ring for ring in rings if len(ring) >= 3]
        polygons[island] = shapely.Polygon(rings[0], rings[1:]) if rings else shapely.Polygon()
    broken = ~shapely.is_valid(polygons)
    polygons[broken] = shapely.buffer(polygons[broken], 0.0)
    return polygons


def _covered(sections: Any, below: int, above: int) -> Any:
    """Per layer what lies inside `below` layers under it and `above` layers over it.

    An AND over a window of n layers is built from windows of 1, 2, 4, ... layers.
    """
    import shapely

    def window(count: int, towards: int) -> Any:
        # AND of `count` layers that start next to the layer and go up (+1) or down (-1)
        nothing = shapely.Polygon()
        size, block = 1, sections.copy()
        done, result = 0, None
        while count:
            if count & 1:
                moved = _moved(block, towards * (done + 1), nothing)
                result = moved if result is None else shapely.intersection(result, moved)
                done += size
            count >>= 1
            if count:
                block = shapely.intersection(block, _moved(block, towards * size, nothing))
                size *= 2
        return result

    parts = [window(count, way) for count, way in ((below, -1), (above, 1)) if count]
    if not parts:
        return None
    return parts[0] if len(parts) == 1 else shapely.intersection(parts[0], parts[1])


def _moved(values: Any, by: int, nothing: Any) -> Any:
    """values[k + by] at place k, `nothing` past the ends."""
    out = np.full(len(values), nothing, object)
    if by >= 0:
        out[: max(0, len(values) - by)] = values[by:]
    else:
        out[-by:] = values[:by]
    return out


def sparse_regions(layers: Layers, recipe: ExtrusionRecipe, walls: Walls) -> Any:
    """One shapely geometry per island: its border inside the outlines of the layers around."""
    import shapely

    islands = island_polygons(layers.xy_mm, layers.ring_off, layers.island_off)
    layer_of = np.repeat(np.arange(len(layers.z_mm)), np.diff(layers.layer_off))
    sections = np.array(
        [
            shapely.union_all(islands[a:b])
            for a, b in zip(layers.layer_off[:-1], layers.layer_off[1:], strict=True)
        ],
        object,
    )
    borders = island_polygons(walls.border_xy_mm, walls.border_ring_off, walls.border_island_off)
    covered = _covered(sections, recipe.floor_layers, recipe.roof_layers)
    return borders if covered is None else shapely.intersection(borders, covered[layer_of])


def _steps(polygon: Any, pitch_mm: float) -> tuple[int, float]:
    """How many loops fit from the border to the middle, and how far apart they are.

    A narrow strip takes one loop; its half width is then near area / perimeter, so that the costly
    search for the inscribed circle is left to wide regions.
    """
    import shapely

    strip_mm = polygon.area / polygon.length
    if shapely.is_empty(shapely.buffer(polygon, -1.5 * pitch_mm, quad_segs=1)):
        return 1, min(pitch_mm, strip_mm)
    tolerance = max(LEAST_TOLERANCE_MM, 0.05 * pitch_mm)
    radius = shapely.maximum_inscribed_circle(polygon, tolerance=tolerance).length
    count = max(1, round(radius / pitch_mm))
    return count, radius / count


def loops_of(region: Any, pitch_mm: float, share: float) -> list[tuple[NDArray[np.float64], float]]:
    """Loops (points, bead width) inside a polygon, evenly spaced from its border to its middle.

    A whole number of loops fits the inscribed radius; the bead width closes the volume: its sum of
    length times width is `share` times the polygon's area.
    """
    import shapely

    loops: list[tuple[NDArray[np.float64], float]] = []
    for polygon in shapely.get_parts(region):
        if polygon.geom_type != "Polygon" or polygon.area < LEAST_REGION_MM2:
            continue
        count, step = _steps(polygon, pitch_mm)
        rings = [
            shapely.get_coordinates(ring)[:-1]
            for inset in range(count)
            for part in shapely.get_parts(
                polygon.buffer(-(inset + 0.5) * step, join_style="mitre", mitre_limit=MITRE)
            )
            for ring in (part.exterior, *part.interiors)
            if part.area > 0.0
        ]
        length = sum(float(np.hypot(*(ring - np.roll(ring, 1, axis=0)).T).sum()) for ring in rings)
        if length > 0.0:
            loops += [(ring, share * polygon.area / length) for ring in rings]
    return loops


def lay_loops(
    layers: Layers, recipe: ExtrusionRecipe, walls: Walls, *, workers: int = 1
) -> FillLoops:
    """Concentric loops of all islands; they are bead_mm / infill_frac apart or a little off it."""
    regions = sparse_regions(layers, recipe, walls)
    pitch_mm = recipe.bead_mm / recipe.infill_frac
    found = map_tasks(
        lambda region: loops_of(region, pitch_mm, recipe.infill_frac), regions, workers
    )
    points = [ring for loops in found for ring, _ in loops]
    if not points:
        return no_loops(len(found))
    return FillLoops(
        xy_mm=np.concatenate(points),
        loop_off=np.concatenate(([0], np.cumsum([len(ring) for ring in points]))),
        island_off=np.concatenate(([0], np.cumsum([len(loops) for loops in found]))),
        bead_mm=np.array([bead for loops in found for _, bead in loops]),
    )
