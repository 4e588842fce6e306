"""Half-edges of a triangle mesh, matched by vertex number alone: no tolerance, no coordinates.

Half-edge ``3 * f + i`` runs from corner i of facet f to the next corner. Its twin runs the other
way along the same edge in the neighbouring facet. In a closed, consistently turned mesh every
half-edge has exactly one twin.
"""

import numpy as np
from numpy.typing import NDArray

from buildplan.kernels.jit import kernel, kernel_inline

_INSERTION_LIMIT = 48
"""Longest list of half-edges that is sorted by insertion."""

_PAIRED = -1
"""In place of a waiting half-edge: the edge has its two facets."""

_STEPS_PER_HALF_EDGE = 16
"""Steps through lists, on average, after which the plain search gives up."""


@kernel_inline
def _head(corners: NDArray[np.int32], half_edge: int) -> int:
    """Vertex at which a half-edge ends."""
    return corners[half_edge - 2 if half_edge % 3 == 2 else half_edge + 1]  # type: ignore[no-any-return]  # int32


@kernel
def _bucket_by_lower_vertex(
    corners: NDArray[np.int32], n_vertices: int
) -> tuple[NDArray[np.int64], NDArray[np.int32], NDArray[np.int32]]:
    """Half-edges sorted by their lower vertex (counting sort, stable).

    Args:
        corners: (3 m,) vertex of each corner.
        n_vertices: Number of vertices.

    Returns:
        Offsets (n_vertices + 1,), half-edges (3 m,), and the upper vertex of each of them (3 m,).
    """
    n = corners.shape[0]
    offset = np.zeros(n_vertices + 1, np.int64)
    for h in range(n):
        offset[min(corners[h], _head(corners, h)) + 1] += 1
    for v in range(n_vertices):
        offset[v + 1] += offset[v]
    slot = offset[:-1].copy()
    sorted_edges = np.empty(n, np.int32)
    upper = np.empty(n, np.int32)
    for h in range(n):
        a = corners[h]
        b = _head(corners, h)
        low = min(a, b)
        sorted_edges[slot[low]] = h
        upper[slot[low]] = max(a, b)
        slot[low] += 1
    return offset, sorted_edges, upper


@kernel
def _match_plain(
    corners: NDArray[np.int32],
    newest: NDArray[np.int32],
    edges: NDArray[np.int32],
    twin: NDArray[np.int32],
) -> tuple[int, bool]:
    """Twins found in unsorted lists of edges by lower vertex: fast, for plain meshes only.

    Args:
        corners: (3 m,) vertex of each corner.
        newest: (n_vertices,) all -1; the list of each lower vertex begins here.
        edges: (3 m, 3) room for the edges: next in the list, upper vertex, half-edge that waits
            for its twin (or _PAIRED). It is given from outside because numpy asks for large pages.
        twin: (3 m,) all -1, written.

    Returns:
        Edges with an unmatched half-edge, and whether the search came to its end: it gives up at
        an edge shared by more than two facets, and where the lists are too long.
    """
    n = corners.shape[0]
    n_edges = 0
    n_open = 0
    steps = _STEPS_PER_HALF_EDGE * n
    for h in range(n):
        a = corners[h]
        b = _head(corners, h)
        if a == b:
            continue
        low = min(a, b)
        high = max(a, b)
        edge = newest[low]
        while edge >= 0 and edges[edge, 1] != high:
            edge = edges[edge, 0]
            steps -= 1
        if steps < 0:
            return 0, False
        if edge < 0:
            edges[n_edges, 0] = newest[low]
            edges[n_edges, 1] = high
            edges[n_edges, 2] = h
            newest[low] = n_edges
            n_edges += 1
            n_open += 1
            continue
        other = edges[edge, 2]
        if other == _PAIRED:
            return 0, False
        edges[edge, 2] = _PAIRED
        if corners[other] == b:
            twin[h] = other
            twin[other] = h
            n_open -= 1
    return n_open, True


@kernel
def _match_sorted(
    corners: NDArray[np.int32], n_vertices: int
) -> tuple[NDArray[np.int32], int, int]:
    """Twins of all half-edges, edges with an unmatched half-edge, edges used more than twice.

    Half-edges of one edge stand in the order of their numbers; the i-th of one direction is
    matched with the i-th of the other, so that the outcome depends on nothing but the facets.
    """
    offset, sorted_edges, upper = _bucket_by_lower_vertex(corners, n_vertices)
    twin = np.full(corners.shape[0], -1, np.int32)
    n_open = 0
    n_over_used = 0
    for v in range(n_vertices):
        begin = offset[v]
        end = offset[v + 1]
        if end - begin > _INSERTION_LIMIT:
            order = np.argsort(upper[begin:end], kind="mergesort")
            upper[begin:end] = upper[begin:end][order]
            sorted_edges[begin:end] = sorted_edges[begin:end][order]
        else:
            for p in range(begin + 1, end):
                key = upper[p]
                edge = sorted_edges[p]
                q = p
                while q > begin and upper[q - 1] > key:
                    upper[q] = upper[q - 1]
                    sorted_edges[q] = sorted_edges[q - 1]
                    q -= 1
                upper[q] = key
                sorted_edges[q] = edge
        p = begin
        while p < end:
            q = p + 1
            while q < end and upper[q] == upper[p]:
                q += 1
            if upper[p] != v:
                if q - p > 2:
                    n_over_used += 1
                forward = p
                backward = p
                matched = 0
                while True:
                    while forward < q and corners[sorted_edges[forward]] != v:
                        forward += 1
                    while backward < q and corners[sorted_edges[backward]] == v:
                        backward += 1
                    if forward >= q or backward >= q:
                        break
                    twin[sorted_edges[forward]] = sorted_edges[backward]
                    twin[sorted_edges[backward]] = sorted_edges[forward]
                    matched += 2
                    forward += 1
                    backward += 1
                if matched < q - p:
                    n_open += 1
            p = q
    return twin, n_open, n_over_used


def find_twins(facets: NDArray[np.integer], n_vertices: int) -> tuple[NDArray[np.int32], int, int]:
    """Twin of every half-edge, with the numbers of open and of over-used edges.

    Half-edges whose two ends are one vertex (of degenerate facets) have no twin and count nowhere.

    Args:
        facets: (m, 3) vertices of each facet, every one below n_vertices.
        n_vertices: Number of vertices.

    Returns:
        twin (3 m,), -1 where there is none; the number of edges with an unmatched half-edge (open,
        or turned the wrong way on one side); the number of edges shared by more than two facets.
    """
    corners = np.array(facets, dtype=np.int32).reshape(-1)
    twin = np.full(len(corners), -1, np.int32)
    newest = np.full(n_vertices, -1, np.int32)
    n_open, is_plain = _match_plain(corners, newest, np.empty((len(corners), 3), np.int32), twin)
    if is_plain:
        return twin, int(n_open), 0
    twin, n_open, n_over_used = _match_sorted(corners, n_vertices)
    return twin, int(n_open), int(n_over_used)
