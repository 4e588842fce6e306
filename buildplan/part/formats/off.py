"""OFF: three counts, then vertices and polygons line by line; colours are passed over."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import MeshError
from buildplan.part.formats.polygons import triangulate_polygons
from buildplan.part.limits import Limits
from buildplan.part.raw import (
    RawMesh,
    check_finite,
    check_indices,
    check_triangles,
    fill_in_numbers,
    line_of,
    word_at,
)

FIRST_WORDS = (b"OFF", b"COFF", b"NOFF", b"CNOFF")
"""Kinds whose vertex lines begin with x y z."""


def read_off(path: Path, limits: Limits) -> RawMesh:
    """Facets of a text OFF file.

    Raises:
        MeshError: when the counts, a line or a number is wrong.
    """
    from buildplan.kernels.text import BAD_NUMBER, scan_numbers

    data = path.read_bytes()
    name = path.name
    words = data[:64].split(None, 1)
    if not words or words[0] not in FIRST_WORDS:
        raise MeshError(
            f"{name}: the file begins with {word_at(data, 0)!r}, an OFF file begins with 'OFF'; "
            "export it again"
        )
    start = data.index(words[0]) + len(words[0])
    values, line, later, end = scan_numbers(
        np.frombuffer(data, np.uint8), start, len(data) // 2 + 1, ord("#")
    )
    if end[0] == BAD_NUMBER:
        at = int(end[1])
        raise MeshError(
            f"{name}: line {line_of(data, at)} holds {word_at(data, at)!r} where a number "
            "belongs; export it again"
        )
    fill_in_numbers(name, data, values, later)
    vertices, faces = _counts(name, values, limits)
    rows = np.nonzero(np.r_[True, line[1:] != line[:-1]])[0]
    rows = np.append(rows[rows >= 3], len(values))
    if len(rows) and rows[0] > 3:
        raise MeshError(f"{name}: the counts must stand alone in their line; export it again")
    if len(rows) - 1 < vertices + faces:
        raise MeshError(
            f"{name}: the header says {vertices} vertices and {faces} facets, the file holds "
            f"{max(len(rows) - 1, 0)} of these {vertices + faces} lines; export it again"
        )
    points = _points(name, values, rows[: vertices + 1])
    corners, offsets = _polygons(name, values, rows[vertices : vertices + faces + 1])
    check_triangles(name, max(1, len(corners) - 2 * faces), limits.triangles)
    check_finite(name, points)
    check_indices(name, corners.reshape(-1, 1), len(points))
    return RawMesh(
        vertices=points,
        facets=triangulate_polygons(points, corners, offsets),
        unit=None,
        welded=False,
        findings=(),
    )


def _counts(name: str, values: NDArray[np.float64], limits: Limits) -> tuple[int, int]:
    if len(values) < 3 or (values[:3] < 0).any() or (values[:3] != np.floor(values[:3])).any():
        raise MeshError(
            f"{name}: the file begins with {values[:3].tolist()}, three whole counts (vertices, "
            "facets, edges) are needed; export it again"
        )
    vertices, faces = int(values[0]), int(values[1])
    check_triangles(name, faces, limits.triangles)
    return vertices, faces


def _points(name: str, values: NDArray[np.float64], rows: NDArray[np.int64]) -> NDArray[np.float64]:
    short = np.nonzero(np.diff(rows) < 3)[0]
    if len(short):
        found = int(rows[short[0] + 1] - rows[short[0]])
        raise MeshError(
            f"{name}: vertex {int(short[0])} has {found} numbers, 3 are needed; export it again"
        )
    return np.asarray(values[rows[:-1, None] + np.arange(3)])


def _polygons(
    name: str, values: NDArray[np.float64], rows: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    room = np.diff(rows) - 1
    sizes = values[rows[:-1]]
    wrong = np.nonzero((sizes < 3) | (sizes > room) | (sizes != np.floor(sizes)))[0]
    if len(wrong):
        first = int(wrong[0])
        raise MeshError(
            f"{name}: facet {first} says it has {sizes[first]:g} corners (3 or more are needed) "
            f"and its line holds {int(room[first])}; export it again"
        )
    counts = sizes.astype(np.int64)
    offsets = np.concatenate([[0], np.cumsum(counts)])
    place = np.arange(offsets[-1]) - np.repeat(offsets[:-1], counts)
    corners = values[np.repeat(rows[:-1] + 1, counts) + place]
    if (corners != np.floor(corners)).any() or (np.abs(corners) > 2**53).any():
        raise MeshError(f"{name}: a facet names a vertex that is no whole number; export it again")
    return corners.astype(np.int64), offsets
