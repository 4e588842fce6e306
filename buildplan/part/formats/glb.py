"""GLB: glTF 2.0 in one binary file; lengths in metres, the y axis up."""

import json
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import MeshError
from buildplan.findings import Finding, Place
from buildplan.part.formats.placing import Mesh, Node, Placed, place_all
from buildplan.part.limits import Limits
from buildplan.part.raw import RawMesh, check_finite, check_indices

JSON_CHUNK, BYTES_CHUNK = 0x4E4F534A, 0x004E4942
COMPONENTS = {5120: "i1", 5121: "u1", 5122: "i2", 5123: "u2", 5125: "u4", 5126: "f4"}
"""glTF 2.0, 3.6.2.2: component type -> numpy type, little endian."""

WIDTHS = {"SCALAR": 1, "VEC3": 3}
TRIANGLES, STRIP, FAN = 4, 5, 6
Y_UP_TO_Z_UP = np.array(
    [[1.0, 0.0, 0.0, 0.0], [0.0, 0.0, -1.0, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 0.0, 1.0]]
)


def read_glb(path: Path, limits: Limits) -> RawMesh:
    """The scene of a GLB file in one mesh, in metres, turned so that z points up.

    Raises:
        MeshError: when a size, an index, a number or a reference is wrong.
    """
    mesh = read_scene(path.name, path.read_bytes(), limits, Y_UP_TO_Z_UP)
    return RawMesh(
        vertices=mesh.vertices,
        facets=mesh.facets,
        unit="m",
        welded=False,
        findings=(
            Finding(
                check="units",
                severity="note",
                what="the file's y axis points up; the part was turned so that its z axis does",
                where=Place(text="the whole part"),
                measured="y up",
                required="z up",
                remedy="If the part lies on its side now, turn it when placing it.",
                source="glTF 2.0, 3.4 coordinate system and units",
            ),
        ),
    )


def read_scene(file: str, data: bytes, limits: Limits, frame: NDArray[np.float64]) -> Mesh:
    """All meshes that the scene places, under the 4 x 4 matrix ``frame``."""
    scene = _Scene(file, data)
    try:
        roots = tuple(Placed(target=number, matrix=frame) for number in scene.roots())
        # the frame stands before each root's own matrix, which its node carries
        return place_all(file, _with_own(scene, roots), scene.node, limits)
    except (KeyError, IndexError, TypeError, AttributeError, ValueError) as fault:
        if isinstance(fault, MeshError):
            raise
        raise MeshError(
            f"{file}: its description breaks glTF 2.0 ({type(fault).__name__}: {fault}); "
            "export it again"
        ) from None


def _with_own(scene: "_Scene", roots: tuple[Placed, ...]) -> tuple[Placed, ...]:
    return tuple(
        Placed(target=root.target, matrix=root.matrix @ scene.matrix(int(str(root.target))))
        for root in roots
    )


class _Scene:
    """The description and the bytes of one GLB file."""

    def __init__(self, file: str, data: bytes) -> None:
        self.file = file
        self.bytes = b""
        self.tree: dict[str, Any] = {}
        self._unpack(data)
        for extension in self.tree.get("extensionsRequired", []):
            self._refuse(f"it requires the extension {extension!r}, which is not understood here")

    def _refuse(self, why: str) -> None:
        raise MeshError(f"{self.file}: {why}; export it again")

    def _unpack(self, data: bytes) -> None:
        if len(data) < 20 or data[:4] != b"glTF":
            self._refuse(
                f"the file of {len(data)} bytes begins with {data[:4]!r}, a GLB file begins with "
                "b'glTF' and has 20 bytes or more"
            )
        version, length = (int.from_bytes(data[i : i + 4], "little") for i in (4, 8))
        if version != 2:
            self._refuse(f"it is glTF version {version}, version 2 is needed")
        if length != len(data):
            self._refuse(f"the header says {length} bytes, the file holds {len(data)}")
        at = 12
        while at + 8 <= len(data):
            size, kind = (int.from_bytes(data[i : i + 4], "little") for i in (at, at + 4))
            if at + 8 + size > len(data):
                self._refuse(f"a chunk says {size} bytes, the file holds {len(data) - at - 8}")
            if kind == JSON_CHUNK and not self.tree:
                self._load(data[at + 8 : at + 8 + size])
            elif kind == BYTES_CHUNK and not self.bytes:
                self.bytes = data[at + 8 : at + 8 + size]
            at += 8 + size
        if not self.tree:
            self._refuse("it holds 0 chunks of description")

    def _load(self, text: bytes) -> None:
        if len(text) > 64 * 2**20:
            self._refuse(f"its description is {len(text)} bytes long, at most {64 * 2**20} may be")
        try:
            tree = json.loads(text)
        except (ValueError, RecursionError) as fault:
            self._refuse(f"its description of {len(text)} bytes is no JSON ({str(fault)[:60]})")
        if not isinstance(tree, dict) or not tree:
            self._refuse("its description is no JSON object")
        self.tree = tree

    def roots(self) -> list[int]:
        """Numbers of the nodes that the scene places; all top nodes where there is no scene."""
        scenes = self.tree.get("scenes")
        if scenes:
            roots = scenes[self.tree.get("scene", 0)].get("nodes", [])
        else:
            nodes = self.tree.get("nodes", [])
            inner = {child for node in nodes for child in node.get("children", [])}
            roots = [number for number in range(len(nodes)) if number not in inner]
        return [self._number(root, "nodes") for root in roots]

    def _number(self, value: Any, table: str) -> int:
        count = len(self.tree.get(table, []))
        if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < count:
            self._refuse(f"it names number {value!r} of {table}, there are {count} (from 0)")
        return int(value)

    def matrix(self, number: int) -> NDArray[np.float64]:
        """The 4 x 4 matrix of a node, from its matrix or its translation, rotation and scale."""
        node = self.tree["nodes"][number]
        if "matrix" in node:
            return np.array(node["matrix"], dtype=np.float64).reshape(4, 4).T
        matrix = np.eye(4)
        x, y, z, w = (float(value) for value in node.get("rotation", (0, 0, 0, 1)))
        matrix[:3, :3] = [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
        matrix[:3, :3] *= np.array(node.get("scale", (1, 1, 1)), dtype=np.float64).reshape(1, 3)
        matrix[:3, 3] = np.array(node.get("translation", (0, 0, 0)), dtype=np.float64).reshape(3)
        return matrix

    def node(self, target: object) -> Node:
        """The meshes of a node and the nodes within it."""
        node = self.tree["nodes"][int(str(target))]
        children = [self._number(child, "nodes") for child in node.get("children", [])]
        meshes: list[Mesh] = []
        if "mesh" in node:
            number = self._number(node["mesh"], "meshes")
            for primitive in self.tree["meshes"][number].get("primitives", []):
                mesh = self._primitive(primitive)
                if mesh is not None:
                    meshes.append(mesh)
        return Node(
            meshes=tuple(meshes),
            children=tuple(Placed(target=c, matrix=self.matrix(c)) for c in children),
        )

    def _primitive(self, primitive: dict[str, Any]) -> Mesh | None:
        mode = primitive.get("mode", TRIANGLES)
        if mode not in (TRIANGLES, STRIP, FAN):
            return None  # points and lines have no surface
        vertices = self._accessor(primitive["attributes"]["POSITION"], "VEC3").astype(np.float64)
        if "indices" in primitive:
            corners = self._accessor(primitive["indices"], "SCALAR").astype(np.int64).ravel()
        else:
            corners = np.arange(len(vertices), dtype=np.int64)
        if mode == TRIANGLES:
            if len(corners) % 3:
                self._refuse(f"a mesh has {len(corners)} corners, a multiple of 3 is needed")
            facets = corners.reshape(-1, 3)
        elif mode == STRIP:
            facets = np.column_stack([corners[:-2], corners[1:-1], corners[2:]])
            facets[1::2] = facets[1::2][:, [1, 0, 2]]
        else:
            facets = np.column_stack(
                [np.full(max(len(corners) - 2, 0), corners[0]), corners[1:-1], corners[2:]]
            )
        check_finite(self.file, vertices)
        check_indices(self.file, facets, len(vertices))
        return Mesh(vertices=np.ascontiguousarray(vertices), facets=np.ascontiguousarray(facets))

    def _accessor(self, number: Any, kind: str) -> NDArray[Any]:
        accessor = self.tree["accessors"][self._number(number, "accessors")]
        count, component = accessor["count"], accessor["componentType"]
        if accessor["type"] != kind or component not in COMPONENTS:
            self._refuse(f"a list is of {accessor['type']}/{component}, {kind} is needed")
        if "sparse" in accessor or "bufferView" not in accessor:
            self._refuse("it uses sparse lists, which are not understood here")
        view = self.tree["bufferViews"][self._number(accessor["bufferView"], "bufferViews")]
        buffer = self.tree["buffers"][self._number(view.get("buffer", 0), "buffers")]
        if "uri" in buffer:
            self._refuse("it refers to data outside the file (1 buffer with a uri), 0 are allowed")
        scalar = np.dtype("<" + COMPONENTS[component])
        width = WIDTHS[kind] * scalar.itemsize
        stride = view.get("byteStride", width)
        start = view.get("byteOffset", 0) + accessor.get("byteOffset", 0)
        end = start + (count - 1) * stride + width
        limit = min(view.get("byteOffset", 0) + view["byteLength"], len(self.bytes))
        if min(count, start, view["byteLength"]) < 0 or stride < width or end > limit:
            self._refuse(f"a list of {count} entries ends at byte {end}, the file holds {limit}")
        if count == 0:
            return np.empty((0, WIDTHS[kind]), scalar)
        return np.ndarray(
            (count, WIDTHS[kind]),
            scalar,
            buffer=self.bytes,
            offset=start,
            strides=(stride, scalar.itemsize),
        )
