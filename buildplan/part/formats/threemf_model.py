"""The XML parts of a 3MF file, read by expat with document types and entities refused."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import NoReturn
from xml.parsers import expat

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import MeshError
from buildplan.part.formats.placing import Mesh, Node, Placed
from buildplan.part.formats.threemf_rows import TRIANGLE_KEYS, VERTEX_KEYS, Rows
from buildplan.part.limits import Limits
from buildplan.part.raw import strict_float

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
PRODUCTION = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
MATERIALS = "http://schemas.microsoft.com/3dmanufacturing/material/2015/02"
START_TYPE = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
UNDERSTOOD = (CORE, PRODUCTION, MATERIALS)
"""Namespaces that a file may require: colours do not change the body."""

LARGEST_ITEM = 8 * 2**20
"""Bytes of one piece of XML (a tag, a text) that the parser may hold back."""

SEPARATOR = "}"
ROWS_TAG = re.compile(rb"<((?:[A-Za-z_][\w.-]{0,60}:)?)(?:vertices|triangles)\s*>")
LONGEST_ROWS_TAG = 128


@dataclass(frozen=True, slots=True)
class ObjectName:
    """An object by the model part it stands in and its id there."""

    part: str
    number: str

    def __str__(self) -> str:
        """The id, as messages show it."""
        return self.number


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One entry of the build, or one component of an object."""

    target: ObjectName
    matrix: NDArray[np.float64]


class _Reader:
    """Feeds one XML part to expat; what subclasses see are element starts and ends."""

    def __init__(self, file: str) -> None:
        self.file = file
        self._fed = 0
        self._lines_apart = 0
        self._parser = expat.ParserCreate(namespace_separator=SEPARATOR)
        self._parser.ordered_attributes = True
        self._parser.buffer_text = True
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.StartDoctypeDeclHandler = self._refuse_document_type
        self._parser.EntityDeclHandler = self._refuse_document_type

    def feed(self, piece: bytes) -> None:
        """The next piece of the part."""
        self._fed += len(piece)
        self._parse(piece, last=False)
        if self._fed - max(self._parser.CurrentByteIndex, 0) > LARGEST_ITEM:
            self._refuse(f"one piece of its XML is longer than {LARGEST_ITEM} bytes")

    def finish(self) -> None:
        """The end of the part."""
        self._parse(b"", last=True)

    def _parse(self, piece: bytes, *, last: bool) -> None:
        try:
            self._parser.Parse(piece, last)
        except expat.ExpatError as fault:
            line = fault.lineno + self._lines_apart
            self._refuse(f"its XML is broken in line {line} ({expat.ErrorString(fault.code)})")

    def _line(self) -> int:
        return self._parser.CurrentLineNumber + self._lines_apart

    def _refuse(self, why: str) -> NoReturn:
        raise MeshError(f"{self.file}: {why}; export it again")

    def _refuse_document_type(self, *_: object) -> NoReturn:
        self._refuse(
            f"line {self._line()} declares a document type or an entity, a 3MF "
            "file may hold 0 of them"
        )

    def _start(self, tag: str, attributes: list[str]) -> None:
        raise NotImplementedError

    def _end(self, tag: str) -> None:
        raise NotImplementedError


class StartReader(_Reader):
    """Reads the file's list of relationships for the model part it starts with."""

    target: str | None = None

    def _start(self, tag: str, attributes: list[str]) -> None:
        given = dict(zip(attributes[::2], attributes[1::2], strict=True))
        if tag.endswith("Relationship") and given.get("Type") == START_TYPE:
            self.target = given.get("Target")

    def _end(self, tag: str) -> None:
        return


class ModelReader(_Reader):
    """Reads one model part: its unit, objects (meshes, components) and build items."""

    def __init__(self, file: str, part: str, limits: Limits) -> None:
        super().__init__(file)
        self.part = part
        self.limits = limits
        self.unit = "millimeter"
        self.items: list[Item] = []
        self._kinds: dict[str, str] = {}
        self._meshes: dict[str, Mesh] = {}
        self._children: dict[str, list[Placed]] = {}
        self._object = ""
        self._points = Rows(VERTEX_KEYS)
        self._triangles = Rows(TRIANGLE_KEYS)
        self._opened: Rows | None = None
        self._rows: Rows | None = None
        self._held = b""
        self._prefixes: dict[str | None, str] = {}
        self._parser.StartNamespaceDeclHandler = self._name_space
        core = CORE + SEPARATOR
        self._starts: dict[str, Callable[[list[str]], None]] = {
            core + "vertex": self._vertex,
            core + "triangle": self._triangle,
            core + "vertices": self._open_points,
            core + "triangles": self._open_triangles,
            core + "model": self._model,
            core + "object": self._open_object,
            core + "component": self._component,
            core + "item": self._item,
        }
        self._mesh_tag = core + "mesh"

    def kind_of(self, name: ObjectName) -> str:
        """Kind of an object: model, support ..."""
        return self._kinds.get(name.number, "model")

    def node(self, name: ObjectName) -> Node:
        """The object of that name."""
        if name.number not in self._kinds:
            self._refuse(
                f"object {name.number} is placed but not there (the part holds "
                f"{len(self._kinds)} objects)"
            )
        mesh = self._meshes.get(name.number)
        return Node(
            meshes=(mesh,) if mesh is not None else (),
            children=tuple(self._children.get(name.number, ())),
        )

    def _name_space(self, prefix: str | None, uri: str) -> None:
        self._prefixes[prefix] = uri

    def _start(self, tag: str, attributes: list[str]) -> None:
        handler = self._starts.get(tag)
        if handler is not None:
            handler(attributes)

    def _end(self, tag: str) -> None:
        if tag == self._mesh_tag:
            self._close_mesh()

    def _model(self, attributes: list[str]) -> None:
        given = _pairs(attributes)
        self.unit = given.get("unit", "millimeter")
        for prefix in given.get("requiredextensions", "").split():
            uri = self._prefixes.get(prefix, prefix)
            if uri not in UNDERSTOOD:
                self._refuse(f"it requires the extension {uri!r}, which is not understood here")

    def _open_object(self, attributes: list[str]) -> None:
        given = _pairs(attributes)
        self._object = given.get("id", "")
        if self._object in self._kinds:
            self._refuse(f"object {self._object} is there twice")
        self._kinds[self._object] = given.get("type", "model")

    def feed(self, piece: bytes) -> None:
        """The next piece: plain rows of vertices and triangles are read apart from the XML."""
        rest = self._held + piece
        self._held = b""
        while rest:
            if self._rows is not None:
                rest = self._feed_rows(rest)
                continue
            tag = ROWS_TAG.search(rest)
            if tag is None:
                # a tag may be cut by the end of the piece
                cut = rest.rfind(b"<", max(0, len(rest) - LONGEST_ROWS_TAG))
                cut = len(rest) if cut < 0 or b">" in rest[cut:] else cut
                super().feed(rest[:cut])
                self._held = rest[cut:]
                return
            self._opened = None
            super().feed(rest[: tag.end()])
            rest = rest[tag.end() :]
            if self._opened is not None:  # the parser saw the tag too: it stands in no comment
                self._rows = self._opened
                self._rows.begin(tag[1])

    def finish(self) -> None:
        """The end of the part, with what was held back of it."""
        held, self._held = self._held, b""
        if held:
            super().feed(held)
        super().finish()

    def _feed_rows(self, data: bytes) -> bytes:
        """Take the plain rows off ``data``; what is left of it for the parser, or held back."""
        rows = self._rows
        if rows is None:
            return data
        stop, more = rows.scan(data)
        self._lines_apart += data.count(b"\n", 0, stop)
        self._check_room()
        if not more:
            self._rows = None
            return data[stop:]
        self._held = data[stop:]
        if len(self._held) > LARGEST_ITEM:
            self._refuse(f"one piece of its XML is longer than {LARGEST_ITEM} bytes")
        return b""

    def _open_points(self, _: list[str]) -> None:
        self._opened = self._points

    def _open_triangles(self, _: list[str]) -> None:
        self._opened = self._triangles

    def _vertex(self, attributes: list[str]) -> None:
        self._row(self._points, "vertex", attributes)

    def _triangle(self, attributes: list[str]) -> None:
        self._row(self._triangles, "triangle", attributes)

    def _row(self, rows: Rows, what: str, attributes: list[str]) -> None:
        """A row that was not spelt plainly, through the parser."""
        given = _pairs(attributes)
        try:
            rows.add([strict_float(given[key]) for key in rows.keys])
        except (KeyError, ValueError):
            self._refuse(
                f"{what} {rows.count} of object {self._object} needs three numbers "
                f"{', '.join(rows.keys)}, found {attributes[:6]}"
            )
        self._check_room()

    def _check_room(self) -> None:
        if self._points.count > 3 * self.limits.triangles:
            self._refuse(
                f"object {self._object} holds more than {3 * self.limits.triangles} vertices"
            )
        if self._triangles.count > self.limits.triangles:
            self._refuse(
                f"object {self._object} holds more than the {self.limits.triangles} triangles "
                "that are allowed"
            )

    def _close_mesh(self) -> None:
        vertices, corners = self._points.take(), self._triangles.take()
        broken = np.nonzero(~np.isfinite(vertices).all(axis=1))[0]
        if len(broken):
            self._refuse(
                f"{len(broken)} vertices of object {self._object} are not finite numbers (the "
                f"first is vertex {int(broken[0])})"
            )
        there = (corners >= 0.0) & (corners < len(vertices)) & (corners == np.floor(corners))
        wrong = np.nonzero(~there.all(axis=1))[0]
        if len(wrong):
            first = int(wrong[0])
            named = ", ".join(f"{corner:.10g}" for corner in corners[first])
            self._refuse(
                f"triangle {first} of object {self._object} names the vertices {named}, the "
                f"object holds {len(vertices)} (from 0)"
            )
        self._meshes[self._object] = Mesh(vertices=vertices, facets=corners.astype(np.int64))

    def _component(self, attributes: list[str]) -> None:
        placed = self._placed(attributes)
        self._children.setdefault(self._object, []).append(
            Placed(target=placed.target, matrix=placed.matrix)
        )
        self._count_copies(len(self._children[self._object]))

    def _item(self, attributes: list[str]) -> None:
        self.items.append(self._placed(attributes))
        self._count_copies(len(self.items))

    def _count_copies(self, copies: int) -> None:
        if copies > self.limits.instances:
            self._refuse(f"it places more than {self.limits.instances} copies of its objects")

    def _placed(self, attributes: list[str]) -> Item:
        given = _pairs(attributes)
        part = given.get(f"{PRODUCTION}{SEPARATOR}path", self.part).lstrip("/").lower()
        return Item(
            target=ObjectName(part, given.get("objectid", "")),
            matrix=self._matrix(given.get("transform", "")),
        )

    def _matrix(self, text: str) -> NDArray[np.float64]:
        """The 4 x 4 matrix of twelve numbers, rows first, points as rows from the left."""
        matrix = np.eye(4)
        if not text:
            return matrix
        try:
            numbers = np.array([strict_float(word) for word in text.split()])
        except ValueError:
            numbers = np.empty(0)
        if len(numbers) != 12 or not np.isfinite(numbers).all():
            self._refuse(
                f"line {self._line()}: a transform needs 12 finite numbers, found {text[:60]!r}"
            )
        matrix[:3, :] = numbers.reshape(4, 3).T
        return matrix


def _pairs(attributes: list[str]) -> dict[str, str]:
    return dict(zip(attributes[::2], attributes[1::2], strict=True))
