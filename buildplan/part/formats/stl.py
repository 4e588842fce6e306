"""STL: binary by its size (84 + 50 n bytes), text by its first word; never by anything else."""

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import MeshError
from buildplan.findings import Finding, Place
from buildplan.part.limits import Limits
from buildplan.part.raw import (
    RawMesh,
    check_triangles,
    fill_in_numbers,
    line_of,
    word_at,
)

HEADER_BYTES, FACET_BYTES = 84, 50
LEAST_TEXT_FACET_BYTES = 70
"""Bytes of the shortest facet that can be written as text."""

FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])


def read_stl(path: Path, limits: Limits) -> RawMesh:
    """Facets of an STL file; corners with the same bits share one vertex.

    Raises:
        MeshError: when sizes, words or numbers are wrong.
    """
    size = path.stat().st_size
    with path.open("rb") as stream:
        head = stream.read(1024)
        stated = int.from_bytes(head[80:84], "little") if len(head) >= HEADER_BYTES else -1
        if stated >= 0 and size == HEADER_BYTES + FACET_BYTES * stated:
            check_triangles(path.name, stated, limits.triangles)
            stream.seek(HEADER_BYTES)
            return _read_binary(path.name, np.fromfile(stream, FACET, stated))
    if _looks_like_text(head):
        return _read_text(path.name, path.read_bytes(), limits)
    raise MeshError(_why_not_binary(path.name, size, stated, head))


def _looks_like_text(head: bytes) -> bool:
    start = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    return start[:5].lower() == b"solid" and b"\0" not in head


def _why_not_binary(name: str, size: int, stated: int, head: bytes) -> str:
    if size < HEADER_BYTES:
        return (
            f"{name}: the file is {size} bytes long, an STL file has at least {HEADER_BYTES}; "
            "export it again"
        )
    start = head.lstrip()[:9].lower()
    for mark, kind in (
        (b"<", "a web page or XML text"),
        (b"%pdf", "a PDF document"),
        (b"pk\x03\x04", "a packed file"),
    ):
        if start.startswith(mark):
            return (
                f"{name}: the file holds {kind} of {size} bytes, not an STL mesh; export it again"
            )
    held = (size - HEADER_BYTES) / FACET_BYTES
    shown = f"{int(held)}" if held == int(held) else f"{held:.1f}"
    return (
        f"{name}: the header says {stated} triangles, the file holds {shown} ({size} bytes, not "
        f"{HEADER_BYTES + FACET_BYTES * stated}); it was cut short or is no STL file, export it "
        "again"
    )


def _read_binary(name: str, records: NDArray[Any]) -> RawMesh:
    from buildplan.kernels.weld import weld_bits

    corners = np.ascontiguousarray(records["corners"]).reshape(-1, 3)
    corners += np.float32(0.0)  # makes -0.0 into 0.0
    if not np.isfinite(corners).all():
        wrong = np.nonzero(~np.isfinite(corners).all(axis=1))[0]
        raise MeshError(
            f"{name}: {len(np.unique(wrong // 3))} of {len(records)} facets have a corner that is "
            f"not a finite number (the first is facet {int(wrong[0]) // 3 + 1}); export it again"
        )
    index, first = weld_bits(corners.view(np.uint32))
    if not len(index):
        _, first, index = np.unique(corners, axis=0, return_index=True, return_inverse=True)
        index = index.astype(np.int64).ravel()
    return RawMesh(
        vertices=corners[first].astype(np.float64),
        facets=index.reshape(-1, 3),
        unit=None,
        welded=True,
        findings=(),
    )


def _read_text(name: str, data: bytes, limits: Limits) -> RawMesh:
    from buildplan.kernels.text_meshes import scan_facets

    data = data.removeprefix(b"\xef\xbb\xbf")
    room = min(len(data) // LEAST_TEXT_FACET_BYTES + 1, limits.triangles + 1)
    corners, normals, later, end = scan_facets(np.frombuffer(data, np.uint8), room)
    how, at, facet, count = (int(number) for number in end)
    if how:
        raise MeshError(f"{name}: " + _why_not_text(data, how, at, facet, count))
    check_triangles(name, len(corners), limits.triangles)
    fill_in_numbers(name, data, corners.ravel(), later)
    return RawMesh(
        vertices=corners.reshape(-1, 3).copy(),
        facets=np.arange(3 * len(corners), dtype=np.int64).reshape(-1, 3),
        unit=None,
        welded=False,
        findings=_judge_normals(corners.reshape(-1, 3, 3), normals),
    )


def _why_not_text(data: bytes, how: int, at: int, facet: int, count: int) -> str:
    from buildplan.kernels import text

    where = f"facet {facet + 1}, line {line_of(data, at)}"
    if how == text.CUT_SHORT:
        return (
            f"the text ends after {facet} whole facets without 'endsolid'; it was cut short, "
            "export it again"
        )
    if how == text.BAD_COUNT:
        return f"{where}: the facet has {count} corners, an STL facet has 3; export it again"
    if how == text.BAD_NUMBER:
        return (
            f"{where}: {word_at(data, at)!r} stands where a coordinate belongs (3 numbers with a "
            "decimal point); export it again"
        )
    if how == text.TOO_MANY:
        return (
            f"the file holds more than the {facet - 1} triangles that are allowed; export a "
            "coarser mesh or raise Limits(triangles=)"
        )
    return f"{where}: {word_at(data, at)!r} is not an STL word there; export it again"


def _judge_normals(
    corners: NDArray[np.float64], normals: NDArray[np.float64]
) -> tuple[Finding, ...]:
    """A note where stored normals are missing or contradict the winding, which is what counts."""
    wound = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    along = np.einsum("ij,ij->i", wound, normals)
    missing = int(np.isnan(normals).any(axis=1).sum())
    against = int((along < 0).sum())
    if not missing + against:
        return ()
    return (
        Finding(
            check="health",
            severity="note",
            what=(
                f"{missing} stored facet normals are missing and {against} point against the "
                "winding; the winding was used"
            ),
            where=Place(text="in the file"),
            measured=f"{missing + against} of {len(normals)} facets",
            required="normals along the winding, or none",
            remedy="Look whether the part is the right way round, or export it again.",
            source="STL: facets wound counter-clockwise seen from outside",
        ),
    )
