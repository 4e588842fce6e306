"""Where the moving parts are: hinge frame, crank and rod, poses at a roof angle, camera frame."""

import numpy as np
from dimensions import (
    AXIS,
    BACKWARD,
    CAMERA,
    CRANK,
    CRANK_SHUT_DEG,
    LOOK_AT,
    ROOF_PIN,
    SERVO,
    SLOPE_RAD,
    UPWARD,
)
from numpy.typing import NDArray
from shapes import Matrix, turn_about_x

Point = NDArray[np.float64]


def from_hinge(point: Point) -> Point:
    """Point in (y, z) of one given in the hinge frame (forward along the shut roof, up)."""
    moved: Point = AXIS - point[0] * BACKWARD + point[1] * UPWARD
    return moved


def to_hinge(point: Point) -> Point:
    """Point in the hinge frame of one given in (y, z)."""
    return np.array([-(point - AXIS) @ BACKWARD, (point - AXIS) @ UPWARD])


def _bearing(vector: Point) -> float:
    return float(np.arctan2(vector[1], vector[0]))


def crank_and_pins(roof_deg: float) -> tuple[float, Point, Point]:
    """Crank angle in rad, crank pin and roof pin in the hinge frame, at a roof angle.

    The rod's length follows from the shut roof; the law of cosines in the triangle pivot, crank
    pin, roof pin gives the crank angle, on the branch that the shut roof is on.

    Raises:
        ValueError: The rod cannot reach.
    """
    pivot = to_hinge(SERVO)
    shut_rad = np.radians(CRANK_SHUT_DEG)
    rod = np.linalg.norm(ROOF_PIN - pivot - CRANK * np.array([np.cos(shut_rad), np.sin(shut_rad)]))
    cosine, sine = np.cos(np.radians(roof_deg)), np.sin(np.radians(roof_deg))
    roof_pin = np.array([[cosine, -sine], [sine, cosine]]) @ ROOF_PIN
    reach = roof_pin - pivot
    distance = np.hypot(*reach)
    share = (CRANK**2 + distance**2 - rod**2) / (2 * CRANK * distance)
    if abs(share) > 1.0:
        raise ValueError(f"the rod does not reach at a roof angle of {roof_deg} deg")
    branch = np.sign(np.sin(shut_rad - _bearing(ROOF_PIN - pivot)))
    angle = _bearing(reach) + branch * np.arccos(share)
    angle = shut_rad + np.remainder(angle - shut_rad + np.pi, 2 * np.pi) - np.pi
    return angle, pivot + CRANK * np.array([np.cos(angle), np.sin(angle)]), roof_pin


def roof_place() -> Matrix:
    """4x4 from the roof as drawn (hinge axis at the origin, y = backward) to the shut device."""
    place = turn_about_x(SLOPE_RAD, (0.0, 0.0))
    place[1:3, 3] = AXIS
    return place


def camera_place() -> Matrix:
    """4x4 of the camera: z looks back from the bed, y as in the device."""
    back = (CAMERA - LOOK_AT) / np.linalg.norm(CAMERA - LOOK_AT)
    across = np.array([0.0, 1.0, 0.0])
    place = np.eye(4)
    place[:3, :3] = np.column_stack([np.cross(across, back), across, back])
    place[:3, 3] = CAMERA
    return place
