"""The lid: mass, centre of mass, inertia and wind face, from a mesh or from scale and ruler."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildplan.errors import InputError

Point2 = tuple[float, float]
Point3 = tuple[float, float, float]

SQUARE_SLACK_FRAC = 0.01
"""Directions whose cosine is below this count as square (0.57 degrees); they are then made so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HingeFrame:
    """Where the hinge stands in the device, and the plane that the lid turns in.

    Points of a mechanism are (forward, up) from the hinge axis, with the lid shut.

    Attributes:
        point_mm: A point on the axis.
        axis: Unit vector; a right-hand turn about it opens the lid.
        forward: Unit vector along the shut lid, from the hinge to its free edge.
        up: Unit vector to the side that the lid opens to: axis x forward.
    """

    point_mm: Point3
    axis: Point3
    forward: Point3
    up: Point3


@dataclass(frozen=True, slots=True, kw_only=True)
class Lid:
    """What turns about the hinge.

    Attributes:
        centre_forward_mm: Centre of mass along the shut lid, from the hinge axis.
        centre_up_mm: The same square to the lid, to the side it opens to.
        edge_mm: From the hinge axis to the free edge.
        inertia_g_mm2: Moment of inertia about the hinge axis.
        face_mm2: Outline area that wind acts on.
        face_forward_mm: Centroid of that outline, from the hinge axis.
    """

    mass_g: float
    centre_forward_mm: float
    centre_up_mm: float
    edge_mm: float
    inertia_g_mm2: float
    face_mm2: float
    face_forward_mm: float


def hinge_frame(
    *,
    point_mm: Sequence[float],
    axis: Sequence[float],
    forward: Sequence[float],
    up: Sequence[float] = (),
) -> HingeFrame:
    """The frame of a hinge, its directions made square and of length 1.

    Args:
        point_mm: A point on the axis, in the device.
        axis: Any length; a right-hand turn about it opens the lid.
        forward: Any length, from the hinge to the free edge of the shut lid.
        up: Checked against axis x forward, where given.

    Raises:
        InputError: A direction has no length, or they are not square to each other, or a turn
            about the axis would close the lid.
    """
    turn, ahead = _unit("axis", axis), _unit("forward", forward)
    lean = float(turn @ ahead)
    if abs(lean) > SQUARE_SLACK_FRAC:
        raise InputError(
            f"hinge: axis and forward are {math.degrees(math.acos(lean)):.1f} degrees apart, 90 "
            "are needed; give forward square to the axis"
        )
    ahead = ahead - turn * lean
    ahead /= np.linalg.norm(ahead)
    rise = np.cross(turn, ahead)
    if len(up):
        agreement = float(rise @ _unit("up", up))
        if agreement < 1.0 - SQUARE_SLACK_FRAC**2:
            apart = math.degrees(math.acos(min(1.0, max(-1.0, agreement))))
            raise InputError(
                f"hinge: up is {apart:.1f} degrees off axis x forward = "
                f"({rise[0]:.3f}, {rise[1]:.3f}, {rise[2]:.3f}); turn the axis round or correct up"
            )
    return HingeFrame(
        point_mm=_point(np.asarray(point_mm, dtype=np.float64)),
        axis=_point(turn),
        forward=_point(ahead),
        up=_point(rise),
    )


def in_frame(frame: HingeFrame, points_mm: ArrayLike) -> NDArray[np.float64]:
    """Points of the device, (n, 3), as (forward, up, along the axis) from the hinge."""
    axes = np.array([frame.forward, frame.up, frame.axis])
    from_hinge = np.asarray(points_mm, dtype=np.float64) - np.array(frame.point_mm)
    return np.asarray(from_hinge @ axes.T, dtype=np.float64)


def lid_from_mesh(
    vertices_mm: ArrayLike,
    facets: ArrayLike,
    frame: HingeFrame,
    *,
    density_g_cm3: float = 0.0,
    solid_frac: float = 1.0,
    mass_g: float = 0.0,
) -> Lid:
    """The lid that a mesh encloses, as it lies shut in the device.

    Each facet makes a signed tetrahedron with the hinge point; volume, centre and second moments
    are sums over them: V = a.(b x c)/6, integral of x = V s/4, integral of x^2 =
    V (a^2 + b^2 + c^2 + s^2)/20 with s = a + b + c. The wind face is the outline of the convex
    hull, seen square to the lid.

    Args:
        vertices_mm: (n, 3) in the device.
        facets: (m, 3), counter-clockwise from outside.
        frame: Of the hinge.
        density_g_cm3: Of the feedstock.
        solid_frac: Share of the volume that is filled (walls and infill).
        mass_g: What a scale reads, instead of density_g_cm3.

    Raises:
        InputError: The mesh encloses nothing, or neither density nor mass is given.

    Source: Tonon (2004), Explicit exact formulas for the 3-D tetrahedron inertia tensor.
    """
    points = in_frame(frame, vertices_mm)
    corners = points[np.asarray(facets, dtype=np.int64)]
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    pieces = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0
    volume = float(pieces.sum())
    if not volume > 0.0:
        raise InputError(
            f"the lid's mesh encloses {volume:.3g} mm3, more than 0 are needed; close its holes or "
            "turn its facets outwards"
        )
    if not mass_g > 0.0 and not density_g_cm3 * solid_frac > 0.0:
        raise InputError(
            f"the lid has density {density_g_cm3:g} g/cm3, solid share {solid_frac:g} and mass "
            f"{mass_g:g} g; give a density or weigh it"
        )
    total = a + b + c
    centre = (pieces[:, None] * total / 4.0).sum(axis=0) / volume
    second = (pieces[:, None] * (a * a + b * b + c * c + total * total)).sum(axis=0) / 20.0
    g_mm3 = mass_g / volume if mass_g > 0.0 else density_g_cm3 * 1e-3 * solid_frac
    face_mm2, face_forward = _wind_face(points[:, [0, 2]])
    return Lid(
        mass_g=g_mm3 * volume,
        centre_forward_mm=float(centre[0]),
        centre_up_mm=float(centre[1]),
        edge_mm=float(points[:, 0].max()),
        inertia_g_mm2=float(g_mm3 * (second[0] + second[1])),
        face_mm2=face_mm2,
        face_forward_mm=face_forward,
    )


def lid_from_ruler(
    *, mass_g: float, balance_mm: float, length_mm: float, width_mm: float, up_mm: float = 0.0
) -> Lid:
    """A flat lid from a kitchen scale and a ruler.

    inertia = m (balance^2 + up^2 + length^2 / 12), as for an even sheet that balances there.

    Args:
        mass_g: What the scale reads, with all that moves along.
        balance_mm: From the hinge axis to where the lid balances on the ruler's edge.
        length_mm: From the hinge axis to the free edge.
        width_mm: Along the hinge.
        up_mm: Centre of mass above the hinge axis.

    Raises:
        InputError: A size is not above 0, or the lid balances beyond its edge.
    """
    for name, value in (("mass_g", mass_g), ("length_mm", length_mm), ("width_mm", width_mm)):
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f"lid: {name} is {value:g}, more than 0 is needed; measure it again")
    if not abs(balance_mm) <= length_mm:
        raise InputError(
            f"lid: it balances {balance_mm:g} mm from the hinge but is {length_mm:g} mm long; "
            "measure both from the hinge axis"
        )
    return Lid(
        mass_g=mass_g,
        centre_forward_mm=balance_mm,
        centre_up_mm=up_mm,
        edge_mm=length_mm,
        inertia_g_mm2=mass_g * (balance_mm**2 + up_mm**2 + length_mm**2 / 12.0),
        face_mm2=length_mm * width_mm,
        face_forward_mm=length_mm / 2.0,
    )


def with_sheet(
    lid: Lid, *, mass_g: float, forward_mm: float, up_mm: float, length_mm: float = 0.0
) -> Lid:
    """The lid with a further body on it: a pane, a handle, a counterweight (forward below 0).

    Args:
        lid: As it is without.
        mass_g: Of the body.
        forward_mm: Its centre of mass along the lid.
        up_mm: The same square to the lid.
        length_mm: How far it reaches along the lid, for its own inertia (m length^2 / 12).
    """
    mass = lid.mass_g + mass_g
    own = forward_mm**2 + up_mm**2 + length_mm**2 / 12.0
    return replace(
        lid,
        mass_g=mass,
        centre_forward_mm=(lid.mass_g * lid.centre_forward_mm + mass_g * forward_mm) / mass,
        centre_up_mm=(lid.mass_g * lid.centre_up_mm + mass_g * up_mm) / mass,
        inertia_g_mm2=lid.inertia_g_mm2 + mass_g * own,
    )


def _wind_face(plan_mm: NDArray[np.float64]) -> tuple[float, float]:
    """Area of the convex outline, and its centroid along the first axis (shoelace formula)."""
    from scipy.spatial import ConvexHull

    ring = plan_mm[ConvexHull(plan_mm).vertices]
    onward = np.roll(ring, -1, axis=0)
    cross = ring[:, 0] * onward[:, 1] - onward[:, 0] * ring[:, 1]
    area = float(cross.sum()) / 2.0
    return abs(area), float(((ring + onward)[:, 0] * cross).sum() / (6.0 * area))


def _unit(name: str, direction: Sequence[float]) -> NDArray[np.float64]:
    vector = np.asarray(direction, dtype=np.float64)
    length = float(np.linalg.norm(vector)) if vector.shape == (3,) else 0.0
    if not (math.isfinite(length) and length > 1e-9):
        raise InputError(
            f"hinge: {name} {tuple(vector.tolist())} has the length {length:g}; give three "
            "numbers that are not all 0"
        )
    return np.asarray(vector / length, dtype=np.float64)


def _point(vector: NDArray[np.float64]) -> Point3:
    return float(vector[0]), float(vector[1]), float(vector[2])
