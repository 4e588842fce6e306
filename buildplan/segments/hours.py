"""Quick hours of a piece, for the search only: fitted to the real estimate of the whole part.

hours = per_mm3 * volume + per_mm2 * side area + per_layer * layers + start. Walls go with the side
area, everything inside with the volume, layer changes with the layers. The pieces of a plan are
estimated anew by the real model afterwards.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.share_below import SIDE_COS
from buildplan.part.model import Part
from buildplan.process.estimate import PrintEstimate

SIDE_ROLES = ("outline", "wall", "centre")
LAYER_ROLES = ("layer_change", "exposure", "lift", "rest")
START_ROLES = ("warm_up", "purge", "margin")


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursModel:
    """Hours per cubic and square millimetre, per layer and per start.

    Attributes:
        layer_mm: Layer thickness.
    """

    per_mm3_h: float
    per_mm2_h: float
    per_layer_h: float
    start_h: float
    layer_mm: float

    def hours(
        self,
        volume_mm3: NDArray[np.float64],
        side_mm2: NDArray[np.float64],
        height_mm: NDArray[np.float64],
    ) -> NDArray[np.float64]:
        """Hours of pieces of so much volume, side area and height: (k,) each."""
        inside = self.per_mm3_h * volume_mm3 + self.per_mm2_h * side_mm2
        return inside + self.per_layer_h * height_mm / self.layer_mm + self.start_h


def fit_hours(part: Part, estimate: PrintEstimate) -> HoursModel:
    """The model that gives the whole part exactly its estimated hours."""
    by_role = {share.role: share.time_h for share in estimate.by_role}
    side = sum(by_role.get(role, 0.0) for role in SIDE_ROLES)
    layers = sum(by_role.get(role, 0.0) for role in LAYER_ROLES)
    start = sum(by_role.get(role, 0.0) for role in START_ROLES)
    area = side_area_mm2(part.vertices_mm, part.facets)
    if area <= 0.0:
        side = 0.0
    rest = max(0.0, estimate.time_h - side - layers - start)
    return HoursModel(
        per_mm3_h=rest / part.volume_mm3,
        per_mm2_h=side / area if area > 0.0 else 0.0,
        per_layer_h=layers / estimate.layers,
        start_h=start,
        layer_mm=part.size_mm[2] / estimate.layers,
    )


def side_area_mm2(vertices: NDArray[np.float64], facets: NDArray[np.int64]) -> float:
    """Area of the facets that carry walls: all that are not nearly level."""
    corners = vertices[facets]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice = np.linalg.norm(normal, axis=1)
    return float(0.5 * twice[np.abs(normal[:, 2]) <= SIDE_COS * twice].sum())
