"""Solids for the clearance checks: parts, cylinders, boxes, ways; poses; shells of a mover."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.device.clearance.shape import Swing, Vector
from buildplan.errors import InputError, MeshError
from buildplan.part.model import Part

if TYPE_CHECKING:
    from manifold3d import Manifold

Floats = NDArray[np.float64]

SIDES = 96
"""Sides of a cylinder; it is drawn round the true one, 0.05 % wider at its corners."""

VOLUME_AGREES_FRAC = 1e-6
"""Relative difference from the part's volume above which a solid is not the same body."""

SHELL_RATIO = 2.0
"""Outer over inner radius of a shell; the bound on a shell's motion is at most so much too high."""

SHELLS = 6
"""Shells of one mover, at most."""


def solid_of_part(part: Part) -> "Manifold":
    """The solid that a part's surface encloses.

    Raises:
        MeshError: The surface is open, has bad edges, or encloses another volume than the part.
    """
    from manifold3d import Error, Manifold, Mesh64

    if not part.closed:
        raise MeshError(
            f"{part.name}: the surface is open ({part.health.open_edges} open edges, "
            f"{len(part.health.holes)} holes), 0 are allowed: clearance needs a closed solid; "
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


def solids_by_name(parts: Sequence[Part], *, role: str) -> dict[str, "Manifold"]:
    """Every part's solid by its name.

    Raises:
        InputError: There is no part, or two have one name.
        MeshError: As solid_of_part.
    """
    names = [part.name for part in parts]
    twice = sorted({name for name in names if names.count(name) > 1})
    if not names or twice:
        found = f"{', '.join(twice)} more than once" if twice else "none"
        raise InputError(
            f"{role} parts: found {found}, one or more with names of their own are needed; give "
            "each copy of a part its own name"
        )
    return {part.name: solid_of_part(part) for part in parts}


def mesh_of_solid(solid: "Manifold") -> tuple[Floats, NDArray[np.int64]]:
    """Vertices (n, 3) and facets (m, 3) of a solid, copied."""
    mesh = solid.to_mesh64()
    vertices = np.array(mesh.vert_properties[:, :3], dtype=np.float64, order="C")
    return vertices, np.array(mesh.tri_verts, dtype=np.int64, order="C")


def unit(what: str, direction: Sequence[float]) -> Floats:
    """A direction made length 1.

    Raises:
        InputError: It has not three finite numbers, or no length.
    """
    vector = np.asarray(direction, dtype=np.float64)
    length = float(np.linalg.norm(vector)) if vector.shape == (3,) else math.nan
    if not (math.isfinite(length) and length > 1e-9):
        raise InputError(
            f"{what}: a direction of three numbers and a length above 0 is needed, found "
            f"{tuple(direction)}; give it as (x, y, z), for example (1, 0, 0)"
        )
    return np.asarray(vector / length, dtype=np.float64)


def frame_along(way: Floats) -> Floats:
    """A rotation (3, 3) whose third column is the unit vector given."""
    helper = np.eye(3)[int(np.argmin(np.abs(way)))]
    side = np.cross(helper, way)
    side /= np.linalg.norm(side)
    return np.column_stack([side, np.cross(way, side), way])


def cylinder_between(
    start: Sequence[float] | Floats, end: Sequence[float] | Floats, radius: float
) -> "Manifold":
    """A cylinder between the middles of its ends, drawn round the true one.

    Raises:
        InputError: The ends fall together, or the radius is not above 0.
    """
    from manifold3d import Manifold

    foot = np.asarray(start, dtype=np.float64)
    span = np.asarray(end, dtype=np.float64) - foot
    length = float(np.linalg.norm(span))
    if not (math.isfinite(length) and length > 1e-9 and radius > 0.0):
        raise InputError(
            f"cylinder from {vector_of(start)} to {vector_of(end)}: a radius of {radius:g} mm and "
            f"a length of {length:g} mm found; both must be above 0"
        )
    wide = radius / math.cos(math.pi / SIDES)
    pose = np.column_stack([frame_along(span / length), foot])
    return Manifold.cylinder(length, wide, wide, SIDES).transform(pose)


def capsule_between(start: Floats, end: Floats, radius: float) -> "Manifold":
    """A rod with round ends, as the hull of two balls."""
    from manifold3d import Manifold

    ball = Manifold.sphere(radius, 48)
    return Manifold.batch_hull([ball.translate(tuple(start)), ball.translate(tuple(end))])


def box_solid(low: Floats, high: Floats) -> "Manifold":
    """A box between two corners."""
    from manifold3d import Manifold

    return Manifold.cube(tuple(high - low)).translate(tuple(low))


def vector_of(point: Sequence[float] | Floats) -> Vector:
    """Three plain floats."""
    return (float(point[0]), float(point[1]), float(point[2]))


def middle_of(solid: "Manifold") -> Vector:
    """Middle of a solid's bounds."""
    bounds = np.asarray(solid.bounding_box())
    return vector_of((bounds[:3] + bounds[3:]) / 2.0)


def turn_pose(swing: Swing, angle_deg: float) -> Floats:
    """(3, 4) pose that takes a mover from where it was posed to an angle of its travel.

    R = cos a I + sin a [k]x + (1 - cos a) k k^T, about a point of the axis.

    Source: Rodrigues (1840).
    """
    axis = unit("hinge axis", swing.axis)
    turn = math.radians(angle_deg - swing.posed_deg)
    skew = np.array([[0.0, -axis[2], axis[1]], [axis[2], 0.0, -axis[0]], [-axis[1], axis[0], 0.0]])
    # half angles keep the digits of small turns
    half = 2.0 * math.sin(turn / 2.0) ** 2
    rotation = np.eye(3) + math.sin(turn) * skew + half * (skew @ skew)
    point = np.asarray(swing.point_mm, dtype=np.float64)
    return np.column_stack([rotation, point - rotation @ point])


def radii_about(swing: Swing, points: Floats) -> Floats:
    """(n,) distances of points (n, 3) from a hinge's axis."""
    off = points - np.asarray(swing.point_mm, dtype=np.float64)
    return np.asarray(np.linalg.norm(np.cross(off, unit("hinge axis", swing.axis)), axis=1))


def radial_shells(solid: "Manifold", swing: Swing) -> list[tuple["Manifold", float]]:
    """A mover cut by cylinders about its hinge, with the greatest radius of each piece.

    A point at radius r moves by at most r times the turn. Cut into shells, what is near the hinge
    is not held to the speed of the free edge.
    """
    points, _ = mesh_of_solid(solid)
    axis, point = unit("hinge axis", swing.axis), np.asarray(swing.point_mm, dtype=np.float64)
    along = (points - point) @ axis
    low, high = point + (along.min() - 1.0) * axis, point + (along.max() + 1.0) * axis
    radius = radii_about(swing, points)
    widest, narrowest = float(radius.max()), float(radius.min())
    shells, rest = [], solid
    for _ in range(SHELLS - 1):
        widest = widest / SHELL_RATIO
        if widest <= max(narrowest, 1.0):
            break
        inside, outside = rest.split(cylinder_between(low, high, widest))
        if not outside.is_empty():
            shells.append(outside)
        rest = inside
        if rest.is_empty():
            break
    if not rest.is_empty():
        shells.append(rest)
    return [(shell, float(radii_about(swing, mesh_of_solid(shell)[0]).max())) for shell in shells]
