"""Thin pieces of sections: what is left of a layer where a bead does not fit."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildplan.process.layers import Layers

REGROWN = 1.5
"""The shrunken section grows back by so much more than it shrank: without it every corner of 90
degrees would leave a crumb (a corner of a square stands sqrt(2) radii off its ball's centre)."""

SLACK = 0.002
"""A wall of exactly one bead fits, in spite of rounding and of the section's simplification."""

CRUMB_BEADS2 = 1.0
"""Pieces of less area than this, in squared beads, are tips of corners unless nothing else of the
island is left (ours)."""

ARC_STEPS = 6
"""Corners of a quarter circle; its chords lie within 0.9 % of the radius."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """Thin polygons, one row each.

    Attributes:
        level: Number of the run of equal sections it stands in; first and last are its layers.
        whole: Whether nothing else of its island is left.
    """

    shape: NDArray[Any]
    area_mm2: NDArray[np.float64]
    width_mm: NDArray[np.float64]
    length_mm: NDArray[np.float64]
    level: NDArray[np.int64]
    first: NDArray[np.int64]
    last: NDArray[np.int64]
    whole: NDArray[np.bool_]


def _runs(layers: Layers) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First and last layer of every run of layers whose sections are the same bytes."""
    count = len(layers.z_mm)
    ring_at = layers.island_off[layers.layer_off]
    point_at = layers.ring_off[ring_at]
    sizes = np.diff(layers.ring_off)
    new = np.ones(count, np.bool_)
    for k in range(1, count):
        a, b, c = point_at[k - 1 : k + 2]
        r, s, t = ring_at[k - 1 : k + 2]
        new[k] = not (
            b - a == c - b
            and np.array_equal(sizes[r:s], sizes[s:t])
            and np.array_equal(layers.xy_mm[a:b], layers.xy_mm[b:c])
        )
    first = np.flatnonzero(new)
    return first, np.append(first[1:], count) - 1


def _island_shapes(layers: Layers, islands: NDArray[np.int64]) -> NDArray[Any]:
    """Polygons of some islands, each of its outer ring and its holes."""
    import shapely

    rings_of = np.diff(layers.island_off)[islands]
    start = np.repeat(layers.island_off[islands] - np.cumsum(rings_of) + rings_of, rings_of)
    rings = start + np.arange(rings_of.sum())
    points_of = np.diff(layers.ring_off)[rings]
    keep = points_of >= 3
    owner = np.repeat(np.arange(len(islands)), rings_of)[keep]
    rings, points_of = rings[keep], points_of[keep]
    start = np.repeat(layers.ring_off[rings] - np.cumsum(points_of) + points_of, points_of)
    xy = layers.xy_mm[start + np.arange(points_of.sum())]
    lines = shapely.linearrings(xy, indices=np.repeat(np.arange(len(rings)), points_of))
    shapes: NDArray[Any] = shapely.polygons(lines, indices=owner)
    return shapes


def _open(shapes: NDArray[Any], bead_mm: float) -> tuple[NDArray[Any], NDArray[np.int64]]:
    """What a bead cannot fill of every polygon that is not filled, and which polygon that is."""
    import shapely

    radius = 0.5 * bead_mm * (1.0 - SLACK)
    with np.errstate(all="ignore"):  # a corner of no area divides by zero inside the library
        core = shapely.buffer(shapes, -radius, quad_segs=ARC_STEPS)
        grown = shapely.buffer(core, REGROWN * radius, quad_segs=ARC_STEPS)
        shapely.prepare(grown)
        left = np.flatnonzero(~shapely.covers(grown, shapes))
        broken = left[~shapely.is_valid(shapes[left])]
        shapes[broken] = shapely.make_valid(shapes[broken])
        thin = shapely.difference(shapes[left], grown[left])
    return thin, left


def find_pieces(
    layers: Layers, doubtful: NDArray[np.bool_], bead_mm: float, workers: int
) -> Pieces:
    """Thin pieces of the islands in doubt, of one layer of every run of equal ones."""
    import shapely

    first, last = _runs(layers)
    counts = np.diff(layers.layer_off)[first]
    level = np.repeat(np.arange(len(first)), counts)
    start = np.repeat(layers.layer_off[first] - np.cumsum(counts) + counts, counts)
    islands = start + np.arange(counts.sum())
    level, islands = level[doubtful[islands]], islands[doubtful[islands]]
    shapes = _island_shapes(layers, islands)
    cuts = np.linspace(0, len(shapes), max(1, workers) + 1).astype(np.int64)
    slabs = [shapes[a:b] for a, b in pairwise(cuts.tolist())]
    if workers > 1:
        with ThreadPoolExecutor(workers) as pool:
            opened = list(pool.map(lambda slab: _open(slab, bead_mm), slabs))
    else:
        opened = [_open(slab, bead_mm) for slab in slabs]
    thin = np.concatenate([shape for shape, _ in opened])
    owner = np.concatenate([at + cut for (_, at), cut in zip(opened, cuts[:-1], strict=True)])
    parts, at = shapely.get_parts(thin, return_index=True)
    flat = shapely.get_dimensions(parts) == 2
    parts, owner = parts[flat], owner[at[flat]]
    area = shapely.area(parts)
    whole = area > 0.98 * shapely.area(shapes[owner])
    keep = (area >= CRUMB_BEADS2 * bead_mm**2) | whole
    parts, owner, area = parts[keep], owner[keep], area[keep]
    width, length = _strip(area, shapely.length(parts), shapely.get_num_interior_rings(parts))
    return Pieces(
        shape=parts,
        area_mm2=area,
        width_mm=width,
        length_mm=length,
        level=level[owner],
        first=first[level[owner]],
        last=last[level[owner]],
        whole=whole[keep],
    )


def _strip(
    area: NDArray[np.float64], outline: NDArray[np.float64], holes: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Width and length of the strip with an area A and an outline O.

    A strip: A = w l, O = 2 (w + l), so w = (O - sqrt(O^2 - 16 A)) / 4, and for a compact piece
    (O^2 < 16 A) w = O / 4, cut to 4 A / O. A ring: A = w l, O = 2 l, so w = 2 A / O.
    """
    inner = outline**2 - 16.0 * area
    width = np.where(inner > 0.0, 0.25 * (outline - np.sqrt(np.maximum(inner, 0.0))), np.inf)
    width = np.minimum(width, 4.0 * area / outline)
    width = np.where(holes > 0, 2.0 * area / outline, width)
    return width, area / width
