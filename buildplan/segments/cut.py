"""Really cutting a plan: joints at every plane, each piece laid, estimated and fitted."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.fit import Fit, check_fit, fits_upright
from buildplan.part.model import Part
from buildplan.part.turn import AS_PLACED, turn_part
from buildplan.process.estimate import Prices, PrintEstimate, estimate_print
from buildplan.segments.bodies import bodies_of
from buildplan.segments.hours import HoursModel, side_area_mm2
from buildplan.segments.joints import Joint, JointSpec, choose_joint
from buildplan.segments.model import Laid, Piece
from buildplan.segments.planes import Plane, split_solid
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe

if TYPE_CHECKING:
    from manifold3d import Manifold

ON_FACE_MM = 1e-3
"""A piece has a cut face where its extent ends within this of the plane."""

HOPELESS = 1.3
"""A way to lie whose quick hours are this many times those of the way at hand is not estimated."""

SUPPORT_FRAC = 0.2
"""Share of the room under an overhang that supports fill, for that quick look only (ours)."""

Cuts = tuple[tuple[int, Plane], ...]
"""(index of the piece in the list at that moment, plane), in the order of cutting."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Printing:
    """How pieces are printed."""

    printer: Printer
    feedstock: Feedstock
    recipe: Recipe
    prices: Prices


@dataclass(frozen=True, slots=True, kw_only=True)
class CutUp:
    """Pieces in the order of the plan, and a joint for each cut.

    Attributes:
        bare: The same pieces without their joints.
    """

    pieces: tuple["Manifold", ...]
    bare: tuple["Manifold", ...]
    joints: tuple[Joint, ...]


def cut_up(
    solid: "Manifold",
    cuts: Cuts,
    specs_at: Callable[[Plane], Sequence[JointSpec]],
    known: dict[Cuts, CutUp],
    *,
    name: str,
) -> CutUp:
    """The pieces of a plan with their joints.

    Args:
        solid: The whole part.
        cuts: The plan.
        specs_at: Joints to try at each plane, the best liked first.
        known: What was cut before, by the cuts; plans often begin alike.
        name: Of the part.

    Raises:
        NoPlanError: A plane misses its piece, or no joint holds there.
        MeshError: The library reports a fault.
    """
    if not cuts:
        return CutUp(pieces=(solid,), bare=(solid,), joints=())
    if cuts not in known:
        before = cut_up(solid, cuts[:-1], specs_at, known, name=name)
        index, plane = cuts[-1]
        joint, _ = choose_joint(before.pieces[index], plane, specs_at(plane), name=name)
        cut = split_solid(before.bare[index], plane, name=name)
        above, below = bodies_of(cut.above), bodies_of(cut.below)
        joined = (*_like(above, joint.above), *_like(below, joint.below))
        known[cuts] = CutUp(
            pieces=(*before.pieces[:index], *joined, *before.pieces[index + 1 :]),
            bare=(*before.bare[:index], *above, *below, *before.bare[index + 1 :]),
            joints=(*before.joints, joint),
        )
    return known[cuts]


def _like(bare: Sequence["Manifold"], side: "Manifold") -> list["Manifold"]:
    """The bodies of a side with its joint, in the order of the same bodies without it."""
    if len(bare) == 1:
        return [side]
    left = bodies_of(side)
    found = []
    for body in bare:
        middle = _middle(body)
        apart = [float(np.linalg.norm(_middle(other) - middle)) for other in left]
        found.append(left.pop(int(np.argmin(apart))))
    return found


def _middle(solid: "Manifold") -> NDArray[np.float64]:
    box = np.array(solid.bounding_box(), dtype=np.float64)
    return (box[:3] + box[3:]) / 2.0


def lay_piece(
    part: Part,
    planes: Sequence[Plane],
    printing: Printing,
    model: HoursModel,
    *,
    most_h: float,
    thorough: bool = False,
) -> Piece:
    """A piece the way it prints best, really estimated in every way that has a chance.

    As placed where it fits upright and keeps the hours (and, unless thorough, no further); else
    with a cut face down; else laid over as the search for a fit found it. A way that fits and
    keeps the hours goes before one that does not; then the cheapest.

    Args:
        part: The piece in the part's coordinates.
        planes: The cuts it ends at.
        printing: Printer, feedstock, recipe, prices.
        model: Quick hours, to leave out ways that are hopeless.
        most_h: Most hours of one print.
        thorough: Whether cut faces down are tried although it prints well as placed.
    """
    upright = fits_upright(part, printing.printer)
    tried: list[_Way] = []
    if upright:
        tried.append(_way(part, "as placed", AS_PLACED, printing, most_h))
        if tried[0].rank[0] == 0 and not thorough:
            return _piece(part, tried[0])
    for orientation in _faces_down(part, planes):
        turned = turn_part(part, orientation)
        if not fits_upright(turned, printing.printer):
            continue
        if tried and _hopeless(part, turned, tried[0].estimate.time_h, printing, model):
            continue
        tried.append(_way(part, "cut face down", orientation, printing, most_h))
    if not tried:
        fit = check_fit(part, printing.printer)
        turned_to_fit = fit.fits and fit.how == "any rotation"
        if turned_to_fit:
            tried.append(_way(part, "turned to fit", _only_turned(fit), printing, most_h))
        else:
            estimate = estimate_piece(part, printing)
            return _piece(
                part,
                _Way(rank=(2, 0.0), laid="as placed", pose=AS_PLACED, estimate=estimate, fit=fit),
            )
    return _piece(part, min(tried, key=lambda way: way.rank))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """One way to lay a piece; the least rank is the best."""

    rank: tuple[int, float]
    laid: Laid
    pose: tuple[float, ...]
    estimate: PrintEstimate
    fit: Fit


def _piece(part: Part, way: _Way) -> Piece:
    return Piece(
        name=part.name,
        part=part,
        laid=way.laid,
        orientation=way.pose,
        estimate=way.estimate,
        fit=way.fit,
    )


def _way(
    part: Part, laid: Laid, pose: tuple[float, ...], printing: Printing, most_h: float
) -> _Way:
    turned = turn_part(part, pose)
    estimate = estimate_piece(turned, printing)
    rank = (int(estimate.time_h > most_h), round(estimate.total_cost, 6))
    return _Way(
        rank=rank,
        laid=laid,
        pose=pose,
        estimate=estimate,
        fit=check_fit(turned, printing.printer),
    )


def estimate_piece(part: Part, printing: Printing) -> PrintEstimate:
    """The real estimate of a piece as it lies."""
    return estimate_print(
        part, printing.printer, printing.feedstock, printing.recipe, prices=printing.prices
    )


def _hopeless(
    placed: Part, turned: Part, placed_h: float, printing: Printing, model: HoursModel
) -> bool:
    """Whether the quick model says that turning the piece makes it clearly longer."""
    with_supports = bool(getattr(printing.recipe, "supports", True))
    ratio = _quick_h(turned, model, with_supports) / _quick_h(placed, model, with_supports)
    return ratio > HOPELESS and placed_h > 0.0


def _quick_h(part: Part, model: HoursModel, with_supports: bool) -> float:
    """Quick hours with supports under all that hangs over more than 45 degrees."""
    volume = part.volume_mm3
    if with_supports:
        corners = part.vertices_mm[part.facets]
        normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        down = -normal[:, 2]
        hangs = down > math.sqrt(0.5) * np.linalg.norm(normal, axis=1)
        height = corners[:, :, 2].mean(axis=1) - part.vertices_mm[:, 2].min()
        volume += SUPPORT_FRAC * float(0.5 * (down * height)[hangs].sum())
    side = side_area_mm2(part.vertices_mm, part.facets)
    hours = model.hours(np.array([volume]), np.array([side]), np.array([part.size_mm[2]]))
    return float(hours[0])


def _only_turned(fit: Fit) -> tuple[float, ...]:
    """The turning of a placing, without its shift."""
    matrix = np.array(fit.matrix).reshape(4, 4).copy()
    matrix[:3, 3] = 0.0
    return tuple(float(x) for x in matrix.ravel())


def _faces_down(part: Part, planes: Sequence[Plane]) -> list[tuple[float, ...]]:
    """Ways to turn each of a piece's cut faces down, where they are not down already."""
    ways: list[tuple[float, ...]] = []
    for plane in planes:
        normal = np.array(plane.normal)
        along = part.vertices_mm @ normal - plane.offset_mm
        for outward, ends in ((normal, float(along.max())), (-normal, -float(along.min()))):
            if abs(ends) > ON_FACE_MM or outward[2] < -1.0 + 1e-9:
                continue
            ways.append(turn_down(outward))
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
