"""Closed forms of a view: the hole that a lens needs, its chamfer, millimetres per pixel."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.device.view.aims import camera_frame, half_tan
from buildplan.device.view.shape import Camera
from buildplan.device.view.target import Target
from buildplan.errors import InputError

Floats = NDArray[np.float64]

CHAMFER_STEP_MM = 0.2
"""Sizes in remedies are rounded up to this (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """The hole in a wall in front of a lens.

    Attributes:
        near_mm: Least diameter at the wall's near face.
        far_mm: Least diameter at its far face, and of a straight hole through it.
        hole_mm: Diameter of the hole that is judged; 0 where none is given.
        passes: Whether that hole, straight, clips nothing.
        passes_deg: Full view angle that it lets through.
        chamfer_mm: Depth of the chamfer from the far face that makes it pass; 0 where none is
            needed, nan where not even the near face is wide enough.
        chamfer_deg: Full angle of that chamfer: the view's own.
        thin_to_mm: Thickness down to which the wall may be thinned instead; nan likewise.
    """

    near_mm: float
    far_mm: float
    hole_mm: float
    passes: bool
    passes_deg: float
    chamfer_mm: float
    chamfer_deg: float
    thin_to_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PixelSize:
    """What one pixel covers on the target.

    Attributes:
        finest_mm: Least over the target, at right angles to the slant.
        coarsest_mm: Greatest over the target, along the slant.
        middle_mm: At the middle of the target, at right angles to the slant.
    """

    finest_mm: float
    coarsest_mm: float
    middle_mm: float


def opening_mm(pupil_mm: float, depth_mm: float, view_deg: float) -> float:
    """Least diameter of a hole at a depth before the pupil: pupil + 2 depth tan(view / 2).

    The edge rays start at the rim of the entrance pupil, not at the lens's outline: a hole of the
    lens's diameter clips the corners, and no lens can repair that.

    Args:
        pupil_mm: Diameter of the entrance pupil.
        depth_mm: From the pupil to the far edge of the hole.
        view_deg: Full angle of view; the diagonal one for a round hole before a picture.

    Raises:
        InputError: a negative length, or an angle outside 0 to 170 deg.

    Source: plane geometry of the edge ray.
    """
    if not (0.0 <= pupil_mm < math.inf and 0.0 <= depth_mm < math.inf):
        raise InputError(
            f"opening: pupil {pupil_mm:g} mm and depth {depth_mm:g} mm must be at least 0; "
            "measure both from the lens's front"
        )
    return pupil_mm + 2.0 * depth_mm * half_tan(view_deg, "opening view_deg")


def view_through(hole_mm: float, pupil_mm: float, depth_mm: float) -> float:
    """Full view angle that a hole lets through unclipped: 2 atan((hole - pupil) / (2 depth)).

    0 where the hole is not wider than the pupil, 180 where it lies at the pupil itself.
    """
    if hole_mm < pupil_mm:
        return 0.0
    if depth_mm <= 0.0:
        return 180.0
    return 2.0 * math.degrees(math.atan((hole_mm - pupil_mm) / (2.0 * depth_mm)))


def diagonal_deg(wide_deg: float, high_deg: float) -> float:
    """Full angle from corner to corner of a picture: 2 atan(hypot(tan(w / 2), tan(h / 2)))."""
    wide, high = half_tan(wide_deg, "wide_deg"), half_tan(high_deg, "high_deg")
    return 2.0 * math.degrees(math.atan(math.hypot(wide, high)))


def size_opening(
    *, pupil_mm: float, gap_mm: float, wall_mm: float, view_deg: float, hole_mm: float = 0.0
) -> Opening:
    """The hole that a wall before a lens needs, and what a given hole lacks.

    Args:
        pupil_mm: Diameter of the entrance pupil.
        gap_mm: From the pupil to the wall's near face.
        wall_mm: Thickness of the wall.
        view_deg: Full angle of view, the diagonal one for a picture.
        hole_mm: Diameter of the straight hole to judge; 0 to ask only for sizes.

    Raises:
        InputError: as opening_mm.
    """
    slope = half_tan(view_deg, "opening view_deg")
    near = opening_mm(pupil_mm, gap_mm, view_deg)
    far = opening_mm(pupil_mm, gap_mm + wall_mm, view_deg)
    chamfer = thin = 0.0
    if hole_mm > 0.0:
        straight = (hole_mm - pupil_mm) / (2.0 * slope) - gap_mm  # how deep the hole may stay
        wide_enough = hole_mm >= near
        chamfer = max(0.0, wall_mm - straight) if wide_enough else math.nan
        thin = min(wall_mm, straight) if wide_enough else math.nan
    return Opening(
        near_mm=near,
        far_mm=far,
        hole_mm=hole_mm,
        passes=0.0 < far <= hole_mm * (1.0 + 1e-12),
        passes_deg=view_through(hole_mm, pupil_mm, gap_mm + wall_mm) if hole_mm > 0.0 else 0.0,
        chamfer_mm=chamfer,
        chamfer_deg=view_deg,
        thin_to_mm=thin,
    )


def camera_opening(camera: Camera) -> Opening:
    """The hole in front of a camera, judged for the corners of its picture."""
    return size_opening(
        pupil_mm=camera.pupil_mm,
        gap_mm=0.0,
        wall_mm=camera.opening_depth_mm,
        view_deg=diagonal_deg(camera.wide_deg, camera.high_deg),
        hole_mm=camera.opening_mm,
    )


def pixel_mm(distance_mm: float, view_deg: float, pixels: int) -> float:
    """Width of one pixel on a plane square to the look: 2 distance tan(view / 2) / pixels.

    Args:
        distance_mm: Along the look, from the pupil to the plane.
        view_deg: Full angle of view across the pixels.
        pixels: How many there are across it.

    Raises:
        InputError: no pixels, or an angle outside 0 to 170 deg.
    """
    if pixels < 1:
        raise InputError(f"millimetres per pixel: pixels must be at least 1, found {pixels}")
    return 2.0 * distance_mm * half_tan(view_deg, "view_deg") / pixels


def pixel_sizes(camera: Camera, target: Target, *, pixels_wide: int = 0) -> PixelSize:
    """What one square pixel covers on the target, slant reckoned.

    The picture of a plane point p is f (x / z, y / z); the singular values of its derivative by
    the two directions of the plane are pixels per millimetre along the worst and best direction.

    Args:
        camera: Look, view angles and (unless given) pixels across.
        target: Cells in front of the camera; those behind it are left out.
        pixels_wide: Pixels across the picture; 0 takes the camera's.

    Raises:
        InputError: the number of pixels is not known, or no cell lies in front of the camera.
    """
    pixels = pixels_wide or camera.pixels_wide
    focal = 1.0 / pixel_mm(1.0, camera.wide_deg, pixels)
    frame = camera_frame(camera)
    place = (target.points_mm - np.asarray(camera.point_mm)) @ frame.T
    place = place[place[:, 2] > 1e-9]
    if not len(place):
        raise InputError(
            "millimetres per pixel: no cell of the target lies in front of the camera; turn the "
            f"look {camera.look} toward it"
        )
    along = frame @ np.stack([target.along, target.across], axis=1)  # (3, 2)
    fine, coarse = _pixel_range(place, along, focal)
    middle = ((target.middle_mm - np.asarray(camera.point_mm)) @ frame.T)[None]
    return PixelSize(
        finest_mm=float(fine.min()),
        coarsest_mm=float(coarse.max()),
        middle_mm=float(_pixel_range(middle, along, focal)[0][0]),
    )


def _pixel_range(place: Floats, along: Floats, focal: float) -> tuple[Floats, Floats]:
    """Least and greatest millimetres per pixel at points (n, 3) of a plane in the camera's frame.

    A plane seen edge on has a greatest value of inf.
    """
    depth = place[:, 2:, None]
    flat = place[:, :2, None] * along[None, 2:3]
    slope = focal * (along[None, :2] * depth - flat) / depth**2  # (n, 2, 2)
    values = np.asarray(np.linalg.svd(slope, compute_uv=False), dtype=np.float64)
    with np.errstate(divide="ignore"):
        sizes = np.reciprocal(values)
    return sizes[:, 0], sizes[:, 1]


def round_up(length_mm: float) -> float:
    """A length rounded up to the next step that a drawing would name."""
    return math.ceil(length_mm / CHAMFER_STEP_MM - 1e-9) * CHAMFER_STEP_MM
