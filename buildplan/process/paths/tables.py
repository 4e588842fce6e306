"""Everything that is to be laid, gathered into the flat tables that the ordering kernel takes."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.chains import chain_spans, layer_lengths, path_figures
from buildplan.kernels.starts import box_paths
from buildplan.process.cache import cached
from buildplan.process.fill.lines import fixed
from buildplan.process.fill.model import FillLines, FloorRoof, Infill, LineGrid
from buildplan.process.fill.solid import map_tasks
from buildplan.process.layers import Layers
from buildplan.process.roles import ROLE_COUNT, Role
from buildplan.process.supports.model import Supports
from buildplan.process.walls.model import Walls
from buildplan.tables.recipe import ExtrusionRecipe

LINK_PITCHES = 2.5
"""Ends of spans closer than this many line distances are linked by a bead (ours)."""

CLOSING = (0.8, 1.25)
"""Fill beads are made at most this much narrower or wider so that a layer closes (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PathFigures:
    """What follows from paths alone.

    Attributes:
        area_mm2: (n_paths,) that each lays, length times width.
        points: (n_paths,) that each takes, with the travel to it.
        box_mm: (n_paths, 4) x0, x1, y0, y1.
    """

    area_mm2: NDArray[np.float64]
    points: NDArray[np.int64]
    box_mm: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class PathTable:
    """Walls, then infill loops, then margin loops, as one table of paths.

    Attributes:
        box_mm: (n_paths, 4) x0, x1, y0, y1 of every path.
    """

    x_mm: NDArray[np.float64]
    y_mm: NDArray[np.float64]
    width_mm: NDArray[np.float64]
    off: NDArray[np.int64]
    role: NDArray[np.uint8]
    closed: NDArray[np.uint8]
    wall_off: NDArray[np.int64]
    loop_off: NDArray[np.int64]
    first_margin: int
    volume_mm3: NDArray[np.float64]
    box_mm: NDArray[np.float64]
    points: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanFamily:
    """Spans of one role along one grid, joined into chains."""

    role: Role
    grid: LineGrid
    loose: bool
    span: NDArray[np.float64]
    span_y: NDArray[np.float64]
    next_span: NDArray[np.int64]
    head: NDArray[np.int64]
    tail: NDArray[np.int64]
    chain_off: NDArray[np.int64]
    flat_mm: NDArray[np.float64]
    laid_mm: NDArray[np.float64]
    points: int
    link_mm: float
    safe_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpanTables:
    """All families one after the other; indices in them count through."""

    families: tuple[SpanFamily, ...]
    span: NDArray[np.float64]
    span_y: NDArray[np.float64]
    next_span: NDArray[np.int64]
    head: NDArray[np.int64]
    tail: NDArray[np.int64]
    chain_off: NDArray[np.int64]
    bead_mm: NDArray[np.float64]
    volume_mm3: NDArray[np.float64]
    points: int


def make_path_table(
    layers: Layers,
    recipe: ExtrusionRecipe,
    walls: Walls,
    infill: Infill,
    margin: list[NDArray[np.float64]],
) -> PathTable:
    """Join wall paths, infill loops and margin loops into one table."""
    loops = infill.loops
    n_walls, n_loops = len(walls.path_off) - 1, len(loops.loop_off) - 1
    x, y, width, off = [walls.x_mm], [walls.y_mm], [walls.width_mm], [np.diff(walls.path_off)]
    if n_loops:
        sizes = np.diff(loops.loop_off)
        x.append(loops.xy_mm[:, 0])
        y.append(loops.xy_mm[:, 1])
        width.append(np.repeat(loops.bead_mm, sizes))
        off.append(sizes)
    for ring in margin:
        x.append(ring[:, 0])
        y.append(ring[:, 1])
        width.append(np.full(len(ring), recipe.bead_mm))
        off.append(np.array([len(ring)]))
    role = np.concatenate(
        (
            walls.path_role,
            np.full(n_loops, Role.INFILL, np.uint8),
            np.full(len(margin), Role.MARGIN, np.uint8),
        )
    ).astype(np.uint8)
    closed = np.concatenate((walls.path_closed, np.ones(n_loops + len(margin), np.uint8))).astype(
        np.uint8
    )
    path_off = np.concatenate(([0], np.cumsum(np.concatenate(off)))).astype(np.int64)
    x_mm, y_mm, width_mm = (
        parts[0] if len(parts) == 1 else np.concatenate(parts) for parts in (x, y, width)
    )
    figures = _figures(walls, x_mm, y_mm, width_mm, path_off, closed)
    wall_off = walls.island_path_off.astype(np.int64)
    loop_off = loops.island_off + n_walls
    layer = _layer_of_path(layers, wall_off, loop_off, len(margin))
    volume: NDArray[np.float64] = (
        np.bincount(
            layer * ROLE_COUNT + role,
            weights=figures.area_mm2 * layers.thickness_mm[layer],
            minlength=len(layers.z_mm) * ROLE_COUNT,
        )
        .reshape(-1, ROLE_COUNT)
        .astype(np.float64)
    )
    return PathTable(
        x_mm=x_mm,
        y_mm=y_mm,
        width_mm=width_mm,
        off=path_off,
        role=role,
        closed=closed,
        wall_off=wall_off,
        loop_off=loop_off,
        first_margin=n_walls + n_loops,
        volume_mm3=volume,
        box_mm=figures.box_mm,
        points=int(figures.points.sum()),
    )


def _figures(
    walls: Walls,
    x_mm: NDArray[np.float64],
    y_mm: NDArray[np.float64],
    width_mm: NDArray[np.float64],
    path_off: NDArray[np.int64],
    closed: NDArray[np.uint8],
) -> PathFigures:
    """Figures of all paths; those of the walls are kept, for infill has no part in them."""
    count = len(walls.path_off) - 1
    first = cached(
        ("wall figures", walls.key),
        lambda: figures_of(
            walls.x_mm, walls.y_mm, walls.width_mm, path_off[: count + 1], closed[:count]
        ),
    )
    if len(closed) == count:
        return first
    start = int(path_off[count])
    more = figures_of(
        x_mm[start:], y_mm[start:], width_mm[start:], path_off[count:] - start, closed[count:]
    )
    return PathFigures(
        area_mm2=np.concatenate((first.area_mm2, more.area_mm2)),
        points=np.concatenate((first.points, more.points)),
        box_mm=np.concatenate((first.box_mm, more.box_mm)),
    )


def figures_of(
    x_mm: NDArray[np.float64],
    y_mm: NDArray[np.float64],
    width_mm: NDArray[np.float64],
    path_off: NDArray[np.int64],
    closed: NDArray[np.uint8],
) -> PathFigures:
    """Area, points and box of every path."""
    off = fixed(path_off)
    area_mm2, points = path_figures(fixed(x_mm), fixed(y_mm), fixed(width_mm), off, fixed(closed))
    box_mm = np.empty((len(path_off) - 1, 4))
    box_paths(fixed(x_mm), fixed(y_mm), off, 0, len(path_off) - 1, box_mm)
    for array in (area_mm2, points, box_mm):
        array.flags.writeable = False
    return PathFigures(area_mm2=area_mm2, points=points, box_mm=box_mm)


def _layer_of_path(
    layers: Layers, wall_off: NDArray[np.int64], loop_off: NDArray[np.int64], margin: int
) -> NDArray[np.int64]:
    of_island = np.repeat(np.arange(len(layers.z_mm)), np.diff(layers.layer_off))
    return np.concatenate(
        (
            np.repeat(of_island, np.diff(wall_off)),
            np.repeat(of_island, np.diff(loop_off)),
            np.zeros(margin, np.int64),
        )
    )


def _support_lines(supports: Supports, n_layers: int, role: Role) -> FillLines:
    """Spans of one support role as lines along x."""
    mine = supports.span_role == role
    line = np.repeat(
        np.arange(len(supports.line_off) - 1, dtype=np.int64) % max(1, supports.n_lines),
        np.diff(supports.line_off),
    )
    running = np.concatenate(([0], np.cumsum(mine)))
    layer_start = supports.line_off[:: max(1, supports.n_lines)]
    grid = LineGrid(
        cosine=1.0,
        sine=0.0,
        pitch_mm=supports.pitch_mm,
        first_line=float(supports.first_line),
        n_lines=supports.n_lines,
    )
    return FillLines(
        role=role,
        grid=grid,
        span_mm=np.ascontiguousarray(supports.span_mm[mine]),
        line=line[mine],
        layer_off=running[layer_start][: n_layers + 1].astype(np.int64),
    )


def _make_family(lines: FillLines, widest_step: int, safe_mm: float) -> SpanFamily:
    next_span, head, tail, chain_off = chain_spans(
        fixed(lines.span_mm), fixed(lines.line), fixed(lines.layer_off), widest_step
    )
    grid = lines.grid
    flat, laid, points = layer_lengths(
        fixed(lines.span_mm), fixed(lines.layer_off), grid.wave_mm, grid.wavelength_mm
    )
    return SpanFamily(
        role=lines.role,
        grid=grid,
        loose=lines.role in (Role.SUPPORT, Role.SUPPORT_FACE),
        span=lines.span_mm,
        span_y=((grid.first_line + lines.line + 0.5) * grid.pitch_mm).astype(np.float64),
        next_span=next_span,
        head=head,
        tail=tail,
        chain_off=chain_off,
        flat_mm=flat,
        laid_mm=laid,
        points=int(points.sum()),
        link_mm=LINK_PITCHES * grid.pitch_mm * widest_step,
        safe_mm=safe_mm,
    )


def _fill_beads(
    recipe: ExtrusionRecipe, solid: FloorRoof, families: tuple[SpanFamily, ...]
) -> NDArray[np.float64]:
    """Bead width (n_families, n_layers), a little off bead_mm so that every layer closes.

    Solid lines share out the border's exact area; what they leave times infill_frac is the
    infill's. Both only within `CLOSING`: few lines over a small area cannot hit it.
    """
    bead = np.full((len(families), len(solid.border_mm)), recipe.bead_mm)
    spans_mm2 = solid.border_mm * recipe.bead_mm
    full = np.clip(_ratio(solid.border_mm2, spans_mm2), *CLOSING)
    solid_mm2 = np.zeros(len(full))
    infill_mm = np.zeros(len(full))
    for index, family in enumerate(families):
        if family.role == Role.FLOOR_ROOF:
            bead[index] *= full
            solid_mm2 += family.laid_mm * bead[index]
        elif family.role == Role.INFILL:
            infill_mm += family.laid_mm
    wanted = recipe.infill_frac * np.maximum(0.0, solid.border_mm2 - solid_mm2)
    sparse = np.clip(_ratio(wanted, infill_mm * recipe.bead_mm), *CLOSING)
    for index, family in enumerate(families):
        if family.role == Role.INFILL:
            bead[index] *= sparse
    return bead


def _ratio(over: NDArray[np.float64], under: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.divide(over, under, out=np.ones(len(over)), where=under > 0.0)


def make_span_tables(
    layers: Layers,
    recipe: ExtrusionRecipe,
    solid: FloorRoof,
    infill: Infill,
    supports: Supports | None,
    *,
    workers: int = 1,
) -> SpanTables:
    """Join floor, roof, infill and support spans into one table of chains."""
    n_layers = len(layers.z_mm)
    inset = 1.5 * recipe.bead_mm * recipe.wall_beads
    tasks = [(lines, 1, inset) for lines in (*solid.lines, *infill.lines)]
    if supports is not None and len(supports.span_mm):
        sparse = math.ceil(1.0 / max(recipe.support_frac, 0.01)) + 1
        tasks += [
            (_support_lines(supports, n_layers, role), step, 0.0)
            for role, step in ((Role.SUPPORT, sparse), (Role.SUPPORT_FACE, 1))
        ]
    families = tuple(map_tasks(lambda task: _make_family(*task), tasks, workers))
    span_at = np.concatenate(([0], np.cumsum([len(f.span) for f in families])))
    chain_at = np.concatenate(([0], np.cumsum([len(f.head) for f in families])))
    bead = _fill_beads(recipe, solid, families)
    volume = np.zeros((n_layers, ROLE_COUNT))
    for index, family in enumerate(families):
        volume[:, family.role] += family.laid_mm * bead[index] * layers.thickness_mm
    if supports is not None:
        _share_support_volume(volume, supports)
    return SpanTables(
        families=families,
        span=np.concatenate([f.span for f in families]),
        span_y=np.concatenate([f.span_y for f in families]),
        next_span=np.concatenate(
            [
                np.where(f.next_span >= 0, f.next_span + at, -1)
                for f, at in zip(families, span_at[:-1], strict=True)
            ]
        ),
        head=np.concatenate([f.head + at for f, at in zip(families, span_at[:-1], strict=True)]),
        tail=np.concatenate([f.tail + at for f, at in zip(families, span_at[:-1], strict=True)]),
        chain_off=np.array(
            [f.chain_off + at for f, at in zip(families, chain_at[:-1], strict=True)]
        ),
        bead_mm=bead,
        volume_mm3=volume,
        points=sum(f.points for f in families),
    )


def _share_support_volume(volume: NDArray[np.float64], supports: Supports) -> None:
    """Put the support stage's own volume in place of the spans', shared as the spans are."""
    kinds = [Role.SUPPORT, Role.SUPPORT_FACE]
    total = volume[:, kinds].sum(axis=1)
    factor = _ratio(np.asarray(supports.volume_mm3, float), total)
    volume[:, kinds] *= factor[:, None]
