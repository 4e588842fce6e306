"""Paths and chains of spans -> every move, in order."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.laying import lay_items, place_items
from buildplan.kernels.ordering import BLOCK_LAYERS, order_layers
from buildplan.process.fill.lines import fixed
from buildplan.process.fill.solid import map_tasks
from buildplan.process.layers import Layers
from buildplan.process.paths.tables import PathTable, SpanTables
from buildplan.tables.recipe import ExtrusionRecipe


@dataclass(frozen=True, slots=True, kw_only=True)
class Moves:
    """Every move of a print; the arrays are those of `Paths`."""

    point_off: NDArray[np.int64]
    x_mm: NDArray[np.float64]
    y_mm: NDArray[np.float64]
    role: NDArray[np.uint8]
    retract: NDArray[np.uint8]
    bead_mm: NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Items:
    """Paths and chains in the order in which they are laid; arrays of kernels/ordering.py."""

    off: NDArray[np.int64]
    item: NDArray[np.int64]
    xy_mm: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    """What is to be laid, where it begins, and the blocks of layers that it is shared out in."""

    layers: Layers
    recipe: ExtrusionRecipe
    paths: PathTable
    spans: SpanTables
    frame: NDArray[np.float64]
    wave: NDArray[np.float64]
    corner: tuple[float, float]
    blocks: list[tuple[int, int]]


def order_and_lay(
    layers: Layers,
    recipe: ExtrusionRecipe,
    paths: PathTable,
    spans: SpanTables,
    *,
    workers: int = 1,
) -> Moves:
    """Moves of all layers.

    Blocks of BLOCK_LAYERS layers are put in order independently of each other, each from the low
    corner of the part's box. Then every item is laid from where the one before it ended, the first
    of a block too. Blocks do not depend on `workers`, so the moves do not either.
    """
    n_layers = len(layers.z_mm)
    box = layers.ring_box_mm
    grids = [family.grid for family in spans.families]
    job = _Job(
        layers=layers,
        recipe=recipe,
        paths=paths,
        spans=spans,
        frame=fixed(np.array([(grid.cosine, grid.sine) for grid in grids])),
        wave=fixed(np.array([(grid.wave_mm, grid.wavelength_mm) for grid in grids])),
        corner=(float(box[:, 0].min()), float(box[:, 2].min())) if len(box) else (0.0, 0.0),
        blocks=list(pairwise([*range(0, n_layers, BLOCK_LAYERS), n_layers])),
    )
    return _lay(job, _order(job, workers), workers)


def _count_items(layers: Layers, paths: PathTable, spans: SpanTables) -> NDArray[np.int64]:
    """Paths and chains of every layer, as offsets (n_layers + 1,)."""
    off: NDArray[np.int64] = (
        paths.wall_off[layers.layer_off]
        + paths.loop_off[layers.layer_off]
        - paths.loop_off[0]
        + (spans.chain_off - spans.chain_off[:, :1]).sum(axis=0)
    )
    off[1:] += len(paths.role) - paths.first_margin
    return off


def _order(job: _Job, workers: int) -> _Items:
    """Put all blocks in order."""
    layers, paths, spans = job.layers, job.paths, job.spans
    off = _count_items(layers, paths, spans)
    items = np.empty((off[-1], 4), np.int64)
    xy_mm = np.empty((off[-1], 4))
    # room that the blocks share: each uses that of its own paths
    left = np.empty(len(paths.role), np.int64)
    loose = fixed(np.array([family.loose for family in spans.families], np.uint8))

    def order(block: tuple[int, int]) -> None:
        order_layers(
            fixed(layers.xy_mm),
            fixed(layers.ring_off),
            fixed(layers.island_off),
            fixed(layers.layer_off),
            fixed(layers.ring_box_mm),
            fixed(paths.x_mm),
            fixed(paths.y_mm),
            fixed(paths.off),
            fixed(paths.closed),
            fixed(paths.wall_off),
            fixed(paths.loop_off),
            paths.first_margin,
            fixed(spans.span),
            fixed(spans.span_y),
            spans.next_span,
            fixed(spans.head),
            fixed(spans.tail),
            fixed(spans.chain_off),
            job.frame,
            job.wave,
            loose,
            *job.corner,
            *block,
            fixed(off),
            left,
            fixed(paths.box_mm),
            items,
            xy_mm,
        )

    map_tasks(order, job.blocks, workers)
    return _Items(off=fixed(off), item=fixed(items), xy_mm=fixed(xy_mm))


def _lay(job: _Job, items: _Items, workers: int) -> Moves:
    """Write the moves of all items into arrays that hold just them."""
    layers, recipe, paths, spans = job.layers, job.recipe, job.paths, job.spans
    n_layers = len(layers.z_mm)
    point_off = np.empty(n_layers + 1, np.int64)
    layer_xy = np.empty((n_layers, 2))
    travel = np.empty(len(items.item), np.uint8)
    place_items(items.off, items.item, items.xy_mm, *job.corner, point_off, layer_xy, travel)
    count = int(point_off[-1])
    moves = Moves(
        point_off=point_off,
        x_mm=np.empty(count),
        y_mm=np.empty(count),
        role=np.empty(count, np.uint8),
        retract=np.empty(count, np.uint8),
        bead_mm=np.empty(count, np.float32),
    )
    role = fixed(np.array([family.role for family in spans.families], np.uint8))
    link_mm = fixed(np.array([family.link_mm for family in spans.families]))
    safe_mm = fixed(np.array([family.safe_mm for family in spans.families]))

    def lay(block: tuple[int, int]) -> None:
        lay_items(
            fixed(layers.xy_mm),
            fixed(layers.ring_off),
            fixed(layers.island_off),
            fixed(layers.layer_off),
            fixed(paths.x_mm),
            fixed(paths.y_mm),
            fixed(paths.width_mm),
            fixed(paths.off),
            fixed(paths.role),
            fixed(paths.closed),
            fixed(spans.span),
            fixed(spans.span_y),
            fixed(spans.next_span),
            role,
            job.frame,
            job.wave,
            link_mm,
            safe_mm,
            fixed(spans.bead_mm),
            float(recipe.retract_over_mm),
            float(recipe.retract_always_over_mm),
            *block,
            items.off,
            items.item,
            items.xy_mm,
            fixed(point_off),
            fixed(layer_xy),
            fixed(travel),
            moves.x_mm,
            moves.y_mm,
            moves.role,
            moves.retract,
            moves.bead_mm,
        )

    map_tasks(lay, job.blocks, workers)
    return moves
