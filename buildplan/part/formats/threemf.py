"""3MF: a packed file; sizes are held before and while unpacking, XML is read without entities."""

import zipfile
import zlib
from collections.abc import Hashable
from pathlib import Path

import numpy as np

from buildplan.errors import MeshError
from buildplan.findings import Finding, Place
from buildplan.part.formats.placing import Node, Placed, place_all
from buildplan.part.formats.threemf_model import ModelReader, ObjectName, StartReader
from buildplan.part.limits import Limits
from buildplan.part.raw import RawMesh

UNITS = {
    "micron": "micron",
    "millimeter": "mm",
    "centimeter": "cm",
    "inch": "inch",
    "foot": "foot",
    "meter": "m",
}
"""3MF Core Specification 1.4.0, 3.4, ST_Unit; millimeter where none is given."""

SOLID_KINDS = ("model", "surface")
USUAL_MODEL = "3D/3dmodel.model"
LONGEST_DIRECTORY = 4 * 2**20
"""Bytes of a packed file's directory, so that its list of entries stays small."""

PACKING_RATIO, SMALL_ENTRY = 250, 16 * 2**20
"""Unpacked over packed size that an entry may have once it is not small (XML packs about 10)."""

CHUNK = 1 << 20


def read_3mf(path: Path, limits: Limits) -> RawMesh:
    """The build items of a 3MF file in one mesh, in the file's own unit.

    Raises:
        MeshError: when the packing, the XML, an index, a number or a reference is wrong.
    """
    _check_directory(path)
    try:
        with zipfile.ZipFile(path) as packed:
            return _read_packed(path.name, packed, limits)
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError) as fault:
        raise MeshError(
            f"{path.name}: the packed file is damaged or locked ({fault}); export it again"
        ) from None


def _check_directory(path: Path) -> None:
    """Look at the directory's stated size before a list is made of it."""
    size = path.stat().st_size
    with path.open("rb") as stream:
        stream.seek(max(0, size - 65557))
        tail = stream.read()
    at = tail.rfind(b"PK\x05\x06")
    if at < 0 or len(tail) < at + 22:
        raise MeshError(
            f"{path.name}: the file of {size} bytes is not a whole packed file (3MF files are); "
            "it was cut short or is no 3MF, export it again"
        )
    directory = int.from_bytes(tail[at + 12 : at + 16], "little")
    if directory > min(LONGEST_DIRECTORY, size):
        raise MeshError(
            f"{path.name}: its directory is {directory} bytes long, at most {LONGEST_DIRECTORY} "
            "are allowed; export it again"
        )


def _read_packed(name: str, packed: zipfile.ZipFile, limits: Limits) -> RawMesh:
    models = _Models(name, packed, limits)
    model = models.part(models.main())
    if not model.items:
        raise MeshError(f"{name}: its build lists 0 items; put the part into the build and export")
    if model.unit not in UNITS:
        raise MeshError(
            f"{name}: its unit is {model.unit!r}, allowed are {', '.join(UNITS)}; export it again"
        )
    kinds = [models.part(item.target.part).kind_of(item.target) for item in model.items]
    roots = tuple(
        Placed(target=item.target, matrix=item.matrix)
        for item, kind in zip(model.items, kinds, strict=True)
        if kind in SOLID_KINDS
    )
    mesh = place_all(name, roots, models.node, limits)
    return RawMesh(
        vertices=np.ascontiguousarray(mesh.vertices),
        facets=mesh.facets,
        unit=UNITS[model.unit],
        welded=False,
        findings=_left_out([kind for kind in kinds if kind not in SOLID_KINDS]),
    )


class _Models:
    """The model parts of one packed file, each read when it is first asked for."""

    def __init__(self, name: str, packed: zipfile.ZipFile, limits: Limits) -> None:
        self._name, self._packed, self._limits = name, packed, limits
        self._read: dict[str, ModelReader] = {}
        listed = packed.infolist()
        self._entries = {info.filename.lstrip("/").lower(): info for info in listed}
        total = sum(info.file_size for info in listed)
        if total > limits.unpacked_bytes:
            raise MeshError(
                f"{name}: the file unpacks to {total} bytes, at most {limits.unpacked_bytes} are "
                "allowed; export a coarser mesh or raise Limits(unpacked_bytes=)"
            )
        for info in listed:
            if info.file_size > max(SMALL_ENTRY, PACKING_RATIO * info.compress_size):
                raise MeshError(
                    f"{name}: {info.filename} packs {info.file_size} bytes into "
                    f"{info.compress_size}, at most {PACKING_RATIO} to 1 is allowed; that is no "
                    "mesh, export it again"
                )

    def main(self) -> str:
        """Name of the model part that the file starts with."""
        start = self._entries.get("_rels/.rels")
        target = USUAL_MODEL
        if start is not None:
            reader = StartReader(self._name)
            self._feed(start, reader)
            target = reader.target or USUAL_MODEL
        return target.lstrip("/").lower()

    def part(self, part: str) -> ModelReader:
        """A model part, read."""
        if part not in self._read:
            if part not in self._entries:
                raise MeshError(
                    f"{self._name}: the packed file holds {len(self._entries)} entries but not "
                    f"the model {part!r}; it is no whole 3MF file, export it again"
                )
            self._read[part] = ModelReader(self._name, part, self._limits)
            self._feed(self._entries[part], self._read[part])
        return self._read[part]

    def node(self, target: Hashable) -> Node:
        """The object of that name."""
        if not isinstance(target, ObjectName):
            raise TypeError(f"an object of a 3MF file has an ObjectName, not {target!r}")
        return self.part(target.part).node(target)

    def _feed(self, info: zipfile.ZipInfo, reader: ModelReader | StartReader) -> None:
        """Unpack one entry piece by piece into a reader, never past its declared size."""
        got = 0
        with self._packed.open(info) as stream:
            while piece := stream.read(CHUNK):
                got += len(piece)
                if got > info.file_size:
                    raise MeshError(
                        f"{self._name}: {info.filename} unpacks to more than the "
                        f"{info.file_size} bytes it declares; export it again"
                    )
                reader.feed(piece)
        reader.finish()


def _left_out(kinds: list[str]) -> tuple[Finding, ...]:
    if not kinds:
        return ()
    return (
        Finding(
            check="health",
            severity="note",
            what=f"{len(kinds)} build items of kind {', '.join(sorted(set(kinds)))} were left out",
            where=Place(text="in the file"),
            measured=f"{len(kinds)} items",
            required="items of kind model",
            remedy="Nothing to do if these are supports; supports are made here.",
            source="3MF Core Specification 1.4.0, object type",
        ),
    )
