"""Lines over a part: where they cross outlines and borders, and what is laid along them."""

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.chains import warp_points
from buildplan.kernels.scan import frame_extent, scan_lines
from buildplan.kernels.spans import split_lines
from buildplan.process.fill.model import FillLines, LineGrid, SpanTable
from buildplan.process.layers import Layers
from buildplan.process.roles import Role
from buildplan.process.walls.model import Walls

Kind = TypeVar("Kind", bound=np.generic)

LEAST_SPAN_MM = 0.05
"""Spans shorter than this are not laid."""

BEND_MM = 0.5
"""Edges are cut into pieces of this length before a wave is taken out of them."""


def fixed(array: NDArray[Kind]) -> NDArray[Kind]:
    """The same data, read-only: kernels are compiled anew for arrays that may be written."""
    view = array.view()
    view.flags.writeable = False
    return view


def make_grid(
    layers: Layers,
    *,
    angle_rad: float,
    pitch_mm: float,
    shift: float = 0.0,
    wave_mm: float = 0.0,
    wavelength_mm: float = 1.0,
) -> LineGrid:
    """Grid of lines over all layers, anchored at the middle of the part.

    Args:
        layers: The part's layers.
        angle_rad: Direction of the lines.
        pitch_mm: Distance of neighbouring lines.
        shift: The whole grid is moved by this share of the pitch.
        wave_mm: Wave height, 0 for straight lines.
        wavelength_mm: Wave length.
    """
    cosine, sine = math.cos(angle_rad), math.sin(angle_rad)
    low, high = frame_extent(fixed(layers.xy_mm), cosine, sine)
    first = math.floor((low - wave_mm) / pitch_mm - 0.5) - 1
    last = math.ceil((high + wave_mm) / pitch_mm - 0.5) + 1
    return LineGrid(
        cosine=cosine,
        sine=sine,
        pitch_mm=pitch_mm,
        first_line=first + shift,
        n_lines=last - first + 1,
        wave_mm=wave_mm,
        wavelength_mm=wavelength_mm,
    )


def _scan(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    group_off: NDArray[np.int64],
    which: NDArray[np.int64],
    grid: LineGrid,
) -> SpanTable:
    cosine, sine = grid.cosine, grid.sine
    if grid.wave_mm:
        xy, ring_off = warp_points(
            fixed(xy), fixed(ring_off), cosine, sine, grid.wave_mm, grid.wavelength_mm, BEND_MM
        )
        cosine, sine = 1.0, 0.0
    line_off, cross = scan_lines(
        fixed(xy),
        fixed(ring_off),
        fixed(group_off),
        fixed(which),
        cosine,
        sine,
        grid.pitch_mm,
        float(grid.first_line),
        grid.n_lines,
    )
    return SpanTable(grid=grid, line_off=fixed(line_off), cross_mm=fixed(cross))


def scan_outline(layers: Layers, grid: LineGrid) -> SpanTable:
    """Spans of every layer's outlines along a grid."""
    which = np.arange(len(layers.z_mm), dtype=np.int64)
    ring_of_layer = layers.island_off[layers.layer_off]
    return _scan(layers.xy_mm, layers.ring_off, ring_of_layer, which, grid)


def scan_border(
    layers: Layers, walls: Walls, grid: LineGrid, which: NDArray[np.int64]
) -> SpanTable:
    """Spans of the borders that the walls leave, along a grid, in the layers `which`."""
    ring_of_layer = walls.border_island_off[layers.layer_off]
    return _scan(walls.border_xy_mm, walls.border_ring_off, ring_of_layer, which, grid)


def split_fill(
    border: SpanTable,
    outline: SpanTable,
    which: NDArray[np.int64],
    *,
    floor_layers: int,
    roof_layers: int,
    role: Role,
    least_mm: float = LEAST_SPAN_MM,
) -> FillLines:
    """Spans of a border that are infill, or those that are floor or roof.

    What lies inside the outlines of all `floor_layers` layers below and all `roof_layers` above is
    infill, the rest of the border is floor or roof; found line by line, without polygons.

    Args:
        border: What is to be filled.
        outline: Outlines along the same grid.
        which: The layers to split.
        floor_layers: Solid layers over every downward face.
        roof_layers: Solid layers under every upward face.
        role: INFILL or FLOOR_ROOF.
        least_mm: Spans no longer than this are left out.
    """
    n_lines = border.grid.n_lines
    span, line, layer_off = split_lines(
        border.line_off,
        border.cross_mm,
        outline.line_off,
        outline.cross_mm,
        fixed(which),
        (len(border.line_off) - 1) // n_lines,
        n_lines,
        floor_layers,
        roof_layers,
        least_mm,
        role == Role.INFILL,
    )
    return FillLines(
        role=role,
        grid=border.grid,
        span_mm=fixed(span),
        line=fixed(line),
        layer_off=fixed(layer_off),
    )
