"""What stands in the way of a line of sight: bodies in the device, each with its own facet tree.

A body keeps its tree while it moves: the rays are carried into its resting frame instead.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.kernels.facet_tree import build_facet_tree
from buildplan.kernels.first_hit import first_hits
from buildplan.part.model import Part

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Poses = Mapping[str, Floats]
"""(4, 4) from rest to now for each moving group; a group that is not named rests."""

AT_REST: Poses = {}
NOTHING = -1
SEAT_MM = 1e-3
"""A facet closer than this is the one that the sensor sits on, not in its way."""

TOUCH_FRAC = 1e-6
"""A facet this close before the end of a line of sight is the end itself, not in its way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """One part where it stands in the device, moving parts at rest.

    Attributes:
        name: For texts; copies of one part may share it.
        part: Already turned into the device.
        moves_with: Its moving group, as in the build file; empty for what stands still.
        clear: Whether light passes it: it hides nothing, but sights through it are counted.
    """

    name: str
    part: Part
    moves_with: str = ""
    clear: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """A body with its facet tree (arrays as build_facet_tree gives them)."""

    body: Body
    sorted_corners: Floats
    boxes: Floats
    leaves: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """All bodies of a device, ready for rays."""

    obstacles: tuple[Obstacle, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Name of every body, by its number."""
        return tuple(obstacle.body.name for obstacle in self.obstacles)


def build_scene(bodies: Sequence[Body]) -> Scene:
    """A facet tree for every body.

    Raises:
        InputError: a body has no facet or a corner that is not finite.
    """
    return Scene(obstacles=tuple(_obstacle(body) for body in bodies))


def first_bodies(
    scene: Scene,
    point_mm: Sequence[float] | Floats,
    directions: Floats,
    *,
    farthest_mm: float = math.inf,
    poses: Poses = AT_REST,
    clear: bool = False,
) -> tuple[Floats, Ints]:
    """Distance to the first body along each ray from one point, and which body it is.

    Args:
        scene: The bodies.
        point_mm: (3,) where every ray starts.
        directions: (n, 3) unit vectors.
        farthest_mm: Nothing beyond counts.
        poses: Where the moving groups are now.
        clear: Look for the clear bodies instead of those that hide.

    Returns:
        distance: (n,), inf where the ray is free.
        body: (n,) its number in the scene, NOTHING where the ray is free.
    """
    point = np.asarray(point_mm, dtype=np.float64)
    distance = np.full(len(directions), farthest_mm)
    which = np.full(len(directions), NOTHING, dtype=np.int64)
    for number, obstacle in enumerate(scene.obstacles):
        if obstacle.body.clear is not clear:
            continue
        start, rays = _to_rest(point, directions, poses.get(obstacle.body.moves_with))
        near = np.flatnonzero(_enters(obstacle.boxes[1], start, rays, distance))
        found = first_hits(
            obstacle.sorted_corners,
            obstacle.boxes,
            obstacle.leaves,
            np.tile(start, (len(near), 1)),
            rays[near],
            SEAT_MM,
            min(farthest_mm, 1e30),
        )
        nearer = near[found < distance[near]]
        distance[nearer] = found[found < distance[near]]
        which[nearer] = number
    distance[which == NOTHING] = np.inf
    return distance, which


def body_around(scene: Scene, point_mm: Sequence[float] | Floats, *, poses: Poses = AT_REST) -> int:
    """Number of the body that a point lies inside of, NOTHING where it lies in the open.

    The surface of a closed body fills 4 pi of the view from inside, 2 pi from a point on it and 0
    from outside; bodies that are not closed are left out.

    Source: van Oosterom and Strackee, "The solid angle of a plane triangle", 1983, equation 8.
    """
    point = np.asarray(point_mm, dtype=np.float64)
    for number, obstacle in enumerate(scene.obstacles):
        if not obstacle.body.part.closed:
            continue
        start, _ = _to_rest(point, np.empty((0, 3)), poses.get(obstacle.body.moves_with))
        box = obstacle.boxes[1]
        if (start < box[:3]).any() or (start > box[3:]).any():
            continue
        if abs(_solid_angle(obstacle.sorted_corners - start)) > 3.0 * math.pi:
            return number
    return NOTHING


def pose_at(
    scene: Scene, angles_deg: Sequence[float] | Floats, poses: Mapping[str, Floats], number: int
) -> Poses:
    """Where the moving groups are at one angle of a travel.

    Args:
        scene: The bodies, for the names of their groups.
        angles_deg: (n,) of the travel.
        poses: (n, 4, 4) from rest for every moving group.
        number: Which angle.

    Raises:
        InputError: a group that no body moves with, or another number of poses than of angles.
    """
    groups = {obstacle.body.moves_with for obstacle in scene.obstacles} - {""}
    for group, stack in poses.items():
        if group not in groups:
            raise InputError(
                f"moving group {group}: no part moves with it, found the groups "
                f"{', '.join(sorted(groups)) or 'none'}; name the group in moves_with of a part"
            )
        if stack.shape != (len(angles_deg), 4, 4):
            raise InputError(
                f"moving group {group}: {len(angles_deg)} angles need poses of shape "
                f"({len(angles_deg)}, 4, 4), found {stack.shape}; give one pose an angle"
            )
    return {group: stack[number] for group, stack in poses.items()}


def hinge_pose(point_mm: Sequence[float], axis: Sequence[float], angle_deg: float) -> Floats:
    """(4, 4) of a right-hand turn about a line: R p + (c - R c).

    Args:
        point_mm: (3,) c, on the hinge line.
        axis: (3,) along it, of any length.
        angle_deg: Turn from rest.

    Raises:
        InputError: the axis has no direction.

    Source: Rodrigues, 1840, as R = I + sin a K + (1 - cos a) K^2.
    """
    x, y, z = unit(axis, "the hinge axis")
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    angle = math.radians(angle_deg)
    turn = np.eye(3) + math.sin(angle) * cross + (1.0 - math.cos(angle)) * (cross @ cross)
    pose = np.eye(4)
    pose[:3, :3] = turn
    pose[:3, 3] = np.asarray(point_mm) - turn @ np.asarray(point_mm)
    return pose


def unit(vector: Sequence[float] | Floats, what: str) -> Floats:
    """A vector at length 1.

    Raises:
        InputError: it is shorter than 1e-9, not finite or not of three numbers.
    """
    found = np.asarray(vector, dtype=np.float64)
    length = float(np.linalg.norm(found)) if found.shape == (3,) else math.nan
    if not 1e-9 < length < math.inf:
        raise InputError(
            f"{what} must point somewhere: found {[float(v) for v in found.ravel()]}, length "
            f"{length:g}, at least 1e-9; give three finite numbers that are not all zero"
        )
    return np.asarray(found / length)


def sealed(array: NDArray[np.generic]) -> None:
    """Make an array that goes into a result read-only."""
    array.setflags(write=False)


def _obstacle(body: Body) -> Obstacle:
    corners = body.part.vertices_mm[body.part.facets]
    if not len(corners) or not np.isfinite(corners).all():
        raise InputError(
            f"part {body.name}: sight needs facets with finite corners, found {len(corners)} "
            "facets; read the mesh again or leave the part out"
        )
    _, sorted_corners, boxes, leaves = build_facet_tree(np.ascontiguousarray(corners))
    return Obstacle(body=body, sorted_corners=sorted_corners, boxes=boxes, leaves=leaves)


def _to_rest(point: Floats, rays: Floats, pose: Floats | None) -> tuple[Floats, Floats]:
    """A start and unit rays in the frame in which a moved body rests."""
    if pose is None:
        return point, rays
    turn = pose[:3, :3]
    return (point - pose[:3, 3]) @ turn, rays @ turn


def _enters(box: Floats, start: Floats, rays: Floats, distance: Floats) -> NDArray[np.bool_]:
    """(n,) whether a ray enters a box (6,) before a distance, a hair generously."""
    with np.errstate(divide="ignore"):
        inverse = 1.0 / np.where(rays == 0.0, 1e-300, rays)
    low, high = (box[:3] - start) * inverse, (box[3:] - start) * inverse
    near = np.minimum(low, high).max(axis=1)
    far = np.maximum(low, high).min(axis=1)
    slack = 1e-9 * (1.0 + np.abs(near))
    enters: NDArray[np.bool_] = (far >= -slack) & (near <= far + slack) & (near <= distance + slack)
    return enters


def _solid_angle(corners: Floats) -> float:
    """Signed solid angle of facets seen from the origin: (m, 3, 3) in, up to 4 pi out.

    A facet whose plane passes within SEAT_MM is seen edge on and counts nothing.
    """
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    la, lb, lc = (np.linalg.norm(side, axis=1) for side in (a, b, c))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c))
    base = (
        la * lb * lc
        + np.einsum("ij,ij->i", a, b) * lc
        + np.einsum("ij,ij->i", b, c) * la
        + np.einsum("ij,ij->i", c, a) * lb
    )
    normal = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    seen = np.abs(volume) > SEAT_MM * normal
    return float(2.0 * np.arctan2(volume[seen], base[seen]).sum())
