"""Certified sweep of a push rod: a bar with round ends between two moving pins."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from buildplan.device.clearance.model import Clearance, PairClearance
from buildplan.device.clearance.pair import Mover, pair_clearance
from buildplan.device.clearance.search import Piece
from buildplan.device.clearance.shape import Vector
from buildplan.device.clearance.solids import (
    Floats,
    capsule_between,
    mesh_of_solid,
    solids_by_name,
    vector_of,
)
from buildplan.device.clearance.sweep import MOST_POSES, REACH_MM, REQUIRED_MM, ask
from buildplan.device.clearance.words import clearance_findings
from buildplan.errors import InputError
from buildplan.part.model import Part

if TYPE_CHECKING:
    from manifold3d import Manifold

    from buildplan.device.mechanism.lid import HingeFrame

BENT_FRAC = 1.25
"""By how much the rise of an arc is taken too high, for steps that are uneven."""


def sweep_rod(  # noqa: PLR0913 - a rod's motion and size, by keyword
    fixed: Sequence[Part],
    *,
    angle_deg: ArrayLike,
    start_mm: ArrayLike,
    end_mm: ArrayLike,
    radius_mm: float,
    name: str = "push rod",
    sliding: Sequence[str] = (),
    required_mm: float = REQUIRED_MM,
    reach_mm: float = REACH_MM,
    most_poses: int = MOST_POSES,
) -> Clearance:
    """Least gap between a rod and every fixed part while its two pins move.

    Between two of the angles given the pins are taken to move straight. What a bent path adds is
    taken from the second differences (|p0 - 2 p1 + p2| / 8, the rise of an arc over its chord, and
    a quarter more for uneven steps) and held back from every gap that is called proven.

    Args:
        fixed: Parts that stand still, placed in the device.
        angle_deg: (n,) rising, n >= 2.
        start_mm: (n, 3) middle of one pin at each angle.
        end_mm: (n, 3) of the other.
        radius_mm: Of the rod; half of its diagonal for a flat bar.
        name: Of the rod, in the findings.
        sliding: Names of fixed parts that it is meant to touch; they are left out.
        required_mm: Gap that it must keep.
        reach_mm: Gaps above this are not looked into.
        most_poses: Poses a pair may take.

    Raises:
        InputError: The arrays do not fit together, the angles do not rise, a number is not finite
            or out of its range, or a name is not known.
        MeshError: A part is no closed solid.
    """
    angles, start, end = _checked(angle_deg, start_mm, end_mm, radius_mm)
    slack = max(_bow(start), _bow(end))
    question = ask(float(angles[0]), float(angles[-1]), required_mm + slack, reach_mm, most_poses)
    solids = solids_by_name(fixed, role="fixed")
    unknown = [other for other in sliding if other not in solids]
    if unknown:
        raise InputError(
            f"clearance: {unknown[0]} is named as sliding on {name} but is not among the fixed "
            f"parts: {', '.join(solids)}"
        )
    way = np.maximum(
        np.linalg.norm(np.diff(start, axis=0), axis=1), np.linalg.norm(np.diff(end, axis=0), axis=1)
    )
    gone = np.concatenate([[0.0], np.cumsum(way)])
    pairs: list[PairClearance] = []
    for other, body in solids.items():
        if other not in sliding:
            mover = _rod_mover(body, angles, (start, end, gone), radius_mm, slack)
            pairs.append(pair_clearance(name, other, mover, question))
    return Clearance(
        pairs=tuple(pairs),
        sliding=tuple((name, other) for other in sliding),
        engine="kernel",
        findings=clearance_findings(pairs, float(angles[0]), float(angles[-1])),
    )


def pins_in_device(frame: "HingeFrame", points_mm: ArrayLike, *, along_mm: float) -> Floats:
    """(n, 3) points of the device from (n, 2) points (forward, up) of a hinge's frame.

    Args:
        frame: Of the hinge.
        points_mm: As ``pin_mm`` and ``tip_mm`` of a drive.
        along_mm: Where the rod's middle plane lies along the hinge's axis, from its point.
    """
    plane = np.asarray(points_mm, dtype=np.float64)
    axes = np.array([frame.forward, frame.up])
    middle = np.asarray(frame.point_mm) + along_mm * np.asarray(frame.axis)
    return np.asarray(plane @ axes + middle, dtype=np.float64)


def _rod_mover(
    body: "Manifold",
    angles: Floats,
    motion: tuple[Floats, Floats, Floats],
    radius: float,
    slack: float,
) -> Mover:
    """The rod against one body, as functions of the angle."""
    from buildplan.kernels.facet_tree import build_facet_tree
    from buildplan.kernels.segment_gap import segment_gap

    start, end, gone = motion
    vertices, facets = mesh_of_solid(body)
    _, corners, boxes, leaves = build_facet_tree(vertices[facets])

    def pins(angle: float) -> tuple[Floats, Floats]:
        first = np.array([np.interp(angle, angles, start[:, axis]) for axis in range(3)])
        return first, np.array([np.interp(angle, angles, end[:, axis]) for axis in range(3)])

    def gap(angle: float) -> float:
        first, last = pins(angle)
        away = float(segment_gap(corners, boxes, leaves, first, last)[0]) - radius
        return max(away, 0.0)

    def near(_: int, angle: float) -> Vector:
        first, last = pins(angle)
        measured = segment_gap(corners, boxes, leaves, first, last)
        on_rod, on_body = measured[1:4], measured[4:7]
        away = float(np.linalg.norm(on_body - on_rod))
        edge = on_rod + (on_body - on_rod) * (min(radius / away, 1.0) if away > 0.0 else 0.0)
        return vector_of((edge + on_body) / 2.0)

    def path(low: float, high: float) -> float:
        return float(np.interp(high, angles, gone) - np.interp(low, angles, gone))

    def common(angle: float) -> "Manifold":
        return capsule_between(*pins(angle), radius) ^ body

    return Mover(
        pieces=[Piece(gap_mm=gap, path_mm=path)], near_mm=near, common=common, slack_mm=slack
    )


def _bow(points: Floats) -> float:
    """Greatest rise of the path over the chord between neighbours, with a quarter in hand."""
    if len(points) < 3:
        return 0.0
    bends = points[:-2] - 2.0 * points[1:-1] + points[2:]
    return float(np.linalg.norm(bends, axis=1).max()) * BENT_FRAC / 8.0


def _checked(
    angle_deg: ArrayLike, start_mm: ArrayLike, end_mm: ArrayLike, radius_mm: float
) -> tuple[Floats, Floats, Floats]:
    angles = np.asarray(angle_deg, dtype=np.float64)
    start, end = np.array(start_mm, dtype=np.float64), np.array(end_mm, dtype=np.float64)
    count = angles.size
    if angles.shape != (count,) or count < 2 or {start.shape, end.shape} != {(count, 3)}:
        raise InputError(
            f"push rod: angles {angles.shape}, start {start.shape} and end {end.shape} found; "
            "(n,), (n, 3) and (n, 3) with n of 2 or more are needed"
        )
    if not all(np.isfinite(array).all() for array in (angles, start, end)):
        raise InputError(
            "push rod: a pin's position is not a finite number; the linkage does not close at "
            "some angle: end the travel before it"
        )
    if (np.diff(angles) <= 0.0).any():
        raise InputError(
            f"push rod: angles from {angles[0]:g} to {angles[-1]:g} degrees do not rise "
            "throughout; sort them and the pins with them"
        )
    if not (math.isfinite(radius_mm) and radius_mm > 0.0):
        raise InputError(f"push rod: a radius of {radius_mm:g} mm found, more than 0 is needed")
    return angles, start, end
