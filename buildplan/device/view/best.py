"""The best aim of a camera from where it is, and what it would see from other heights."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from buildplan.device.view.aims import (
    camera_frame,
    frames_at,
    in_picture,
    level_axes,
    tilt_and_pan,
)
from buildplan.device.view.scene import AT_REST, NOTHING, Floats, Poses, Scene
from buildplan.device.view.shape import Camera, Point
from buildplan.device.view.sights import sight_lines
from buildplan.device.view.target import Target

TILT_STEP_DEG, PAN_STEP_DEG = 6.0, 15.0
REFINEMENTS, SHRINK, AROUND = 3, 3.0, 3
EQUAL_FRAC = 1e-12
BATCH = 64
"""Aims tried in one go: 64 x 3000 cells x 3 numbers stay in the cache."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """A way to look and what it shows.

    Attributes:
        look: Unit vector.
        tilt_deg: 0 looks straight against up, 90 level.
        pan_deg: About up.
        seen_frac: Share of the target seen.
        now_frac: Share seen with the look that the camera has now.
        clear_frac: Share that is free to see: no aim from here shows more.
        turn_deg: Angle between the look now and this one.
        tried: Aims that were compared.
        search: The search in words.
    """

    look: Point
    tilt_deg: float
    pan_deg: float
    seen_frac: float
    now_frac: float
    clear_frac: float
    turn_deg: float
    tried: int
    search: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MountRow:
    """What the camera sees from one height.

    Attributes:
        shift_mm: Along the camera's up, from where it is.
        point_mm: Where that is.
        seen_frac: With the best aim from there.
        clear_frac: Free to see from there.
        aim: That aim.
    """

    shift_mm: float
    point_mm: Point
    seen_frac: float
    clear_frac: float
    aim: Aim


def best_aim(camera: Camera, scene: Scene, target: Target, *, poses: Poses = AT_REST) -> Aim:
    """The look from the camera's point that shows most of the target, its up kept.

    The sights are cast once; then tilt and pan are compared on a grid (every 6 by 15 deg, and the
    look now), refined 3 times around the best with steps a third as large. Equal shares are
    decided by the smallest angle from the look to the farthest free cell. The result is never
    worse than the look now; the last step is 0.2 by 0.6 deg, so a better one may lie between.

    Args:
        camera: Point, angles of view, up, and the look now.
        scene: The bodies.
        target: Of cut_target.
        poses: Where the moving groups are now.
    """
    free = sight_lines(scene, camera.point_mm, target, poses=poses) == NOTHING
    offsets = target.points_mm[free] - np.asarray(camera.point_mm)
    axes = level_axes(camera.up)
    now = tilt_and_pan(camera.look, axes)
    cells = len(target.points_mm)
    now_frac = float(in_picture(camera, camera_frame(camera)[None], offsets).sum()) / cells
    best, best_score, tried = now, (now_frac, _spread(camera_frame(camera)[None], offsets)[0]), 1
    steps = np.array([TILT_STEP_DEG, PAN_STEP_DEG])
    tilts, pans = np.meshgrid(np.arange(0.0, 180.1, steps[0]), np.arange(0.0, 360.0, steps[1]))
    for _ in range(1 + REFINEMENTS):
        found, score = _best_of(camera, tilts.ravel(), pans.ravel(), axes, offsets, cells)
        tried += tilts.size
        if _better(score, best_score):
            best, best_score = found, score
        steps = steps / SHRINK
        around = np.arange(-AROUND, AROUND + 1)
        tilts, pans = np.meshgrid(best[0] + steps[0] * around, best[1] + steps[1] * around)
        tilts = np.clip(tilts, 0.0, 180.0)
    look = frames_at(np.array([best[0]]), np.array([best[1]]), axes)[0, 2]
    turn = float(np.degrees(np.arccos(np.clip(look @ camera_frame(camera)[2], -1.0, 1.0))))
    return Aim(
        look=(float(look[0]), float(look[1]), float(look[2])),
        tilt_deg=float(best[0]),
        pan_deg=float(best[1]) % 360.0,
        seen_frac=best_score[0],
        now_frac=now_frac,
        clear_frac=float(free.mean()),
        turn_deg=turn,
        tried=tried,
        search=(
            f"{tried} aims on a grid of {TILT_STEP_DEG:g} by {PAN_STEP_DEG:g} deg, refined "
            f"{REFINEMENTS} times to {TILT_STEP_DEG / SHRINK**REFINEMENTS:.1f} by "
            f"{PAN_STEP_DEG / SHRINK**REFINEMENTS:.1f} deg"
        ),
    )


def mount_table(
    camera: Camera,
    scene: Scene,
    target: Target,
    *,
    shifts_mm: Sequence[float],
    carried: Sequence[str] = (),
    poses: Poses = AT_REST,
) -> tuple[MountRow, ...]:
    """The best view from several heights: the camera moved along its up and aimed anew.

    Args:
        camera: Where it is now.
        scene: The bodies.
        target: Of cut_target.
        shifts_mm: Moves along up.
        carried: Names of the bodies that carry the camera; they are left out.
        poses: Where the moving groups are now.
    """
    up = level_axes(camera.up)[2]
    rest = Scene(obstacles=tuple(o for o in scene.obstacles if o.body.name not in carried))
    rows = []
    for shift in shifts_mm:
        place = np.asarray(camera.point_mm) + shift * up
        point = (float(place[0]), float(place[1]), float(place[2]))
        aim = best_aim(replace(camera, point_mm=point), rest, target, poses=poses)
        rows.append(
            MountRow(
                shift_mm=float(shift),
                point_mm=point,
                seen_frac=aim.seen_frac,
                clear_frac=aim.clear_frac,
                aim=aim,
            )
        )
    return tuple(rows)


def _best_of(
    camera: Camera, tilts: Floats, pans: Floats, axes: Floats, offsets: Floats, cells: int
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Tilt and pan with the best score among many, and that score."""
    frames = frames_at(tilts, pans, axes)
    seen = np.concatenate(
        [
            in_picture(camera, frames[i : i + BATCH], offsets).sum(axis=1)
            for i in range(0, len(frames), BATCH)
        ]
    )
    ties = np.flatnonzero(seen == seen.max())
    spread = _spread(frames[ties], offsets)
    k = int(ties[spread.argmax()])
    return (float(tilts[k]), float(pans[k])), (float(seen[k]) / cells, float(spread.max()))


def _spread(frames: Floats, offsets: Floats) -> Floats:
    """(k,) cosine of the angle from each look to the farthest free cell; 0 where none is free."""
    if not len(offsets):
        return np.zeros(len(frames))
    rays = offsets / np.linalg.norm(offsets, axis=1, keepdims=True)
    least: NDArray[np.float64] = (frames[:, 2] @ rays.T).min(axis=1)
    return least


def _better(score: tuple[float, float], than: tuple[float, float]) -> bool:
    """More of the target seen, or as much with more margin."""
    if abs(score[0] - than[0]) > EQUAL_FRAC:
        return score[0] > than[0]
    return score[1] > than[1] + EQUAL_FRAC
