"""What a camera sees of its target: seen, hidden behind which part, outside the picture."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.device.view.aims import camera_frame, in_picture, picture_tans
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
    sealed,
)
from buildplan.device.view.shape import Camera
from buildplan.device.view.target import BESIDE, Target
from buildplan.errors import InputError

SEEN, OUTSIDE, NO_TARGET = 0, -1, -2
"""Codes of a map; 1 and above: hidden by ``names[code - 1]``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hidden:
    """The share of what is looked at that one part hides."""

    name: str
    share_frac: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraView:
    """Shares of a target; seen + outside + hidden = 1.

    Attributes:
        seen_frac: In the picture and free to see.
        outside_frac: Not in the picture, free or not.
        hidden_frac: In the picture, but behind a part.
        hidden_by: The parts that hide it, the greatest share first.
        clear_frac: Free to see if only the camera looked there: no aim can show more.
        through_clear_frac: Seen through a clear part (its glare and dirt are not reckoned).
        inside: Name of the part that the camera's point lies inside of; empty in the open.
        farthest_mm: Longest line of sight to the target.
        codes: (rows, columns) int16, read-only: SEEN, OUTSIDE, NO_TARGET, or k hidden by
            ``names[k - 1]``.
        names: What the codes from 1 on stand for.
        target: The cells that the map is of.
    """

    seen_frac: float
    outside_frac: float
    hidden_frac: float
    hidden_by: tuple[Hidden, ...]
    clear_frac: float
    through_clear_frac: float
    inside: str
    farthest_mm: float
    codes: NDArray[np.int16]
    names: tuple[str, ...]
    target: Target


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelView:
    """What the camera sees while parts move.

    Attributes:
        angles_deg: (n,) of the travel, read-only.
        seen_frac: (n,) likewise.
        hidden_frac: (n,) likewise.
        views: One for each angle.
    """

    angles_deg: Floats
    seen_frac: Floats
    hidden_frac: Floats
    views: tuple[CameraView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """What the camera's own picture shows, coarsely: a mask of the parts in it.

    Attributes:
        bodies: (rows, columns) int16 place in ``names`` of the body shown, NOTHING for the rest;
            row 0 on top.
        names: Of the scene's bodies; copies of one part share a name.
        distance_mm: (rows, columns) to it, inf where there is none.
        shares: Share of the picture that each part fills, the greatest first.
    """

    bodies: NDArray[np.int16]
    names: tuple[str, ...]
    distance_mm: Floats
    shares: tuple[Hidden, ...]


def sight_lines(
    scene: Scene,
    point_mm: Sequence[float],
    target: Target,
    *,
    poses: Poses = AT_REST,
    clear: bool = False,
) -> Ints:
    """(n,) number of the body before each cell of a target, NOTHING where the sight is free.

    A line of sight does not depend on the aim: it is cast once for a point.

    Args:
        scene: The bodies.
        point_mm: Where it is looked from.
        target: The cells.
        poses: Where the moving groups are now.
        clear: Look for the clear bodies instead of those that hide.

    Raises:
        InputError: a cell lies on the point itself.
    """
    rays, length = _rays_to(point_mm, target)
    reach = float(length.max())
    found, which = first_bodies(scene, point_mm, rays, farthest_mm=reach, poses=poses, clear=clear)
    return np.where(found < length * (1.0 - TOUCH_FRAC), which, NOTHING)


def view_target(
    camera: Camera, scene: Scene, target: Target, *, poses: Poses = AT_REST
) -> CameraView:
    """Shares of the target that the camera sees, with a map of what hides the rest.

    Args:
        camera: Point, look and angles of view.
        scene: The bodies.
        target: Of cut_target.
        poses: Where the moving groups are now.

    Raises:
        InputError: a look without direction, a view angle of 0 or above 170 deg.
    """
    before = sight_lines(scene, camera.point_mm, target, poses=poses)
    panes = np.full(len(before), NOTHING, dtype=np.int64)
    if any(obstacle.body.clear for obstacle in scene.obstacles):
        panes = sight_lines(scene, camera.point_mm, target, poses=poses, clear=True)
    offsets = target.points_mm - np.asarray(camera.point_mm)
    inside = in_picture(camera, camera_frame(camera)[None], offsets)[0]
    names, number = _merge_names(scene.names)
    codes = np.full(target.inside.shape, NO_TARGET, dtype=np.int16)
    cells = np.where(inside, np.where(before == NOTHING, SEEN, number[before] + 1), OUTSIDE)
    codes[target.inside] = cells
    sealed(codes)
    around = body_around(scene, camera.point_mm, poses=poses)
    return CameraView(
        seen_frac=float((cells == SEEN).mean()),
        outside_frac=float((cells == OUTSIDE).mean()),
        hidden_frac=float((cells > 0).mean()),
        hidden_by=shares_of(cells[cells > 0] - 1, names, len(cells)),
        clear_frac=float((before == NOTHING).mean()),
        through_clear_frac=float(((cells == SEEN) & (panes != NOTHING)).mean()),
        inside="" if around == NOTHING else scene.names[around],
        farthest_mm=float(np.linalg.norm(offsets, axis=1).max()),
        codes=codes,
        names=names,
        target=target,
    )


def view_travel(
    camera: Camera,
    scene: Scene,
    target: Target,
    *,
    angles_deg: Sequence[float] | Floats,
    poses: Mapping[str, Floats],
) -> TravelView:
    """The camera's view at every angle of a travel.

    Args:
        camera: As in view_target.
        scene: The bodies at rest.
        target: Of cut_target.
        angles_deg: (n,) only named in the result.
        poses: (n, 4, 4) from rest for every moving group.

    Raises:
        InputError: as pose_at.
    """
    angles = np.array(angles_deg, dtype=np.float64)
    views = tuple(
        view_target(camera, scene, target, poses=pose_at(scene, angles, poses, i))
        for i in range(len(angles))
    )
    seen = np.array([view.seen_frac for view in views])
    hidden = np.array([view.hidden_frac for view in views])
    for array in (angles, seen, hidden):
        sealed(array)
    return TravelView(angles_deg=angles, seen_frac=seen, hidden_frac=hidden, views=views)


def look_through(
    camera: Camera, scene: Scene, *, columns: int = 80, poses: Poses = AT_REST
) -> Picture:
    """Which part fills which cell of the camera's picture, seen from the pupil's middle.

    Args:
        camera: Point, look and angles of view.
        scene: The bodies.
        columns: Cells across the picture; they are square.
        poses: Where the moving groups are now.
    """
    wide, high = picture_tans(camera)
    rows = max(1, round(columns * high / wide))
    x = ((np.arange(columns) + BESIDE[0]) / columns * 2.0 - 1.0) * wide
    y = ((np.arange(rows) + BESIDE[1]) / rows * 2.0 - 1.0) * high
    grid = np.stack([*np.meshgrid(x, y), np.ones((rows, columns))], axis=-1).reshape(-1, 3)
    rays = grid @ camera_frame(camera)
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    distance, which = first_bodies(scene, camera.point_mm, rays, poses=poses)
    names, number = _merge_names(scene.names)
    bodies = which.astype(np.int16).reshape(rows, columns)
    distance = distance.reshape(rows, columns)
    for array in (bodies, distance):
        sealed(array)
    hit = number[which[which != NOTHING]]
    return Picture(
        bodies=bodies,
        names=scene.names,
        distance_mm=distance,
        shares=shares_of(hit, names, len(which)),
    )


def shares_of(numbers: Ints, names: Sequence[str], out_of: int) -> tuple[Hidden, ...]:
    """Share of each name among ``out_of`` sights, the greatest first, names without any left out.

    Args:
        numbers: (n,) a name's number for every sight that meets it.
        names: By number.
        out_of: How many sights there are.
    """
    counts = np.bincount(numbers, minlength=len(names))
    found = [
        Hidden(name=name, share_frac=float(count) / out_of)
        for name, count in zip(names, counts, strict=True)
        if count
    ]
    return tuple(sorted(found, key=lambda hidden: (-hidden.share_frac, hidden.name)))


def _merge_names(names: Sequence[str]) -> tuple[tuple[str, ...], Ints]:
    """Names once each, and the place of every body's name among them (copies share one)."""
    once = tuple(dict.fromkeys(names))
    place = [once.index(name) for name in names]
    return once, np.array([*place, NOTHING], dtype=np.int64)  # NOTHING picks the last


def _rays_to(point_mm: Sequence[float], target: Target) -> tuple[Floats, Floats]:
    """Unit rays from a point to the cells, and their lengths."""
    offsets = target.points_mm - np.asarray(point_mm, dtype=np.float64)
    length = np.linalg.norm(offsets, axis=1)
    if not np.isfinite(length).all() or float(length.min()) < 1e-9:
        raise InputError(
            f"target: a cell lies {float(length.min()):.3g} mm from the camera's point "
            f"{tuple(point_mm)}, more than 1e-9 mm is needed; move the camera or the target"
        )
    return offsets / length[:, None], length
