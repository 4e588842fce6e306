"""What the lid asks of its drive: weight, spring, friction, gust, at every angle."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildplan.device.mechanism.lid import HingeFrame, Lid, Point2
from buildplan.device.spring import HelpSpring, spring_n_mm
from buildplan.errors import InputError

GRAVITY_M_S2 = 9.80665
"""Standard gravity (CGPM 1901)."""

N_MM_OF_KG_CM = 98.0665
"""1 kgf cm in N mm, exact with standard gravity: the unit of servo labels."""

AIR_KG_M3 = 1.2
"""Density of air at 20 C and sea level, rounded (common practice)."""

POSES = 181
"""Poses over the travel where nothing else is asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hinge:
    """Travel and outer loads of a lid.

    Attributes:
        from_deg: Least angle of the travel; 0 is shut.
        to_deg: Greatest angle.
        friction_n_mm: Torque of pins and seal against any motion.
        down: Direction of gravity as (forward, up) of the shut lid; its length is below 1 where
            the hinge axis itself is not level.
        gust_m_s: Wind against the opening lid, steady and even over its face.
        gust_frac: Pressure coefficient of a flat face (1.2 is common practice).
        extra_g: Further mass, as dew, dust or a pot left on the lid.
        extra_forward_mm: Where it lies along the lid.
    """

    from_deg: float = 0.0
    to_deg: float
    friction_n_mm: float = 0.0
    down: Point2 = (0.0, -1.0)
    gust_m_s: float = 0.0
    gust_frac: float = 1.2
    extra_g: float = 0.0
    extra_forward_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HingeLoad:
    """Torque about the hinge that a drive must give, by angle; plus opens.

    Attributes:
        angle_deg: (n,) rising.
        weight_n_mm: (n,) of lid and extra mass.
        spring_n_mm: (n,) that a spring takes off the drive.
        gust_n_mm: (n,) against opening.
        friction_n_mm: Against any motion.
        opening_n_mm: (n,) weight - spring + friction + gust.
        closing_n_mm: (n,) weight - spring - friction - gust; below 0 the lid does not fall by
            itself and must be pulled shut.
        holding_n_mm: (n,) what is left to hold still: |weight - spring| + gust - friction, or 0.
        weight_n: Weight as a force, (forward, up) of the shut lid.
        gust_n: Wind as a force square to the lid, against opening.
    """

    angle_deg: NDArray[np.float64]
    weight_n_mm: NDArray[np.float64]
    spring_n_mm: NDArray[np.float64]
    gust_n_mm: NDArray[np.float64]
    friction_n_mm: float
    opening_n_mm: NDArray[np.float64]
    closing_n_mm: NDArray[np.float64]
    holding_n_mm: NDArray[np.float64]
    weight_n: Point2
    gust_n: float


def down_in_frame(frame: HingeFrame, down: ArrayLike = (0.0, 0.0, -1.0)) -> Point2:
    """Gravity's direction, given in the device, as (forward, up) of the shut lid.

    Raises:
        InputError: The direction has no length.
    """
    vector = np.asarray(down, dtype=np.float64)
    length = float(np.linalg.norm(vector))
    if not length > 0.0:
        raise InputError(f"down {tuple(vector.tolist())} has no length; give a direction")
    vector = vector / length
    return float(vector @ np.array(frame.forward)), float(vector @ np.array(frame.up))


def travel_deg(hinge: Hinge, poses: int = POSES) -> NDArray[np.float64]:
    """Even angles over the travel.

    Raises:
        InputError: The travel runs backwards or past a full turn, or has under 2 poses.
    """
    span = hinge.to_deg - hinge.from_deg
    if not (math.isfinite(span) and 0.0 < span < 360.0):
        raise InputError(
            f"travel from {hinge.from_deg:g} to {hinge.to_deg:g} degrees; it must rise by more "
            "than 0 and less than 360"
        )
    if poses < 2:
        raise InputError(f"travel in {poses} poses; at least 2 are needed")
    return np.linspace(hinge.from_deg, hinge.to_deg, poses)


def weight_torque_n_mm(
    mass_g: float, centre: Point2, down: Point2, angle_deg: ArrayLike
) -> NDArray[np.float64]:
    """Torque to hold a mass at each angle of the lid: -m g down . d(R(angle) centre)/d angle."""
    angle = np.radians(np.asarray(angle_deg, dtype=np.float64))
    cos, sin = np.cos(angle), np.sin(angle)
    x, y = centre
    lever = down[0] * (-sin * x - cos * y) + down[1] * (cos * x - sin * y)
    return np.asarray(-mass_g * 1e-3 * GRAVITY_M_S2 * lever, dtype=np.float64)


def hinge_load(
    lid: Lid,
    hinge: Hinge,
    *,
    angle_deg: ArrayLike | None = None,
    spring: HelpSpring | None = None,
) -> HingeLoad:
    """The torque that a lid asks for, over its travel.

    gust = 0.5 rho v^2 gust_frac face face_forward, kept at every angle: the worst that a wind
    from any side does.

    Args:
        lid: Mass, centre and face.
        hinge: Travel, gravity and outer loads.
        angle_deg: (n,) rising; even poses over the travel where left out.
        spring: Helps to open.

    Raises:
        InputError: Angles that do not rise, or a load below 0.
    """
    angles = travel_deg(hinge) if angle_deg is None else np.array(angle_deg, dtype=np.float64)
    if angles.ndim != 1 or not len(angles) or (np.diff(angles) <= 0.0).any():
        raise InputError(
            f"angle_deg has the shape {angles.shape} and must be one rising row of numbers"
        )
    for name in ("friction_n_mm", "gust_m_s", "gust_frac", "extra_g"):
        value = getattr(hinge, name)
        if not (math.isfinite(value) and value >= 0.0):
            raise InputError(f"hinge: {name} is {value:g}, 0 or more is needed")
    centre = (lid.centre_forward_mm, lid.centre_up_mm)
    weight = weight_torque_n_mm(lid.mass_g, centre, hinge.down, angles)
    extra = (hinge.extra_forward_mm, 0.0)
    weight = weight + weight_torque_n_mm(hinge.extra_g, extra, hinge.down, angles)
    helped = spring_n_mm(spring, angles)
    pressure_mpa = 0.5 * AIR_KG_M3 * hinge.gust_m_s**2 * hinge.gust_frac * 1e-6
    gust_n = pressure_mpa * lid.face_mm2
    gust = np.full_like(angles, gust_n * lid.face_forward_mm)
    net, friction = weight - helped, hinge.friction_n_mm
    force = (lid.mass_g + hinge.extra_g) * 1e-3 * GRAVITY_M_S2
    return HingeLoad(
        angle_deg=closed(angles),
        weight_n_mm=closed(weight),
        spring_n_mm=closed(helped),
        gust_n_mm=closed(gust),
        friction_n_mm=friction,
        opening_n_mm=closed(net + friction + gust),
        closing_n_mm=closed(net - friction - gust),
        holding_n_mm=closed(np.maximum(np.abs(net) + gust - friction, 0.0)),
        weight_n=(force * hinge.down[0], force * hinge.down[1]),
        gust_n=gust_n,
    )


def greatest_n_mm(load: HingeLoad) -> NDArray[np.float64]:
    """The greater of opening and closing torque at each angle, without sign."""
    return np.maximum(np.abs(load.opening_n_mm), np.abs(load.closing_n_mm))


def closed(array: NDArray[np.float64]) -> NDArray[np.float64]:
    """The array, closed to writing."""
    array.flags.writeable = False
    return array
