"""Every direction weighed over all facets of a part."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.orientations import TILE, reach_along, weigh_axes
from buildplan.part.model import Part

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What each direction as "up" gives, (k,) each but up (k, 3).

    Attributes:
        lowest_mm: Least v . up over all vertices.
        overhang_mm2: Area of the facets that lean beyond the limit and lie on no platform.
        column_mm3: Space under them down to the platform, whatever stands in between.
        contact_mm2: Area of the facets that lie on the platform.
        plan_mm2: sum(A |n . up|) over all facets.
    """

    up: Numbers
    lowest_mm: Numbers
    height_mm: Numbers
    overhang_mm2: Numbers
    column_mm3: Numbers
    contact_mm2: Numbers
    plan_mm2: Numbers


def weigh_directions(
    part: Part,
    table: Numbers,
    axes: Numbers,
    *,
    limit: float,
    contact_height_mm: float,
    workers: int = 1,
) -> Weighed:
    """All facets against every axis and its opposite; rows 2 i and 2 i + 1 are axis i up and down.

    The result does not depend on ``workers``: each axis is summed over the facets in their order.

    Args:
        part: The part.
        table: (7, m) of kernels.orientations.facet_table.
        axes: (k, 3) unit vectors.
        limit: Sine of the lean from the vertical that holds.
        contact_height_mm: Facets whose middle is lower than this lie on the platform.
        workers: Threads; each takes slabs of axes.
    """

    def weigh(first: int) -> tuple[Numbers, Numbers]:
        end = min(first + TILE, len(axes))
        reach = reach_along(part.vertices_mm, axes, first, end)
        return reach, weigh_axes(table, axes, reach, first, end, limit, contact_height_mm)

    slabs = range(0, len(axes), TILE)
    if workers <= 1:
        found = [weigh(first) for first in slabs]
    else:
        with ThreadPoolExecutor(workers) as pool:
            found = list(pool.map(weigh, slabs))
    low, high = np.concatenate([reach for reach, _ in found], axis=1)
    sums = np.concatenate([sums for _, sums in found], axis=1)
    return Weighed(
        up=_both(axes, -axes),
        lowest_mm=_both(low, -high),
        height_mm=_both(high - low, high - low),
        overhang_mm2=_both(sums[0], sums[3]),
        column_mm3=_both(sums[1], sums[4]),
        contact_mm2=_both(sums[2], sums[5]),
        plan_mm2=_both(sums[6], sums[6]),
    )


def _both(up: Numbers, down: Numbers) -> Numbers:
    """Rows of two arrays in turn."""
    both: Numbers = np.stack([up, down], axis=1).reshape(2 * len(up), *up.shape[1:])
    return both
