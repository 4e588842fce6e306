"""The front door for part files: every file is checked here before anything trusts it."""

import dataclasses
import hashlib
import stat
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Literal

from buildplan.errors import MeshError
from buildplan.findings import Finding
from buildplan.part.limits import Limits
from buildplan.part.make import measure_part
from buildplan.part.model import Part
from buildplan.part.raw import RawMesh, check_finite, check_indices, check_triangles
from buildplan.part.repair import Wholeness, make_whole
from buildplan.part.scale import MM_PER_UNIT, check_unit, doubt_size, unit_overruled
from buildplan.part.surface import weld_equal

Reader = Callable[[Path, Limits], RawMesh]

READERS = {
    ".stl": ("stl", "read_stl"),
    ".3mf": ("threemf", "read_3mf"),
    ".obj": ("obj", "read_obj"),
    ".ply": ("ply", "read_ply"),
    ".off": ("off", "read_off"),
    ".glb": ("glb", "read_glb"),
    ".step": ("step", "read_step"),
    ".stp": ("step", "read_step"),
}
"""File ending -> module in buildplan.part.formats and its reader."""


def read_part(
    path: str | Path,
    *,
    unit: str | None = None,
    name: str | None = None,
    health: Literal["full", "quick"] = "full",
    fill_holes_mm: float | None = None,
    limits: Limits | None = None,
) -> Part:
    """The solid body in a part file, in millimetres, with the health of its mesh.

    Args:
        path: STL, 3MF, OBJ, PLY, OFF, GLB or (with the extra "cad") STEP file.
        unit: Length unit of the file's numbers; None takes the file's own, or mm.
        name: Name of the part; None takes the file's.
        health: "full" also looks for overlapping shells and self-intersections.
        fill_holes_mm: Widest opening to patch; None takes 5 % of the part's diagonal.
        limits: Caps on what is read; None takes the defaults.

    Raises:
        InputError: when the unit, ``health`` or ``fill_holes_mm`` is impossible.
        MeshError: when the file is missing, broken, too large, or no solid body.
    """
    path = Path(path)
    limits = limits if limits is not None else Limits()
    if unit is not None:
        check_unit(unit)
    how = Wholeness(search=health, fill_holes_mm=fill_holes_mm)
    reader = _reader_for(path)
    _check_file(path, limits)
    raw = _read_guarded(reader, path, limits)
    return _to_part(raw, path, unit, name, how)


def _reader_for(path: Path) -> Reader:
    ending = path.suffix.lower()
    if ending not in READERS:
        found = f"the ending {ending!r} is" if ending else "a file without an ending is"
        raise MeshError(
            f"{path.name}: {found} not readable as a part; allowed: {', '.join(sorted(READERS))}"
        )
    module, function = READERS[ending]
    reader: Reader = getattr(import_module(f"buildplan.part.formats.{module}"), function)
    return reader


def _check_file(path: Path, limits: Limits) -> None:
    try:
        status = path.stat()
    except FileNotFoundError:
        raise MeshError(f"{path}: there is no such file; check the path") from None
    except (OSError, ValueError) as fault:
        raise MeshError(f"{path}: the file cannot be reached ({fault})") from None
    if stat.S_ISDIR(status.st_mode):
        raise MeshError(f"{path}: this is a folder, a part file is needed")
    if not stat.S_ISREG(status.st_mode):
        raise MeshError(f"{path}: this is no regular file (a device or pipe), a file is needed")
    if status.st_size == 0:
        raise MeshError(f"{path.name}: the file is 0 bytes long; export it again")
    if status.st_size > limits.file_bytes:
        raise MeshError(
            f"{path.name}: the file is {status.st_size} bytes long, at most {limits.file_bytes} "
            "are allowed; export a coarser mesh or raise Limits(file_bytes=)"
        )


def _read_guarded(reader: Reader, path: Path, limits: Limits) -> RawMesh:
    try:
        raw = reader(path, limits)
    except OSError as fault:
        reason = fault.strerror or "input/output error"
        raise MeshError(f"{path.name}: the file cannot be read ({reason})") from None
    check_triangles(path.name, len(raw.facets), limits.triangles)
    check_finite(path.name, raw.vertices)
    check_indices(path.name, raw.facets, len(raw.vertices))
    return raw


def _to_part(raw: RawMesh, path: Path, unit: str | None, name: str | None, how: Wholeness) -> Part:
    used = unit or raw.unit or "mm"
    factor = MM_PER_UNIT[used]
    vertices, facets = raw.vertices, raw.facets
    if factor != 1.0:
        vertices = vertices * factor
    if not raw.welded:
        vertices, facets = weld_equal(vertices, facets)
    whole = make_whole(path.name, vertices, facets, how)
    findings: list[Finding] = list(raw.findings)
    if unit is not None and raw.unit is not None and unit != raw.unit:
        findings.append(unit_overruled(raw.unit, unit))
    with path.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
    part = measure_part(
        whole,
        name=name if name is not None else path.stem,
        source=str(path),
        unit=used,
        sha256=digest,
        findings=tuple(findings),
    )
    doubt = doubt_size(part.size_mm) if unit is None and raw.unit is None else None
    if doubt is None:
        return part
    return dataclasses.replace(part, findings=(doubt, *part.findings))
