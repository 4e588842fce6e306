"""The point of a trapezoid that lies farthest from a set of edges."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel

BOUND_SLACK_FRAC = 0.01
"""The farthest point is looked for to within this share of its distance."""

BOUND_SLACK_MM = 0.05
"""Or to within this."""

SAME_FRAC = 1e-3
"""A point no farther than this over the farthest so far is not looked at closely."""

MOST_PIECES = 100_000
"""Pieces looked at, at most: the search of a trapezoid always ends."""

MOST_WAITING = 256
"""Pieces that wait while the farthest point is looked for: two for each halving."""


@kernel
def _square_to_edge(x: float, y: float, holds: NDArray[np.float64], e: int) -> float:
    """Square of a point's distance to an edge (x0, y0, x1, y1)."""
    x0, y0, x1, y1 = holds[e]
    dx = x1 - x0
    dy = y1 - y0
    square = dx * dx + dy * dy
    share = 0.0
    if square > 0.0:
        share = min(max(((x - x0) * dx + (y - y0) * dy) / square, 0.0), 1.0)
    far: float = (x - x0 - share * dx) ** 2 + (y - y0 - share * dy) ** 2
    return far


@kernel
def distance_to_held(
    x: float, y: float, holds: NDArray[np.float64], enough: float, nearest: NDArray[np.int64]
) -> float:
    """Distance of a point to the nearest edge that holds, inf where there is none.

    The search ends at the first edge nearer than ``enough``, whose distance is given then. It
    begins at the edge that was nearest to the point before.

    Args:
        x: The point.
        y: Likewise.
        holds: (k, 4).
        enough: As said.
        nearest: (1,) the nearest edge, changed in place.
    """
    if len(holds) == 0:
        return np.inf
    best = _square_to_edge(x, y, holds, nearest[0])
    square_enough = enough * enough if enough > 0.0 else -1.0
    if best > square_enough:
        for e in range(len(holds)):
            far = _square_to_edge(x, y, holds, e)
            if far < best:
                best = far
                nearest[0] = e
                if best <= square_enough:
                    break
    return math.sqrt(best)


@kernel
def _point_of(
    corners: tuple[float, float, float, float, float, float], across: float, up: float
) -> tuple[float, float]:
    """Point of a trapezoid (low_a, low_b, high_a, high_b, low, high) at two shares of it."""
    at_low = corners[0] + across * (corners[1] - corners[0])
    at_high = corners[2] + across * (corners[3] - corners[2])
    return at_low + up * (at_high - at_low), corners[4] + up * (corners[5] - corners[4])


@kernel
def farthest_of(
    corners: tuple[float, float, float, float, float, float],
    holds: NDArray[np.float64],
    least: float,
    waiting: NDArray[np.float64],
    nearest: NDArray[np.int64],
) -> float:
    """Farthest that a trapezoid lies from what holds, if more than ``least``, else that.

    Branch and bound: a distance grows no faster than the way gone, so a piece whose middle is near
    enough is left; others are halved. Short of the answer by at most BOUND_SLACK_FRAC or
    BOUND_SLACK_MM.

    Args:
        corners: As in _point_of.
        holds: (k, 4) edges that hold.
        least: The answer so far.
        waiting: (n, 4) room for pieces.
        nearest: As in distance_to_held.
    """
    best = max(least, 0.0)
    waiting[0] = (0.0, 1.0, 0.0, 1.0)
    n = 1
    steps = 0
    while n > 0 and steps < MOST_PIECES:
        n -= 1
        steps += 1
        from_, to, down, up = waiting[n]
        x, y = _point_of(corners, 0.5 * (from_ + to), 0.5 * (down + up))
        radius = 0.0
        for k in range(4):
            u, v = _point_of(corners, to if k % 2 else from_, up if k // 2 else down)
            radius = max(radius, math.hypot(u - x, v - y))
        slack = max(best * (1.0 + BOUND_SLACK_FRAC), best + BOUND_SLACK_MM)
        far = distance_to_held(x, y, holds, slack - radius, nearest)
        if far == np.inf:
            return np.inf
        if far + radius <= slack:
            continue
        best = max(best, far)
        for k in range(4):
            u, v = _point_of(corners, to if k % 2 else from_, up if k // 2 else down)
            enough = best * (1.0 + SAME_FRAC)
            far_corner = distance_to_held(u, v, holds, enough, nearest)
            # at most enough may be the distance of an edge that is not the nearest
            if far_corner > enough:
                best = far_corner
        slack = max(best * (1.0 + BOUND_SLACK_FRAC), best + BOUND_SLACK_MM)
        if far + radius <= slack or n + 2 > len(waiting):
            continue
        # the longer way is halved; the way up may be long and slanted in a slab that is thin
        across_x, across_y = _point_of(corners, from_, 0.5 * (down + up))
        up_x, up_y = _point_of(corners, 0.5 * (from_ + to), down)
        if math.hypot(across_x - x, across_y - y) >= math.hypot(up_x - x, up_y - y):
            middle = 0.5 * (from_ + to)
            waiting[n] = (from_, middle, down, up)
            waiting[n + 1] = (middle, to, down, up)
        else:
            middle = 0.5 * (down + up)
            waiting[n] = (from_, to, down, middle)
            waiting[n + 1] = (from_, to, middle, up)
        n += 2
    return best
