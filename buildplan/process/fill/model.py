"""What the fill stage gives: floors, roofs and infill as spans along real lines, or as loops."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.process.roles import Role


@dataclass(frozen=True, slots=True, kw_only=True)
class LineGrid:
    """Parallel lines y' = (first_line + j + 0.5) * pitch_mm in a frame turned about the origin.

    All layers share the grid, so lines of different layers coincide. With a wave height the lines
    are waves: y' = (first_line + j + 0.5) * pitch_mm + wave_mm sin(2 pi x' / wavelength_mm).

    Attributes:
        cosine: Of the frame's angle.
        sine: Of the frame's angle.
        pitch_mm: Distance of neighbouring lines along y'.
        first_line: Index of line 0; a fraction shifts the grid.
        n_lines: Lines that can meet the part.
        wave_mm: Wave height, 0 for straight lines.
        wavelength_mm: Wave length.
    """

    cosine: float
    sine: float
    pitch_mm: float
    first_line: float
    n_lines: int
    wave_mm: float = 0.0
    wavelength_mm: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanTable:
    """Sorted spans of every layer along every line of a grid.

    Attributes:
        line_off: (n_layers * n_lines + 1,) int64; line j of layer k is entry k * n_lines + j.
        cross_mm: Flat pairs from, to along the lines.
    """

    grid: LineGrid
    line_off: NDArray[np.int64]
    cross_mm: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FillLines:
    """Spans that are laid along the lines of one grid.

    Attributes:
        span_mm: (n_spans, 2) from and to along the lines.
        line: (n_spans,) int64 index of the span's line.
        layer_off: (n_layers + 1,) int64 spans of a layer.
    """

    role: Role
    grid: LineGrid
    span_mm: NDArray[np.float64]
    line: NDArray[np.int64]
    layer_off: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FillLoops:
    """Closed infill loops (concentric style).

    Attributes:
        xy_mm: (n_points, 2) points of the loops.
        loop_off: (n_loops + 1,) int64 points of a loop.
        island_off: (n_islands + 1,) int64 loops of an island.
        bead_mm: (n_loops,) bead width.
    """

    xy_mm: NDArray[np.float64]
    loop_off: NDArray[np.int64]
    island_off: NDArray[np.int64]
    bead_mm: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorRoof:
    """Solid floor and roof lines, and how much of every layer there is to fill.

    Attributes:
        key: Content key (walls' key, floor and roof layers), for caches.
        lines: One entry per direction; even layers use the first, odd ones the second.
        border_mm: (n_layers,) length of all border spans along the bead grid.
        border_mm2: (n_layers,) area inside the wall stage's borders.
    """

    key: str
    lines: tuple[FillLines, ...]
    border_mm: NDArray[np.float64]
    border_mm2: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Infill:
    """Sparse infill between floors and roofs, as lines or as loops."""

    lines: tuple[FillLines, ...]
    loops: FillLoops


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineScans:
    """Outlines of all layers along the two solid directions.

    Attributes:
        key: Content key (layers' key, bead_mm), for caches.
        tables: One per direction.
    """

    key: str
    tables: tuple[SpanTable, SpanTable]
