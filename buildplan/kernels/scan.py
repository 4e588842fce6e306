"""Where parallel lines cross rings: every ring set as sorted 1-D spans along real lines.

Line j runs along x' at y' = (first_line + j + 0.5) * pitch in a frame turned by an angle given as
(cosine, sine): x' = cosine x + sine y, y' = cosine y - sine x.

Rings stand in groups (layers or islands): ring r of a group g is one of
group_off[g]:group_off[g + 1], its points are xy[ring_off[r]:ring_off[r + 1]].

A span table is (line_off, cross): the sorted crossings of line j in group g stand at
cross[line_off[g * n_lines + j]:line_off[g * n_lines + j + 1]]; they come in pairs (from, to), so
their number is even. `kernels.spans` works on such tables.
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel


@kernel
def frame_extent(xy: NDArray[np.float64], cosine: float, sine: float) -> tuple[float, float]:
    """Least and greatest y' of points (n, 2) in the turned frame; (0, 0) where there are none."""
    if len(xy) == 0:
        return 0.0, 0.0
    low = 1e300
    high = -1e300
    for i in range(len(xy)):
        y = cosine * xy[i, 1] - sine * xy[i, 0]
        low = min(low, y)
        high = max(high, y)
    return low, high


@kernel
def count_crossings(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    group_off: NDArray[np.int64],
    groups: NDArray[np.int64],
    cosine: float,
    sine: float,
    pitch: float,
    first_line: float,
    n_lines: int,
    line_over: NDArray[np.int32],
) -> NDArray[np.int64]:
    """Offsets (n_groups * n_lines + 1,) of the crossings of every line; lists only `groups`.

    Fills line_over (n,) with the first line that is not below a point (points of `groups` only).
    """
    line_off = np.zeros((len(group_off) - 1) * n_lines + 1, np.int64)
    per_mm = 1.0 / pitch
    for index in range(len(groups)):
        group = groups[index]
        base = group * n_lines + 1
        for ring in range(group_off[group], group_off[group + 1]):
            start = ring_off[ring]
            end = ring_off[ring + 1]
            if end <= start:
                continue
            for q in range(start, end):
                line_over[q] = math.ceil(
                    (cosine * xy[q, 1] - sine * xy[q, 0]) * per_mm - 0.5 - first_line
                )
            below = line_over[end - 1]
            for q in range(start, end):
                above = line_over[q]
                if above == below:
                    continue
                line = max(0, min(below, above))
                last = min(n_lines, max(below, above))
                while line < last:
                    line_off[base + line] += 1
                    line += 1
                below = above
    for i in range(len(line_off) - 1):
        line_off[i + 1] += line_off[i]
    return line_off


@kernel
def scan_lines(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    group_off: NDArray[np.int64],
    groups: NDArray[np.int64],
    cosine: float,
    sine: float,
    pitch: float,
    first_line: float,
    n_lines: int,
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Sorted crossings of rings that do not overlap (even-odd), as a span table.

    A line crosses an edge where one end is below it and the other is on or above it, so every ring
    is crossed an even number of times by every line.

    Args:
        xy: (n, 2) ring points.
        ring_off: (n_rings + 1,) points of a ring.
        group_off: (n_groups + 1,) rings of a group.
        groups: The groups to scan; the others stay empty.
        cosine: Of the frame's angle.
        sine: Of the frame's angle.
        pitch: Distance of neighbouring lines.
        first_line: Index of line 0, a float (a fraction shifts the grid).
        n_lines: Lines per group.

    Returns:
        line_off (n_groups * n_lines + 1,) and cross (line_off[-1],).
    """
    line_over = np.empty(len(xy), np.int32)
    line_off = count_crossings(
        xy, ring_off, group_off, groups, cosine, sine, pitch, first_line, n_lines, line_over
    )
    cross = np.empty(line_off[-1], np.float64)
    place = line_off[:-1].copy()
    per_mm = 1.0 / pitch
    for index in range(len(groups)):
        group = groups[index]
        base = group * n_lines
        for ring in range(group_off[group], group_off[group + 1]):
            start = ring_off[ring]
            end = ring_off[ring + 1]
            if end <= start:
                continue
            z = end - 1
            for q in range(start, end):
                below = line_over[z]
                above = line_over[q]
                line = max(0, min(below, above))
                last = min(n_lines, max(below, above))
                if line < last:
                    x_before = cosine * xy[z, 0] + sine * xy[z, 1]
                    before = (cosine * xy[z, 1] - sine * xy[z, 0]) * per_mm - 0.5 - first_line
                    x_here = cosine * xy[q, 0] + sine * xy[q, 1]
                    here = (cosine * xy[q, 1] - sine * xy[q, 0]) * per_mm - 0.5 - first_line
                    slope = (x_here - x_before) / (here - before)
                    while line < last:
                        value = x_before + (line - before) * slope
                        slot = base + line
                        t = place[slot]
                        first = line_off[slot]
                        while t > first and cross[t - 1] > value:
                            cross[t] = cross[t - 1]
                            t -= 1
                        cross[t] = value
                        place[slot] += 1
                        line += 1
                z = q
    return line_off, cross


@kernel
def scan_lines_wound(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    group_off: NDArray[np.int64],
    groups: NDArray[np.int64],
    cosine: float,
    sine: float,
    pitch: float,
    first_line: float,
    n_lines: int,
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Spans where oriented rings wind round a line's points more than zero times.

    As `scan_lines`, but rings may overlap: outer rings run counter-clockwise, holes clockwise, and
    what any of them covers counts once. Spans that touch are joined.
    """
    line_over = np.empty(len(xy), np.int32)
    raw_off = count_crossings(
        xy, ring_off, group_off, groups, cosine, sine, pitch, first_line, n_lines, line_over
    )
    cross = np.empty(raw_off[-1], np.float64)
    enter = np.empty(raw_off[-1], np.int8)
    place = raw_off[:-1].copy()
    per_mm = 1.0 / pitch
    for index in range(len(groups)):
        group = groups[index]
        base = group * n_lines
        for ring in range(group_off[group], group_off[group + 1]):
            start = ring_off[ring]
            end = ring_off[ring + 1]
            if end <= start:
                continue
            x_before = cosine * xy[end - 1, 0] + sine * xy[end - 1, 1]
            before = (cosine * xy[end - 1, 1] - sine * xy[end - 1, 0]) * per_mm - 0.5 - first_line
            below = math.ceil(before)
            for q in range(start, end):
                x_here = cosine * xy[q, 0] + sine * xy[q, 1]
                here = (cosine * xy[q, 1] - sine * xy[q, 0]) * per_mm - 0.5 - first_line
                above = math.ceil(here)
                line = max(0, min(below, above))
                last = min(n_lines, max(below, above))
                if line < last:
                    slope = (x_here - x_before) / (here - before)
                    way = np.int8(1 if here < before else -1)
                    while line < last:
                        value = x_before + (line - before) * slope
                        slot = base + line
                        t = place[slot]
                        first = raw_off[slot]
                        while t > first and (
                            cross[t - 1] > value or (cross[t - 1] == value and enter[t - 1] < way)
                        ):
                            cross[t] = cross[t - 1]
                            enter[t] = enter[t - 1]
                            t -= 1
                        cross[t] = value
                        enter[t] = way
                        place[slot] += 1
                        line += 1
                before = here
                below = above
                x_before = x_here
    line_off = np.zeros_like(raw_off)
    kept = 0
    for slot in range(len(raw_off) - 1):
        winding = 0
        for q in range(raw_off[slot], raw_off[slot + 1]):
            was = winding
            winding += enter[q]
            if (was > 0) != (winding > 0):
                cross[kept] = cross[q]
                kept += 1
        line_off[slot + 1] = kept
    return line_off, cross[:kept].copy()
