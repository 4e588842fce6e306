"""Cut planes: a frame on each, and the two sides that a solid falls into."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError, NoPlanError
from buildplan.segments.solid import checked

if TYPE_CHECKING:
    from manifold3d import Manifold

MISS_FRAC = 1e-9
"""A side with a smaller share of the volume is nothing: the plane touches the part's end."""

AXES = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """Points p with normal . p = offset_mm; the upper side is where the normal points.

    Attributes:
        normal: Of length 1.
    """

    normal: tuple[float, float, float]
    offset_mm: float

    def words(self) -> str:
        """The plane in words: "x = 118.0 mm", or its normal and its distance."""
        for axis, normal in AXES.items():
            if self.normal == normal:
                return f"{axis} = {self.offset_mm:.1f} mm"
        x, y, z = self.normal
        return f"({x:.3f}, {y:.3f}, {z:.3f}) at {self.offset_mm:.1f} mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A solid cut in two.

    Attributes:
        above: The side to which the normal points; ``below`` the other.
        face_mm2: Area of the cut face.
    """

    plane: Plane
    above: "Manifold"
    below: "Manifold"
    face_mm2: float


def make_plane(normal: str | Sequence[float], offset_mm: float) -> Plane:
    """A plane from an axis ("x", "y", "z") or a vector of any length.

    Raises:
        InputError: The normal has no direction, or a number is not finite.
    """
    if isinstance(normal, str):
        if normal not in AXES:
            raise InputError(f'plane: axis "{normal}" is not known; allowed: x, y, z')
        vector = np.array(AXES[normal])
    else:
        vector = np.asarray(normal, dtype=np.float64)
    length = float(np.linalg.norm(vector)) if vector.shape == (3,) else math.nan
    if not (math.isfinite(length) and length > 0.0 and math.isfinite(offset_mm)):
        raise InputError(
            f"plane: normal {normal} and offset {offset_mm} found; three finite numbers, not all "
            "0, and a finite offset are needed"
        )
    x, y, z = (vector / length).tolist()
    return Plane(normal=(x, y, z), offset_mm=float(offset_mm))


def plane_from_text(text: str) -> Plane:
    """A plane as one types it: "x=120", "z = 40.5" or "1,1,0=30" (normal, then offset in mm).

    Raises:
        InputError: The text is no plane.
    """
    head, sign, tail = text.partition("=")
    axis = head.strip().lower()
    try:
        offset = float(tail)
        normal = axis if axis in AXES else [float(part) for part in axis.split(",")]
    except ValueError:
        sign = ""
    if not sign:
        raise InputError(
            f'plane: "{text}" is none; write an axis and where it is cut, as in x=120, or a normal '
            "and its distance, as in 1,1,0=30"
        )
    return make_plane(normal, offset)


def frame_of(plane: Plane) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Matrices (3, 4) into the plane's frame and back: there the plane is z = 0, above is z > 0."""
    z = np.array(plane.normal)
    up = np.array([0.0, 0.0, 1.0]) if abs(z[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    x = np.cross(up, z)
    x /= np.linalg.norm(x)
    rows = np.array([x, np.cross(z, x), z])
    there = np.column_stack([rows, [0.0, 0.0, -plane.offset_mm]])
    back = np.column_stack([rows.T, rows.T @ np.array([0.0, 0.0, plane.offset_mm])])
    return there, back


def split_solid(solid: "Manifold", plane: Plane, *, name: str = "part") -> Cut:
    """The two sides of a plane; both are closed and their volumes sum up to the whole.

    Raises:
        NoPlanError: The plane misses the solid or only touches it.
        MeshError: The library reports a fault.
    """
    above, below = solid.split_by_plane(plane.normal, plane.offset_mm)
    checked(above, name)
    checked(below, name)
    whole = solid.volume()
    if min(above.volume(), below.volume()) <= MISS_FRAC * whole:
        low, high = _reach(solid, plane)
        raise NoPlanError(
            f"{name}: the plane {plane.words()} misses it: along that direction it reaches from "
            f"{low:.1f} to {high:.1f} mm; choose an offset between"
        )
    return Cut(plane=plane, above=above, below=below, face_mm2=_face_mm2(solid, above, below))


def _face_mm2(solid: "Manifold", above: "Manifold", below: "Manifold") -> float:
    """Area of the cut face: what the two sides have more of surface than the whole, halved."""
    both = above.surface_area() + below.surface_area()
    return max(0.0, float(0.5 * (both - solid.surface_area())))


def _reach(solid: "Manifold", plane: Plane) -> tuple[float, float]:
    along = np.asarray(solid.to_mesh64().vert_properties)[:, :3] @ np.array(plane.normal)
    return float(along.min()), float(along.max())
