"""Facets that face down too flatly, the edges of their regions, and strips laid across a region.

A region is a set of facets joined by edges. Seen from above its facets do not fold, so its border
edges, in the direction of their facets, are the outline of its plan (clockwise: it faces down).
"""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.farthest import MOST_WAITING, SAME_FRAC, distance_to_held, farthest_of
from buildplan.kernels.jit import kernel

BORDER_FREE = 0
BORDER_HELD = 1

REACH_OF_NONE = 0
REACH_OF_REST = 1
REACH_OF_ALL = 2

LEAST_SLAB_FRAC = 1e-9
"""Slabs thinner than this share of a region's width are rounding."""

GAP_SHARE_FRAC = 0.5
"""A hole at most this share of what lies beside it along a strip does not end the strip (ours)."""

REACH_SLABS = 100
"""Where slabs are taken by their middle lines, the reach is looked for on so many of them."""


@kernel
def label_steep(
    vertices: NDArray[np.float64],
    facets: NDArray[np.int64],
    twin: NDArray[np.int32],
    floor_mm: float,
    least_down: float,
) -> tuple[NDArray[np.int32], int, NDArray[np.float64], NDArray[np.float64]]:
    """Regions of facets that face down more flatly than allowed.

    Args:
        vertices: (n, 3).
        facets: (m, 3).
        twin: (3 m,) matching half-edge of every half-edge, -1 where there is none.
        floor_mm: Facets that lie wholly at or below this height rest on the platform.
        least_down: Downward share of the unit normal from which a facet counts.

    Returns:
        label: (m,) region of each facet, -1 for none; regions are numbered by their first facet.
        regions: How many there are.
        area: (m,) of every facet.
        down: (m,) downward share of the unit normal.
    """
    count = len(facets)
    label = np.full(count, -1, np.int32)
    area = np.zeros(count)
    down = np.zeros(count)
    steep = np.zeros(count, np.bool_)
    for f in range(count):
        a, b, c = facets[f]
        ux = vertices[b, 0] - vertices[a, 0]
        uy = vertices[b, 1] - vertices[a, 1]
        uz = vertices[b, 2] - vertices[a, 2]
        vx = vertices[c, 0] - vertices[a, 0]
        vy = vertices[c, 1] - vertices[a, 1]
        vz = vertices[c, 2] - vertices[a, 2]
        nx = uy * vz - uz * vy
        ny = uz * vx - ux * vz
        nz = ux * vy - uy * vx
        length = math.sqrt(nx * nx + ny * ny + nz * nz)
        if length == 0.0:
            continue
        area[f] = 0.5 * length
        down[f] = -nz / length
        top = max(vertices[a, 2], vertices[b, 2], vertices[c, 2])
        steep[f] = down[f] > least_down and top > floor_mm
    stack = np.empty(count, np.int64)
    regions = 0
    for first in range(count):
        if not steep[first] or label[first] >= 0:
            continue
        label[first] = regions
        stack[0] = first
        waiting = 1
        while waiting > 0:
            waiting -= 1
            f = stack[waiting]
            for h in range(3 * f, 3 * f + 3):
                if twin[h] < 0:
                    continue
                g = twin[h] // 3
                if steep[g] and label[g] < 0:
                    label[g] = regions
                    stack[waiting] = g
                    waiting += 1
        regions += 1
    return label, regions, area, down


@kernel
def find_borders(
    vertices: NDArray[np.float64],
    facets: NDArray[np.int64],
    twin: NDArray[np.int32],
    label: NDArray[np.int32],
    wanted: NDArray[np.bool_],
    held_below_mm: float,
) -> tuple[NDArray[np.int64], NDArray[np.int32], NDArray[np.uint8]]:
    """Border half-edges of regions, and which of them are held from below.

    An edge is held where the surface beyond it turns down, out of the facet's plane to its outer
    side: solid goes on below it. So is an edge that lies on the platform.

    Args:
        vertices: (n, 3).
        facets: (m, 3).
        twin: (3 m,).
        label: (m,) region of each facet, -1 for none.
        wanted: (regions,) whether a region's border is asked for.
        held_below_mm: Edges that lie wholly at or below this height rest on the platform.

    Returns:
        half_edge: (k,) ascending.
        region: (k,).
        state: (k,) BORDER_HELD or BORDER_FREE.
    """
    room = 1024
    half_edge = np.empty(room, np.int64)
    region = np.empty(room, np.int32)
    state = np.empty(room, np.uint8)
    at = 0
    for f in range(len(facets)):
        own = label[f]
        if own < 0 or not wanted[own]:
            continue
        for corner in range(3):
            h = 3 * f + corner
            other = twin[h]
            if other >= 0 and label[other // 3] == own:
                continue
            if at == room:
                half_edge = np.concatenate((half_edge, np.empty(room, np.int64)))
                region = np.concatenate((region, np.empty(room, np.int32)))
                state = np.concatenate((state, np.empty(room, np.uint8)))
                room *= 2
            half_edge[at] = h
            region[at] = own
            state[at] = BORDER_FREE
            a = facets[f, corner]
            b = facets[f, (corner + 1) % 3]
            c = facets[f, (corner + 2) % 3]
            if max(vertices[a, 2], vertices[b, 2]) <= held_below_mm:
                state[at] = BORDER_HELD
            elif other >= 0:
                w = facets[other // 3, (other % 3 + 2) % 3]
                ux = vertices[b, 0] - vertices[a, 0]
                uy = vertices[b, 1] - vertices[a, 1]
                uz = vertices[b, 2] - vertices[a, 2]
                vx = vertices[c, 0] - vertices[a, 0]
                vy = vertices[c, 1] - vertices[a, 1]
                vz = vertices[c, 2] - vertices[a, 2]
                outside = (
                    (uy * vz - uz * vy) * (vertices[w, 0] - vertices[a, 0])
                    + (uz * vx - ux * vz) * (vertices[w, 1] - vertices[a, 1])
                    + (ux * vy - uy * vx) * (vertices[w, 2] - vertices[a, 2])
                )
                if outside > 0.0:
                    state[at] = BORDER_HELD
            at += 1
    return half_edge[:at].copy(), region[:at].copy(), state[:at].copy()


@kernel
def _along(edges: NDArray[np.float64], edge: int, y: float) -> float:
    """Where an edge (x0, y0, x1, y1) crosses a line at y, held to the edge's own ends."""
    x0, y0, x1, y1 = edges[edge]
    if y1 == y0:
        level: float = 0.5 * (x0 + x1)
        return level
    share = min(max((y - y0) / (y1 - y0), 0.0), 1.0)
    found: float = x0 + share * (x1 - x0)
    return found


@kernel
def _pair_edges(
    edges: NDArray[np.float64],
    which: NDArray[np.int64],
    count: int,
    lefts: NDArray[np.int64],
    rights: NDArray[np.int64],
) -> int:
    """Pieces of a line inside the plan, by the edges that bound them; how many there are.

    Args:
        edges: (k, 4).
        which: Edges that the line crosses, from left to right; ``count`` of them.
        count: How many.
        lefts: Room for the left edge of each piece.
        rights: Room for the right one.
    """
    winding = 0
    pieces = 0
    for k in range(count):
        e = which[k]
        if winding == 0:
            lefts[pieces] = e
        winding += 1 if edges[e, 3] > edges[e, 1] else -1
        if winding == 0:
            rights[pieces] = e
            pieces += 1
    return pieces


@kernel
def _end_of_run(
    edges: NDArray[np.float64],
    held: NDArray[np.uint8],
    lefts: NDArray[np.int64],
    rights: NDArray[np.int64],
    start: int,
    pieces: int,
    y: float,
) -> int:
    """Last piece of the strip that begins with piece ``start``: small holes do not end it.

    A gap between two free edges that is at most GAP_SHARE of the pieces on its two sides is a hole
    that beads are laid around.
    """
    end = start
    while end + 1 < pieces:
        if held[rights[end]] == 1 or held[lefts[end + 1]] == 1:
            break
        before = _along(edges, rights[end], y) - _along(edges, lefts[start], y)
        gap = _along(edges, lefts[end + 1], y) - _along(edges, rights[end], y)
        after = _along(edges, rights[end + 1], y) - _along(edges, lefts[end + 1], y)
        if gap > GAP_SHARE_FRAC * (before + after):
            break
        end += 1
    return end


@kernel
def lay_strips(
    outline: NDArray[np.float64],
    held: NDArray[np.uint8],
    cosine: float,
    sine: float,
    most_slabs: int,
    reach_of: int,
) -> tuple[float, float, float, float]:
    """Strips across a region in one direction: how much of it they carry from hold to hold.

    The plan is cut into slabs at the corners of its outline; within a slab every strip is a
    trapezoid between two border edges. It is carried where both are held. Small holes do not end a
    strip.

    Args:
        outline: (k, 4) border edges x0, y0, x1, y1 in any order; points (both ends alike) hold
            but bound nothing.
        held: (k,) 1 where an edge is held from below.
        cosine: Direction of the strips.
        sine: Likewise.
        most_slabs: With more corners than this, so many slabs are taken, each by its middle line.
        reach_of: REACH_OF_NONE, REACH_OF_REST (what no strip carries) or REACH_OF_ALL.

    Returns:
        The area of the plan, the area carried, the longest carried strip, and the farthest that
        what is asked for (or the end of a free edge) lies from what holds (-1 where there is none
        of it, inf where nothing holds).
    """
    count = len(outline)
    edges = np.empty((count, 4))
    levels = np.empty(2 * count)
    for e in range(count):
        for end in range(2):
            x = outline[e, 2 * end]
            y = outline[e, 2 * end + 1]
            edges[e, 2 * end] = x * cosine + y * sine
            edges[e, 2 * end + 1] = y * cosine - x * sine
            levels[2 * e + end] = edges[e, 2 * end + 1]
    holds = edges[held == 1]
    nearest = np.zeros(1, np.int64)
    levels.sort()
    thin = max(levels[-1] - levels[0], 1e-300) * LEAST_SLAB_FRAC
    kept = 1
    for k in range(1, len(levels)):
        if levels[k] - levels[kept - 1] > thin:
            levels[kept] = levels[k]
            kept += 1
    slabs = min(kept - 1, most_slabs)
    every = 1 if slabs == kept - 1 else 1 + slabs // REACH_SLABS
    whole, carried, span, reach = 0.0, 0.0, 0.0, -1.0
    crossing = np.empty(count)
    which = np.empty(count, np.int64)
    if reach_of != REACH_OF_NONE:
        # the farthest point is mostly an end of a free edge: with it most pieces are soon left
        for e in range(count):
            if held[e] == 0:
                enough = reach * (1.0 + SAME_FRAC)
                far = distance_to_held(edges[e, 0], edges[e, 1], holds, enough, nearest)
                if far > enough:
                    reach = far
    lefts = np.empty(count, np.int64)
    rights = np.empty(count, np.int64)
    waiting = np.empty((MOST_WAITING, 4))
    for slab in range(slabs):
        low = levels[slab * (kept - 1) // slabs]
        high = levels[(slab + 1) * (kept - 1) // slabs]
        middle = 0.5 * (low + high)
        height = high - low
        if slabs < kept - 1:
            low = middle
            high = middle
        n = 0
        for e in range(count):
            if (edges[e, 1] < middle) != (edges[e, 3] < middle):
                x = _along(edges, e, middle)
                place = n
                while place > 0 and crossing[place - 1] > x:
                    crossing[place] = crossing[place - 1]
                    which[place] = which[place - 1]
                    place -= 1
                crossing[place] = x
                which[place] = e
                n += 1
        pieces = _pair_edges(edges, which, n, lefts, rights)
        start = 0
        while start < pieces:
            end = _end_of_run(edges, held, lefts, rights, start, pieces, middle)
            is_held = held[lefts[start]] == 1 and held[rights[end]] == 1
            for k in range(start, end + 1):
                low_a = _along(edges, lefts[k], low)
                low_b = _along(edges, rights[k], low)
                high_a = _along(edges, lefts[k], high)
                high_b = _along(edges, rights[k], high)
                area = 0.5 * (low_b - low_a + high_b - high_a) * height
                whole += area
                if is_held:
                    carried += area
                if slab % every == 0 and (
                    reach_of == REACH_OF_ALL or (reach_of == REACH_OF_REST and not is_held)
                ):
                    corners = (low_a, low_b, high_a, high_b, low, high)
                    reach = farthest_of(corners, holds, reach, waiting, nearest)
            if is_held:
                for level in (low, high):
                    across = _along(edges, rights[end], level) - _along(edges, lefts[start], level)
                    span = max(span, across)
            start = end + 1
    if reach_of == REACH_OF_REST and carried >= whole * (1.0 - LEAST_SLAB_FRAC):
        reach = -1.0
    return whole, carried, span, reach


@kernel
def try_directions(
    outline: NDArray[np.float64],
    held: NDArray[np.uint8],
    angles_rad: NDArray[np.float64],
    most_slabs: int,
) -> NDArray[np.float64]:
    """Share carried and longest carried strip for strips in several directions: (d, 2).

    Args:
        outline: As in lay_strips.
        held: As there.
        angles_rad: (d,).
        most_slabs: As there.
    """
    found = np.zeros((len(angles_rad), 2))
    for d in range(len(angles_rad)):
        cosine = math.cos(angles_rad[d])
        sine = math.sin(angles_rad[d])
        whole, carried, span, _ = lay_strips(outline, held, cosine, sine, most_slabs, REACH_OF_NONE)
        found[d, 0] = carried / whole if whole > 0.0 else 0.0
        found[d, 1] = span
    return found
