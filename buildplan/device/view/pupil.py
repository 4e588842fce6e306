"""How much of a camera's pupil sees each cell of its target: what a hole or a rim clips."""

import math

import numpy as np

from buildplan.device.view.aims import camera_frame, in_picture
from buildplan.device.view.scene import AT_REST, NOTHING, Floats, Poses, Scene, sealed
from buildplan.device.view.shape import Camera
from buildplan.device.view.sights import sight_lines
from buildplan.device.view.target import Target
from buildplan.errors import InputError

RIM_POINTS = 12


def pupil_shares(
    camera: Camera,
    scene: Scene,
    target: Target,
    *,
    rim_points: int = RIM_POINTS,
    poses: Poses = AT_REST,
) -> Floats:
    """(rows, columns) share of points on the pupil's rim that see each cell, read-only.

    1 is as bright as without any part, 0 is dark; nan where a cell is not in the picture. A part
    close to the lens darkens softly what ``view_target`` shows as a sharp edge.

    Args:
        camera: Its pupil_mm is the diameter of the rim.
        scene: The bodies.
        target: Of cut_target.
        rim_points: Spread evenly round the rim, at least 3.
        poses: Where the moving groups are now.

    Raises:
        InputError: fewer than 3 points.
    """
    if rim_points < 3:
        raise InputError(f"pupil: rim_points must be at least 3, found {rim_points}")
    frame = camera_frame(camera)
    free = np.zeros(len(target.points_mm))
    for turn in np.arange(rim_points) * (2.0 * math.pi / rim_points):
        aside = math.cos(turn) * frame[0] + math.sin(turn) * frame[1]
        x, y, z = np.asarray(camera.point_mm) + camera.pupil_mm / 2.0 * aside
        before = sight_lines(scene, (float(x), float(y), float(z)), target, poses=poses)
        free += before == NOTHING
    offsets = target.points_mm - np.asarray(camera.point_mm)
    inside = in_picture(camera, frame[None], offsets)[0]
    shares = np.full(target.inside.shape, np.nan)
    shares[target.inside] = np.where(inside, free / rim_points, np.nan)
    sealed(shares)
    return shares
