"""Columns under what hangs, off the part by the clearance."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.columns import grow_columns, sort_by_cell
from buildplan.kernels.dilate import dilate_rings
from buildplan.process.layers import Layers
from buildplan.process.supports.hanging import (
    Grid,
    Hanging,
    Table,
    join_tables,
    ring_off_of_layers,
    run_side_by_side,
    scan_rings,
)

LINES_A_BLOCK = 64
"""Lines that one task grows; fixed, so that sums do not depend on the number of workers."""

LAYERS_A_SLAB = 64
"""Layers whose outlines one task grows."""

LEAST_SPAN_PITCHES = 0.5
"""Spans of a column shorter than this are not laid."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grown:
    """Columns as they stand.

    Attributes:
        first_line: Index of line 0 in the global grid.
        n_lines: Lines a layer.
        span_mm: (n, 2) spans to lay, in the order of their lines.
        span_full: (n,) 1 in the full layers at the top.
        line_off: (n_layers * n_lines + 1,) spans of a line.
        area_mm2: (n_layers,) plan area of the columns.
        face_area_mm2: (n_layers,) of their full part.
        on_part_area_mm2: Area of the columns that ends over the part.
    """

    first_line: int
    n_lines: int
    span_mm: NDArray[np.float64]
    span_full: NDArray[np.uint8]
    line_off: NDArray[np.int64]
    area_mm2: NDArray[np.float64]
    face_area_mm2: NDArray[np.float64]
    on_part_area_mm2: float


def grow_supports(
    layers: Layers,
    hanging: Hanging,
    *,
    clearance_mm: float,
    gap_layers: int,
    face_layers: int,
    laid_frac: float,
    workers: int = 1,
) -> Grown:
    """Columns from what hangs down to the platform or to the part.

    Args:
        layers: The part's layers.
        hanging: What hangs, with at least one span.
        clearance_mm: Sideways distance to the part.
        gap_layers: Empty layers between a column and what it carries.
        face_layers: Full layers at the top of a column.
        laid_frac: Share of the lines that are laid in the rest of a column.
        workers: Threads.
    """
    n_layers = len(layers.z_mm)
    grid, first, last = _own_lines(hanging)
    hang_off = _spread_rows(hanging, n_layers, first, last)
    top = int(hanging.layer[-1]) - gap_layers
    part = _part_spans(layers, hanging, grid, max(0, top), 0.0, workers)
    block = (
        _part_spans(layers, hanging, grid, max(0, top), clearance_mm, workers)
        if clearance_mm > 0.0
        else part
    )
    laid = _laid_lines(grid, laid_frac)
    ends = np.diff(hang_off).reshape(n_layers, -1) + np.diff(block[0]).reshape(n_layers, -1)
    ends += np.diff(part[0]).reshape(n_layers, -1)
    room = int(ends.sum(axis=0).max()) + 8
    starts = range(0, grid.n_lines, LINES_A_BLOCK)

    def grow(line: int) -> tuple[NDArray[Any], ...]:
        return grow_columns(
            hang_off,
            hanging.span_mm,
            *part,
            *block,
            n_layers,
            grid.n_lines,
            line,
            min(line + LINES_A_BLOCK, grid.n_lines),
            gap_layers,
            face_layers,
            laid,
            LEAST_SPAN_PITCHES * grid.pitch_mm,
            room,
        )

    parts = list(zip(*run_side_by_side(grow, starts, workers), strict=True))
    length, face_length, landed = (np.sum(part, axis=0) * grid.pitch_mm for part in parts[:3])
    spans, full, cells = (np.concatenate(part) for part in parts[3:])
    spans, full, line_off = sort_by_cell(spans, full, cells, n_layers * grid.n_lines)
    return Grown(
        first_line=grid.first_line,
        n_lines=grid.n_lines,
        span_mm=spans,
        span_full=full,
        line_off=line_off,
        area_mm2=length,
        face_area_mm2=face_length,
        on_part_area_mm2=float(landed.sum()),
    )


def _own_lines(hanging: Hanging) -> tuple[Grid, int, int]:
    """The part of the grid where anything hangs: (grid, first line, one past the last)."""
    n_rows = len(hanging.layer)
    per_line = np.diff(hanging.line_off).reshape(n_rows, hanging.grid.n_lines).sum(axis=0)
    used = np.flatnonzero(per_line)
    first, last = int(used[0]), int(used[-1]) + 1
    grid = Grid(
        pitch_mm=hanging.grid.pitch_mm,
        first_line=hanging.grid.first_line + first,
        n_lines=last - first,
        n_cells=hanging.grid.n_cells,
        last_cell=hanging.grid.last_cell,
    )
    return grid, first, last


def _spread_rows(hanging: Hanging, n_layers: int, first: int, last: int) -> NDArray[np.int64]:
    """Offsets of the hanging spans for every line of every layer, the quiet ones empty."""
    counts = np.zeros((n_layers, last - first), np.int64)
    rows = np.diff(hanging.line_off).reshape(len(hanging.layer), hanging.grid.n_lines)
    counts[hanging.layer] = rows[:, first:last]
    return np.concatenate([[0], np.cumsum(counts.ravel())]).astype(np.int64)


def _part_spans(
    layers: Layers,
    hanging: Hanging,
    grid: Grid,
    top: int,
    clearance_mm: float,
    workers: int,
) -> Table:
    """Span table of the space the part takes in layers 0 .. top - 1, grown by the clearance."""
    rings = ring_off_of_layers(layers)
    use = _rings_near(layers, hanging, grid, clearance_mm)
    starts = range(0, top, LAYERS_A_SLAB)

    def block(start: int) -> Table:
        end = min(start + LAYERS_A_SLAB, top)
        distance = np.full(end - start, clearance_mm)
        xy, ring_off, group_off = dilate_rings(
            layers.xy_mm,
            layers.ring_off,
            rings[start:end],
            rings[start + 1 : end + 1],
            distance,
            use,
        )
        return scan_rings(xy, ring_off, group_off, grid)

    off, cross = join_tables(run_side_by_side(block, starts, workers))
    rest = np.full((len(layers.z_mm) - top) * grid.n_lines, off[-1])
    return np.concatenate([off, rest]), cross


def _rings_near(
    layers: Layers, hanging: Hanging, grid: Grid, clearance_mm: float
) -> NDArray[np.uint8]:
    """Rings that can touch a column: (n_rings,) 1 where the box comes near what hangs."""
    low_x = float(hanging.span_mm.min()) - clearance_mm
    high_x = float(hanging.span_mm.max()) + clearance_mm
    low_y = grid.first_line * grid.pitch_mm - clearance_mm
    high_y = (grid.first_line + grid.n_lines) * grid.pitch_mm + clearance_mm
    x0, x1, y0, y1 = layers.ring_box_mm.T
    near: NDArray[np.uint8] = (
        (x0 <= high_x) & (x1 >= low_x) & (y0 <= high_y) & (y1 >= low_y)
    ).astype(np.uint8)
    return near


def _laid_lines(grid: Grid, laid_frac: float) -> NDArray[np.uint8]:
    """Lines of the global grid that are laid: line g where floor((g + 1) f) > floor(g f)."""
    index = grid.first_line + np.arange(grid.n_lines)
    laid: NDArray[np.uint8] = (
        np.floor((index + 1) * laid_frac) > np.floor(index * laid_frac)
    ).astype(np.uint8)
    return laid
