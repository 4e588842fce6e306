"""PLY: a text header that names elements and properties, then rows of text or of bytes."""

from dataclasses import dataclass
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

TYPES = {
    "char": "i1",
    "int8": "i1",
    "uchar": "u1",
    "uint8": "u1",
    "short": "i2",
    "int16": "i2",
    "ushort": "u2",
    "uint16": "u2",
    "int": "i4",
    "int32": "i4",
    "uint": "u4",
    "uint32": "u4",
    "float": "f4",
    "float32": "f4",
    "double": "f8",
    "float64": "f8",
}
"""PLY type name -> numpy type without byte order."""

INDEX_NAMES = ("vertex_indices", "vertex_index")
LONGEST_HEADER = 65536
ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Property:
    """One column of an element: its type, and the type of its count where it is a list."""

    name: str
    kind: str
    count_kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Element:
    """One table of the file: its name, number of rows and columns."""

    name: str
    rows: int
    properties: tuple[_Property, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """The wanted columns of the tables read so far."""

    points: NDArray[np.float64]
    corners: NDArray[np.int64]
    offsets: NDArray[np.int64]


def read_ply(path: Path, limits: Limits) -> RawMesh:
    """Facets of a PLY file, text or binary.

    Raises:
        MeshError: when the header, a count or a number is wrong.
    """
    data = path.read_bytes()
    order, elements, start = _read_header(path.name, data)
    vertices = next((e for e in elements if e.name == "vertex"), None)
    faces = next((e for e in elements if e.name == "face"), None)
    if vertices is None or faces is None:
        raise MeshError(
            f"{path.name}: the header has no element 'vertex' or no element 'face'; found "
            f"{[e.name for e in elements]}; export the part as a mesh"
        )
    check_triangles(path.name, faces.rows, limits.triangles)
    if vertices.rows > 3 * limits.triangles:
        raise MeshError(
            f"{path.name}: the header says {vertices.rows} vertices, at most "
            f"{3 * limits.triangles} are allowed; export a coarser mesh or raise Limits(triangles=)"
        )
    if order == "":
        table = _read_text(path.name, data, start, elements)
    else:
        table = _read_bytes(path.name, data, start, elements, order)
    check_triangles(path.name, len(table.corners) - 2 * faces.rows, limits.triangles)
    check_finite(path.name, table.points)
    check_indices(path.name, table.corners.reshape(-1, 1), len(table.points))
    return RawMesh(
        vertices=table.points,
        facets=triangulate_polygons(table.points, table.corners, table.offsets),
        unit=None,
        welded=False,
        findings=(),
    )


def _read_header(name: str, data: bytes) -> tuple[str, tuple[_Element, ...], int]:
    stop = data.find(b"end_header", 0, LONGEST_HEADER)
    if not data.startswith((b"ply\n", b"ply\r\n", b"ply\r")) or stop < 0:
        raise MeshError(
            f"{name}: no PLY header ('ply' ... 'end_header') in the first {LONGEST_HEADER} bytes, "
            f"the file begins with {word_at(data, 0)!r}; export it again"
        )
    order = None
    elements: list[_Element] = []
    for number, line in enumerate(data[:stop].decode("latin-1").splitlines()[1:], start=2):
        words = line.split()
        if not words or words[0] in ("comment", "obj_info"):
            continue
        if words[0] == "format" and len(words) >= 2 and words[1] in ORDERS:
            order = ORDERS[words[1]]
        elif words[0] == "element" and len(words) == 3 and words[2].isascii():
            if not words[2].isdigit() or len(words[2]) > 15:
                raise MeshError(_bad_header(name, number, line))
            elements.append(_Element(name=words[1], rows=int(words[2]), properties=()))
        elif words[0] == "property" and elements:
            elements[-1] = _with_property(name, number, line, elements[-1])
        else:
            raise MeshError(_bad_header(name, number, line))
    if order is None:
        raise MeshError(
            f"{name}: the header names no format; allowed: {', '.join(ORDERS)}; export it again"
        )
    start = stop + len(b"end_header")
    start += 2 if data[start : start + 2] == b"\r\n" else 1
    return order, tuple(elements), start


def _bad_header(name: str, number: int, line: str) -> str:
    return f"{name}: header line {number} is not PLY: {line[:60]!r}; export it again"


def _with_property(name: str, number: int, line: str, element: _Element) -> _Element:
    words = line.split()
    listed = len(words) == 5 and words[1] == "list"
    kinds = words[2:4] if listed else words[1:2]
    plain = len(words) == 3 or listed
    if not plain or any(kind not in TYPES for kind in kinds):
        raise MeshError(_bad_header(name, number, line))
    count_kind = TYPES[kinds[0]] if listed else ""
    if count_kind.startswith("f"):
        raise MeshError(_bad_header(name, number, line))
    column = _Property(name=words[-1], kind=TYPES[kinds[-1]], count_kind=count_kind)
    return _Element(name=element.name, rows=element.rows, properties=(*element.properties, column))


def _layout(name: str, element: _Element) -> NDArray[np.int64]:
    """What the kernels need to know of each column; the index list of "face" is wanted."""
    rows = []
    for column in element.properties:
        wanted = element.name == "face" and bool(column.count_kind)
        wanted = wanted and column.name in INDEX_NAMES
        if wanted and column.kind.startswith("f"):
            raise MeshError(
                f"{name}: {column.name} is a list of {column.kind}, whole numbers are needed; "
                "export it again"
            )
        rows.append(
            (
                int(column.count_kind[1:] or 0),
                int(column.count_kind.startswith("i")),
                int(column.kind[1:]),
                int(column.kind.startswith("i")),
                int(wanted),
            )
        )
    layout = np.array(rows, dtype=np.int64).reshape(-1, 5)
    if element.name == "face" and layout[:, 4].sum() != 1:
        raise MeshError(
            f"{name}: the element 'face' has no list 'vertex_indices'; export the part as a mesh"
        )
    return layout


def _axes(name: str, element: _Element) -> list[int]:
    names = [column.name for column in element.properties]
    if not all(axis in names for axis in "xyz") or any(c.count_kind for c in element.properties):
        raise MeshError(
            f"{name}: the element 'vertex' has the properties {names}, plain x, y and z are "
            "needed; export it again"
        )
    return [names.index(axis) for axis in "xyz"]


def _short(name: str, element: _Element, held: int) -> MeshError:
    return MeshError(
        f"{name}: the header says {element.rows} rows of '{element.name}', the file holds {held}; "
        "it was cut short, export it again"
    )


def _wrong_count(name: str, element: _Element, row: int, count: int) -> MeshError:
    return MeshError(
        f"{name}: row {row} of '{element.name}' says it has {max(count, 0)} corners, 3 or more "
        "are needed; export it again"
    )


def _read_text(name: str, data: bytes, start: int, elements: tuple[_Element, ...]) -> _Table:
    from buildplan.kernels.rows_of_lists import walk_number_rows
    from buildplan.kernels.text import BAD_NUMBER, scan_numbers

    values, _, later, end = scan_numbers(
        np.frombuffer(data, np.uint8), start, (len(data) - start) // 2 + 2, -1
    )
    if end[0] == BAD_NUMBER:
        at = int(end[1])
        raise MeshError(
            f"{name}: line {line_of(data, at)} holds {word_at(data, at)!r} where a number "
            "belongs; export it again"
        )
    fill_in_numbers(name, data, values, later)
    points = np.empty((0, 3))
    corners, offsets = np.empty(0, np.int64), np.zeros(1, np.int64)
    at = 0
    for element in elements:
        width = len(element.properties)
        if element.name == "vertex":
            axes = _axes(name, element)
            if at + width * element.rows > len(values):
                raise _short(name, element, max(len(values) - at, 0) // max(width, 1))
            block = values[at : at + width * element.rows].reshape(element.rows, width)
            points = np.ascontiguousarray(block[:, axes])
            at += width * element.rows
            continue
        if element.rows > len(values):
            raise _short(name, element, max(len(values) - at, 0) // max(width, 1))
        items, rows, stop = walk_number_rows(
            values, at, element.rows, _layout(name, element), len(values)
        )
        if len(rows) <= element.rows:
            if stop[1]:
                raise _wrong_count(name, element, len(rows) - 1, int(stop[1]))
            raise _short(name, element, len(rows) - 1)
        if element.name == "face":
            corners, offsets = items.copy(), rows
        at = int(stop[0])
    return _Table(points=points, corners=corners, offsets=offsets)


def _read_bytes(
    name: str, data: bytes, start: int, elements: tuple[_Element, ...], order: str
) -> _Table:
    from buildplan.kernels.rows_of_lists import walk_byte_rows

    points = np.empty((0, 3))
    corners, offsets = np.empty(0, np.int64), np.zeros(1, np.int64)
    at = start
    for element in elements:
        left = len(data) - at
        if element.name == "vertex":
            axes = _axes(name, element)
            record = np.dtype([(f"c{i}", order + c.kind) for i, c in enumerate(element.properties)])
            if record.itemsize * element.rows > left:
                raise _short(name, element, max(left, 0) // record.itemsize)
            block = np.frombuffer(data, record, element.rows, at)
            points = np.column_stack([block[f"c{axis}"].astype(np.float64) for axis in axes])
            at += record.itemsize * element.rows
            continue
        if element.rows > max(left, 0):
            raise _short(name, element, 0)
        layout = _layout(name, element)
        items, rows, stop = walk_byte_rows(
            np.frombuffer(data, np.uint8), at, element.rows, layout, order == ">", left
        )
        if len(rows) <= element.rows:
            if stop[1]:
                raise _wrong_count(name, element, len(rows) - 1, int(stop[1]))
            raise _short(name, element, len(rows) - 1)
        if element.name == "face":
            corners, offsets = items.copy(), rows
        at = int(stop[0])
    return _Table(points=points, corners=corners, offsets=offsets)
