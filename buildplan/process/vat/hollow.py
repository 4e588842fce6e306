"""How much of a part can be left hollow behind a wall."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.dilate import dilate_rings
from buildplan.kernels.spans import group_lengths, intersect_tables
from buildplan.process.layers import Layers
from buildplan.process.supports.hanging import (
    Grid,
    Table,
    lay_grid,
    ring_off_of_layers,
    scan_rings,
)

LINES_ACROSS = 200
"""Lines over the part on which the hollow is measured, at a pitch of 0.1 to 0.5 mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hollow:
    """The space left empty.

    Attributes:
        layer_area_mm2: (n_layers,) area left out of a layer.
        surface_mm2: Inner surface, which liquid wets.
    """

    layer_area_mm2: NDArray[np.float64]
    surface_mm2: float


def hollow_out(layers: Layers, wall_mm: float) -> Hollow:
    """Space inside a wall: sections shrunk by wall_mm, and that far under roofs and over floors.

    A point is left empty when every layer within wall_mm above and below has it inside its outline
    by wall_mm: the part eroded by an upright cylinder of radius and half height wall_mm. Walls are
    wall_mm thick where they stand or lie, and up to sqrt(2) times that where they lean.
    """
    n_layers = len(layers.z_mm)
    grid = lay_grid(layers, _pitch(layers))
    if wall_mm <= 0.0:
        return Hollow(layer_area_mm2=np.zeros(n_layers), surface_mm2=0.0)
    around = int(np.ceil(wall_mm / layers.layer_mm - 1e-9))
    if n_layers <= 2 * around or grid.n_lines == 0:
        return Hollow(layer_area_mm2=np.zeros(n_layers), surface_mm2=0.0)
    off, cross = _window_and(_shrunk_sections(layers, grid, wall_mm), grid.n_lines, 2 * around + 1)
    area = np.zeros(n_layers)
    area[around : n_layers - around] = group_lengths(off, cross, grid.n_lines) * grid.pitch_mm
    # caps from the change of area, walls from the span ends (two a span, seen along one direction)
    caps = float(np.abs(np.diff(area, prepend=0.0, append=0.0)).sum())
    sides = float((np.diff(off[:: grid.n_lines]) * grid.pitch_mm).sum() * layers.layer_mm)
    return Hollow(layer_area_mm2=area, surface_mm2=caps + sides * np.pi / 2.0)


def _pitch(layers: Layers) -> float:
    """Distance of the measuring lines."""
    depth = float(np.ptp(layers.ring_box_mm[:, 2:])) if len(layers.ring_box_mm) else 1.0
    return float(np.clip(depth / LINES_ACROSS, 0.1, 0.5))


def _shrunk_sections(layers: Layers, grid: Grid, wall_mm: float) -> Table:
    """Span table of the sections shrunk by wall_mm.

    Rings turned round have the outside on their left, so growing that by the wall shrinks the part;
    what is left of the part is wound around once the other way, so the rings are turned again.
    """
    rings = ring_off_of_layers(layers)
    n_rings = len(layers.ring_off) - 1
    turned = np.ascontiguousarray(layers.xy_mm[::-1])
    ring_off = len(turned) - layers.ring_off[::-1]
    # closed like the layers' own arrays: one kind of argument, one compiled kernel
    turned.flags.writeable = False
    ring_off.flags.writeable = False
    grown_xy, grown_off, rows = dilate_rings(
        turned,
        ring_off,
        (n_rings - rings[1:])[::-1].copy(),
        (n_rings - rings[:-1])[::-1].copy(),
        np.full(len(layers.z_mm), wall_mm),
        np.ones(n_rings, np.uint8),
    )
    xy = np.ascontiguousarray(grown_xy[::-1])
    off = len(grown_xy) - grown_off[::-1]
    return scan_rings(xy, off, (rows[-1] - rows[::-1]).astype(np.int64), grid)


def _window_and(table: Table, n_lines: int, width: int) -> Table:
    """Line by line what ``width`` layers in a row have in common: n_layers - width + 1 layers.

    Windows of 2, 4, 8 ... layers are built from one another; two of the widest overlap to the
    whole.
    """
    reach = 1
    while 2 * reach <= width:
        table = _shifted_and(table, n_lines, reach)
        reach *= 2
    return _shifted_and(table, n_lines, width - reach) if width > reach else table


def _shifted_and(table: Table, n_lines: int, shift: int) -> Table:
    """Spans that layer k and layer k + shift share, for every k that has both."""
    off, cross = table
    move = shift * n_lines
    shared: Table = intersect_tables(off[: len(off) - move], cross, off[move:], cross)
    return shared
