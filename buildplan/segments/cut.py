"""Really cutting a plan: joints at every plane, each piece laid, estimated and fitted."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.fit import Fit, check_fit
from buildplan.part.model import Part
from buildplan.part.turn import AS_PLACED, turn_part
from buildplan.process.estimate import Prices, PrintEstimate, estimate_print
from buildplan.segments.joints import Joint, JointSpec, choose_joint
from buildplan.segments.model import Laid, Piece
from buildplan.segments.planes import Plane
from buildplan.segments.search import bodies_of
from buildplan.segments.solid import part_of
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe

if TYPE_CHECKING:
    from manifold3d import Manifold

ON_FACE_MM = 1e-3
"""A piece has a cut face where its extent ends within this of the plane."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Printing:
    """How pieces are printed."""

    printer: Printer
    feedstock: Feedstock
    recipe: Recipe
    prices: Prices


def cut_up(
    solid: "Manifold",
    cuts: Sequence[tuple[int, Plane]],
    specs: Sequence[JointSpec],
    *,
    name: str,
) -> tuple[list["Manifold"], tuple[Joint, ...]]:
    """The pieces of a plan with their joints.

    Args:
        solid: The whole part.
        cuts: (index of the piece in the list at that moment, plane), in order.
        specs: Joints to try at each plane, the best liked first.
        name: Of the part.

    Raises:
        NoPlanError: A plane misses its piece, or no joint holds there.
        MeshError: The library reports a fault.
    """
    pieces = [solid]
    joints = []
    for index, plane in cuts:
        joint, _ = choose_joint(pieces[index], plane, specs, name=name)
        joints.append(joint)
        bodies = [*bodies_of(joint.above), *bodies_of(joint.below)]
        pieces = [*pieces[:index], *bodies, *pieces[index + 1 :]]
    return pieces, tuple(joints)


def lay_and_estimate(
    solid: "Manifold", planes: Sequence[Plane], printing: Printing, *, name: str, most_h: float
) -> Piece:
    """A piece as placed, or with a cut face down where it does not fit or takes too long as placed.

    A way that fits and keeps the hours goes before one that does not; then the cheapest.
    """
    part = part_of(solid, name=name)
    placed = lay(part, (), printing, most_h=most_h)
    if placed.fit.fits and placed.estimate.time_h <= most_h:
        return placed
    return lay(part, planes, printing, most_h=most_h)


def lay(part: Part, planes: Sequence[Plane], printing: Printing, *, most_h: float) -> Piece:
    """The best of the ways to lay a piece: as placed, and each of some cut faces down."""
    tried: list[tuple[tuple[bool, bool, float], int, Laid, tuple[float, ...], PrintEstimate, Fit]]
    tried = []
    for laid, orientation in _ways(part, planes):
        turned = turn_part(part, orientation)
        estimate = _estimate(turned, printing)
        fit = check_fit(turned, printing.printer)
        rank = (not fit.fits, estimate.time_h > most_h, round(estimate.total_cost, 9))
        tried.append((rank, len(tried), laid, orientation, estimate, fit))
    _, _, laid, orientation, estimate, fit = min(tried, key=lambda way: way[:2])
    return Piece(
        name=part.name, part=part, laid=laid, orientation=orientation, estimate=estimate, fit=fit
    )


def _estimate(part: Part, printing: Printing) -> PrintEstimate:
    return estimate_print(
        part, printing.printer, printing.feedstock, printing.recipe, prices=printing.prices
    )


def _ways(part: Part, planes: Sequence[Plane]) -> list[tuple[Laid, tuple[float, ...]]]:
    """As placed, and once for each of its cut faces: that face down."""
    ways: list[tuple[Laid, tuple[float, ...]]] = [("as placed", AS_PLACED)]
    for plane in planes:
        normal = np.array(plane.normal)
        along = part.vertices_mm @ normal - plane.offset_mm
        for outward, ends in ((normal, float(along.max())), (-normal, -float(along.min()))):
            if abs(ends) > ON_FACE_MM or outward[2] < -1.0 + 1e-9:
                continue
            ways.append(("cut face down", turn_down(outward)))
    return ways


def turn_down(outward: NDArray[np.float64]) -> tuple[float, ...]:
    """16 numbers, row by row, of the least rotation that turns a direction straight down."""
    x, y, z = (float(v) for v in outward)
    matrix = np.eye(4)
    level = math.hypot(x, y)
    if level < 1e-12:
        if z > 0.0:
            matrix[:3, :3] = np.diag([1.0, -1.0, -1.0])
        return tuple(float(v) for v in matrix.ravel())
    # about the level axis square to the direction, by the angle between it and straight down
    axis = np.array([-y / level, x / level, 0.0])
    angle = math.acos(max(-1.0, min(1.0, -z)))
    cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    turn = np.eye(3) + math.sin(angle) * cross + (1.0 - math.cos(angle)) * (cross @ cross)
    matrix[:3, :3] = turn
    return tuple(float(v) for v in matrix.ravel())


def touching(planes: Sequence[Plane], solid: "Manifold") -> tuple[Plane, ...]:
    """The planes that a solid ends at."""
    vertices = np.asarray(solid.to_mesh64().vert_properties)[:, :3]
    found = []
    for plane in planes:
        along = vertices @ np.array(plane.normal) - plane.offset_mm
        if min(abs(float(along.min())), abs(float(along.max()))) <= ON_FACE_MM:
            found.append(plane)
    return tuple(found)
