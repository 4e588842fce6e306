"""A part turned and moved as a whole: the way it is printed, or where it stands in the device."""

import hashlib
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from buildplan.errors import InputError
from buildplan.part.feature import Feature, KeepOut
from buildplan.part.model import Part

AS_PLACED = (1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0)


def turn_part(part: Part, matrix: Sequence[float]) -> Part:
    """The same solid after p -> R p + t; the part itself where the matrix changes nothing.

    Args:
        part: The part as read.
        matrix: 16 numbers, row by row: R orthonormal and not mirrored, t in millimetres.

    Raises:
        InputError: the matrix is no rotation with a translation.
    """
    square = np.asarray(matrix, dtype=np.float64)
    if square.shape != (16,) or not np.isfinite(square).all():
        raise InputError(
            f"part {part.name}: a pose holds 16 finite numbers, row by row; found {square.size}"
        )
    pose = square.reshape(4, 4)
    if np.array_equal(pose, np.eye(4)):
        return part
    rotation, shift = pose[:3, :3], pose[:3, 3]
    off = float(np.abs(rotation @ rotation.T - np.eye(3)).max())
    if off > 1e-4 or np.linalg.det(rotation) < 0 or not np.array_equal(pose[3], (0, 0, 0, 1)):
        raise InputError(
            f"part {part.name}: the pose is no plain rotation (rows are off by {off:.2g}, at most "
            "0.0001; determinant must be +1, last row 0 0 0 1); it may neither scale nor mirror"
        )
    vertices = part.vertices_mm @ rotation.T + shift
    vertices.flags.writeable = False
    size = vertices.max(axis=0) - vertices.min(axis=0)
    centre = rotation @ np.asarray(part.centre_of_mass_mm) + shift
    return replace(
        part,
        key=hashlib.sha256(part.key.encode() + pose.tobytes()).hexdigest(),
        vertices_mm=vertices,
        size_mm=(float(size[0]), float(size[1]), float(size[2])),
        centre_of_mass_mm=(float(centre[0]), float(centre[1]), float(centre[2])),
    )


def turn_features(features: Sequence[Feature], matrix: Sequence[float]) -> tuple[Feature, ...]:
    """Features after p -> R p + t: each box becomes the box around its turned corners.

    Args:
        features: Named boxes in the part's file coordinates.
        matrix: 16 numbers, row by row, as in ``turn_part``.
    """
    return tuple(replace(f, box_mm=_turned_box(f.box_mm, matrix)) for f in features)


def turn_keep_outs(keep_outs: Sequence[KeepOut], matrix: Sequence[float]) -> tuple[KeepOut, ...]:
    """Keep-outs after p -> R p + t, as ``turn_features``."""
    return tuple(replace(k, box_mm=_turned_box(k.box_mm, matrix)) for k in keep_outs)


def _turned_box(box_mm: Sequence[float], matrix: Sequence[float]) -> tuple[float, ...]:
    pose = np.asarray(matrix, dtype=np.float64).reshape(4, 4)
    if np.array_equal(pose, np.eye(4)):
        return tuple(box_mm)
    ends = np.asarray(box_mm, dtype=np.float64).reshape(2, 3)
    corners = np.stack(np.meshgrid(*ends.T, indexing="ij"), axis=-1).reshape(-1, 3)
    moved = corners @ pose[:3, :3].T + pose[:3, 3]
    box = np.concatenate([moved.min(axis=0), moved.max(axis=0)])
    return tuple(float(x) for x in box)
