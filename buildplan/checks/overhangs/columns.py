"""The space under what needs support: rays from the overhang straight down."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.overhangs.model import OverhangRegion
from buildplan.checks.overhangs.surface import Steep
from buildplan.kernels.facet_tree import build_facet_tree
from buildplan.kernels.first_hit import first_hits

RAY_PITCH_MM = 1.0
"""One ray for each square of this side, at least one a facet (ours)."""

MOST_RAYS = 60_000
"""With more, the pitch is widened (ours)."""

STEP_FIRST = 0.754_877_666_246_693
STEP_SECOND = 0.569_840_290_998_053
"""Powers -1 and -2 of the real root of x^3 = x + 1: points that fill a square evenly.

Source: Roberts, M. (2018), The unreasonable effectiveness of quasirandom sequences (web article).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Plan area carried, the space below it, and the plan area of what ends on the part."""

    carried_mm2: float
    support_mm3: float
    on_part_mm2: float


def measure_columns(steep: Steep, regions: tuple[OverhangRegion, ...]) -> Columns:
    """Columns under the regions that need support, straight down to the platform or the part.

    Where all rays of a facet reach the platform its column is exact: plan area * mean height. The
    post under a pointed tip, whose facets do not lean too far, counts for nothing.
    """
    needing = [region.facets for region in regions if region.needs_support]
    if len(needing) == 0:
        return Columns(carried_mm2=0.0, support_mm3=0.0, on_part_mm2=0.0)
    facets = np.unique(np.concatenate(needing))
    facets = facets[steep.label[facets] >= 0]
    if len(facets) == 0:
        return Columns(carried_mm2=0.0, support_mm3=0.0, on_part_mm2=0.0)
    plan = steep.area_mm2[facets] * steep.down_frac[facets]
    corners = steep.vertices_mm[steep.facets[facets]]
    rays = _count_rays(plan)
    starts = _spread(corners, rays)
    row = np.repeat(np.arange(len(facets)), rays)
    drop = _drop(steep, starts)
    lands = np.isfinite(drop)
    ground = np.where(lands, starts[:, 2] - drop, 0.0)
    share = (plan / rays)[row]
    height = corners[:, :, 2].mean(axis=1)
    below = float((share * ground)[lands].sum())
    return Columns(
        carried_mm2=float(plan.sum()),
        support_mm3=float((plan * height).sum()) - below,
        on_part_mm2=float(share[lands].sum()),
    )


def _count_rays(plan: NDArray[np.float64]) -> NDArray[np.int64]:
    pitch = max(RAY_PITCH_MM, (float(plan.sum()) / MOST_RAYS) ** 0.5)
    rays: NDArray[np.int64] = np.ceil(plan / pitch**2).astype(np.int64)
    return rays


def _spread(corners: NDArray[np.float64], rays: NDArray[np.int64]) -> NDArray[np.float64]:
    """Points spread evenly over every facet: (sum of rays, 3)."""
    row = np.repeat(np.arange(len(rays)), rays)
    number = np.arange(len(row)) - np.repeat(np.cumsum(rays) - rays, rays)
    first = (0.5 + STEP_FIRST * number) % 1.0
    second = (0.5 + STEP_SECOND * number) % 1.0
    folds = first + second > 1.0
    first, second = np.where(folds, 1 - first, first), np.where(folds, 1 - second, second)
    alone = rays[row] == 1
    first[alone] = second[alone] = 1.0 / 3.0
    a, b, c = corners[row, 0], corners[row, 1], corners[row, 2]
    points: NDArray[np.float64] = a + first[:, None] * (b - a) + second[:, None] * (c - a)
    return points


def _drop(steep: Steep, starts: NDArray[np.float64]) -> NDArray[np.float64]:
    """Depth from each point straight down to the next surface that looks up, inf for none."""
    low, high = starts.min(axis=0), starts.max(axis=0)
    facets = steep.facets[steep.down_frac < -1e-9]
    near = np.ones(len(facets), np.bool_)
    for axis in range(2):
        a, b, c = (steep.vertices_mm[facets[:, corner], axis] for corner in range(3))
        near &= np.minimum(np.minimum(a, b), c) <= high[axis]
        near &= np.maximum(np.maximum(a, b), c) >= low[axis]
    if not near.any():
        return np.full(len(starts), np.inf)
    corners = np.ascontiguousarray(steep.vertices_mm[facets[near]])
    _, sorted_corners, boxes, leaves = build_facet_tree(corners)
    down = np.zeros((len(starts), 3))
    down[:, 2] = -1.0
    order = np.lexsort((starts[:, 0], np.floor(starts[:, 1])))
    depth = np.empty(len(starts))
    depth[order] = first_hits(
        sorted_corners, boxes, leaves, starts[order], down, 0.0, float(high[2]) + 1.0
    )
    return depth
