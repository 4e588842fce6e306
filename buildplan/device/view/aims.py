"""Where a sensor looks: frames, tilt and pan, directions inside a cone, solid angles."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buildplan.device.view.scene import unit
from buildplan.device.view.shape import WIDEST_DEG, Camera
from buildplan.errors import InputError

Floats = NDArray[np.float64]
GOLDEN_RAD = math.pi * (3.0 - math.sqrt(5.0))


def half_tan(full_deg: float, what: str) -> float:
    """Tangent of half a view angle.

    Raises:
        InputError: the angle is not in 0 < angle <= 170.
    """
    if not 0.0 < full_deg <= WIDEST_DEG:
        raise InputError(
            f"{what}: a full view angle lies above 0 and up to {WIDEST_DEG:g} deg, found "
            f"{full_deg:g} deg; give the angle from edge to edge that its data sheet names"
        )
    return math.tan(math.radians(full_deg) / 2.0)


def picture_tans(camera: Camera) -> tuple[float, float]:
    """Half width and half height of the picture at distance 1."""
    return half_tan(camera.wide_deg, "camera wide_deg"), half_tan(
        camera.high_deg, "camera high_deg"
    )


def level_axes(up: Sequence[float]) -> Floats:
    """Rows: pan 0, pan 90 and up, at right angles and of length 1."""
    top = unit(up, "the camera's up")
    first = np.array([1.0, 0.0, 0.0]) if abs(top[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    first = unit(first - (first @ top) * top, "the camera's up")
    return np.stack([first, np.cross(top, first), top])


def frames_at(tilts_deg: Floats, pans_deg: Floats, axes: Floats) -> Floats:
    """(k, 3, 3) camera frames, rows right, down in the picture, forward.

    Args:
        tilts_deg: (k,) 0 looks against up, 90 level, 180 along up.
        pans_deg: (k,) about up, from the first of the axes.
        axes: Of level_axes.
    """
    tilt, pan = np.radians(tilts_deg), np.radians(pans_deg)
    zero = np.zeros_like(tilt * pan)
    forward = np.stack(
        [np.sin(tilt) * np.cos(pan), np.sin(tilt) * np.sin(pan), zero - np.cos(tilt)], axis=-1
    )
    right = np.stack([zero + np.sin(pan), zero - np.cos(pan), zero], axis=-1)
    frames: Floats = np.stack([right, np.cross(forward, right), forward], axis=-2) @ axes
    return frames


def tilt_and_pan(look: Sequence[float], axes: Floats) -> tuple[float, float]:
    """Tilt and pan in degrees of a look; pan is 0 where it looks straight along up."""
    x, y, z = axes @ unit(look, "the look")
    level = math.hypot(x, y)
    pan = math.degrees(math.atan2(y, x)) % 360.0 if level > 1e-12 else 0.0
    return math.degrees(math.atan2(level, -z)), pan


def camera_frame(camera: Camera) -> Floats:
    """(3, 3) rows right, down in the picture, forward.

    Raises:
        InputError: look or up has no direction.
    """
    axes = level_axes(camera.up)
    tilt, pan = tilt_and_pan(camera.look, axes)
    return np.asarray(frames_at(np.array([tilt]), np.array([pan]), axes)[0])


def in_picture(camera: Camera, frames: Floats, offsets: Floats) -> NDArray[np.bool_]:
    """Whether points lie inside the picture: (k, 3, 3) frames, (n, 3) from the pupil -> (k, n)."""
    wide, high = picture_tans(camera)
    seen = frames @ offsets.T
    ahead = seen[:, 2]
    edge = 1.0 + 1e-12  # a point on the edge is inside, whatever the rounding
    inside: NDArray[np.bool_] = (
        (ahead > 0.0)
        & (np.abs(seen[:, 0]) <= ahead * wide * edge)
        & (np.abs(seen[:, 1]) <= ahead * high * edge)
    )
    return inside


def angles_needed(camera: Camera, offsets: Floats) -> tuple[float, float]:
    """Full angles across and up the picture that hold every point; 180 where one lies behind.

    Args:
        camera: Its look and up.
        offsets: (n, 3) points from the pupil.
    """
    x, y, z = (offsets @ camera_frame(camera).T).T
    if not len(x) or float(z.min()) <= 0.0:
        return 180.0, 180.0
    wide, high = (2.0 * math.degrees(math.atan(float(np.abs(v / z).max()))) for v in (x, y))
    return wide, high


def cone_directions(look: Sequence[float], cone_deg: float, count: int) -> Floats:
    """(n, 3) unit vectors spread evenly in solid angle over a cone (a spiral of golden angles).

    cos t_k = 1 - (k + 1/2) / n (1 - cos h), turned by k times the golden angle.

    Source: Swinbank and Purser, "Fibonacci grids", 2006, for the cap of a sphere.
    """
    half_tan(cone_deg, "the cone")
    return cap_directions(look, math.radians(cone_deg) / 2.0, count)


def cap_directions(look: Sequence[float], half_rad: float, count: int) -> Floats:
    """As cone_directions, for any half angle up to pi (the whole sphere)."""
    if count < 1:
        raise InputError(f"rays: at least 1, found {count}")
    forward = unit(look, "the look")
    step = np.arange(count) + 0.5
    cosine = 1.0 - step / count * (1.0 - math.cos(half_rad))
    sine = np.sqrt(np.maximum(1.0 - cosine * cosine, 0.0))
    across = level_axes((float(forward[0]), float(forward[1]), float(forward[2])))
    rays: Floats = (
        (sine * np.cos(step * GOLDEN_RAD))[:, None] * across[0]
        + (sine * np.sin(step * GOLDEN_RAD))[:, None] * across[1]
        + cosine[:, None] * forward
    )
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    return rays


def cone_solid_angle(cone_deg: float) -> float:
    """Steradians in a cone of a full angle: 2 pi (1 - cos h)."""
    return 2.0 * math.pi * (1.0 - math.cos(math.radians(cone_deg) / 2.0))


def picture_solid_angle(wide_deg: float, high_deg: float) -> float:
    """Steradians in a picture of two full angles: 4 asin(sin(w / 2) sin(h / 2)).

    Source: solid angle of a right rectangular pyramid by its apex angles (closed form).
    """
    return 4.0 * math.asin(
        math.sin(math.radians(wide_deg) / 2.0) * math.sin(math.radians(high_deg) / 2.0)
    )
