"""Cuts square to one axis: a profile of the part, and the best places for every number of pieces.

Bellman (1957), Dynamic Programming: the cost of a plan is the sum of its pieces' costs, so the best
k pieces up to a place are the best k - 1 pieces up to an earlier one and the piece between.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.segments.planes import make_plane

if TYPE_CHECKING:
    from manifold3d import Manifold

POSITIONS = 96
"""Places along an axis at which a cut is considered."""

OFF_FACES_MM = 1e-4
"""Places are moved off round numbers by this, where faces tend to lie."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisProfile:
    """What lies below each place along an axis.

    Attributes:
        axis: 0, 1 or 2.
        at_mm: (m,) rising places; the first and the last are the part's ends.
        volume_mm3: (m,) volume below each place; likewise surface_mm2, cut faces left out.
        face_mm2: (m,) area of the section at each place, 0 at the ends.
        low_mm: (m - 1, 3) least coordinates between neighbouring places; likewise high_mm.
    """

    axis: int
    at_mm: NDArray[np.float64]
    volume_mm3: NDArray[np.float64]
    surface_mm2: NDArray[np.float64]
    face_mm2: NDArray[np.float64]
    low_mm: NDArray[np.float64]
    high_mm: NDArray[np.float64]


def profile_along(solid: "Manifold", axis: int, positions: int = POSITIONS) -> AxisProfile:
    """The profile of a solid along an axis; volumes are exact at every place."""
    box = solid.bounding_box()
    low, high = box[axis], box[axis + 3]
    at = np.linspace(low, high, positions + 1)
    at[1:-1] += OFF_FACES_MM * (high - low) / positions
    count = len(at)
    volume, surface, face = np.zeros(count), np.zeros(count), np.zeros(count)
    lows, highs = np.zeros((count - 1, 3)), np.zeros((count - 1, 3))
    normal = make_plane("xyz"[axis], 0.0).normal
    rest = solid
    for place in range(1, count - 1):
        # cut off what lies below, and go on with what is left: each cut is of a smaller solid
        before = rest.surface_area()
        rest, cell = rest.split_by_plane(normal, float(at[place]))
        lows[place - 1], highs[place - 1] = _ends(cell)
        volume[place] = volume[place - 1] + cell.volume()
        # the new face belongs to both: what the two have more of surface, halved
        face[place] = max(0.0, 0.5 * (cell.surface_area() + rest.surface_area() - before))
        own = cell.surface_area() - face[place - 1] - face[place]
        surface[place] = surface[place - 1] + own
    lows[-1], highs[-1] = _ends(rest)
    volume[-1] = volume[-2] + rest.volume()
    surface[-1] = surface[-2] + rest.surface_area() - face[-2]
    return AxisProfile(
        axis=axis,
        at_mm=at,
        volume_mm3=volume,
        surface_mm2=surface,
        face_mm2=face,
        low_mm=lows,
        high_mm=highs,
    )


def _ends(cell: "Manifold") -> tuple[tuple[float, ...], tuple[float, ...]]:
    box = cell.bounding_box()
    return tuple(box[:3]), tuple(box[3:])


def piece_costs(
    profile: AxisProfile,
    cost_of: Callable[[float, float, tuple[float, float, float], float], float],
) -> NDArray[np.float64]:
    """Cost (m, m) of the piece from place i to place j > i; infinite elsewhere.

    Args:
        profile: Of the part.
        cost_of: (volume_mm3, side_mm2, size_mm, cut_face_mm2 at its upper end) -> cost; infinite
            where the piece is not allowed.
    """
    count = len(profile.at_mm)
    cost = np.full((count, count), np.inf)
    for i in range(count - 1):
        low, high = np.full(3, np.inf), np.full(3, -np.inf)
        for j in range(i + 1, count):
            low, high = (
                np.minimum(low, profile.low_mm[j - 1]),
                np.maximum(high, profile.high_mm[j - 1]),
            )
            faces = profile.face_mm2[i] + profile.face_mm2[j]
            side = profile.surface_mm2[j] - profile.surface_mm2[i]
            if profile.axis < 2:
                side += faces  # a cut that stands up carries walls too
            x, y, z = (high - low).tolist()
            cost[i, j] = cost_of(
                float(profile.volume_mm3[j] - profile.volume_mm3[i]),
                float(side),
                (x, y, z),
                float(profile.face_mm2[j]),
            )
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
