"""Plans by the quick model: for each number of pieces a few good sets of cuts, none made yet."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import NoPlanError
from buildplan.segments.axis import AxisProfile, best_cuts, piece_costs, profile_along
from buildplan.segments.bodies import bodies_of, keep_in_the_way
from buildplan.segments.joints import joinable_frac
from buildplan.segments.model import RejectedPlane
from buildplan.segments.planes import Plane, make_plane
from buildplan.segments.question import FACE_H_MM2, Question
from buildplan.segments.restart import expected_times_h
from buildplan.segments.search import (
    CANDIDATES,
    SHARE_WANTED,
    CutPlan,
    SearchTask,
    search_cuts,
)
from buildplan.segments.solid import mesh_of
from buildplan.tables.printer import Printer

if TYPE_CHECKING:
    from manifold3d import Manifold

NOT_DONE_COST = 1e9
"""Added for a piece that must be cut further, so that such plans come last."""

Plans = dict[int, tuple[CutPlan, ...]]


def quick_plans(question: Question) -> tuple[Plans, tuple[RejectedPlane, ...]]:
    """The best plans for each number of pieces, the best first, and the planes refused."""
    solid = question.small
    task = SearchTask(
        cost_of=lambda volume, side, size: _costs(question, volume, side, size),
        cut_cost=lambda face: _joint_costs(question, face),
        limits=question.limits,
        spec=question.specs_at(make_plane("x", 0.0))[0],
        most=question.most,
    )
    plans, rejected = search_cuts(solid, task)
    vertices, facets = mesh_of(solid)
    shares: dict[Plane, float] = {}
    for axis in range(3):
        found = _along(question, profile_along(vertices, facets, axis), solid)
        for pieces, plan in found.items():
            known = plans.get(pieces, ())
            worst = max((p.cost for p in known), default=math.inf)
            if len(known) == CANDIDATES and (known[-1].is_done, plan.cost) > (plan.is_done, worst):
                continue
            priced = _with_shares(question, plan, solid, shares)
            merged = sorted((*known, priced), key=lambda p: (not p.is_done, round(p.cost, 6)))
            plans[pieces] = tuple(merged[:CANDIDATES])
    return plans, rejected


def given_plans(question: Question, planes: Sequence[Plane]) -> Plans:
    """One piece, and the planes that were asked for: each cuts every piece that it meets.

    Raises:
        NoPlanError: A plane misses the part or cuts what must stay whole.
    """
    name = question.part.name
    pieces = [question.solid]
    cuts: list[tuple[int, Plane]] = []
    for plane in planes:
        index, met = 0, False
        while index < len(pieces):
            above, below = pieces[index].split_by_plane(plane.normal, plane.offset_mm)
            if min(above.volume(), below.volume()) <= 1e-6 * question.part.volume_mm3:
                index += 1
                continue
            kept = keep_in_the_way(plane, pieces[index].bounding_box(), question.limits)
            if kept:
                raise NoPlanError(
                    f"{name}: the plane {plane.words()} would cut {kept}; move it or leave that "
                    "out of what must stay whole"
                )
            bodies = [*bodies_of(above), *bodies_of(below)]
            pieces = [*pieces[:index], *bodies, *pieces[index + 1 :]]
            cuts.append((index, plane))
            index, met = index + len(bodies), True
        if not met:
            along = question.part.vertices_mm @ np.array(plane.normal)
            raise NoPlanError(
                f"{name}: the plane {plane.words()} misses it: along that direction it reaches "
                f"from {along.min():.1f} to {along.max():.1f} mm; choose an offset between"
            )
    whole = CutPlan(cuts=(), pieces=1, cost=0.0, is_done=True)
    asked = CutPlan(cuts=tuple(cuts), pieces=len(pieces), cost=0.0, is_done=True)
    return {1: (whole,), len(pieces): (asked,)}


def _costs(
    question: Question,
    volume_mm3: NDArray[np.float64],
    side_mm2: NDArray[np.float64],
    size_mm: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Quick costs of pieces, and into how many each must be cut to fit and keep the hours.

    A piece that must be cut further costs at least as much as its equal parts would.
    """
    hours = question.model.hours(volume_mm3, side_mm2, size_mm[:, 2])
    least = boxes_needed(size_mm, question.printing.printer)
    if math.isfinite(question.limits.most_h):
        least = np.maximum(least, np.ceil(hours / question.limits.most_h))
    each = expected_times_h(hours / least, question.odds)
    weights = question.weights
    own_h = question.printing.printer.set_up_min / 60.0
    cost = least * (weights.machine_cost_h * each + weights.own_cost_h * own_h)
    cost += (least - 1.0) * weights.own_cost_h * weights.joint_min / 60.0
    cost += question.whole.feedstock_cost * volume_mm3 / question.part.volume_mm3
    # the tail of a piece: its standard deviation is about what it is expected to lose
    cost += weights.late_cost_h * least * (each - hours / least)
    return cost, least


def boxes_needed(size_mm: NDArray[np.float64], printer: Printer) -> NDArray[np.float64]:
    """Least pieces that boxes (k, 3) must be cut into to fit, in the best of their six ways to lie.

    Pieces that fit only when turned by other angles than quarter turns are counted as too large.
    """
    margin = 2.0 * printer.platform_margin_mm
    room = np.array([printer.width_mm - margin, printer.depth_mm - margin, printer.height_mm])
    if printer.platform == "round":
        room[:2] = room[0] / math.sqrt(2.0)
    counts = [
        np.ceil(size_mm[:, list(order)] / room - 1e-9).clip(1.0).prod(axis=1)
        for order in itertools.permutations(range(3))
    ]
    return np.asarray(np.min(counts, axis=0), dtype=np.float64)


def _joint_costs(question: Question, face_mm2: NDArray[np.float64]) -> NDArray[np.float64]:
    weights = question.weights
    return weights.own_cost_h * (weights.joint_min / 60.0 + FACE_H_MM2 * face_mm2)


def _along(question: Question, profile: AxisProfile, solid: "Manifold") -> dict[int, CutPlan]:
    """Plans with all cuts square to one axis."""
    least = question.limits.least_frac * question.part.volume_mm3

    def costs(
        volume: NDArray[np.float64],
        side: NDArray[np.float64],
        size: NDArray[np.float64],
        face: NDArray[np.float64],
    ) -> NDArray[np.float64]:
        cost, least_pieces = _costs(question, volume, side, size)
        joints = np.where(face > 0.0, _joint_costs(question, face), 0.0)
        allowed = cost + joints + np.where(least_pieces <= 1.0, 0.0, NOT_DONE_COST)
        return np.where(volume < least, np.inf, allowed)

    planes = [make_plane("xyz"[profile.axis], float(at)) for at in profile.at_mm]
    box = solid.bounding_box()
    closed: NDArray[np.bool_] = np.array(
        [bool(keep_in_the_way(plane, box, question.limits)) for plane in planes]
    )
    found = best_cuts(piece_costs(profile, costs), closed, question.most)
    # the upper side comes first in the list of pieces, so cutting from below always cuts index 0
    return {
        pieces: CutPlan(
            cuts=tuple((0, planes[place]) for place in places),
            pieces=pieces,
            cost=math.fmod(cost, NOT_DONE_COST),
            is_done=cost < NOT_DONE_COST,
        )
        for pieces, (cost, places) in found.items()
    }


def _with_shares(
    question: Question, plan: CutPlan, solid: "Manifold", shares: dict[Plane, float]
) -> CutPlan:
    """The plan with its joints priced as the beam search does: faces that hold badly cost more."""
    extra = 0.0
    base = float(_joint_costs(question, np.zeros(1))[0])
    for _, plane in plan.cuts:
        if plane not in shares:
            shares[plane] = joinable_frac(solid, plane, question.specs_at(plane)[0])
        extra += base * max(0.0, SHARE_WANTED - shares[plane])
    return replace(plan, cost=plan.cost + extra)
