"""Shells of one body: which way they face, which lie in another, which overlap; their union."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.findings import Place
from buildplan.kernels.edges import measure_shells
from buildplan.kernels.facet_tree import build_facet_tree
from buildplan.kernels.intersect import (
    CROSSES_OTHER,
    CROSSES_OWN,
    boxes_meet,
    count_windings,
    mark_crossings,
)
from buildplan.kernels.mesh_measure import bound_points
from buildplan.part.surface import Surface, diagonal_of, match_edges

DIRECTIONS = np.array(
    [[0.5773, 0.5774, 0.5771], [-0.31234, 0.8721, 0.37632], [0.7112, -0.2953, 0.6379]]
)
"""Rays along no axis and no face diagonal, so that few meet an edge; the majority decides."""

NUDGE_FRAC = 1e-6
"""How far from a facet a ray starts, over the diagonal of the part."""

MOST_SHELLS = 20_000
"""Shells up to which each one is placed in or beside the others."""

MOST_RAYS = 10_000
"""Facets in all from which the shells look outwards."""

MOST_NODES = 10_000_000
"""Boxes that the rays in one direction may look at before the search stops."""

PAIRS_PER_FACET, LEAST_PAIRS = 60, 20_000_000
"""Pairs of facets that the search for crossings may try before it stops."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossings:
    """What the search through all facets found.

    Attributes:
        own: Facets that pass through a facet of their own shell.
        own_where: Where these are; own_facets are their numbers, ascending.
        crossed_shells: Numbers of the shells that pass through another one.
        inside: (shells,) how many other shells enclose each one, at most.
        finished: False where the search stopped early.
    """

    own: int
    own_where: Place
    own_facets: NDArray[np.int64]
    crossed_shells: tuple[int, ...]
    inside: NDArray[np.int64]
    finished: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FacetTree:
    """Facets sorted into boxes, with their shells."""

    order: NDArray[np.int64]
    corners: NDArray[np.float64]
    boxes: NDArray[np.float64]
    leaves: int
    shell: NDArray[np.int32]


def plant_tree(surface: Surface, shell: NDArray[np.int32]) -> FacetTree:
    """The tree of boxes over the facets of a surface."""
    order, corners, boxes, leaves = build_facet_tree(surface.vertices[surface.facets])
    return FacetTree(order=order, corners=corners, boxes=boxes, leaves=leaves, shell=shell[order])


def shell_figures(surface: Surface, shell: NDArray[np.int32], shells: int) -> NDArray[np.float64]:
    """(shells, 8): signed volume, area, least and greatest x y z of every shell."""
    origin = bound_points(surface.vertices).mean(axis=0)
    return measure_shells(surface.vertices, surface.facets, shell, shells, origin)


def turn_shells(surface: Surface, shell: NDArray[np.int32], turn: NDArray[np.bool_]) -> Surface:
    """The surface with every facet of the chosen shells turned over."""
    chosen = turn[shell]
    facets = surface.facets.copy()
    facets[chosen] = facets[chosen][:, ::-1]
    return match_edges(surface.vertices, facets)


def keep_shells(surface: Surface, shell: NDArray[np.int32], keep: NDArray[np.bool_]) -> Surface:
    """The surface without the shells that are not kept."""
    return match_edges(surface.vertices, surface.facets[keep[shell]])


def count_enclosing(
    surface: Surface, shell: NDArray[np.int32], shells: int, tree: FacetTree, only: int = -1
) -> tuple[NDArray[np.int64], bool]:
    """By how many other shells (or by shell ``only``) each one is enclosed, and if that is sure.

    Asked at the middles of facets all over a shell, just inside it; the greatest answer counts.
    Only a shell whose box shares room with the box of another one is asked.
    """
    enclosing = np.zeros(shells, np.int64)
    figures = shell_figures(surface, shell, shells)
    if shells > MOST_SHELLS:
        return enclosing, False
    asked = np.nonzero(boxes_meet(np.ascontiguousarray(figures[:, 2:])))[0]
    if not len(asked):
        return enclosing, True
    facets = _spread_facets(shell, asked, shells)
    owner = shell[facets]
    points, normals = _points_on(surface, facets)
    reach = NUDGE_FRAC * diagonal_of(surface.vertices)
    starts = np.ascontiguousarray(points - np.sign(figures[owner, :1]) * normals * reach)
    votes = []
    for direction in DIRECTIONS:
        counted, finished = count_windings(
            tree.corners,
            tree.shell,
            tree.boxes,
            tree.leaves,
            starts,
            owner,
            only,
            direction,
            MOST_NODES,
        )
        if not finished:
            return enclosing, False
        votes.append(counted)
    np.maximum.at(enclosing, owner, np.median(votes, axis=0).astype(np.int64))
    return enclosing, True


def _spread_facets(
    shell: NDArray[np.int32], asked: NDArray[np.int64], shells: int
) -> NDArray[np.int64]:
    """Facets spread over the asked shells, as many of each and at most MOST_RAYS together."""
    each = max(1, MOST_RAYS // len(asked))
    by_shell = np.argsort(shell, kind="stable")
    sizes = np.bincount(shell, minlength=shells)
    first = np.cumsum(sizes) - sizes
    chosen = [
        by_shell[first[number] + np.unique(np.linspace(0, sizes[number] - 1, each).astype(int))]
        for number in asked.tolist()
    ]
    return np.asarray(np.concatenate(chosen), dtype=np.int64)


def _points_on(
    surface: Surface, facet: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    a, b, c = (surface.vertices[surface.facets[facet, corner]] for corner in range(3))
    normal = np.cross(b - a, c - a)
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    return (a + b + c) / 3.0, normal / np.where(length > 0.0, length, 1.0)


def search_crossings(surface: Surface, shell: NDArray[np.int32], shells: int) -> Crossings:
    """Facets that pass through each other, and shells inside other shells."""
    tree = plant_tree(surface, shell)
    budget = max(LEAST_PAIRS, PAIRS_PER_FACET * len(surface.facets))
    mark, finished = mark_crossings(
        tree.corners,
        np.ascontiguousarray(surface.facets[tree.order]),
        tree.shell,
        tree.boxes,
        tree.leaves,
        budget,
    )
    crossed = np.unique(tree.shell[(mark & CROSSES_OTHER) > 0])
    inside, sure = np.zeros(shells, np.int64), True
    if shells > 1:
        inside, sure = count_enclosing(surface, shell, shells, tree)
    own = (mark & CROSSES_OWN) > 0
    return Crossings(
        own=int(np.count_nonzero(own)),
        own_where=_place_of(tree.corners[own]),
        own_facets=np.sort(tree.order[own]),
        crossed_shells=tuple(int(number) for number in crossed),
        inside=inside,
        finished=bool(finished) and sure,
    )


def _place_of(corners: NDArray[np.float64]) -> Place:
    """Where facets with these corners (k, 3, 3) are: the first one, and a box around all."""
    if not len(corners):
        return Place(text="nowhere")
    x, y, z = (float(value) for value in corners[0].mean(axis=0))
    box = [*corners.min(axis=(0, 1)), *corners.max(axis=(0, 1))]
    return Place(
        text=f"near ({x:.4g}, {y:.4g}, {z:.4g}) mm",
        point_mm=(x, y, z),
        box_mm=tuple(float(value) for value in box),
    )


def unite_shells(surface: Surface, shell: NDArray[np.int32], shells: int) -> Surface | None:
    """Union of the outward shells, each less its own cavities; None where that fails.

    Each cavity belongs to the smallest outward shell that encloses it.
    """
    from manifold3d import Error, Manifold, OpType

    volumes = shell_figures(surface, shell, shells)[:, 0]
    outward = [int(number) for number in np.argsort(volumes, kind="stable") if volumes[number] > 0]
    homes: dict[int, list[int]] = {number: [] for number in outward}
    if (volumes < 0).any():
        tree = plant_tree(surface, shell)
        homeless = {int(number) for number in np.nonzero(volumes < 0)[0]}
        for number in outward:
            inside, _ = count_enclosing(surface, shell, shells, tree, only=number)
            for cavity in sorted(homeless):
                if inside[cavity] > 0:
                    homes[number].append(cavity)
                    homeless.discard(cavity)
        if homeless:
            return None
    bodies = []
    for number in outward:
        chosen = np.isin(shell, [number, *homes[number]])
        body = to_manifold(surface.vertices, surface.facets[chosen])
        if body is None:
            return None
        bodies.append(body)
    union = Manifold.batch_boolean(bodies, OpType.Add)
    if union.status() != Error.NoError or not union.volume() > 0:
        return None
    mesh = union.to_mesh64()
    vertices = np.array(mesh.vert_properties[:, :3], dtype=np.float64, order="C")
    return match_edges(vertices, np.array(mesh.tri_verts, dtype=np.int64, order="C"))


def to_manifold(vertices: NDArray[np.float64], facets: NDArray[np.int64]) -> object | None:
    """A manifold3d body of a closed surface, or None where that library refuses it."""
    from manifold3d import Error, Manifold, Mesh64

    used, number = np.unique(facets, return_inverse=True)
    body = Manifold(
        Mesh64(
            np.array(vertices[used], dtype=np.float64, order="C"),
            np.array(number.reshape(-1, 3), dtype=np.uint64, order="C"),
        )
    )
    return body if body.status() == Error.NoError else None
