"""Parts as solids that can be cut and joined, and back again.

The solids are manifold3d's: every result is a closed surface, provided that its status is looked
at, which ``checked`` does each time.
"""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import MeshError, NoPlanError
from buildplan.part.model import Part

if TYPE_CHECKING:
    from manifold3d import Manifold

VOLUME_AGREES_FRAC = 1e-6
"""Relative difference from the part's volume above which a solid is not the same body."""


def solid_of(part: Part) -> "Manifold":
    """The solid that a part's surface encloses.

    Raises:
        MeshError: The surface is open, or encloses another volume than the part has (turned or
            overlapping shells).
    """
    from manifold3d import Error, Manifold, Mesh64

    if not part.closed:
        holes = ", ".join(f"{hole.span_mm:.1f} mm" for hole in part.health.holes[:3])
        raise MeshError(
            f"{part.name}: the surface is open ({part.health.open_edges} open edges"
            f"{f'; holes {holes} wide' if holes else ''}), a closed solid is needed to cut it; "
            "close it in the design file, or read it again and let holes be filled"
        )
    # the library refuses arrays that are closed to writing, so both are copied
    solid = Manifold(
        Mesh64(
            np.array(part.vertices_mm, dtype=np.float64, order="C"),
            np.array(part.facets, dtype=np.uint64, order="C"),
        )
    )
    if solid.status() != Error.NoError:
        raise MeshError(
            f"{part.name}: the surface is no solid ({solid.status().name}): some edge does not "
            "belong to exactly two facets; repair it in the design file"
        )
    if abs(solid.volume() - part.volume_mm3) > VOLUME_AGREES_FRAC * abs(part.volume_mm3):
        raise MeshError(
            f"{part.name}: the surface encloses {solid.volume():.1f} mm3, the part has "
            f"{part.volume_mm3:.1f} mm3; shells overlap or are turned: unite them first"
        )
    return solid


def mesh_of(solid: "Manifold") -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Vertices (n, 3) and facets (m, 3) of a solid, copied."""
    mesh = solid.to_mesh64()
    vertices = np.array(mesh.vert_properties[:, :3], dtype=np.float64, order="C")
    return vertices, np.array(mesh.tri_verts, dtype=np.int64, order="C")


def part_of(solid: "Manifold", *, name: str, source: str = "") -> Part:
    """A solid as a part, its facets as the library gives them.

    Raises:
        NoPlanError: The solid is empty.
        MeshError: The solid's surface is no closed body.
    """
    from buildplan.part.make import part_from_mesh

    checked(solid, name)
    if solid.is_empty():
        raise NoPlanError(f"{name}: nothing is left of it; move the plane or the box into the part")
    vertices, facets = mesh_of(solid)
    return part_from_mesh(
        vertices,
        facets,
        name=name,
        source=source,
        health="quick",
    )


def checked(solid: "Manifold", what: str) -> "Manifold":
    """The solid itself, once its status was found good.

    Raises:
        MeshError: The library reports a fault.
    """
    from manifold3d import Error

    if solid.status() != Error.NoError:
        raise MeshError(
            f"{what}: cutting or joining failed ({solid.status().name}); check the part's health "
            "and repair it in the design file"
        )
    return solid
