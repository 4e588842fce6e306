"""plan_walls: Layers -> Walls."""

import hashlib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.kernels import bead_paths
from buildplan.process.layers import Layers
from buildplan.process.walls.fallback import IslandBeads, lay_with_polygons
from buildplan.process.walls.model import Walls
from buildplan.tables.recipe import ExtrusionRecipe

DENSE_BEADS = 9
"""Beads across the widest slit that "dense" fills with beads (our choice; 4.3 mm at 0.45 mm)."""

CELL_BEADS = 4.5
"""Side of the search grid's cells in beads (measured: 3 to 6 are equally fast)."""


SLABS_A_THREAD = 4
"""Slabs that each thread gets in turn (a matter of speed only)."""


def most_beads_across(recipe: ExtrusionRecipe) -> int:
    """Beads across the widest wall that is laid as beads only."""
    usual = 2 * recipe.wall_beads + 1
    return usual if recipe.slit_fill == "sparse" else max(DENSE_BEADS, usual)


def slit_mm(recipe: ExtrusionRecipe) -> float:
    """Width between the wall beads below which "dense" would lay beads instead of infill."""
    widest = max(DENSE_BEADS, most_beads_across(recipe)) + 0.5
    return (widest - 2 * recipe.wall_beads) * float(recipe.bead_mm)


def plan_walls(
    layers: Layers, recipe: ExtrusionRecipe, *, workers: int = 1, plain: bool = True
) -> Walls:
    """Beads along every outline by local thickness, and the border of what is left to fill.

    Args:
        layers: Sections of the part.
        recipe: bead_mm, wall_beads and slit_fill are used.
        workers: Threads; the numbers do not depend on it.
        plain: Whether islands that are proved to have no thin wall take the short way; the
            result is the same without it, only later (tests hold that).

    Raises:
        InputError: If bead_mm or wall_beads is impossible.
    """
    if not recipe.bead_mm > 0.0 or recipe.wall_beads < 1 or workers < 1:
        raise InputError(
            f"walls need bead_mm > 0, wall_beads >= 1 and workers >= 1, found "
            f"{recipe.bead_mm:g} mm, {recipe.wall_beads} and {workers}; correct the recipe"
        )
    slabs = _slabs(layers, workers)
    most = most_beads_across(recipe)

    def lay(slab: tuple[int, int]) -> list[_Slab]:
        fast = _lay_slab(layers, recipe, slab, most, plain)
        return _with_fallback(layers, recipe, fast, slab[0], most)

    if workers == 1:
        parts = lay(slabs[0])
    else:
        with ThreadPoolExecutor(workers) as pool:
            parts = [part for some in pool.map(lay, slabs) for part in some]
    return _finish(layers, recipe, parts[0] if len(parts) == 1 else _join(parts))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Slab:
    """What lay_walls returns for a slab of islands."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    width: NDArray[np.float64]
    path_off: NDArray[np.int64]
    path_role: NDArray[np.uint8]
    path_closed: NDArray[np.uint8]
    paths_of: NDArray[np.int64]
    border: NDArray[np.float64]
    border_ring_off: NDArray[np.int64]
    border_rings_of: NDArray[np.int64]
    numbers: NDArray[np.float64]
    fallback: NDArray[np.int8]


def _slabs(layers: Layers, workers: int) -> list[tuple[int, int]]:
    """Islands of contiguous slabs of whole layers with about equally many vertices.

    Islands of as many vertices may take three times as long as others, so there are more slabs
    than threads.
    """
    islands = len(layers.island_off) - 1
    count = 1 if workers == 1 else SLABS_A_THREAD * workers
    if workers == 1 or islands < 2 * count:
        return [(0, islands)]
    vertices = layers.ring_off[layers.island_off[layers.layer_off]]
    wanted = vertices[-1] * np.arange(1, count) / count
    cuts = layers.layer_off[np.searchsorted(vertices, wanted)]
    edges = np.unique(np.concatenate([[0], cuts, [islands]])).tolist()
    return list(pairwise(edges))


def _lay_slab(
    layers: Layers, recipe: ExtrusionRecipe, slab: tuple[int, int], most: int, plain: bool
) -> _Slab:
    found = bead_paths.lay_walls(
        layers.xy_mm,
        layers.ring_off,
        layers.island_off,
        slab[0],
        slab[1],
        float(recipe.bead_mm),
        int(recipe.wall_beads),
        most,
        slit_mm(recipe),
        CELL_BEADS * recipe.bead_mm,
        plain,
    )
    x, y, width, path_off, role, closed, paths_of, border, ring_off, rings_of, numbers, bad = found
    return _Slab(
        x=x, y=y, width=width, path_off=path_off, path_role=role, path_closed=closed,
        paths_of=paths_of, border=border, border_ring_off=ring_off, border_rings_of=rings_of,
        numbers=numbers, fallback=bad,
    )  # fmt: skip


def _offsets(parts: list[NDArray[np.int64]]) -> NDArray[np.int64]:
    """Join offset arrays end to end."""
    counts = [np.diff(part) for part in parts]
    return np.concatenate([[0], np.cumsum(np.concatenate(counts))]).astype(np.int64)


def _join(parts: list[_Slab]) -> _Slab:
    def all_of(name: str) -> list[NDArray[np.float64]]:
        return [getattr(part, name) for part in parts]

    return _Slab(
        x=np.concatenate(all_of("x")),
        y=np.concatenate(all_of("y")),
        width=np.concatenate(all_of("width")),
        path_off=_offsets([part.path_off for part in parts]),
        path_role=np.concatenate([part.path_role for part in parts]),
        path_closed=np.concatenate([part.path_closed for part in parts]),
        paths_of=np.concatenate([part.paths_of for part in parts]),
        border=np.concatenate(all_of("border")),
        border_ring_off=_offsets([part.border_ring_off for part in parts]),
        border_rings_of=np.concatenate([part.border_rings_of for part in parts]),
        numbers=np.concatenate(all_of("numbers")),
        fallback=np.concatenate([part.fallback for part in parts]),
    )


def _with_fallback(
    layers: Layers, recipe: ExtrusionRecipe, fast: _Slab, first_island: int, most: int
) -> list[_Slab]:
    """A slab in pieces, with the polygon library's beads of the refused islands between them."""
    bad = np.flatnonzero(fast.fallback)
    if len(bad) == 0:
        return [fast]
    path_at = np.concatenate([[0], np.cumsum(fast.paths_of)])
    ring_at = np.concatenate([[0], np.cumsum(fast.border_rings_of)])
    pieces: list[_Slab] = []
    done = 0
    for island in bad.tolist():
        if island > done:
            pieces.append(_cut(fast, done, island, path_at, ring_at))
        beads = _lay_alone(layers, recipe, first_island + island, most)
        pieces.append(_as_slab(beads, int(fast.fallback[island])))
        done = island + 1
    if done < len(fast.fallback):
        pieces.append(_cut(fast, done, len(fast.fallback), path_at, ring_at))
    return pieces


def _lay_alone(layers: Layers, recipe: ExtrusionRecipe, island: int, most: int) -> IslandBeads:
    """Beads of one island by the polygon library."""
    first, last = layers.island_off[island], layers.island_off[island + 1]
    rings = [
        layers.xy_mm[layers.ring_off[ring] : layers.ring_off[ring + 1]]
        for ring in range(first, last)
    ]
    return lay_with_polygons(rings, recipe.bead_mm, recipe.wall_beads, most)


def _cut(
    fast: _Slab,
    first: int,
    last: int,
    path_at: NDArray[np.int64],
    ring_at: NDArray[np.int64],
) -> _Slab:
    """The islands first .. last - 1 of a slab."""
    paths = slice(path_at[first], path_at[last])
    path_off = fast.path_off[path_at[first] : path_at[last] + 1]
    ring_off = fast.border_ring_off[ring_at[first] : ring_at[last] + 1]
    points = slice(path_off[0], path_off[-1])
    return _Slab(
        x=fast.x[points],
        y=fast.y[points],
        width=fast.width[points],
        path_off=path_off,
        path_role=fast.path_role[paths],
        path_closed=fast.path_closed[paths],
        paths_of=fast.paths_of[first:last],
        border=fast.border[ring_off[0] : ring_off[-1]],
        border_ring_off=ring_off,
        border_rings_of=fast.border_rings_of[first:last],
        numbers=fast.numbers[first:last],
        fallback=fast.fallback[first:last],
    )


def _as_slab(beads: IslandBeads, reason: int) -> _Slab:
    xy = np.concatenate([np.empty((0, 2)), *[path.xy_mm for path in beads.paths]])
    lengths = [len(path.xy_mm) for path in beads.paths]
    ring_lengths = [len(ring) for ring in beads.border]
    return _Slab(
        x=xy[:, 0],
        y=xy[:, 1],
        width=np.concatenate([np.empty(0), *[path.width_mm for path in beads.paths]]),
        path_off=np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64),
        path_role=np.array([path.role for path in beads.paths], np.uint8),
        path_closed=np.array([path.closed for path in beads.paths], np.uint8),
        paths_of=np.array([len(lengths)], np.int64),
        border=np.concatenate([np.empty((0, 2)), *beads.border]),
        border_ring_off=np.concatenate([[0], np.cumsum(ring_lengths)]).astype(np.int64),
        border_rings_of=np.array([len(ring_lengths)], np.int64),
        numbers=np.array([[beads.wall_area_mm2, beads.border_area_mm2, beads.thin_mm, 0.0]]),
        fallback=np.array([reason], np.int8),
    )


def _finish(layers: Layers, recipe: ExtrusionRecipe, laid: _Slab) -> Walls:
    def fixed(values: NDArray[np.float64]) -> NDArray[np.float64]:
        values = np.ascontiguousarray(values)
        values.flags.writeable = False
        return values

    def fixed_off(counts: NDArray[np.int64]) -> NDArray[np.int64]:
        off = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
        off.flags.writeable = False
        return off

    words = f"{layers.key} {recipe.bead_mm!r} {recipe.wall_beads} {recipe.slit_fill}"
    for flags in (laid.path_off, laid.path_role, laid.path_closed, laid.border_ring_off):
        flags.flags.writeable = False
    laid.fallback.flags.writeable = False
    return Walls(
        key=hashlib.sha256(words.encode()).hexdigest(),
        bead_mm=recipe.bead_mm,
        wall_beads=recipe.wall_beads,
        x_mm=fixed(laid.x),
        y_mm=fixed(laid.y),
        width_mm=fixed(laid.width),
        path_off=laid.path_off,
        path_role=laid.path_role,
        path_closed=laid.path_closed,
        island_path_off=fixed_off(laid.paths_of),
        border_xy_mm=fixed(laid.border),
        border_ring_off=laid.border_ring_off,
        border_island_off=fixed_off(laid.border_rings_of),
        wall_area_mm2=fixed(laid.numbers[:, 0].copy()),
        border_area_mm2=fixed(laid.numbers[:, 1].copy()),
        fallback=laid.fallback,
        thin_mm=fixed(laid.numbers[:, 2].copy()),
        slit_mm2=fixed(laid.numbers[:, 3].copy()),
    )
