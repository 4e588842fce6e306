"""Sections of a part at heights that catch every change of shape, and the empty space in them."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.edges import label_shells, measure_shells
from buildplan.kernels.gaps import label_gaps, link_planes
from buildplan.kernels.minima import mark_levels
from buildplan.part.model import Part
from buildplan.process.layers.trace import Walk, prepare_walk, trace_rings
from buildplan.process.layers.unite import unite_overlaps

CELL_MOST_MM, CELL_LEAST_MM, CELLS = 0.5, 0.1, 100
"""Height of a cell (two planes): height / CELLS within these. Planes must stand closer than the
thinnest wall is thick, or a slanted wall would seem to leak."""

CELLS_MOST = 800
"""Cells of a tall part; beyond, they grow."""

LEVELS_MOST = 400
"""Heights of changing shape that are honoured; of more, those with the most level ground."""

LEVEL_COSINE = 0.995
"""Facets whose normal leans less than 6 degrees from upright are level: areas jump there."""

LEVEL_STEP_MM = 0.001
"""Levels closer than this are one."""

LINE_LEAST_MM, LINE_MOST_MM, LINES = 0.05, 0.25, 400
"""Distance of the lines: depth / LINES within these."""

OVERLAP_MM = 1e-6
"""Empty regions of neighbouring planes that overlap by less do not meet."""

GAUSS = 0.5 / math.sqrt(3.0)
"""Places of the two Gauss points from the middle of a cell: exact for a cubic area profile."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sections:
    """A part's sections and their empty regions; coordinates as in Layers.

    Region r < n_rings is what hole ring r encloses less the islands in it; region n_rings + k is
    the outside of plane k.

    Attributes:
        origin_mm: (3,) subtracted from the part's coordinates.
        z_mm: (n_planes,) heights, two a cell.
        weight_mm: (n_planes,) height that a plane stands for.
        xy_mm: (n, 2) ring points; ring_off, plane_off as in ring tables.
        pitch_mm: Distance of the lines; line j lies at (first_line + j + 0.5) * pitch_mm.
        gap_off: Gap table, see kernels.gaps; likewise gap_low, gap_high, gap_region.
        pairs: (p, 2) regions of neighbouring planes that meet, ascending by plane.
        pair_plane: (p,) plane of the lower one.
        plane_of: (n_regions,) plane of a region.
        area_mm2: (n_regions,) of hole regions, 0 for others.
        is_region: (n_regions,) whether it is one at all.
    """

    origin_mm: NDArray[np.float64]
    height_mm: float
    z_mm: NDArray[np.float64]
    weight_mm: NDArray[np.float64]
    xy_mm: NDArray[np.float64]
    ring_off: NDArray[np.int64]
    plane_off: NDArray[np.int64]
    ring_box_mm: NDArray[np.float64]
    pitch_mm: float
    first_line: int
    n_lines: int
    gap_off: NDArray[np.int64]
    gap_low: NDArray[np.float64]
    gap_high: NDArray[np.float64]
    gap_region: NDArray[np.int64]
    pairs: NDArray[np.int64]
    pair_plane: NDArray[np.int64]
    plane_of: NDArray[np.int64]
    area_mm2: NDArray[np.float64]
    is_region: NDArray[np.bool_]

    @property
    def n_rings(self) -> int:
        """How many rings there are; regions below this number are holes."""
        return len(self.ring_off) - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Shells:
    """Connected surfaces: number of each facet (m,) and (shells, 8) figures of measure_shells."""

    number: NDArray[np.int32]
    figures: NDArray[np.float64]


def cut_sections(part: Part, *, workers: int = 1) -> tuple[Sections, Shells]:
    """Sections of a part where its volumes can be summed exactly, and its shells.

    Planes lie at the Gauss points of cells. No cell crosses a height at which the section changes
    its shape (a minimum, a maximum, a saddle of the surface) or jumps (a level facet): flat floors
    and roofs fall between cells, and the area within a cell is smooth.
    """
    low, high = part.vertices_mm.min(axis=0), part.vertices_mm.max(axis=0)
    origin = np.array([0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1]), low[2]])
    vertices = part.vertices_mm - origin
    facets = part.facets
    height = float(high[2] - low[2])
    planes, weight = _planes(vertices, facets, height)
    walk = prepare_walk(
        part.name, vertices, np.array(facets, dtype=np.int32).reshape(-1), planes, workers
    )
    shell, shells = label_shells(walk.twin)
    # written to like those of the reader: one kind of argument, one compiled kernel
    figures = measure_shells(vertices, np.array(facets), shell, shells, np.zeros(3))
    xy, ring_off, plane_off, ring_area, ring_box = _rings(part, walk, workers)
    n_rings, n_planes = len(ring_area), len(planes)
    depth = float(high[1] - low[1])
    pitch = min(max(depth / LINES, LINE_LEAST_MM), LINE_MOST_MM)
    first = math.floor(-0.5 * depth / pitch) - 2
    n_lines = 2 * (-first)
    is_hole = ring_area < 0.0
    gap_off, gap_low, gap_high, gap_region, within = label_gaps(
        xy, ring_off, plane_off, is_hole, pitch, float(first), n_lines
    )
    n_regions = n_rings + n_planes
    pairs = link_planes(gap_off, gap_low, gap_high, gap_region, n_regions, n_lines, OVERLAP_MM)
    plane_of = np.concatenate(
        [np.repeat(np.arange(n_planes), np.diff(plane_off)), np.arange(n_planes)]
    )
    area = np.where(is_hole, -ring_area, 0.0)
    stands = within >= 0
    inner = stands & (within < n_rings)
    np.subtract.at(area, within[inner], ring_area[inner])
    sections = Sections(
        origin_mm=origin,
        height_mm=height,
        z_mm=planes,
        weight_mm=weight,
        xy_mm=xy,
        ring_off=ring_off,
        plane_off=plane_off,
        ring_box_mm=ring_box,
        pitch_mm=pitch,
        first_line=first,
        n_lines=n_lines,
        gap_off=gap_off,
        gap_low=gap_low,
        gap_high=gap_high,
        gap_region=gap_region,
        pairs=pairs,
        pair_plane=plane_of[pairs[:, 0]],
        plane_of=plane_of,
        area_mm2=np.concatenate([np.maximum(area, 0.0), np.zeros(n_planes)]),
        is_region=np.concatenate([is_hole, np.ones(n_planes, np.bool_)]),
    )
    return sections, Shells(number=shell, figures=figures)


def _planes(
    vertices: NDArray[np.float64], facets: NDArray[np.int64], height: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Heights of the planes and what each stands for."""
    levels = np.unique(vertices[mark_levels(vertices, facets, LEVEL_COSINE), 2])
    levels = np.concatenate([[0.0], levels, [height]])
    step = max(LEVEL_STEP_MM, 1e-6 * height)
    kept = [0.0]
    for level in levels.tolist():
        if level - kept[-1] > step:
            kept.append(level)
    kept[-1] = height
    if len(kept) > LEVELS_MOST:
        kept = _widest(vertices, facets, np.array(kept), step)
    cell = min(max(height / CELLS, CELL_LEAST_MM), CELL_MOST_MM)
    cell = max(cell, height / CELLS_MOST)
    edges = np.array(kept)
    parts = np.maximum(1, np.ceil(np.diff(edges) / cell - 1e-9)).astype(np.int64)
    size = np.repeat(np.diff(edges) / parts, parts)
    begin = np.cumsum(size) - size
    middle = begin + 0.5 * size
    planes = np.stack([middle - GAUSS * size, middle + GAUSS * size], axis=1).ravel()
    return planes, np.repeat(0.5 * size, 2)


def _widest(
    vertices: NDArray[np.float64],
    facets: NDArray[np.int64],
    levels: NDArray[np.float64],
    step: float,
) -> list[float]:
    """The levels (n,) with the most area in level facets, first and last among them."""
    a, b, c = vertices[facets].transpose(1, 0, 2)
    heights = np.stack([a[:, 2], b[:, 2], c[:, 2]])
    flat = np.ptp(heights, axis=0) <= step
    ax, ay, _ = (b - a)[flat].T
    bx, by, _ = (c - a)[flat].T
    level = np.clip(np.searchsorted(levels, heights[0, flat] + step) - 1, 0, len(levels) - 1)
    ground = np.zeros(len(levels))
    np.add.at(ground, level, np.abs(ax * by - ay * bx))
    ground[[0, -1]] = np.inf
    widest = np.argsort(-ground, kind="stable")[:LEVELS_MOST]
    return [float(levels[index]) for index in np.sort(widest)]


def _rings(
    part: Part, walk: Walk, workers: int
) -> tuple[
    NDArray[np.float64],
    NDArray[np.int64],
    NDArray[np.int64],
    NDArray[np.float64],
    NDArray[np.float64],
]:
    """Rings of every plane, not simplified, one behind the other."""
    traced = trace_rings(walk, 0.0, workers)
    health = part.health
    overlap = health.overlapping_shells or health.self_intersections or not part.closed
    if walk.is_open or overlap or (part.shells > 1 and health.searched != "full"):
        united = np.zeros(len(walk.planes), np.bool_)
        traced = unite_overlaps(walk, traced, 0.0, workers, united)
    counts = traced.figures.ring_count
    plane_off = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    ring = np.repeat(traced.slot_begin - plane_off[:-1], counts) + np.arange(plane_off[-1])
    begin, size = traced.ring_begin[ring], (traced.ring_end - traced.ring_begin)[ring]
    ring_off = np.concatenate([[0], np.cumsum(size)]).astype(np.int64)
    point = np.repeat(begin - ring_off[:-1], size) + np.arange(ring_off[-1])
    xy = np.ascontiguousarray(traced.xy[point])
    # closed like the layers' own arrays: one kind of argument, one compiled kernel
    xy.flags.writeable = False
    ring_off.flags.writeable = False
    return xy, ring_off, plane_off, traced.ring_area[ring], traced.ring_box[ring]
