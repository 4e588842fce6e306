"""OBJ: "v" and "f" lines; the rest (normals, textures, groups, materials) is passed over."""

from pathlib import Path

import numpy as np

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


def read_obj(path: Path, limits: Limits) -> RawMesh:
    """Facets of an OBJ file; indices from 1, or below 0 counted back from the last vertex.

    Raises:
        MeshError: when a line, an index or a number is wrong.
    """
    from buildplan.kernels.text_meshes import count_object_lines, scan_object

    data = path.read_bytes()
    if b"\\" in data:
        data = data.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ")
    text = np.frombuffer(data, np.uint8)
    vertices, faces, room = count_object_lines(text)
    check_triangles(path.name, faces, limits.triangles)
    check_triangles(path.name, max(1, room - 2 * faces), limits.triangles)
    points, corners, offsets, later, end = scan_object(text, vertices, faces, room)
    if end[0]:
        raise MeshError(f"{path.name}: " + _why_not(data, *(int(number) for number in end)))
    fill_in_numbers(path.name, data, points.reshape(-1), later)
    check_finite(path.name, points)
    check_indices(path.name, corners.reshape(-1, 1), len(points))
    return RawMesh(
        vertices=points,
        facets=triangulate_polygons(points, corners, offsets),
        unit=None,
        welded=False,
        findings=(),
    )


def _why_not(data: bytes, how: int, at: int, known: int, number: int) -> str:
    from buildplan.kernels import text

    line = line_of(data, at)
    word = word_at(data, at)
    if how == text.BAD_INDEX:
        allowed = f"1 to {known}" if number >= 0 else f"-{known} to -1 there"
        return f"line {line} names vertex {number}, allowed is {allowed}; export it again"
    if how == text.BAD_COUNT:
        return f"line {line} has {number} entries, 3 or more are needed; export it again"
    return f"line {line} holds {word!r} where a number belongs; export it again"
