"""What a distance sensor's cone meets, and what the sensor reads over the height of the ground."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from buildplan.device.view.aims import cap_directions, cone_directions, half_tan
from buildplan.device.view.scene import (
    AT_REST,
    NOTHING,
    TOUCH_FRAC,
    Floats,
    Ints,
    Poses,
    Scene,
    body_around,
    first_bodies,
    pose_at,
    unit,
)
from buildplan.device.view.shape import DistanceSensor, Point
from buildplan.device.view.sights import Hidden, shares_of

Reading = Literal["good", "too near", "too far", "part in the way", "misses"]

RAYS, TRAVEL_RAYS = 4000, 1000
OWN_LEAST_FRAC = 0.01
"""Share of the cone on an own part that makes a reading doubtful (common practice, no source)."""

WIDEST_TURN_DEG = 40.0
TURN_RAYS, MOST_SAMPLES = 500, 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class ConeView:
    """What the cone meets before the ground; shares are of its solid angle.

    Attributes:
        own_frac: On a part of the device.
        own_by: Those parts, the greatest share first.
        own_near_mm: Distance to the nearest of them, inf where there is none.
        ground_frac: On the ground, within reach of the sensor.
        clear_cone_deg: Full angle of the widest cone about the look that meets no part, to the
            spacing of the rays; at most the sensor's own.
        inside: Name of the part that the sensor's point lies inside of; empty in the open.
        rays: How many were cast.
    """

    own_frac: float
    own_by: tuple[Hidden, ...]
    own_near_mm: float
    ground_frac: float
    clear_cone_deg: float
    inside: str
    rays: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightRow:
    """What the sensor reads when the ground, or what grows on it, is level at one height.

    Attributes:
        height_mm: Above soil_z_mm.
        axis_mm: Distance along the look; inf where the look never meets the ground.
        first_mm: Distance to the nearest point in the cone that is ground.
        mean_mm: Mean distance over the part of the cone that lands on the ground.
        footprint_mm: Longest width of the cone on the ground; inf where the cone is cut open.
        own_frac: Share of the cone on parts before the ground.
        own_near_mm: Nearest of these, inf where there is none.
        reading: "good", or why not.
    """

    height_mm: float
    axis_mm: float
    first_mm: float
    mean_mm: float
    footprint_mm: float
    own_frac: float
    own_near_mm: float
    reading: Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """The least turn of a sensor that frees its cone most.

    Attributes:
        look: Unit vector.
        turn_deg: From the look now.
        own_frac: Share of the cone on parts then.
        tried: Looks that were compared.
    """

    look: Point
    turn_deg: float
    own_frac: float
    tried: int


def view_cone(
    sensor: DistanceSensor, scene: Scene, *, rays: int = RAYS, poses: Poses = AT_REST
) -> ConeView:
    """Which parts the sensor's cone meets before the ground at soil height.

    Args:
        sensor: Point, look, cone, reach.
        scene: The bodies.
        rays: Spread evenly in solid angle, so that shares are counts; the error is about
            1 / sqrt(rays) of the rim of a shadow.
        poses: Where the moving groups are now.

    Raises:
        InputError: a look without direction, a cone of 0 or above 170 deg.
    """
    way = cone_directions(sensor.look, sensor.cone_deg, rays)
    found, which = first_bodies(scene, sensor.point_mm, way, farthest_mm=sensor.far_mm, poses=poses)
    ground = ground_distance(sensor, way, 0.0)
    own = found < np.minimum(ground, sensor.far_mm) * (1.0 - TOUCH_FRAC)
    cosine = way @ unit(sensor.look, "the sensor's look")
    clear = sensor.cone_deg
    if own.any():
        clear = 2.0 * math.degrees(math.acos(min(1.0, float(cosine[own].max()))))
    around = body_around(scene, sensor.point_mm, poses=poses)
    return ConeView(
        own_frac=float(own.mean()),
        own_by=shares_of(*_named(scene, which[own]), rays),
        own_near_mm=float(found[own].min()) if own.any() else math.inf,
        ground_frac=float((~own & (ground <= sensor.far_mm)).mean()),
        clear_cone_deg=clear,
        inside="" if around == NOTHING else scene.names[around],
        rays=rays,
    )


def travel_cone(
    sensor: DistanceSensor,
    scene: Scene,
    *,
    angles_deg: Sequence[float] | Floats,
    poses: Mapping[str, Floats],
    rays: int = TRAVEL_RAYS,
) -> tuple[ConeView, ...]:
    """What the cone meets at every angle of a travel: a lid, a rod or a lead that swings into it.

    Args:
        sensor: Point, look, cone, reach.
        scene: The bodies at rest.
        angles_deg: (n,) of the travel.
        poses: (n, 4, 4) from rest for every moving group.
        rays: As in view_cone.

    Raises:
        InputError: as view_cone and pose_at.
    """
    return tuple(
        view_cone(sensor, scene, rays=rays, poses=pose_at(scene, angles_deg, poses, i))
        for i in range(len(angles_deg))
    )


def height_table(
    sensor: DistanceSensor,
    scene: Scene,
    *,
    heights_mm: Sequence[float],
    rays: int = RAYS,
    poses: Poses = AT_REST,
) -> tuple[HeightRow, ...]:
    """What the sensor reads for level ground at several heights above the soil.

    A sensor that waits for the first echo reads ``first_mm``, one that averages over its cone
    ``mean_mm``. For a look square to the ground at distance d and a half cone h:
    first = d, mean = d ln(1 / cos h) / (1 - cos h), footprint = 2 d tan h.

    Args:
        sensor: Point, look, cone, reach.
        scene: The bodies.
        heights_mm: Above soil_z_mm.
        rays: As in view_cone.
        poses: Where the moving groups are now.

    Raises:
        InputError: as view_cone.
    """
    way = cone_directions(sensor.look, sensor.cone_deg, rays)
    found, _ = first_bodies(scene, sensor.point_mm, way, farthest_mm=sensor.far_mm, poses=poses)
    return tuple(_height_row(sensor, way, found, float(height)) for height in heights_mm)


def tallest_mm(sensor: DistanceSensor) -> float:
    """Greatest height above the soil that the sensor can measure from above.

    point z - soil z - near cos(least lean of any ray in the cone); negative where even the soil
    is too near.
    """
    lean, half = _lean(sensor)
    least = math.cos(max(0.0, lean - half))
    return sensor.point_mm[2] - sensor.soil_z_mm - sensor.near_mm * max(least, 0.0)


def ground_distance(sensor: DistanceSensor, way: Floats, height_mm: float) -> Floats:
    """(n,) distance along each ray to level ground, inf where it never gets there."""
    drop = sensor.soil_z_mm + height_mm - sensor.point_mm[2]
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = drop / way[:, 2]
    return np.where(distance >= 0.0, distance, np.inf)


def free_turn(
    sensor: DistanceSensor,
    scene: Scene,
    *,
    most_deg: float = WIDEST_TURN_DEG,
    step_deg: float = 2.0,
    rays: int = TURN_RAYS,
    poses: Poses = AT_REST,
) -> Turn:
    """The least turn, up to a limit, after which the cone meets the least of the device.

    Rays over everything within reach are cast once; then looks in rings every ``step_deg`` are
    compared by the share of the rays in their cone that meet a part before the ground. Looks
    whose axis misses the ground are left out.

    Args:
        sensor: As it is now.
        scene: The bodies.
        most_deg: Greatest turn.
        step_deg: Between the rings, and about as much along them.
        rays: In one cone; more are cast for the whole reach, up to 20 000.
        poses: Where the moving groups are now.
    """
    half = math.atan(half_tan(sensor.cone_deg, "the cone"))
    reach = min(math.pi, half + math.radians(most_deg))
    count = min(MOST_SAMPLES, math.ceil(rays * (1 - math.cos(reach)) / (1 - math.cos(half))))
    way = cap_directions(sensor.look, reach, count)
    found, _ = first_bodies(scene, sensor.point_mm, way, farthest_mm=sensor.far_mm, poses=poses)
    ground = np.minimum(ground_distance(sensor, way, 0.0), sensor.far_mm)
    own = found < ground * (1.0 - TOUCH_FRAC)
    now = unit(sensor.look, "the sensor's look")
    if not own[way @ now >= math.cos(half)].any():
        return Turn(look=_triple(now), turn_deg=0.0, own_frac=0.0, tried=1)
    rings = max(1, round(most_deg / step_deg))
    looks = cap_directions(sensor.look, math.radians(most_deg), max(1, 3 * rings * rings))
    looks = np.concatenate([now[None], looks])
    down = np.isfinite(ground_distance(sensor, looks, 0.0))
    looks = looks[down] if down.any() else now[None]
    inside = looks @ way.T >= math.cos(half)
    share = (inside & own).sum(axis=1) / np.maximum(inside.sum(axis=1), 1)
    turn = np.degrees(np.arccos(np.clip(looks @ now, -1.0, 1.0)))
    best = int(np.lexsort((turn, np.round(share, 9)))[0])
    return Turn(
        look=_triple(looks[best]),
        turn_deg=float(turn[best]),
        own_frac=float(share[best]),
        tried=len(looks),
    )


def _height_row(sensor: DistanceSensor, way: Floats, found: Floats, height: float) -> HeightRow:
    ground = ground_distance(sensor, way, height)
    reached = np.minimum(ground, sensor.far_mm)
    own = found < reached * (1.0 - TOUCH_FRAC)
    lands = ~own & np.isfinite(ground)
    own_frac = float(own.mean())
    axis = float(ground_distance(sensor, unit(sensor.look, "the look")[None], height)[0])
    first = _first_distance(sensor, height)
    if axis < math.inf:
        first = min(first, axis)
    reading: Reading = "good"
    if not lands.any() and own_frac < OWN_LEAST_FRAC:
        reading = "misses"
    elif own_frac >= OWN_LEAST_FRAC:
        reading = "part in the way"
    elif first < sensor.near_mm * (1.0 - 1e-9):
        reading = "too near"
    elif axis > sensor.far_mm:
        reading = "too far"
    return HeightRow(
        height_mm=height,
        axis_mm=axis,
        first_mm=first,
        mean_mm=float(ground[lands].mean()) if lands.any() else math.inf,
        footprint_mm=_footprint(sensor, height),
        own_frac=own_frac,
        own_near_mm=float(found[own].min()) if own.any() else math.inf,
        reading=reading,
    )


def _lean(sensor: DistanceSensor) -> tuple[float, float]:
    """Angle between look and the way to the ground, and half the cone, in radians."""
    look = unit(sensor.look, "the sensor's look")
    return math.acos(max(-1.0, min(1.0, -float(look[2])))), math.radians(sensor.cone_deg) / 2.0


def _drop(sensor: DistanceSensor, height: float) -> tuple[float, float]:
    """Level distance of the ground (positive) and the lean of the look from the way to it."""
    lean, _ = _lean(sensor)
    drop = sensor.point_mm[2] - sensor.soil_z_mm - height
    return abs(drop), lean if drop >= 0.0 else math.pi - lean


def _first_distance(sensor: DistanceSensor, height: float) -> float:
    """Distance to the nearest ground in the cone: drop / cos(least lean of any ray)."""
    drop, lean = _drop(sensor, height)
    least = max(0.0, lean - _lean(sensor)[1])
    return drop / math.cos(least) if least < math.pi / 2.0 - 1e-12 else math.inf


def _footprint(sensor: DistanceSensor, height: float) -> float:
    """Longest width of the cone's trace: drop (tan(lean + half) - tan(lean - half))."""
    drop, lean = _drop(sensor, height)
    half = _lean(sensor)[1]
    if lean + half >= math.pi / 2.0 - 1e-12:
        return math.inf
    return drop * (math.tan(lean + half) - math.tan(lean - half))


def _triple(vector: Floats) -> Point:
    return float(vector[0]), float(vector[1]), float(vector[2])


def _named(scene: Scene, bodies: Ints) -> tuple[Ints, tuple[str, ...]]:
    """Bodies by the place of their name among the names once each."""
    once = tuple(dict.fromkeys(scene.names))
    place = np.array([*(once.index(name) for name in scene.names), NOTHING], dtype=np.int64)
    return place[bodies], once
