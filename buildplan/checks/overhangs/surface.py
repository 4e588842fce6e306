"""The part's steep facets as regions with borders, and its islands."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.overhangs.limits import Limits
from buildplan.kernels.halfedges import find_twins
from buildplan.kernels.minima import find_minima
from buildplan.kernels.overhangs import BORDER_HELD, find_borders, label_steep
from buildplan.part.model import Part

FLAT_LAYERS = 0.05
"""Faces and edges within so many layers of the platform lie on it."""

ISLAND_LAYERS = 2.0
"""A low place shallower than this is joined to the rest by the next layers (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Steep:
    """Regions of steep facets.

    Attributes:
        vertices_mm: (n, 3) with the lowest at z = 0.
        label: (m,) region of a facet, -1 for none.
        area_mm2: (m,) of every facet.
        down_frac: (m,) downward share of its normal.
        order: Facets of all regions, region by region.
        order_off: (regions + 1,) places in order.
        plan_mm2: (regions,).
        wanted: (regions,) large enough to be looked at.
        edge_off: (regions + 1,) places in edges.
        edges_mm: (k, 4) border edges x0, y0, x1, y1 of the wanted regions, region by region.
        held: (k,) 1 where an edge is held from below.
        contact_mm2: Area that rests flat on the platform.
    """

    vertices_mm: NDArray[np.float64]
    facets: NDArray[np.int64]
    label: NDArray[np.int32]
    area_mm2: NDArray[np.float64]
    down_frac: NDArray[np.float64]
    order: NDArray[np.int64]
    order_off: NDArray[np.int64]
    plan_mm2: NDArray[np.float64]
    wanted: NDArray[np.bool_]
    edge_off: NDArray[np.int64]
    edges_mm: NDArray[np.float64]
    held: NDArray[np.uint8]
    contact_mm2: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Low:
    """A place where solid begins in mid-air.

    Attributes:
        vertex: Its lowest.
        depth_mm: Height from there to where it meets older ground; inf for a loose piece.
        facets: Around it, of its first layers.
    """

    vertex: int
    depth_mm: float
    facets: NDArray[np.int64]


def find_steep(part: Part, limits: Limits) -> Steep:
    """Regions of facets that lean beyond the limit, with their borders."""
    vertices = np.array(part.vertices_mm, np.float64)
    vertices[:, 2] -= vertices[:, 2].min()
    facets = np.array(part.facets, np.int64)
    flat_mm = FLAT_LAYERS * limits.layer_mm
    twin, _, _ = find_twins(facets, len(vertices))
    label, count, area, down = label_steep(vertices, facets, twin, flat_mm, limits.least_down_frac)
    inside = np.flatnonzero(label >= 0)
    order = inside[np.argsort(label[inside], kind="stable")]
    size = np.bincount(label[inside], minlength=count)
    plan: NDArray[np.float64] = np.bincount(
        label[inside], (area * down)[inside], minlength=count
    ).astype(float)
    wanted = plan >= max(limits.least_mm2, 1e-9)
    half, region, state = find_borders(vertices, facets, twin, label, wanted, flat_mm)
    by_region = np.argsort(region, kind="stable")
    half, region, state = half[by_region], region[by_region], state[by_region]
    start = facets[half // 3, half % 3]
    end = facets[half // 3, (half % 3 + 1) % 3]
    below = np.flatnonzero((down > 0.0) & (label < 0))
    resting = below[vertices[facets[below], 2].max(axis=1) <= flat_mm]
    return Steep(
        vertices_mm=vertices,
        facets=facets,
        label=label,
        area_mm2=area,
        down_frac=down,
        order=order,
        order_off=_offsets(size),
        plan_mm2=plan,
        wanted=wanted,
        edge_off=_offsets(np.bincount(region, minlength=count)),
        edges_mm=np.concatenate([vertices[start, :2], vertices[end, :2]], axis=1),
        held=(state == BORDER_HELD).astype(np.uint8),
        contact_mm2=float((area * down)[resting].sum()),
    )


def find_lows(steep: Steep, limits: Limits) -> list[Low]:
    """Islands: lowest places above the platform, looking down, deeper than a layer or two."""
    vertices = steep.vertices_mm
    births, depths, owner = find_minima(
        vertices,
        steep.facets,
        np.argsort(vertices[:, 2], kind="stable"),
        ISLAND_LAYERS * limits.layer_mm,
        FLAT_LAYERS * limits.layer_mm,
        ISLAND_LAYERS * limits.layer_mm,
    )
    free = np.flatnonzero(vertices[births, 2] > limits.layer_mm)
    return [
        Low(
            vertex=int(births[i]),
            depth_mm=float(depths[i]),
            facets=np.flatnonzero(owner == i).astype(np.int64),
        )
        for i in free
    ]


def _offsets(size: NDArray[np.int64]) -> NDArray[np.int64]:
    return np.concatenate([[0], np.cumsum(size)]).astype(np.int64)
