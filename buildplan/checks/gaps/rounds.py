"""Round holes and pins of a mesh: faces that turn once about an axis."""

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

TURN_MOST_DEG = 50.0
"""Neighbouring facets of a round face turn by less than this: polygons of eight sides are round,
those of six are nuts and keys (ours)."""

FLAT_DEG = 0.05
"""Facets that turn by less than this lie in one plane, whichever way they turn."""

TAPER_MOST = 0.12
"""Most product of a facet's normal with the axis: a draft of 7 degrees is still a hole (ours)."""

OUT_OF_ROUND = 0.09
"""Corners and flats lie within this share of the radius below the widest corner: the flats of
eight sides lie at 0.924."""

SPREAD_LEAST = 0.12
"""Least share of the area that looks each way across the axis; a full turn has a half."""

CLEAR_FRAC = 0.98
"""A ray from the axis goes at least this share of the way to the flats: else something stands in
the hole (another part, a letter's island) or the pin is a tube."""

CAPPED_RADII = 1.05
"""A hole is blind where its axis meets a facet within so many radii beyond its end; the cone that a
drill leaves is 0.6 radii deep, the half ball of a ball cutter 1."""

SIDE_MOST = 0.02
"""Most product of the normal with the axis where ends are rounded off: about one degree."""

LEAST_FACETS = 8
"""A group of fewer facets is not looked at; eight sides have sixteen."""

Row = NDArray[np.float64]
Kind = Literal["hole", "pin"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Round:
    """A cylinder (or a slight cone) that looks at its own axis (hole) or away from it (pin).

    Attributes:
        diameter_mm: As drawn: across the corners of the polygon, at the narrower end.
        flats_mm: Across the flats of the polygon.
        depth_mm: Along the axis; the length of a pin.
        axis: Unit vector; its largest part is positive.
        point_mm: Middle of the axis.
        open_ends: For a hole 2 through, 1 blind, 0 closed in; for a pin the ends that stand free.
        facets: Ascending numbers of the mesh's facets.
    """

    kind: Kind
    diameter_mm: float
    flats_mm: float
    depth_mm: float
    axis: tuple[float, float, float]
    point_mm: tuple[float, float, float]
    box_mm: tuple[float, ...]
    open_ends: int
    facets: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Faces:
    """A mesh about its middle: corners (m, 3, 3), unit normals (m, 3), areas (m,)."""

    corners: Row
    normals: Row
    area: Row
    middle: Row


@dataclass(frozen=True, slots=True, kw_only=True)
class _Links:
    """Pairs of neighbouring facets (k,), and their edges (k, 3), zero where they are flat."""

    one: NDArray[np.int64]
    other: NDArray[np.int64]
    along: Row


def find_rounds(
    vertices: Row, facets: NDArray[np.int64], *, widest_hole_mm: float, widest_pin_mm: float
) -> tuple[Round, ...]:
    """All round holes and pins up to a diameter, in the order of their facets.

    Facets hang together across edges that turn by less than 50 degrees towards the air (holes) or
    towards the material (pins). A group is round where its normals turn fully about one axis and
    its corners lie on one circle (or a cone of less than 7 degrees). Ends that are rounded off
    without an edge (the bottom of a pocket, the tip of a pin) are left out of it.

    Args:
        vertices: (n, 3).
        facets: (m, 3), outward normals.
        widest_hole_mm: Wider holes are left out.
        widest_pin_mm: Wider pins are left out.
    """
    from buildplan.kernels.halfedges import find_twins

    middle = 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))
    corners = (vertices - middle)[facets]
    normals, area = _facet_normals(corners)
    twin = find_twins(facets, len(vertices))[0]
    half = np.flatnonzero(twin > np.arange(len(twin)))
    one, other = half // 3, twin[half] // 3
    cosine = np.einsum("ij,ij->i", normals[one], normals[other])
    gentle = cosine > math.cos(math.radians(TURN_MOST_DEG))
    half, one, other, cosine = half[gentle], one[gentle], other[gentle], cosine[gentle]
    # the other facet's free corner stands above this facet's plane where they turn to the air
    free = corners[other, (twin[half] + 2) % 3] - corners[one, 0]
    rises = np.einsum("ij,ij->i", normals[one], free) > 0.0
    flat = cosine > math.cos(math.radians(FLAT_DEG))
    along = corners[one, (half + 1) % 3] - corners[one, half % 3]
    along[flat] = 0.0
    faces = _Faces(corners=corners, normals=normals, area=area, middle=middle)
    found: list[Round] = []
    kinds: tuple[tuple[Kind, NDArray[np.bool_], float], ...] = (
        ("hole", rises, widest_hole_mm),
        ("pin", ~rises, widest_pin_mm),
    )
    for kind, bent, widest_mm in kinds:
        linked = flat | bent
        links = _Links(one=one[linked], other=other[linked], along=along[linked])
        found += _find_kind(kind, faces, links, widest_mm)
    return _with_ends(tuple(found), corners, middle)


def _find_kind(kind: Kind, faces: _Faces, links: _Links, widest_mm: float) -> list[Round]:
    """Round faces of one kind: whole groups, then groups less what rounds off their ends."""
    label = _label(links, len(faces.area))
    found = _fit_groups(kind, faces, label, widest_mm)
    straight = np.ones(len(label), np.bool_)
    for item in found:
        straight[item.facets] = False
    # the longest bent edge of what is left runs along its axis; fillets and tips lean to it
    length = np.linalg.norm(links.along, axis=1)
    order = np.argsort(length, kind="stable")
    longest = np.full(int(label.max()) + 1, -1)
    longest[label[links.one[order]]] = order  # of several the last, the longest, stays
    rows = np.flatnonzero(straight & (longest[label] >= 0))
    edge = longest[label[rows]]
    lean = np.abs(np.einsum("ij,ij->i", faces.normals[rows], links.along[edge]))
    straight[:] = False
    straight[rows] = (length[edge] > 0.0) & (lean < SIDE_MOST * length[edge])
    keep = straight[links.one] & straight[links.other]
    if keep.any():
        rest = _Links(one=links.one[keep], other=links.other[keep], along=links.along[keep])
        found += _fit_groups(kind, faces, _label(rest, len(label)), widest_mm)
    return found


def _facet_normals(corners: Row) -> tuple[Row, Row]:
    """Unit normals (zero without area) and areas."""
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    double = np.linalg.norm(normals, axis=1)
    return normals / np.maximum(double, 1e-300)[:, None], 0.5 * double


def _label(links: _Links, count: int) -> NDArray[np.int32]:
    """Number of the group of every facet."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    pairs = (links.one, links.other)
    graph = coo_matrix((np.ones(len(links.one), np.int8), pairs), (count, count))
    label: NDArray[np.int32] = connected_components(graph, directed=False)[1]
    return label


def _fit_groups(
    kind: Kind, faces: _Faces, label: NDArray[np.int32], widest_mm: float
) -> list[Round]:
    """Round faces among groups of facets: those whose normals turn fully about an axis."""
    normals, area = faces.normals, faces.area
    groups = int(label.max()) + 1
    size = np.bincount(label, minlength=groups)
    total = np.bincount(label, area, groups)
    spread = np.zeros((groups, 3, 3))
    for i in range(3):
        for j in range(i, 3):
            spread[:, i, j] = np.bincount(label, area * normals[:, i] * normals[:, j], groups)
            spread[:, j, i] = spread[:, i, j]
    worth = np.flatnonzero((size >= LEAST_FACETS) & (total > 0.0))
    values, directions = np.linalg.eigh(spread[worth] / total[worth, None, None])
    turning = (values[:, 0] < TAPER_MOST**2) & (values[:, 1] > SPREAD_LEAST)
    worth, axes = worth[turning], directions[turning, :, 0]
    order = np.argsort(label, kind="stable")
    starts = np.searchsorted(label[order], np.arange(groups + 1))
    found = []
    for k, axis in zip(worth.tolist(), axes, strict=True):
        rows = order[starts[k] : starts[k + 1]]
        across = faces.corners[rows].reshape(-1, 3)
        across = across - np.outer(across @ axis, axis)
        if np.linalg.norm(np.ptp(across, axis=0)) < 2.0 * widest_mm:
            item = _fit(kind, rows, axis, faces, widest_mm)
            found += [item] if item is not None else []
    return found


def _fit(
    kind: Kind, rows: NDArray[np.int64], axis: Row, faces: _Faces, widest_mm: float
) -> Round | None:
    """The round face of a group of facets, or None where it is not round."""
    corners, normals, middle = faces.corners, faces.normals, faces.middle
    axis = axis if axis[np.argmax(np.abs(axis))] > 0.0 else -axis
    across = _frame(axis)
    points = np.unique(corners[rows].reshape(-1, 3), axis=0)
    flat, height = points @ across.T, points @ axis
    centre = _circle_centre(flat)
    radius = np.hypot(*(flat - centre).T)
    taper = np.polyfit(height, radius, 1)[0] if np.ptp(height) > 0.0 else 0.0
    narrow = height.min() if taper >= 0.0 else height.max()
    level = radius - taper * (height - narrow)
    facing = normals[rows] @ across.T
    inwards = np.einsum("ij,ij->i", facing, corners[rows].mean(axis=1) @ across.T - centre)
    reach = np.abs(inwards) / np.maximum(np.linalg.norm(facing, axis=1), 1e-12)
    widest = float(level.max())
    turn = np.sort(np.arctan2(facing[:, 1], facing[:, 0]))
    gap = np.max(np.diff(turn, append=turn[0] + 2.0 * math.pi))
    if (
        2.0 * widest > widest_mm
        or level.min() < (1.0 - OUT_OF_ROUND) * widest
        or reach.min() < (1.0 - OUT_OF_ROUND) * radius.min()
        or (inwards < 0.0).all() != (kind == "hole")
        or ((inwards > 0.0).all() != (kind == "pin"))
        or gap > math.radians(TURN_MOST_DEG)
        or np.abs(normals[rows] @ axis).max() > 2.0 * TAPER_MOST
    ):
        return None
    depth = float(np.ptp(height))
    at = centre @ across + axis * (height.min() + 0.5 * depth) + middle
    low, high = points.min(axis=0) + middle, points.max(axis=0) + middle
    return Round(
        kind=kind,
        diameter_mm=2.0 * widest,
        flats_mm=2.0 * float(min(reach.min(), widest)),
        depth_mm=depth,
        axis=(float(axis[0]), float(axis[1]), float(axis[2])),
        point_mm=(float(at[0]), float(at[1]), float(at[2])),
        box_mm=tuple(float(value) for value in (*low, *high)),
        open_ends=2,
        facets=np.sort(rows),
    )


def _frame(axis: Row) -> Row:
    """Two unit vectors across an axis: (2, 3)."""
    helper = np.zeros(3)
    helper[np.argmin(np.abs(axis))] = 1.0
    first = np.cross(axis, helper)
    first /= np.linalg.norm(first)
    frame: Row = np.stack([first, np.cross(axis, first)])
    return frame


def _circle_centre(flat: Row) -> Row:
    """Centre of the circle through points (n, 2), twice: all of them, then the outermost.

    Source: Kasa, "A circle fitting procedure and its error analysis", 1976.
    """
    centre: Row = flat.mean(axis=0)
    for _ in range(3):
        radius = np.hypot(*(flat - centre).T)
        outer = flat[radius >= 0.98 * radius.max()] if radius.max() > 0.0 else flat
        if len(outer) < 3:
            return centre
        own = outer.mean(axis=0)
        x, y = (outer - own).T
        system = np.column_stack([x, y, np.ones(len(x))])
        answer = np.linalg.lstsq(system, x**2 + y**2, rcond=None)[0]
        centre = own + 0.5 * answer[:2]
    return centre


def _with_ends(found: tuple[Round, ...], corners: Row, middle: Row) -> tuple[Round, ...]:
    """Those that are clear from axis to face, with the ends at which their axis is free."""
    if not found:
        return ()
    from buildplan.kernels.facet_tree import build_facet_tree
    from buildplan.kernels.first_hit import first_hits

    _, sorted_corners, boxes, leaves = build_facet_tree(corners)
    starts = np.array([item.point_mm for item in found]) - middle
    axes = np.array([item.axis for item in found])
    half = np.array([0.5 * item.depth_mm for item in found])
    radius = np.array([0.5 * item.flats_mm for item in found])
    hole = np.array([item.kind == "hole" for item in found])
    clear = np.ones(len(found), np.bool_)
    for turn in range(3):
        angle = 2.0 * math.pi * turn / 3.0
        across = np.array([_frame(axis).T @ (math.cos(angle), math.sin(angle)) for axis in axes])
        reached = first_hits(sorted_corners, boxes, leaves, starts, across, 0.0, 1e30)
        clear &= reached >= CLEAR_FRAC * radius
    ends = np.zeros(len(found), np.int64)
    for way in (1.0, -1.0):
        reached = first_hits(sorted_corners, boxes, leaves, starts, way * axes, 0.0, 1e30)
        # the middle of a pin is material: its ray leaves at its end where that stands free
        ends += np.where(hole, reached > half + CAPPED_RADII * radius, reached < half + radius)
    return tuple(
        replace(item, open_ends=int(n))
        for item, n, is_clear in zip(found, ends.tolist(), clear.tolist(), strict=True)
        if is_clear
    )
