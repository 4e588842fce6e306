"""From vertices and facets to a Part: made whole, measured, hashed, closed to writing."""

import hashlib
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildplan.errors import MeshError
from buildplan.findings import Finding
from buildplan.kernels.mesh_measure import bound_points, measure_mesh
from buildplan.part.model import Part
from buildplan.part.raw import check_finite, check_indices
from buildplan.part.repair import WholeMesh, Wholeness, make_whole
from buildplan.part.surface import weld_equal


def part_from_mesh(  # noqa: PLR0913 - where a mesh comes from, all by keyword
    vertices_mm: ArrayLike,
    facets: ArrayLike,
    *,
    name: str = "part",
    source: str = "",
    unit: str = "mm",
    sha256: str = "",
    health: Literal["full", "quick"] = "full",
    fill_holes_mm: float | None = None,
) -> Part:
    """A Part from arrays: (n, 3) vertices in millimetres and (m, 3) facets; inputs are copied.

    Equal vertices are made one; what is open, turned or doubled is repaired as in a file.

    Raises:
        MeshError: when the arrays have the wrong shape or are no solid body.
    """
    vertices = np.array(vertices_mm, dtype=np.float64, order="C")
    corners = np.array(facets, dtype=np.int64, order="C")
    for array, what in ((vertices, "vertices"), (corners, "facets")):
        if array.ndim != 2 or array.shape[1] != 3 or not len(array):
            raise MeshError(
                f"{name}: {what} have the shape {array.shape}, (n, 3) with n of 1 or more is "
                "needed; give one row per entry"
            )
    check_finite(name, vertices)
    check_indices(name, corners, len(vertices))
    vertices, corners = weld_equal(vertices, corners)
    whole = make_whole(
        name, vertices, corners, Wholeness(search=health, fill_holes_mm=fill_holes_mm)
    )
    return measure_part(whole, name=name, source=source, unit=unit, sha256=sha256)


def measure_part(
    whole: WholeMesh,
    *,
    name: str,
    source: str,
    unit: str,
    sha256: str,
    findings: tuple[Finding, ...] = (),
) -> Part:
    """The Part of a mesh that was made whole; its own findings follow those given."""
    box = bound_points(whole.vertices)
    figures = measure_mesh(whole.vertices, whole.facets, box.mean(axis=0))
    centre = box.mean(axis=0) + figures[2:] / figures[0]
    size = box[1] - box[0]
    return Part(
        name=name,
        source=source,
        sha256=sha256,
        key=_content_key(whole.vertices, whole.facets),
        unit=unit,
        vertices_mm=_read_only(whole.vertices),
        facets=_read_only(whole.facets),
        size_mm=(float(size[0]), float(size[1]), float(size[2])),
        volume_mm3=whole.volume_mm3,
        area_mm2=float(figures[1]),
        centre_of_mass_mm=(float(centre[0]), float(centre[1]), float(centre[2])),
        closed=whole.closed,
        shells=whole.shells,
        health=whole.health,
        findings=findings + whole.findings,
    )


def _content_key(vertices: NDArray[np.float64], facets: NDArray[np.int64]) -> str:
    digest = hashlib.sha256(str(vertices.shape).encode())
    digest.update(np.ascontiguousarray(vertices).data)
    digest.update(np.ascontiguousarray(facets).data)
    return digest.hexdigest()


def _read_only(array: NDArray[Any]) -> NDArray[Any]:
    array = np.ascontiguousarray(array)
    array.flags.writeable = False
    return array
