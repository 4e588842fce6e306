"""What the wall stage gives: beads along every outline, and the border of what is left to fill."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Walls:
    """Wall beads of every island, and the border inside which floor, roof and infill are laid.

    Attributes:
        key: Content key (layers' key, bead_mm, wall_beads, slit_fill), for caches.
        x_mm, y_mm: (n_points,) float64 along the paths.
        width_mm: (n_points,) float64 bead width: of the segment that starts at the point on a
            closed path, of the segment that ends at the point on an open one.
        path_off: (n_paths + 1,) int64 points of a path.
        path_role: (n_paths,) uint8, Role.OUTLINE, Role.WALL or Role.CENTRE.
        path_closed: (n_paths,) uint8, 1 where the last point joins the first.
        island_path_off: (n_islands + 1,) int64 paths of an island (paths are sorted by island).
        border_xy_mm: (n, 2) float64; border_ring_off and border_island_off as in Layers (a ring
            may shrink to a sliver of no area where an island is all wall).
        wall_area_mm2: (n_islands,) length times width of the island's beads.
        border_area_mm2: (n_islands,) area left inside the border.
        fallback: (n_islands,) int8, 0 where the fast offsets were certified, else why not.
        thin_mm: (n_islands,) least local wall thickness found, or inf where none is thin.
        slit_mm2: (n_islands,) area of slits too narrow for whole beads and left to sparse infill.
    """

    key: str
    bead_mm: float
    wall_beads: int
    x_mm: NDArray[np.float64]
    y_mm: NDArray[np.float64]
    width_mm: NDArray[np.float64]
    path_off: NDArray[np.int64]
    path_role: NDArray[np.uint8]
    path_closed: NDArray[np.uint8]
    island_path_off: NDArray[np.int64]
    border_xy_mm: NDArray[np.float64]
    border_ring_off: NDArray[np.int64]
    border_island_off: NDArray[np.int64]
    wall_area_mm2: NDArray[np.float64]
    border_area_mm2: NDArray[np.float64]
    fallback: NDArray[np.int8]
    thin_mm: NDArray[np.float64]
    slit_mm2: NDArray[np.float64]
