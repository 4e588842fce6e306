"""Orientations and poses of a build file: rotations and rigid motions, checked."""

import math
from collections.abc import Sequence
from typing import Any

from buildplan.build.shape import AS_PLACED
from buildplan.tables.wording import show

IDENTITY = (1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0)
TOLERANCE = 1e-3
FARTHEST_MM = 100_000.0


def read_orientation(value: object) -> tuple[tuple[float, ...], str]:
    """The 16 numbers of an orientation and what is wrong with it, or an empty text.

    Args:
        value: "as placed", or three rows of three numbers.
    """
    if value == AS_PLACED:
        return IDENTITY, ""
    if not _is_square(value, 3):
        return IDENTITY, (
            f'orientation must be "{AS_PLACED}" or three rows of three numbers, found {show(value)}'
        )
    rows: Any = value
    wrong = rotation_fault(rows)
    if wrong:
        return IDENTITY, f"orientation {wrong}"
    turned = [float(x) for row in rows for x in (*row, 0.0)]
    return (*turned, 0.0, 0.0, 0.0, 1.0), ""


def pose_fault(rows: Sequence[Sequence[float]]) -> str:
    """What keeps four rows of four numbers from being a rigid motion, or an empty text."""
    if tuple(rows[3]) != (0.0, 0.0, 0.0, 1.0):
        return "must end with the row [0, 0, 0, 1]"
    farthest = max(abs(row[3]) for row in rows[:3])
    if farthest > FARTHEST_MM:
        return f"moves by {farthest:g} mm; at most {FARTHEST_MM:g} mm is allowed"
    return rotation_fault([row[:3] for row in rows[:3]])


def rotation_fault(rows: Sequence[Sequence[float]]) -> str:
    """What keeps three rows of three numbers from being a rotation, or an empty text.

    A rotation has R R^T = 1 (within 0.001) and determinant +1; -1 would mirror the part.
    """
    if max(abs(x) for row in rows for x in row) > 1 + TOLERANCE:
        return "is not a rotation: a number in it is over 1"
    off = max(
        abs(math.fsum(a * b for a, b in zip(rows[i], rows[j], strict=True)) - (i == j))
        for i in range(3)
        for j in range(i, 3)
    )
    if off > TOLERANCE:
        return (
            f"is not a rotation: its rows are off right angles or length 1 by {off:.2g}; "
            f"at most {TOLERANCE:g} is allowed"
        )
    (a, b, c), (d, e, f), (g, h, i) = rows
    if a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g) < 0:
        return "mirrors the part (determinant -1); turn one row round"
    return ""


def _is_square(value: object, size: int) -> bool:
    return (
        isinstance(value, list)
        and len(value) == size
        and all(isinstance(row, list) and len(row) == size for row in value)
        and all(type(x) in (int, float) and abs(x) < math.inf for row in value for x in row)
    )
