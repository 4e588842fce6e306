"""The round holes of a build's parts where they stand in the device."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buildplan.bill.derived import Hole
from buildplan.build import Build
from buildplan.device.chain.placed import Placed, place_parts
from buildplan.part.bores import find_bores, turns_round
from buildplan.part.feature import Feature
from buildplan.part.turn import turn_features
from buildplan.plan.model import PartPlan

Point = tuple[float, float, float]

NEAR_MM = 0.6
"""A hole may stand out of its feature's box by this (ours)."""


def holes_of(
    build: Build, planned: Sequence[PartPlan], *, left_out: Sequence[str] = ()
) -> tuple[Hole, ...]:
    """Round holes of every copy where it stands, but for those that another part fills.

    A part without a pose stands in a frame of its own: nothing of another part is in line with it.

    Args:
        build: With the poses and features of its parts.
        planned: The parts as printed.
        left_out: Parts whose holes are not looked at.
    """
    placed = _placed(build, planned)
    requests = {request.name: request for request in build.parts}
    found = []
    for item in planned:
        if item.name in left_out:
            continue
        request = requests[item.name]
        features = turn_features(request.features, request.orientation)
        copies: list[tuple[str, str, Placed | None]] = [
            (one.name, one.group, one) for one in placed if one.part_name == item.name
        ]
        if not copies:
            names = [f"{item.name} {i + 1}" for i in range(item.quantity)]
            copies = [(name, request.moves_with, None) for name in names]
        for bore in find_bores(item.part):
            feature = _feature_at(bore.start_mm, bore.end_mm, features)
            for place, (name, group, one) in enumerate(copies):
                pose = request.poses[place] if one is not None else ()
                start, end = _moved(bore.start_mm, pose), _moved(bore.end_mm, pose)
                if one is not None and _is_filled(start, end, name, placed):
                    continue
                found.append(
                    Hole(
                        owner=name,
                        part=item.name,
                        feature=feature.name if feature else "",
                        boss=feature is not None and feature.kind == "boss",
                        group=group,
                        start_mm=start,
                        end_mm=end,
                        diameter_mm=round(bore.diameter_mm, 3),
                        start_shut=bore.start_shut,
                        end_shut=bore.end_shut,
                        frame="" if one is not None else name,
                    )
                )
    return tuple(found)


def _is_filled(start: Point, end: Point, owner: str, placed: Sequence[Placed]) -> bool:
    """Whether another printed part stands in a hole: a hinge pin, a peg."""
    middle = np.add(start, end) / 2.0
    for one in placed:
        vertices = one.part.vertices_mm
        inside = (vertices.min(axis=0) < middle) & (middle < vertices.max(axis=0))
        if one.name != owner and inside.all() and _is_in(middle, one):
            return True
    return False


def _is_in(point: NDArray[np.float64], one: Placed) -> bool:
    return abs(turns_round(point, one.part.vertices_mm, one.part.facets)) > 0.5


def _placed(build: Build, planned: Sequence[PartPlan]) -> tuple[Placed, ...]:
    parts = {item.name: item.part for item in planned}
    return place_parts(
        (parts[request.name], request.poses, request.moves_with)
        for request in build.parts
        if request.name in parts
    )


def _feature_at(start: Point, end: Point, features: Sequence[Feature]) -> Feature | None:
    """The smallest feature whose box holds both ends of a hole."""
    able = [
        one
        for one in features
        if all(
            one.box_mm[i] - NEAR_MM <= point[i] <= one.box_mm[i + 3] + NEAR_MM
            for point in (start, end)
            for i in range(3)
        )
    ]
    return min(able, key=_volume, default=None)


def _volume(feature: Feature) -> float:
    x0, y0, z0, x1, y1, z1 = feature.box_mm
    return (x1 - x0) * (y1 - y0) * (z1 - z0)


def _moved(point: Point, pose: Sequence[float]) -> Point:
    """A point by a pose of 16 numbers, row by row; without one as it is."""
    if not pose:
        return point
    x, y, z = (
        round(sum(pose[4 * row + i] * point[i] for i in range(3)) + pose[4 * row + 3], 6)
        for row in range(3)
    )
    return x, y, z
