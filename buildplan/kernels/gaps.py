"""The empty space of sections: gaps between crossings on parallel lines, labelled and linked.

A plane holds rings that do not overlap, outer rings counter-clockwise and holes clockwise. Its
empty regions are the outside and every hole less the islands that stand in it. Region r < n_rings
is what hole ring r encloses, region n_rings + k is the outside of plane k.

Line j of a plane runs along x at y = (first_line + j + 0.5) * pitch. A gap table is (gap_off, low,
high, region): the gaps of line j in plane k, from left to right, stand at
gap_off[k * n_lines + j]:gap_off[k * n_lines + j + 1]; the first begins at -FAR, the last ends at
FAR.
"""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel
from buildplan.kernels.scan import count_crossings

FAR = 1e30


@kernel
def label_gaps(
    xy: NDArray[np.float64],
    ring_off: NDArray[np.int64],
    plane_off: NDArray[np.int64],
    is_hole: NDArray[np.bool_],
    pitch: float,
    first_line: float,
    n_lines: int,
) -> tuple[
    NDArray[np.int64],
    NDArray[np.float64],
    NDArray[np.float64],
    NDArray[np.int64],
    NDArray[np.int64],
]:
    """Gap table of rings (n_planes planes), and (n_rings,) the region an outer ring stands in.

    The region of a ring that is a hole, or that no line meets, is -1.

    Args:
        xy: (n, 2) ring points.
        ring_off: (n_rings + 1,) points of a ring.
        plane_off: (n_planes + 1,) rings of a plane.
        is_hole: (n_rings,).
        pitch: Distance of the lines.
        first_line: Index of line 0.
        n_lines: Lines of a plane.
    """
    n_rings = len(ring_off) - 1
    n_planes = len(plane_off) - 1
    line_over = np.empty(len(xy), np.int32)
    cross_off = count_crossings(
        xy,
        ring_off,
        plane_off,
        np.arange(n_planes),
        1.0,
        0.0,
        pitch,
        first_line,
        n_lines,
        line_over,
    )
    cross = np.empty(cross_off[-1])
    cross_ring = np.empty(cross_off[-1], np.int64)
    place = cross_off[:-1].copy()
    for plane in range(n_planes):
        for ring in range(plane_off[plane], plane_off[plane + 1]):
            before = ring_off[ring + 1] - 1
            for here in range(ring_off[ring], ring_off[ring + 1]):
                below = line_over[before]
                above = line_over[here]
                line = max(0, min(below, above))
                last = min(n_lines, max(below, above))
                while line < last:
                    y = (first_line + line + 0.5) * pitch
                    share = (y - xy[before, 1]) / (xy[here, 1] - xy[before, 1])
                    value = xy[before, 0] + share * (xy[here, 0] - xy[before, 0])
                    slot = plane * n_lines + line
                    t = place[slot]
                    while t > cross_off[slot] and cross[t - 1] > value:
                        cross[t] = cross[t - 1]
                        cross_ring[t] = cross_ring[t - 1]
                        t -= 1
                    cross[t] = value
                    cross_ring[t] = ring
                    place[slot] += 1
                    line += 1
                before = here
    n_slots = n_planes * n_lines
    gap_off = np.zeros(n_slots + 1, np.int64)
    room = cross_off[-1] // 2 + n_slots
    low = np.empty(room)
    high = np.empty(room)
    region = np.empty(room, np.int64)
    within = np.full(n_rings, -1, np.int64)
    made = 0
    for slot in range(n_slots):
        now = n_rings + slot // n_lines
        start = -FAR
        for t in range(cross_off[slot], cross_off[slot + 1], 2):
            low[made] = start
            high[made] = cross[t]
            region[made] = now
            made += 1
            if not is_hole[cross_ring[t]]:
                within[cross_ring[t]] = now
            left = cross_ring[t + 1]
            if is_hole[left]:
                now = left
            elif within[left] >= 0:
                now = within[left]
            start = cross[t + 1]
        low[made] = start
        high[made] = FAR
        region[made] = now
        made += 1
        gap_off[slot + 1] = made
    return gap_off, low, high, region, within


@kernel
def link_planes(
    gap_off: NDArray[np.int64],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    region: NDArray[np.int64],
    n_regions: int,
    n_lines: int,
    least: float,
) -> NDArray[np.int64]:
    """Pairs (p, 2) of regions of neighbouring planes that overlap by more than ``least`` on a line.

    The lower plane's region first; a pair may stand there more than once.
    """
    last = np.full(n_regions, -1, np.int64)
    room = 1024
    pairs = np.empty((room, 2), np.int64)
    made = 0
    n_slots = len(gap_off) - 1
    for slot in range(n_slots - n_lines):
        a = gap_off[slot]
        b = gap_off[slot + n_lines]
        while a < gap_off[slot + 1] and b < gap_off[slot + n_lines + 1]:
            if min(high[a], high[b]) - max(low[a], low[b]) > least and last[region[a]] != region[b]:
                last[region[a]] = region[b]
                if made == room:
                    room *= 2
                    grown = np.empty((room, 2), np.int64)
                    for i in range(made):
                        grown[i, 0] = pairs[i, 0]
                        grown[i, 1] = pairs[i, 1]
                    pairs = grown
                pairs[made, 0] = region[a]
                pairs[made, 1] = region[b]
                made += 1
            if high[a] < high[b]:
                a += 1
            else:
                b += 1
    return pairs[:made].copy()


@kernel
def _root(parent: NDArray[np.int64], item: int) -> int:
    while parent[item] != item:
        parent[item] = parent[parent[item]]
        item = parent[item]
    return item


@kernel
def find_sealed(
    step: NDArray[np.int64],
    order: NDArray[np.int64],
    open_air: NDArray[np.bool_],
    pair_off: NDArray[np.int64],
    pairs: NDArray[np.int64],
) -> NDArray[np.bool_]:
    """Regions (n,) that had no way to the open air when they were added.

    Regions are added in order; those of one step (a plane) together, with the links to the step
    before. What is found sealed then stays marked, whatever opens it later.

    Args:
        step: (n,) 0, 1, ... step at which a region is added.
        order: (n,) regions by step.
        open_air: (n,) regions that are open to the air by themselves.
        pair_off: (n_steps + 1,) links that a step brings.
        pairs: (p, 2) linked regions.
    """
    n = len(step)
    parent = np.arange(n)
    vented = open_air.copy()
    sealed = np.zeros(n, np.bool_)
    at = 0
    for now in range(len(pair_off) - 1):
        for q in range(pair_off[now], pair_off[now + 1]):
            a = _root(parent, pairs[q, 0])
            b = _root(parent, pairs[q, 1])
            if a != b:
                parent[a] = b
                vented[b] = vented[b] or vented[a]
        while at < n and step[order[at]] == now:
            sealed[order[at]] = not vented[_root(parent, order[at])]
            at += 1
    return sealed


@kernel
def join_chosen(chosen: NDArray[np.bool_], pairs: NDArray[np.int64]) -> NDArray[np.int64]:
    """Number (n,) of the linked set of each chosen region, 0, 1, ...; -1 for the others."""
    n = len(chosen)
    parent = np.arange(n)
    for q in range(len(pairs)):
        if chosen[pairs[q, 0]] and chosen[pairs[q, 1]]:
            a = _root(parent, pairs[q, 0])
            b = _root(parent, pairs[q, 1])
            if a != b:
                parent[max(a, b)] = min(a, b)
    number = np.full(n, -1, np.int64)
    sets = 0
    for item in range(n):
        if not chosen[item]:
            continue
        root = _root(parent, item)
        if root == item:
            number[item] = sets
            sets += 1
        else:
            number[item] = number[root]
    return number


@kernel
def gaps_of_spans(
    line_off: NDArray[np.int64], cross: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Gaps (gap_off, low, high) between the spans of a span table."""
    n_slots = len(line_off) - 1
    gap_off = np.zeros(n_slots + 1, np.int64)
    low = np.empty(len(cross) // 2 + n_slots)
    high = np.empty(len(cross) // 2 + n_slots)
    made = 0
    for slot in range(n_slots):
        start = -FAR
        for t in range(line_off[slot], line_off[slot + 1], 2):
            low[made] = start
            high[made] = cross[t]
            start = cross[t + 1]
            made += 1
        low[made] = start
        high[made] = FAR
        made += 1
        gap_off[slot + 1] = made
    return gap_off, low, high


@kernel
def label_enclosed(
    gap_off: NDArray[np.int64],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    n_lines: int,
) -> NDArray[np.int64]:
    """Piece of enclosed space (n_gaps,) that each gap belongs to, 0, 1, ...; -1 where it is open.

    Gaps hang together where they overlap on neighbouring lines of a plane, or on one line of
    neighbouring planes. Open is what reaches an end of a line, the first or last line of a plane,
    the lowest or the highest plane.
    """
    n = len(low)
    n_slots = len(gap_off) - 1
    parent = np.arange(n + 1)
    for slot in range(n_slots):
        end_plane = slot < n_lines or slot >= n_slots - n_lines
        end_line = slot % n_lines == 0 or slot % n_lines == n_lines - 1
        for a in range(gap_off[slot], gap_off[slot + 1]):
            if end_plane or end_line or low[a] <= -FAR or high[a] >= FAR:
                parent[_root(parent, a)] = n
        for way in range(2):
            other = slot + (1 if way == 0 else n_lines)
            if other >= n_slots or (way == 0 and other % n_lines == 0):
                continue
            a = gap_off[slot]
            b = gap_off[other]
            while a < gap_off[slot + 1] and b < gap_off[other + 1]:
                if min(high[a], high[b]) > max(low[a], low[b]):
                    ra = _root(parent, a)
                    rb = _root(parent, b)
                    if ra != rb:
                        parent[min(ra, rb)] = max(ra, rb)
                if high[a] < high[b]:
                    a += 1
                else:
                    b += 1
    piece = np.full(n, -1, np.int64)
    named = np.full(n + 1, -1, np.int64)
    count = 0
    for gap in range(n):
        root = _root(parent, gap)
        if root == n:
            continue
        if named[root] < 0:
            named[root] = count
            count += 1
        piece[gap] = named[root]
    return piece


@kernel
def find_gaps(
    gap_off: NDArray[np.int64],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    slot: NDArray[np.int64],
    x: NDArray[np.float64],
) -> NDArray[np.int64]:
    """Gap that holds each point (n,) of a line; -1 where the point lies in the solid."""
    found = np.full(len(x), -1, np.int64)
    for i in range(len(x)):
        for gap in range(gap_off[slot[i]], gap_off[slot[i] + 1]):
            if low[gap] <= x[i] <= high[gap]:
                found[i] = gap
                break
    return found
