"""Round holes in a surface: where their axis runs, how wide and deep, which end is shut."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from buildplan.part.model import Part
    from buildplan.part.surface import Surface

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Point = tuple[float, float, float]

MOST_TURN_DEG = 61.0
"""Neighbouring facets of a round hole turn by no more: six sides are the coarsest (ours)."""

FLAT_DEG = 0.5
"""Facets that turn by less lie in one plane."""

AXIAL = 0.02
"""Normals of a round hole stand square to its axis to within this sine (ours)."""

OUT_OF_ROUND_FRAC = 0.03
"""Corners of a hole lie on one circle to within this share of its radius (ours)."""

LEAST_FACETS = 6
PROBE_MM = 0.02
"""So far behind the end of a hole its floor is looked for."""

TIP_FRAC = 0.1
"""Facets that meet this close to the axis, as a share of the radius, make a pointed floor."""

LARGEST_MM = 40.0
"""Wider holes take no fastener (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bore:
    """One round hole, straight and of one diameter.

    Attributes:
        start_mm, end_mm: Middle of either end, in the part's coordinates.
        diameter_mm: Of the circle through the corners of its facets.
        start_shut, end_shut: Whether a floor closes that end.
    """

    start_mm: Point
    end_mm: Point
    diameter_mm: float
    start_shut: bool
    end_shut: bool

    @property
    def depth_mm(self) -> float:
        """Distance between its two ends."""
        return float(np.linalg.norm(np.subtract(self.end_mm, self.start_mm)))

    @property
    def blind(self) -> bool:
        """Whether exactly one end is shut."""
        return self.start_shut != self.end_shut


def find_bores(part: "Part", *, largest_mm: float = LARGEST_MM) -> tuple[Bore, ...]:
    """Every round hole of a part that a screw, a pin or an insert may go into.

    Facets that turn towards each other by small steps and go all the way round one axis, with
    their corners on one circle, make a hole. A step in the diameter makes two holes; slots,
    fillets, knuckles and outsides of pins are none.

    Args:
        part: With a mesh whose facets share their corners.
        largest_mm: Wider holes are left out.
    """
    from buildplan.part.surface import match_edges

    surface = match_edges(part.vertices_mm, part.facets)
    normals, areas = _normals(surface)
    label, count = _walls(surface, normals)
    order = np.argsort(label, kind="stable")
    bounds = np.searchsorted(label[order], np.arange(count + 1))
    found = []
    for one in np.flatnonzero(np.diff(bounds) >= LEAST_FACETS).tolist():
        facets = order[bounds[one] : bounds[one + 1]]
        bore = _bore(surface, facets, normals, areas, largest_mm)
        if bore is not None:
            found.append(bore)
    return tuple(sorted(found, key=lambda bore: (bore.start_mm, bore.end_mm)))


def turns_round(point: Floats, vertices_mm: Floats, facets: Ints) -> float:
    """How often a closed surface goes round a point: 1 inside, 0 outside.

    The solid angles of all facets over 4 pi.

    Args:
        point: (3,).
        vertices_mm: (n, 3).
        facets: (m, 3).

    Source: van Oosterom and Strackee (1983), equation 8.
    """
    a, b, c = (vertices_mm[facets[:, corner]] - point for corner in range(3))
    la, lb, lc = (np.linalg.norm(side, axis=1) for side in (a, b, c))
    over = np.einsum("ij,ij->i", a, np.cross(b, c))
    under = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    return float(np.arctan2(over, under).sum() / (2.0 * np.pi))


def _normals(surface: "Surface") -> tuple[Floats, Floats]:
    a, b, c = (surface.vertices[surface.facets[:, corner]] for corner in range(3))
    cross = np.cross(b - a, c - a)
    length = np.linalg.norm(cross, axis=1)
    return cross / np.maximum(length, 1e-30)[:, None], 0.5 * length


def _walls(surface: "Surface", normals: Floats) -> tuple[Ints, int]:
    """Number of the smooth hollow wall that each facet belongs to, and how many there are."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    half = np.flatnonzero(surface.twin >= 0)
    other = surface.twin[half].astype(np.int64)
    once = half < other
    half, other = half[once], other[once]
    one, two = half // 3, other // 3
    cosine = np.einsum("ij,ij->i", normals[one], normals[two])
    # the corner of the neighbour that is not on the edge stands in front of a hollow wall
    tip = surface.vertices[surface.facets[two, (other % 3 + 2) % 3]]
    foot = surface.vertices[surface.facets[one, half % 3]]
    front = np.einsum("ij,ij->i", normals[one], tip - foot) > 0.0
    flat = cosine > np.cos(np.radians(FLAT_DEG))
    smooth = cosine > np.cos(np.radians(MOST_TURN_DEG))
    kept = flat | (smooth & front)
    facets = len(surface.facets)
    links = coo_matrix((np.ones(int(kept.sum())), (one[kept], two[kept])), shape=(facets, facets))
    count, label = connected_components(links, directed=False)
    return label.astype(np.int64), int(count)


def _bore(
    surface: "Surface", facets: Ints, normals: Floats, areas: Floats, largest_mm: float
) -> Bore | None:
    """The round hole that some facets make, or None."""
    own, weight = normals[facets], areas[facets]
    spread = np.einsum("i,ij,ik->jk", weight, own, own)
    values, ways = np.linalg.eigh(spread)
    if values[0] > 1e-3 * values[1] or values[1] < 0.3 * values[2]:
        return None
    axis = ways[:, 0] * np.sign(ways[np.argmax(np.abs(ways[:, 0])), 0])
    if float(np.abs(own @ axis).max()) > AXIAL:
        return None
    corners = np.unique(surface.facets[facets])
    points = surface.vertices[corners]
    side, up = ways[:, 1], ways[:, 2]
    flat = np.column_stack([points @ side, points @ up])
    middle, radius = _circle(flat)
    if not 0.0 < 2.0 * radius <= largest_mm:
        return None
    off = np.abs(np.hypot(*(flat - middle).T) - radius)
    if float(off.max()) > OUT_OF_ROUND_FRAC * radius or not _goes_round(own @ side, own @ up):
        return None
    along = points @ axis
    low, high = float(along.min()), float(along.max())
    centre = middle[0] * side + middle[1] * up
    ends = [centre + at * axis for at in (low, high)]
    shut = [
        _is_shut(surface, facets, (axis, ends[0], radius), -1.0),
        _is_shut(surface, facets, (axis, ends[1], radius), 1.0),
    ]
    return Bore(
        start_mm=(float(ends[0][0]), float(ends[0][1]), float(ends[0][2])),
        end_mm=(float(ends[1][0]), float(ends[1][1]), float(ends[1][2])),
        diameter_mm=2.0 * radius,
        start_shut=shut[0],
        end_shut=shut[1],
    )


def _circle(points: Floats) -> tuple[Floats, float]:
    """Circle through points (n, 2) by least squares on x2 + y2 = 2 a x + 2 b y + c (Kasa 1976)."""
    shift = points.mean(axis=0)
    own = points - shift
    rows = np.column_stack([2.0 * own, np.ones(len(own))])
    found = np.linalg.lstsq(rows, (own**2).sum(axis=1), rcond=None)[0]
    square = float(found[2] + found[0] ** 2 + found[1] ** 2)
    return found[:2] + shift, float(np.sqrt(max(square, 0.0)))


def _goes_round(x: Floats, y: Floats) -> bool:
    """Whether normals (x, y) leave no gap wider than the coarsest hole has."""
    angle = np.sort(np.arctan2(y, x))
    gap = np.diff(np.append(angle, angle[0] + 2.0 * np.pi))
    return bool(gap.max() < np.radians(MOST_TURN_DEG))


def _is_shut(
    surface: "Surface", facets: Ints, circle: tuple[Floats, Floats, float], way: float
) -> bool:
    """Whether solid stands on the axis behind an end, or the facets behind it meet in a point."""
    axis, end, radius = circle
    behind = end + way * PROBE_MM * axis
    if abs(turns_round(behind, surface.vertices, surface.facets)) > 0.5:
        return True
    half = (3 * facets[:, None] + np.arange(3)).ravel()
    twin = surface.twin[half].astype(np.int64)
    twin = twin[twin >= 0]
    twin = twin[~np.isin(twin // 3, facets)]
    tip = surface.vertices[surface.facets[twin // 3, (twin % 3 + 2) % 3]] - end
    along = way * (tip @ axis)
    across = np.linalg.norm(tip - np.outer(tip @ axis, axis), axis=1)
    pointed = (across <= TIP_FRAC * radius) & (along > 0.0) & (along <= 2.0 * radius)
    return bool(pointed.sum() >= LEAST_FACETS)
