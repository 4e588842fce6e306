"""The margin: beads laid flat around the first layer so that it holds on to the platform."""

import numpy as np
from numpy.typing import NDArray

from buildplan.process.fill.concentric import island_polygons
from buildplan.process.layers import Layers

ARC_SEGMENTS = 64
"""Straight pieces per quarter turn of a round corner."""


def lay_margin(layers: Layers, beads: int, bead_mm: float) -> list[NDArray[np.float64]]:
    """Closed loops around the first layer, the outermost first.

    Loop i follows the outer rings at (i + 0.5) * bead_mm with round corners; where loops of
    different islands meet they are united, and no loop enters a hole of an island.

    Args:
        layers: The part's layers.
        beads: Loops; 0 lays none.
        bead_mm: Distance of neighbouring loops.
    """
    import shapely

    if beads <= 0 or len(layers.layer_off) < 2 or layers.layer_off[1] == 0:
        return []
    islands = island_polygons(
        layers.xy_mm, layers.ring_off, layers.island_off[: layers.layer_off[1] + 1]
    )
    filled = shapely.union_all(
        [
            shapely.Polygon(part.exterior)
            for part in shapely.get_parts(islands)
            if part.geom_type == "Polygon" and not part.is_empty
        ]
    )
    loops: list[NDArray[np.float64]] = []
    for index in reversed(range(beads)):
        around = shapely.buffer(filled, (index + 0.5) * bead_mm, quad_segs=ARC_SEGMENTS)
        for part in shapely.get_parts(around):
            loops += [shapely.get_coordinates(part.exterior)[:-1]]
    return loops
