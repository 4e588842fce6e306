"""A triangle surface with its edges matched, and the small steps that make it whole."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.edges import label_shells, turn_alike
from buildplan.kernels.halfedges import find_twins
from buildplan.kernels.mesh_measure import bound_points, measure_mesh
from buildplan.kernels.weld import weld_bits, weld_near


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """Vertices and facets with the twin of every half-edge.

    Attributes:
        vertices: (n, 3) float64.
        facets: (m, 3) int64, no facet with two equal corners.
        twin: (3 m,) int32, -1 where a half-edge has no partner that runs the other way.
        open_edges: Edges with a half-edge that has no partner.
        crowded_edges: Edges that more than two facets share.
    """

    vertices: NDArray[np.float64]
    facets: NDArray[np.int64]
    twin: NDArray[np.int32]
    open_edges: int
    crowded_edges: int


def match_edges(vertices: NDArray[np.float64], facets: NDArray[np.int64]) -> Surface:
    """The surface with its edges matched."""
    twin, open_edges, crowded_edges = find_twins(facets, len(vertices))
    return Surface(
        vertices=vertices,
        facets=facets,
        twin=twin,
        open_edges=open_edges,
        crowded_edges=crowded_edges,
    )


def diagonal_of(vertices: NDArray[np.float64]) -> float:
    """Length of the diagonal of the box around points (n, 3)."""
    box = bound_points(vertices)
    return float(np.linalg.norm(box[1] - box[0]))


def signed_volume(vertices: NDArray[np.float64], facets: NDArray[np.int64]) -> float:
    """Volume that facets enclose, negative where they face inwards."""
    return float(measure_mesh(vertices, facets, bound_points(vertices).mean(axis=0))[0])


def facet_areas(vertices: NDArray[np.float64], facets: NDArray[np.int64]) -> NDArray[np.float64]:
    """Area of every facet: (m,)."""
    a, b, c = (vertices[facets[:, corner]] for corner in range(3))
    return np.asarray(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1))


def weld_equal(
    vertices: NDArray[np.float64], facets: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Vertices with the same coordinates made one; unused vertices stay away."""
    points = vertices + 0.0  # makes -0.0 into 0.0
    index, first = weld_bits(points.view(np.uint32))
    if not len(index):
        _, first, index = np.unique(points, axis=0, return_index=True, return_inverse=True)
        index = index.astype(np.int64).ravel()
    return drop_unused(points[first], index[facets])


def drop_unused(
    vertices: NDArray[np.float64], facets: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Only the vertices that a facet uses, in their old order."""
    used = np.zeros(len(vertices), np.bool_)
    used[facets] = True
    if used.all():
        return vertices, facets
    number = np.cumsum(used) - 1
    return vertices[used], number[facets]


def drop_collapsed(facets: NDArray[np.int64]) -> NDArray[np.int64]:
    """The facets whose three corners differ."""
    a, b, c = facets[:, 0], facets[:, 1], facets[:, 2]
    keep = (a != b) & (b != c) & (c != a)
    return facets if keep.all() else facets[keep]


def drop_repeated(facets: NDArray[np.int64]) -> NDArray[np.int64]:
    """The first of all facets with the same three corners, whichever way they turn."""
    _, first = np.unique(np.sort(facets, axis=1), axis=0, return_index=True)
    return facets[np.sort(first)]


def ends_of_lone_edges(surface: Surface) -> NDArray[np.int64]:
    """Vertices of edges that only one facet uses, whichever way facets turn."""
    _, _, lone = _match_either_way(surface.facets, len(surface.vertices))
    facet, corner = lone // 3, lone % 3
    return np.unique(
        np.concatenate([surface.facets[facet, corner], surface.facets[facet, (corner + 1) % 3]])
    )


def weld_lone_edges(surface: Surface, ends: NDArray[np.int64], reach: float) -> Surface:
    """Vertices ``ends`` joined to the first of them within ``reach``; the rest is not touched."""
    points = surface.vertices[ends] - bound_points(surface.vertices)[0]
    joined = weld_near(np.ascontiguousarray(points), reach)
    number = np.arange(len(surface.vertices))
    number[ends] = ends[joined]
    vertices, facets = drop_unused(surface.vertices, drop_collapsed(number[surface.facets]))
    return match_edges(vertices, facets)


def neighbours_either_way(
    facets: NDArray[np.int64], vertices: int
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Half-edge across every edge of exactly two facets, and whether it runs the same way."""
    neighbour, same_way, _ = _match_either_way(facets, vertices)
    return neighbour, same_way


def _match_either_way(
    facets: NDArray[np.int64], vertices: int
) -> tuple[NDArray[np.int64], NDArray[np.bool_], NDArray[np.int64]]:
    """The same, and the half-edges that are alone on their edge."""
    start = facets.ravel()
    stop = np.roll(facets, -1, axis=1).ravel()
    key = np.minimum(start, stop) * vertices + np.maximum(start, stop)
    order = np.argsort(key, kind="stable")
    ranked = key[order]
    first = np.nonzero(np.r_[True, ranked[1:] != ranked[:-1]])[0]
    uses = np.diff(np.r_[first, len(ranked)])
    pair = first[uses == 2]
    neighbour = np.full(len(key), -1, np.int64)
    neighbour[order[pair]] = order[pair + 1]
    neighbour[order[pair + 1]] = order[pair]
    same_way = (neighbour >= 0) & (start == start[neighbour])
    return neighbour, same_way, order[first[uses == 1]]


def turn_facets_alike(surface: Surface) -> tuple[Surface, int]:
    """Neighbours made to turn alike, the smaller share by area turned over; and how many were."""
    neighbour, same_way = neighbours_either_way(surface.facets, len(surface.vertices))
    turned, region, _ = turn_alike(neighbour, same_way)
    areas = facet_areas(surface.vertices, surface.facets)
    whole = np.bincount(region, weights=areas)
    share = np.bincount(region, weights=areas * turned)
    turned = turned != (share > 0.5 * whole)[region]
    facets = surface.facets.copy()
    facets[turned] = facets[turned][:, ::-1]
    return match_edges(surface.vertices, facets), int(turned.sum())


def shells_of(surface: Surface) -> tuple[NDArray[np.int32], int]:
    """Number of the connected surface of every facet, and how many there are."""
    shell, shells = label_shells(surface.twin)
    return shell, int(shells)
