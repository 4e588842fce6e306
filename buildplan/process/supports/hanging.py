"""What of every layer hangs free over the layer below."""

import math
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.kernels.dilate import dilate_rings
from buildplan.kernels.hanging import join_directions, split_uncovered
from buildplan.kernels.pieces import drop_small
from buildplan.kernels.scan import scan_lines_wound
from buildplan.kernels.sieve import hanging_rows
from buildplan.process.layers import Layers

LIMIT_SLACK_FRAC = 1e-3
"""A face that leans exactly as far as allowed must hold, whatever its last digit."""

ROWS_A_SLAB = 64
"""Layers that one task looks at."""

STRIP_PITCHES = 2.0
"""How far a free piece takes the uncovered strip around it along, in line pitches."""

Table = tuple[NDArray[np.int64], NDArray[np.float64]]
Item = TypeVar("Item")
Answer = TypeVar("Answer")


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Lines along x at y = (first_line + j + 0.5) * pitch_mm, cells along x of one pitch each."""

    pitch_mm: float
    first_line: int
    n_lines: int
    n_cells: int
    last_cell: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Hanging:
    """Spans along x of what hangs, on the few layers where anything does.

    Attributes:
        grid: The lines.
        layer: (n_rows,) ascending index of a hanging layer.
        line_off: (n_rows * n_lines + 1,) places in span_mm.
        span_mm: (n,) start, stop, start, stop, ...
        area_mm2: Plan area of all spans.
    """

    grid: Grid
    layer: NDArray[np.int64]
    line_off: NDArray[np.int64]
    span_mm: NDArray[np.float64]
    area_mm2: float


def run_side_by_side(
    task: Callable[[Item], Answer], items: Iterable[Item], workers: int
) -> list[Answer]:
    """Answers of a task for every item, in order; the kernels inside release the lock."""
    if workers <= 1:
        return [task(item) for item in items]
    with ThreadPoolExecutor(workers) as pool:
        return list(pool.map(task, items))


def ring_off_of_layers(layers: Layers) -> NDArray[np.int64]:
    """Rings of a layer: (n_layers + 1,) offsets."""
    off: NDArray[np.int64] = layers.island_off[layers.layer_off]
    return off


def lay_grid(layers: Layers, pitch_mm: float) -> Grid:
    """The lines that cover a part, on a grid fixed to the middle of the part."""
    if len(layers.xy_mm) == 0:
        return Grid(pitch_mm=pitch_mm, first_line=0, n_lines=0, n_cells=0, last_cell=-1)
    box = layers.ring_box_mm
    low = (box[:, 0].min(), box[:, 2].min())
    high = (box[:, 1].max(), box[:, 3].max())
    first = [math.floor(value / pitch_mm) - 1 for value in low]
    last = [math.ceil(value / pitch_mm) for value in high]
    return Grid(
        pitch_mm=pitch_mm,
        first_line=first[1],
        n_lines=last[1] - first[1] + 1,
        n_cells=last[0] - first[0] + 1,
        last_cell=last[0],
    )


def reach_of_layers(layers: Layers, overhang_limit_deg: float) -> NDArray[np.float64]:
    """How far every layer may lean out over the one below: (n_layers,) mm.

    Step of the section planes * tan(limit); the angle is taken from the vertical.
    """
    if not 0.0 <= overhang_limit_deg < 90.0:
        raise InputError(
            f"overhang_limit_deg: {overhang_limit_deg:g} found, allowed 0 to below 90 "
            "(lean from the vertical); set it in the recipe"
        )
    step = np.diff(layers.z_mm, prepend=0.0)
    lean = math.tan(math.radians(overhang_limit_deg)) * (1.0 + LIMIT_SLACK_FRAC)
    reach: NDArray[np.float64] = step * lean
    return reach


def scan_along_x(layers: Layers, group_off: NDArray[np.int64], grid: Grid, workers: int) -> Table:
    """Span table along x of groups of the layers' own rings."""
    return scan_rings(layers.xy_mm, layers.ring_off, group_off, grid, workers=workers)


def scan_rings(
    xy_mm: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    group_off: NDArray[np.int64],
    grid: Grid,
    *,
    along_y: bool = False,
    workers: int = 1,
) -> Table:
    """Span table of groups of rings along x, or along y cell by cell; one slab a worker."""
    first, count = (
        (-grid.last_cell - 1, grid.n_cells) if along_y else (grid.first_line, grid.n_lines)
    )
    cosine, sine = (0.0, 1.0) if along_y else (1.0, 0.0)
    n_groups = len(group_off) - 1
    # the layers' own arrays are closed to writing: one kind of argument, one compiled kernel
    xy_mm.flags.writeable = False
    ring_off.flags.writeable = False

    def scan(ends: tuple[int, int]) -> Table:
        own = group_off[ends[0] : ends[1] + 1]
        groups = np.arange(ends[1] - ends[0])
        return scan_lines_wound(
            xy_mm, ring_off, own, groups, cosine, sine, grid.pitch_mm, float(first), count
        )

    cuts = np.linspace(0, n_groups, max(1, min(workers, n_groups)) + 1).astype(int).tolist()
    tables = run_side_by_side(scan, list(pairwise(cuts)), workers)
    return join_tables(tables)


def join_tables(tables: list[Table]) -> Table:
    """One span table of several that follow one another."""
    if len(tables) == 0:
        return np.zeros(1, np.int64), np.zeros(0)
    if len(tables) == 1:
        return tables[0]
    shift = np.cumsum([0] + [len(cross) for _, cross in tables])
    parts = [off[:-1] + move for (off, _), move in zip(tables, shift, strict=False)]
    return (
        np.concatenate([*parts, shift[-1:]]).astype(np.int64),
        np.concatenate([cross for _, cross in tables]),
    )


def find_hanging(
    layers: Layers,
    outlines: Table,
    grid: Grid,
    *,
    overhang_limit_deg: float,
    bridge_limit_mm: float,
    least_mm2: float,
    workers: int = 1,
) -> Hanging:
    """What hangs: uncovered by the layer below, beyond the allowed lean, and no bridge.

    U_k = O_k - (O_{k-1} grown by step * tan(limit)) is what leans too far. The strip of
    O_k - O_{k-1} around it belongs to it (else a curved face would lose the strip next to the layer
    below in every layer). A strip between two anchors no further apart than the bridge limit holds
    by itself, whether it runs along x or along y. Pieces smaller in plan than least_mm2 are left
    out.

    Raises:
        InputError: when the limit is no lean.
    """
    reach = reach_of_layers(layers, overhang_limit_deg)
    leaning = _sieve(outlines, np.arange(1, len(reach)), grid, reach)

    def find(rows: NDArray[np.int64]) -> tuple[NDArray[np.int64], Table]:
        return _hang_of_rows(layers, outlines, rows, grid, reach, bridge_limit_mm)

    slabs = [leaning[i : i + ROWS_A_SLAB] for i in range(0, len(leaning), ROWS_A_SLAB)]
    found = run_side_by_side(find, slabs, workers)
    rows = np.concatenate([leaning[:0], *(kept for kept, _ in found)])
    off, span = join_tables([table for _, table in found])
    if least_mm2 > 0.0 and len(span):
        usual = float(np.median(reach[1:])) if len(reach) > 1 else 0.0
        apart = math.ceil(2.0 * grid.pitch_mm / max(usual, 0.05 * grid.pitch_mm))
        off, span = drop_small(off, span, rows, grid.n_lines, grid.pitch_mm, least_mm2, apart)
    return Hanging(
        grid=grid,
        layer=rows,
        line_off=off,
        span_mm=span,
        area_mm2=float((span[1::2] - span[::2]).sum() * grid.pitch_mm),
    )


def _hang_of_rows(
    layers: Layers,
    outlines: Table,
    rows: NDArray[np.int64],
    grid: Grid,
    reach: NDArray[np.float64],
    bridge_limit_mm: float,
) -> tuple[NDArray[np.int64], Table]:
    """Those of some layers (rows) that hang, and the span table along x of what hangs on them."""
    crosswise, own = _scan_crosswise(layers, rows, grid)
    hangs = _sieve(outlines, rows, grid, reach, crosswise, own)
    rows, own = hangs, own[np.isin(rows, hangs)]
    rings = ring_off_of_layers(layers)
    held = dilate_rings(
        layers.xy_mm,
        layers.ring_off,
        rings[rows - 1],
        rings[rows],
        reach[rows],
        np.ones(len(layers.ring_off) - 1, np.uint8),
    )
    held_x = scan_rings(*held, grid)
    held_y = scan_rings(*held, grid, along_y=True)
    strip = max(STRIP_PITCHES * grid.pitch_mm, math.sqrt(2.0) * float(reach.max()))
    x_side = split_uncovered(*outlines, rows, *held_x, grid.n_lines, strip, bridge_limit_mm)
    y_side = split_uncovered(*crosswise, own, *held_y, grid.n_cells, strip, bridge_limit_mm)
    table: Table = join_directions(
        *x_side,
        *y_side,
        len(rows),
        grid.n_lines,
        grid.first_line,
        grid.n_cells,
        grid.last_cell,
        grid.pitch_mm,
    )
    return rows, table


def _sieve(
    outlines: Table,
    rows: NDArray[np.int64],
    grid: Grid,
    reach: NDArray[np.float64],
    crosswise: Table | None = None,
    own: NDArray[np.int64] | None = None,
) -> NDArray[np.int64]:
    """Those of some layers (rows) that may hang, with or without the help of lines along y."""
    y_off, y_cross = crosswise or (np.zeros(1, np.int64), np.zeros(0))
    hangs = hanging_rows(
        *outlines,
        rows,
        grid.n_lines,
        grid.first_line,
        y_off,
        y_cross,
        np.zeros(len(rows), np.int64) if own is None else own,
        grid.n_cells if crosswise else 0,
        grid.last_cell,
        grid.pitch_mm,
        reach,
    )
    kept: NDArray[np.int64] = rows[hangs == 1]
    return kept


def _scan_crosswise(
    layers: Layers, rows: NDArray[np.int64], grid: Grid
) -> tuple[Table, NDArray[np.int64]]:
    """Span table along y of some layers and the ones below them, and where each row is in it."""
    rings = ring_off_of_layers(layers)
    needed = np.unique(np.concatenate([rows - 1, rows]))
    taken = np.concatenate([np.arange(rings[k], rings[k + 1]) for k in needed])
    xy, ring_off = take_rings(layers.xy_mm, layers.ring_off, taken)
    counts = rings[needed + 1] - rings[needed]
    group_off = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    table = scan_rings(xy, ring_off, group_off, grid, along_y=True)
    return table, np.searchsorted(needed, rows).astype(np.int64)


def take_rings(
    xy_mm: NDArray[np.float64], ring_off: NDArray[np.int64], rings: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Ring vertices and offsets of some rings, copied together."""
    sizes = ring_off[rings + 1] - ring_off[rings]
    off = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
    index = np.repeat(ring_off[rings] - off[:-1], sizes) + np.arange(off[-1])
    return xy_mm[index], off
