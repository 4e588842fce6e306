"""From samples that are too thin, or too close to each other, to regions: one for each feature."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.surface import Surface
from buildplan.kernels.halfedges import find_twins
from buildplan.kernels.linking import (
    closest_points,
    grid_groups,
    join_near,
    join_on_facets,
    join_opposed,
    name_sets,
)
from buildplan.kernels.opposed_ball import INSIDE, OUTSIDE

Measure = Literal["thickness", "gap"]
Kind = Literal["sheet", "rod", "blob"]

NEAR_PITCHES = 2.5
"""Samples this many pitches apart belong together: in a strip half a pitch wide they are two apart
on average."""

PAINTED_SHARE = 0.4
"""Share of a facet that must be in a region for the facet to stand for it."""

MOST_CELLS = 2000
"""Cells of the grid of neighbours along one axis, at most."""

LOW_FRAC = 0.05
"""Share of a region's area that is below its low_mm."""

SHEET_SHARE, ROD_SHARE = 0.8, 0.9
"""Share of the normals' moments in one direction that makes a sheet; in two, a rod."""

ROD_WIDTHS, BLOB_WIDTHS = 2.5, 4.0
"""A rod is at most this many widths across; a blob is no larger than that in two directions."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Region:
    """One connected place of a surface, with both of its sides.

    Attributes:
        area_mm2: Of the surface, both sides of a wall together.
        least_mm: Least width found.
        low_mm: Five percent of the area is below this; median_mm likewise for half of it.
        point_mm: Where the least width is.
        box_mm: (x0, y0, z0, x1, y1, z1) around the samples.
        kind: "sheet" (a wall, a slot; also a curved one), "rod" (a pin, a hole) or "blob".
        axis: Unit vector along a rod; else along most of the normals.
        facets: The part's facets of which a good share is in it, ascending, read-only; a large
            facet with a small thin place is left out unless there is no other.
        samples: Rows of the Surface, ascending, read-only.
    """

    area_mm2: float
    least_mm: float
    low_mm: float
    median_mm: float
    point_mm: tuple[float, float, float]
    box_mm: tuple[float, float, float, float, float, float]
    kind: Kind
    axis: tuple[float, float, float]
    facets: NDArray[np.int64]
    samples: NDArray[np.int64]


def link_regions(
    surface: Surface,
    measure: Measure,
    limit_mm: float,
    *,
    chosen: NDArray[np.bool_] | None = None,
    least_area_mm2: float | None = None,
) -> tuple[Region, ...]:
    """Regions whose width is below a limit, the largest first.

    Samples belong together when they are near each other on one side of the surface, on one
    narrow facet, on neighbouring facets that lie wholly below the limit, or where one's ball
    touches the other's side.

    Args:
        surface: Its cap on this side must not be below the limit.
        measure: "thickness" (inside) or "gap" (outside).
        limit_mm: Widths below this belong to regions.
        chosen: (n,) which samples may belong to a region; by itself all.
        least_area_mm2: Smaller regions are noise; by itself limit_mm squared.
    """
    inside = measure == "thickness"
    width = surface.thickness_mm if inside else surface.gap_mm
    below = width < limit_mm
    if chosen is not None:
        below &= chosen
    samples = np.flatnonzero(below)
    if not len(samples):
        return ()
    contact = (surface.thickness_facet if inside else surface.gap_facet)[samples]
    label, count = _label(surface, samples, contact, width[samples], INSIDE if inside else OUTSIDE)
    if least_area_mm2 is None:
        least_area_mm2 = limit_mm * limit_mm
    return _describe(surface, samples, width[samples], label, count, least_area_mm2)


def _label(
    surface: Surface,
    samples: NDArray[np.int64],
    contact: NDArray[np.int64],
    width: NDArray[np.float64],
    side: float,
) -> tuple[NDArray[np.int64], int]:
    """(k,) number of the region of each sample, and how many regions there are."""
    points = surface.points_mm[samples]
    numbers, facet = _runs(surface.facet[samples])
    rows = surface.facets[numbers]
    corners = surface.vertices_mm[rows]
    normals = surface.normals[numbers]
    first = np.searchsorted(facet, np.arange(len(numbers) + 1))
    of_all = np.bincount(surface.facet, minlength=len(surface.facets))
    total = of_all[numbers]
    whole = np.diff(first) == total
    place = np.full(len(surface.facets) + 1, -1, np.int64)
    place[numbers] = np.arange(len(numbers))
    contact = place[contact]
    reach = NEAR_PITCHES * surface.pitch_mm
    low = points.min(axis=0)
    size = points.max(axis=0) - low
    cell = max(reach / math.sqrt(3.0), float(size.max()) / MOST_CELLS)
    counts = (size / cell).astype(np.int64) + 1
    code = grid_groups(points, facet, normals, low, cell, counts)
    order = np.argsort(code, kind="stable")
    group_code, group_first = np.unique(code[order], return_index=True)
    group_off = np.append(group_first, len(order)).astype(np.int64)
    parent = np.arange(len(points))
    used, corner_numbers = np.unique(rows, return_inverse=True)
    twin, _, _ = find_twins(corner_numbers.reshape(-1, 3), len(used))
    join_on_facets(parent, points, corners, first, whole, total, twin, surface.pitch_mm)
    join_near(parent, points, facet, normals, order, group_off, group_code, counts, reach)
    touched = closest_points(corners, normals, facet, contact, points, width, side)
    join_opposed(
        parent,
        points,
        facet,
        contact,
        touched,
        normals,
        first,
        whole,
        order,
        group_off,
        group_code,
        low,
        cell,
        counts,
    )
    return name_sets(parent)


def _runs(facet: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Facet number of each run of equal ones, and (k,) the run of each sample."""
    starts = np.append(True, facet[1:] != facet[:-1])
    return facet[starts], np.cumsum(starts) - 1


def _describe(
    surface: Surface,
    samples: NDArray[np.int64],
    width: NDArray[np.float64],
    label: NDArray[np.int64],
    count: int,
    least_area_mm2: float,
) -> tuple[Region, ...]:
    area = np.bincount(label, surface.weight_mm2[samples], count)
    kept = np.flatnonzero(area >= least_area_mm2)
    kept = kept[np.argsort(-area[kept], kind="stable")]
    by_label = np.lexsort((width, label))
    ends = np.cumsum(np.bincount(label, minlength=count))
    total = np.bincount(surface.facet)
    starts = np.append(0, ends[:-1])
    found = []
    for number in kept.tolist():
        here = by_label[starts[number] : ends[number]]
        found.append(_region(surface, samples[here], width[here], total))
    return tuple(found)


def _region(
    surface: Surface,
    samples: NDArray[np.int64],
    width: NDArray[np.float64],
    total: NDArray[np.int64],
) -> Region:
    """One region from its samples, narrowest first."""
    weight = surface.weight_mm2[samples]
    summed = np.cumsum(weight)
    low, median = (
        float(width[min(len(width) - 1, np.searchsorted(summed, share * summed[-1]))])
        for share in (LOW_FRAC, 0.5)
    )
    points = surface.points_mm[samples]
    normals = surface.normals[surface.facet[samples]]
    kind, axis = _shape(normals, weight / summed[-1], points, median)
    x, y, z = points[0].tolist()
    x0, y0, z0 = points.min(axis=0).tolist()
    x1, y1, z1 = points.max(axis=0).tolist()
    return Region(
        area_mm2=float(summed[-1]),
        least_mm=float(width[0]),
        low_mm=low,
        median_mm=median,
        point_mm=(x, y, z),
        box_mm=(x0, y0, z0, x1, y1, z1),
        kind=kind,
        axis=axis,
        facets=_read_only(np.unique(surface.part_facet[_mostly(surface.facet[samples], total)])),
        samples=_read_only(np.sort(samples)),
    )


def _mostly(facet: NDArray[np.int64], total: NDArray[np.int64]) -> NDArray[np.int64]:
    """Facets of which a good share is in a region, or the one with the greatest share."""
    numbers, count = np.unique(facet, return_counts=True)
    share = count / total[numbers]
    mostly: NDArray[np.int64] = numbers[share >= min(PAINTED_SHARE, share.max())]
    return mostly


def _shape(
    normals: NDArray[np.float64],
    share: NDArray[np.float64],
    points: NDArray[np.float64],
    width_mm: float,
) -> tuple[Kind, tuple[float, float, float]]:
    """Kind and axis from the moments of the normals, sum of share n n', and from the extents.

    A curved sheet, such as a tube's wall, turns its normals like a rod does; but it reaches much
    further than its width in two directions.
    """
    moments, directions = np.linalg.eigh((normals * share[:, None]).T @ normals)
    kind: Kind = "sheet"
    along = directions[:, 2]
    if moments[2] <= SHEET_SHARE:
        extents = np.ptp(points @ directions, axis=0)
        if moments[2] + moments[1] > ROD_SHARE:
            if extents[1:].max() <= ROD_WIDTHS * width_mm:
                kind, along = "rod", directions[:, 0]
        elif np.sort(extents)[1] <= BLOB_WIDTHS * width_mm:
            kind = "blob"
    along = along * (1.0 if along[np.argmax(np.abs(along))] > 0.0 else -1.0)
    x, y, z = along.tolist()
    return kind, (x, y, z)


def _read_only(array: NDArray[np.int64]) -> NDArray[np.int64]:
    array.flags.writeable = False
    return array
