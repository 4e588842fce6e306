"""What the support stage gives: columns as spans along parallel lines."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Supports:
    """Support beads of every layer as spans along x at y = (first_line + j + 0.5) * pitch_mm.

    Attributes:
        key: Content key (layers' key and the recipe's support settings), for caches.
        pitch_mm: Distance of neighbouring lines (the bead spacing).
        first_line: Index of line 0, so that all layers share one global grid.
        n_lines: Lines per layer.
        span_mm: (n_spans, 2) float64 x from, x to of the beads that are laid.
        span_role: (n_spans,) uint8, Role.SUPPORT or Role.SUPPORT_FACE.
        line_off: (n_layers * n_lines + 1,) int64 spans of line j of layer k at k * n_lines + j.
        volume_mm3: (n_layers,) extruded support volume of the layer.
        column_volume_mm3: Volume of the space that the columns take.
        supported_area_mm2: Area of the part that the columns carry.
        on_part_area_mm2: Area on which columns stand on the part instead of the platform.
    """

    key: str
    pitch_mm: float
    first_line: int
    n_lines: int
    span_mm: NDArray[np.float64]
    span_role: NDArray[np.uint8]
    line_off: NDArray[np.int64]
    volume_mm3: NDArray[np.float64]
    column_volume_mm3: float
    supported_area_mm2: float
    on_part_area_mm2: float
