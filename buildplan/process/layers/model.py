"""Part -> Layers: closed, oriented rings at the middle of every layer, grouped into islands."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """Sections of a part, layer by layer, in one flat layout.

    The part stands with its lowest point at z = 0 and the middle of its bounding box at x = y = 0.
    Outer rings run counter-clockwise, holes clockwise: the solid lies on the left. The rings of an
    island stand together, the outer ring first, then its holes.

    Attributes:
        key: Content key (geometry, layer thickness, simplification), for caches.
        origin_mm: (x, y, z) that was subtracted from the part's coordinates.
        thickness_mm: (n_layers,) volume of a layer is its area times this; every layer is layer_mm
            thick but the last, which takes what is left (half to one and a half layers).
        z_mm: (n_layers,) height of the section plane above the platform (middle of the layer).
        xy_mm: (n_points, 2) float64, simplified ring vertices.
        ring_off: (n_rings + 1,) int64, points of ring r are ring_off[r]:ring_off[r + 1].
        island_off: (n_islands + 1,) int64, rings of an island.
        layer_off: (n_layers + 1,) int64, islands of a layer.
        ring_area_mm2: (n_rings,) signed, holes negative.
        ring_box_mm: (n_rings, 4) x0, x1, y0, y1.
        area_mm2: (n_layers,) of the unsimplified section; likewise perimeter_mm.
        gap_mm: (n_layers,) widest gap bridged where the mesh is open; 0 for closed meshes.
        united: (n_layers,) bool, whether overlapping shells were united in the layer.
    """

    key: str
    part_name: str
    grade: str
    layer_mm: float
    height_mm: float
    volume_mm3: float
    surface_mm2: float
    origin_mm: tuple[float, float, float]
    thickness_mm: NDArray[np.float64]
    z_mm: NDArray[np.float64]
    xy_mm: NDArray[np.float64]
    ring_off: NDArray[np.int64]
    island_off: NDArray[np.int64]
    layer_off: NDArray[np.int64]
    ring_area_mm2: NDArray[np.float64]
    ring_box_mm: NDArray[np.float64]
    area_mm2: NDArray[np.float64]
    perimeter_mm: NDArray[np.float64]
    gap_mm: NDArray[np.float64]
    united: NDArray[np.bool_]
