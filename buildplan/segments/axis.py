"""Cuts square to one axis: a profile of the part, and the best places for every number of pieces.

Bellman (1957), Dynamic Programming: the cost of a plan is the sum of its pieces' costs, so the best
k pieces up to a place are the best k - 1 pieces up to an earlier one and the piece between.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.share_below import shares_below

POSITIONS = 96
"""Places along an axis at which a cut is considered."""

OFF_FACES_FRAC = 1e-4
"""Places are moved off round numbers by this share of a step: faces tend to lie there."""

PieceCosts = Callable[
    [NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]],
    NDArray[np.float64],
]
"""(volume_mm3 (k,), side_mm2 (k,), size_mm (k, 3), area of the upper cut face (k,)) -> cost (k,)"""


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisProfile:
    """What lies below each place along an axis.

    Attributes:
        axis: 0, 1 or 2.
        at_mm: (m,) rising places; the first and the last are the part's ends.
        volume_mm3: (m,) volume below each place; likewise surface_mm2 and side_mm2 (of the surface
            what carries walls), cut faces left out.
        face_mm2: (m,) area of the section at each place, 0 at the ends.
        low_mm: (m - 1, 3) least coordinates between neighbouring places; likewise high_mm.
    """

    axis: int
    at_mm: NDArray[np.float64]
    volume_mm3: NDArray[np.float64]
    surface_mm2: NDArray[np.float64]
    side_mm2: NDArray[np.float64]
    face_mm2: NDArray[np.float64]
    low_mm: NDArray[np.float64]
    high_mm: NDArray[np.float64]


def profile_along(
    vertices_mm: NDArray[np.float64],
    facets: NDArray[np.int64],
    axis: int,
    positions: int = POSITIONS,
) -> AxisProfile:
    """The profile of a closed mesh along an axis, exact at every place.

    Args:
        vertices_mm: (n, 3).
        facets: (k, 3) indices into ``vertices_mm``.
        axis: 0, 1 or 2.
        positions: Steps between the part's ends.
    """
    low, high = float(vertices_mm[:, axis].min()), float(vertices_mm[:, axis].max())
    at = np.linspace(low, high, positions + 1)
    at[1:-1] += OFF_FACES_FRAC * (high - low) / positions
    way = np.zeros(3)
    way[axis] = 1.0
    sums, lows, highs = shares_below(vertices_mm, facets, way, at[1:])
    below = np.vstack([np.zeros(4), sums])
    below[-1, 2] = 0.0
    return AxisProfile(
        axis=axis,
        at_mm=at,
        volume_mm3=below[:, 0],
        surface_mm2=below[:, 1],
        side_mm2=below[:, 3],
        face_mm2=below[:, 2],
        low_mm=lows[:-1],
        high_mm=highs[:-1],
    )


def piece_costs(profile: AxisProfile, cost_of: PieceCosts) -> NDArray[np.float64]:
    """Cost (m, m) of the piece from place i to place j > i; infinite elsewhere.

    Args:
        profile: Of the part.
        cost_of: Costs of pieces; infinite where one is not allowed. The upper cut face is 0 for
            the last piece.
    """
    count = len(profile.at_mm)
    cost = np.full((count, count), np.inf)
    for i in range(count - 1):
        low = np.minimum.accumulate(profile.low_mm[i:])
        high = np.maximum.accumulate(profile.high_mm[i:])
        upper = profile.face_mm2[i + 1 :]
        side = profile.side_mm2[i + 1 :] - profile.side_mm2[i]
        if profile.axis < 2:
            # a cut that stands up carries walls too
            side = side + profile.face_mm2[i] + upper
        volume = profile.volume_mm3[i + 1 :] - profile.volume_mm3[i]
        cost[i, i + 1 :] = cost_of(volume, side, high - low, upper)
    return cost


def best_cuts(
    cost: NDArray[np.float64], closed: NDArray[np.bool_], most: int
) -> dict[int, tuple[float, tuple[int, ...]]]:
    """For every number of pieces up to ``most`` the least cost and the places of its cuts.

    Args:
        cost: (m, m) of the piece from place i to place j.
        closed: (m,) places at which no cut may lie.
        most: Largest number of pieces.

    Returns:
        Cost and places by number of pieces; numbers without any allowed plan are left out.
    """
    count = len(cost)
    allowed = cost.copy()
    inner = np.flatnonzero(closed[1:-1]) + 1
    allowed[:, inner] = np.inf
    allowed[inner, :] = np.inf
    best = np.full((most + 1, count), np.inf)
    came = np.zeros((most + 1, count), np.int64)
    best[0, 0] = 0.0
    for pieces in range(1, most + 1):
        sums = best[pieces - 1][:, None] + allowed
        came[pieces] = sums.argmin(axis=0)
        best[pieces] = sums.min(axis=0)
    found: dict[int, tuple[float, tuple[int, ...]]] = {}
    for pieces in range(1, most + 1):
        if not math.isfinite(best[pieces, -1]):
            continue
        places, at = [], count - 1
        for step in range(pieces, 0, -1):
            at = int(came[step, at])
            places.append(at)
        found[pieces] = (float(best[pieces, -1]), tuple(reversed(places[:-1])))
    return found
