"""The paths of a print: every move, in order, as flat arrays."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.findings import Finding
from buildplan.process.layers import Layers
from buildplan.process.walls.advice import WallAdvice
from buildplan.tables.recipe import ExtrusionRecipe


@dataclass(frozen=True, slots=True, kw_only=True)
class Paths:
    """Moves of every layer, in order.

    Move i runs from point i - 1 to point i; a layer's first point is where the layer before ended.

    Attributes:
        key: Content key of the geometry (speeds are not in it), for caches.
        x_mm, y_mm: (n_points,) float64.
        role: (n_points,) uint8, Role of the move that ends at the point.
        retract: (n_points,) uint8, 1 where that move retracts first.
        bead_mm: (n_points,) float32, bead width of the move that ends at the point (0 for travel).
        point_off: (n_layers + 1,) int64 points of a layer.
        volume_mm3: (n_layers, ROLE_COUNT) extruded volume by layer and role; it comes from bead
            widths and spans, so links between spans carry none.
        slit_share: (n_layers,) share of what the walls leave to fill that lies in slits too narrow
            for whole beads.
        slit_advice: The commonest wall that leaves a slit; empty where slits are not worth a note.
        support_column_mm3: Space taken by support columns; support_on_part_mm2 where they stand on
            the part.
        findings: Slits that are not a whole number of beads, features thinner than one bead, ...
    """

    key: str
    layers: Layers
    recipe: ExtrusionRecipe
    x_mm: NDArray[np.float64]
    y_mm: NDArray[np.float64]
    role: NDArray[np.uint8]
    retract: NDArray[np.uint8]
    bead_mm: NDArray[np.float32]
    point_off: NDArray[np.int64]
    volume_mm3: NDArray[np.float64]
    slit_share: NDArray[np.float64]
    slit_advice: tuple[WallAdvice, ...]
    support_column_mm3: float
    support_on_part_mm2: float
    findings: tuple[Finding, ...]
