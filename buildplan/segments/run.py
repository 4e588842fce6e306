"""Part -> SegmentPlan: where to cut, into how many pieces, and what that saves and costs.

estimate of the whole -> quick hours model -> best cuts along each axis (dynamic programming) and in
any direction (beam search) -> for each number of pieces the best plan is really cut, joined and
estimated -> table -> the optimum of the user's weights.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.fit import check_fit
from buildplan.errors import InputError, MeshError, NoPlanError
from buildplan.findings import Finding, Place
from buildplan.part.feature import Feature, KeepOut
from buildplan.part.model import Part
from buildplan.process.estimate import Prices, PrintEstimate, estimate_print
from buildplan.process.estimate.costs import machine_cost_h
from buildplan.segments.axis import AxisProfile, best_cuts, piece_costs, profile_along
from buildplan.segments.cut import Printing, cut_up, lay, lay_and_estimate, touching
from buildplan.segments.hours import HoursModel, fit_hours
from buildplan.segments.joints import Joint, JointSpec
from buildplan.segments.model import (
    MOST_PIECES,
    Piece,
    RejectedPlane,
    SegmentPlan,
    SplitLimits,
    SplitRow,
    SplitWeights,
)
from buildplan.segments.planes import Plane, make_plane
from buildplan.segments.restart import FailureOdds, expected_time_h, spread_of_run
from buildplan.segments.search import CutPlan, SearchTask, bodies_of, keep_in_the_way, search_cuts
from buildplan.segments.solid import solid_of
from buildplan.tables import fits, rules_for
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe

if TYPE_CHECKING:
    from manifold3d import Manifold

LEAST_FRAC = 0.04
"""A piece is at least this share of the part (ours): crumbs are lost and break."""

SEARCH_FACETS = 40_000
SEARCH_SIMPLIFY_MM = 0.05
"""Parts with more facets are searched on a body simplified by so much; the whole one is cut."""

FACE_H_MM2 = 0.05 / 1000.0
"""Own hours for cleaning and finishing a cut face (common practice, no source: 3 min a 10 cm2)."""

NOT_DONE_COST = 1e9
"""Added for a piece that must be cut further, so that such plans come last."""

NOTED = 12
"""So many rejected planes are kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Question:
    """What split_part was asked, with what follows from it."""

    part: Part
    solid: "Manifold"
    whole: PrintEstimate
    printing: Printing
    weights: SplitWeights
    odds: FailureOdds
    limits: SplitLimits
    specs: tuple[JointSpec, ...]
    model: HoursModel
    most: int


def default_joints(feedstock: Feedstock) -> tuple[JointSpec, ...]:
    """Joints that can be printed cut face down, the best liked first.

    Pins from thick to thin, a loose spline, wire pins, inner tabs with M3 screws, plain glue; gaps
    are those of the sliding fit, holes are drawn wider by what the process takes from them.
    """
    rules = rules_for(feedstock)
    clearance = fits()["sliding"].clearance_mm
    base = JointSpec(
        kind="pins",
        size_mm=3.0,
        depth_mm=8.0,
        clearance_mm=clearance,
        hole_extra_mm=rules.hole_shrink_mm,
        wall_mm=0.8,
        least=3,
        spacing_mm=25.0,
    )
    pins = tuple(
        replace(base, size_mm=size, depth_mm=depth)
        for size, depth in ((4.0, 10.0), (3.0, 8.0), (2.0, 8.0))
    )
    flat = replace(base, hole_extra_mm=0.0)
    return (
        *pins,
        replace(flat, kind="spline", size_mm=1.0, depth_mm=3.0),
        replace(base, size_mm=1.0, depth_mm=6.0),
        replace(flat, kind="tabs", size_mm=3.0, depth_mm=5.0, spacing_mm=60.0),
        replace(flat, kind="glue"),
    )


def default_weights(printer: Printer, prices: Prices) -> SplitWeights:
    """Weights from what an hour of the printer, its energy and own work cost."""
    watts = printer.hold_w + getattr(printer, "motion_w", 0.0)
    energy = watts / 1000.0 * prices.energy_cost_kwh
    return SplitWeights(
        machine_cost_h=machine_cost_h(printer) + energy, own_cost_h=prices.own_time_cost_h
    )


def split_part(  # noqa: PLR0913 - each argument is one thing a maker may say about the split
    part: Part,
    printer: Printer,
    feedstock: Feedstock,
    recipe: Recipe,
    *,
    most_h: float = math.inf,
    most_pieces: int = MOST_PIECES,
    planes: Sequence[Plane] = (),
    features: Sequence[Feature] = (),
    keep_outs: Sequence[KeepOut] = (),
    joints: Sequence[JointSpec] = (),
    odds: FailureOdds | None = None,
    weights: SplitWeights | None = None,
    prices: Prices | None = None,
) -> SegmentPlan:
    """Where to cut a part, into how many pieces, with which joints, and what that changes.

    Args:
        part: The part, as it is printed.
        printer: The machine that every piece must fit.
        feedstock: What it is made of.
        recipe: Process settings.
        most_h: Most hours of one print (the time you are there, less set-up).
        most_pieces: Rows of the table.
        planes: Cuts to make instead of searching for them.
        features: Named regions that no cut may go through.
        keep_outs: Boxes that no cut may go through.
        joints: Joints to try, the best liked first; ``default_joints`` where none.
        odds: How prints fail; the defaults of FailureOdds where None.
        weights: What counts how much; from the prices where None.
        prices: Energy and own time.

    Raises:
        InputError: A number is impossible.
        MeshError: The part is no closed solid.
        NoPlanError: No number of pieces keeps the limits; with the number that comes nearest.
    """
    _check(most_h, most_pieces)
    used = prices if prices is not None else Prices()
    whole = estimate_print(part, printer, feedstock, recipe, prices=used)
    boxes: list[Feature | KeepOut] = [*features, *keep_outs]
    question = _Question(
        part=part,
        solid=solid_of(part),
        whole=whole,
        printing=Printing(printer=printer, feedstock=feedstock, recipe=recipe, prices=used),
        weights=weights if weights is not None else default_weights(printer, used),
        odds=odds if odds is not None else FailureOdds(),
        limits=SplitLimits(
            most_h=most_h,
            least_frac=LEAST_FRAC,
            keep=np.array([box.box_mm for box in boxes], dtype=np.float64).reshape(-1, 6),
            keep_names=tuple(box.name for box in boxes),
        ),
        specs=tuple(joints) or default_joints(feedstock),
        model=fit_hours(part, whole),
        most=most_pieces,
    )
    plans, rejected = _given(question, planes) if planes else _plans(question)
    made: list[_Made] = []
    for pieces in sorted(plans):
        item = _make(question, plans[pieces])
        if isinstance(item, str):
            first = plans[pieces].cuts[0][1]
            rejected = (*rejected, RejectedPlane(plane=first, reason=f"{pieces} pieces: {item}"))
        else:
            made.append(item)
    return _choose(question, made, rejected)


def _check(most_h: float, most_pieces: int) -> None:
    if not most_h > 0.0:
        raise InputError(f"split: most_h is {most_h}; a limit above 0 hours is needed")
    if not 1 <= most_pieces <= 30:
        raise InputError(f"split: most_pieces is {most_pieces}; 1 to 30 are allowed")


def _cost_of(
    question: _Question, volume_mm3: float, side_mm2: float, size_mm: tuple[float, float, float]
) -> tuple[float, bool]:
    """Quick cost of a piece, and whether it fits and keeps the hours.

    A piece that must be cut further costs at least as much as its equal parts would.
    """
    hours = question.model.hours(volume_mm3, side_mm2, size_mm[2])
    least = max(_boxes_needed(size_mm, question.printing.printer), 1)
    if math.isfinite(question.limits.most_h):
        least = max(least, math.ceil(hours / question.limits.most_h))
    each = expected_time_h(hours / least, question.odds)
    weights = question.weights
    own_h = question.printing.printer.set_up_min / 60.0
    cost = least * (weights.machine_cost_h * each + weights.own_cost_h * own_h)
    cost += (least - 1) * weights.own_cost_h * weights.joint_min / 60.0
    cost += _feedstock_cost(question) * volume_mm3 / question.part.volume_mm3
    # the tail of a piece: its standard deviation is about its lost hours' root
    lost = least * (each - hours / least)
    return cost + weights.late_cost_h * lost, least == 1


def _feedstock_cost(question: _Question) -> float:
    return question.whole.feedstock_cost


def _boxes_needed(size_mm: tuple[float, float, float], printer: Printer) -> int:
    """Least pieces that a box must be cut into to fit, in the best of its six ways to lie."""
    margin = 2.0 * printer.platform_margin_mm
    room = (printer.width_mm - margin, printer.depth_mm - margin, printer.height_mm)
    if printer.platform == "round":
        side = room[0] / math.sqrt(2.0)
        room = (side, side, room[2])
    counts = [
        math.prod(math.ceil(a / b - 1e-9) for a, b in zip(size, room, strict=True))
        for size in itertools.permutations(size_mm)
    ]
    return int(min(counts))


def _joint_cost(question: _Question, face_mm2: float) -> float:
    weights = question.weights
    return weights.own_cost_h * (weights.joint_min / 60.0 + FACE_H_MM2 * face_mm2)


def _plans(question: _Question) -> tuple[dict[int, CutPlan], tuple[RejectedPlane, ...]]:
    """The best plan by the quick model for each number of pieces, and the planes refused."""
    solid = question.solid
    if solid.num_tri() > SEARCH_FACETS:
        solid = solid.simplify(SEARCH_SIMPLIFY_MM)
    task = SearchTask(
        cost_of=lambda volume, side, size: _cost_of(question, volume, side, size),
        cut_cost=lambda face: _joint_cost(question, face),
        limits=question.limits,
        spec=question.specs[0],
        most=question.most,
    )
    plans, rejected = search_cuts(solid, task)
    for axis in range(3):
        for pieces, plan in _along(question, profile_along(solid, axis), solid).items():
            known = plans.get(pieces)
            if known is None or (not plan.is_done, plan.cost) < (not known.is_done, known.cost):
                plans[pieces] = plan
    return plans, rejected


def _along(question: _Question, profile: AxisProfile, solid: "Manifold") -> dict[int, CutPlan]:
    """Plans with all cuts square to one axis."""

    def cost_of(volume: float, side: float, size: tuple[float, float, float], face: float) -> float:
        if volume < question.limits.least_frac * question.part.volume_mm3:
            return math.inf
        cost, is_done = _cost_of(question, volume, side, size)
        joint = _joint_cost(question, face) if face > 0.0 else 0.0
        return cost + joint + (0.0 if is_done else NOT_DONE_COST)

    axis = "xyz"[profile.axis]
    planes = [make_plane(axis, float(at)) for at in profile.at_mm]
    closed: NDArray[np.bool_] = np.array(
        [bool(keep_in_the_way(plane, solid, question.limits)) for plane in planes]
    )
    found = best_cuts(piece_costs(profile, cost_of), closed, question.most)
    # the upper side comes first in the list of pieces, so cutting from below always cuts index 0
    return {
        pieces: CutPlan(
            cuts=tuple((0, planes[place]) for place in places),
            pieces=pieces,
            cost=cost,
            is_done=cost < NOT_DONE_COST,
        )
        for pieces, (cost, places) in found.items()
    }


def _given(
    question: _Question, planes: Sequence[Plane]
) -> tuple[dict[int, CutPlan], tuple[RejectedPlane, ...]]:
    """One piece, and the planes that were asked for: each cuts every piece that it meets."""
    pieces = [question.solid]
    cuts: list[tuple[int, Plane]] = []
    for plane in planes:
        index = 0
        while index < len(pieces):
            above, below = pieces[index].split_by_plane(plane.normal, plane.offset_mm)
            if min(above.volume(), below.volume()) <= 1e-6 * question.part.volume_mm3:
                index += 1
                continue
            name = keep_in_the_way(plane, pieces[index], question.limits)
            if name:
                raise NoPlanError(
                    f"{question.part.name}: the plane {plane.words()} would cut {name}; move it "
                    "or leave that out of what must stay whole"
                )
            bodies = [*bodies_of(above), *bodies_of(below)]
            pieces = [*pieces[:index], *bodies, *pieces[index + 1 :]]
            cuts.append((index, plane))
            index += len(bodies)
    if not cuts:
        low, high = question.part.vertices_mm.min(axis=0), question.part.vertices_mm.max(axis=0)
        reach = ", ".join(f"{a:.1f} to {b:.1f}" for a, b in zip(low, high, strict=True))
        raise NoPlanError(
            f"{question.part.name}: the plane {planes[0].words()} misses it; it reaches from "
            f"{reach} mm in x, y, z"
        )
    whole = CutPlan(cuts=(), pieces=1, cost=0.0, is_done=True)
    asked = CutPlan(cuts=tuple(cuts), pieces=len(pieces), cost=0.0, is_done=True)
    return {1: whole, len(pieces): asked}, ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Made:
    row: SplitRow
    pieces: tuple[Piece, ...]
    joints: tuple[Joint, ...]


def _make(question: _Question, plan: CutPlan) -> _Made | str:
    """A plan really cut, joined, laid and estimated; or why that cannot be done."""
    name = question.part.name
    if not plan.cuts:
        whole = Piece(
            name=name,
            part=question.part,
            laid="as placed",
            orientation=tuple(float(v) for v in np.eye(4).ravel()),
            estimate=question.whole,
            fit=check_fit(question.part, question.printing.printer),
        )
        return _Made(row=_row(question, (), (whole,), ()), pieces=(whole,), joints=())
    try:
        solids, joints = cut_up(question.solid, plan.cuts, question.specs, name=name)
        planes = [plane for _, plane in plan.cuts]
        pieces = [
            lay_and_estimate(
                solid,
                touching(planes, solid),
                question.printing,
                name=f"{name} {number}",
                most_h=question.limits.most_h,
            )
            for number, solid in enumerate(solids, 1)
        ]
    except (NoPlanError, MeshError) as error:
        return str(error)
    ordered = tuple(sorted(pieces, key=lambda piece: -round(piece.estimate.time_h, 9)))
    return _Made(row=_row(question, tuple(planes), ordered, joints), pieces=ordered, joints=joints)


def _lay_well(question: _Question, item: _Made) -> _Made:
    """The chosen plan with every piece laid the best way: as placed, or a cut face down."""
    if not item.joints:
        return item
    pieces = []
    for piece in item.pieces:
        planes = touching(item.row.cuts, solid_of(piece.part))
        best = lay(piece.part, planes, question.printing, most_h=question.limits.most_h)
        pieces.append(best)
    ordered = tuple(sorted(pieces, key=lambda piece: -round(piece.estimate.time_h, 9)))
    row = _row(question, item.row.cuts, ordered, item.joints)
    return _Made(row=row, pieces=ordered, joints=item.joints)


def _row(
    question: _Question,
    cuts: tuple[Plane, ...],
    pieces: tuple[Piece, ...],
    joints: tuple[Joint, ...],
) -> SplitRow:
    weights = question.weights
    hours = [piece.estimate.time_h for piece in pieces]
    run = spread_of_run(hours, question.odds)
    joint_h = sum(weights.joint_min / 60.0 + FACE_H_MM2 * joint.face_mm2 for joint in joints)
    own_h = sum(piece.estimate.own_time_h for piece in pieces) + joint_h
    feedstock = sum(piece.estimate.feedstock_cost for piece in pieces)
    days = run.expected_h / weights.attended_h
    tries = run.expected_h / max(sum(hours), 1e-9)
    cost = (
        weights.machine_cost_h * run.expected_h
        + weights.own_cost_h * own_h
        + feedstock * tries
        + weights.day_cost * days
        + weights.late_cost_h * (run.high_h - run.expected_h)
    )
    reason = _why_not(question, pieces)
    return SplitRow(
        pieces=len(pieces),
        cuts=cuts,
        alone_h=sum(hours),
        longest_h=max(hours),
        run=run,
        own_min=60.0 * own_h,
        mass_g=sum(piece.estimate.mass_g for piece in pieces),
        print_cost=sum(p.estimate.total_cost for p in pieces) + weights.own_cost_h * joint_h,
        days=days,
        cost=cost,
        fits=not reason,
        reason=reason,
    )


def _why_not(question: _Question, pieces: Sequence[Piece]) -> str:
    """Why a set of pieces cannot be printed, with the number; or an empty text."""
    for piece in pieces:
        if not piece.fit.fits:
            return (
                f"{piece.name} does not fit {question.printing.printer.name}, "
                f"{piece.fit.excess_mm:.0f} mm too long"
            )
        if piece.estimate.time_h > question.limits.most_h:
            return (
                f"{piece.name} takes {piece.estimate.time_h:.1f} h, "
                f"{question.limits.most_h:g} h are allowed"
            )
    return ""


def _choose(
    question: _Question, made: Sequence[_Made], rejected: tuple[RejectedPlane, ...]
) -> SegmentPlan:
    able = [item for item in made if item.row.fits]
    name = question.part.name
    if not able:
        if not made:
            reason = rejected[0].reason if rejected else "no plane was found"
            raise NoPlanError(f"{name}: it cannot be cut; {reason}")
        near = min(made, key=lambda item: item.row.longest_h)
        raise NoPlanError(
            f"{name}: no cut into up to {question.most} pieces keeps the limits; the nearest has "
            f"{near.row.pieces} pieces, the longest takes {near.row.longest_h:.1f} h "
            f"({near.row.reason}); allow more hours or pieces, or leave fewer boxes whole"
        )
    best = min(able, key=lambda item: (round(item.row.cost, 9), item.row.pieces))
    chosen = next(index for index, item in enumerate(made) if item is best)
    best = _lay_well(question, best)
    rows = tuple(best.row if item is made[chosen] else item.row for item in made)
    summary = _summary(rows, chosen)
    return SegmentPlan(
        part=name,
        printer=question.printing.printer.key,
        pieces=best.pieces,
        joints=best.joints,
        table=rows,
        chosen=chosen,
        rejected=rejected[:NOTED],
        odds=question.odds,
        weights=question.weights,
        summary=summary,
        findings=_findings(question, rows, chosen, summary),
    )


def _summary(rows: Sequence[SplitRow], chosen: int) -> str:
    """Splitting against not splitting, in one line."""
    row = rows[chosen]
    whole = next((r for r in rows if r.pieces == 1), None)
    if row.pieces == 1:
        others = [r for r in rows if r.pieces > 1 and r.fits]
        if not others:
            return f"Print it in one piece: {row.alone_h:.1f} h; no cut was found that helps."
        near = min(others, key=lambda r: r.cost)
        return (
            f"Print it in one piece: {row.run.expected_h:.1f} h expected; {near.pieces} pieces "
            f"would take {near.run.expected_h:.1f} h and {near.own_min - row.own_min:.0f} min "
            "more of your own time."
        )
    if whole is None or not whole.fits:
        why = whole.reason if whole else "it cannot be printed whole"
        return (
            f"{row.pieces} pieces, since {why}: {row.run.expected_h:.1f} h expected, 1 time in 20 "
            f"over {row.run.high_h:.1f} h, {row.own_min:.0f} min of your own time."
        )
    return (
        f"{row.pieces} pieces instead of one: {row.run.expected_h:.1f} h expected instead of "
        f"{whole.run.expected_h:.1f}, 1 time in 20 over {row.run.high_h:.1f} h instead of "
        f"{whole.run.high_h:.1f}, {row.own_min - whole.own_min:.0f} min more of your own time, "
        f"{row.print_cost - whole.print_cost:+.2f} in money when nothing fails."
    )


def _findings(
    question: _Question, rows: Sequence[SplitRow], chosen: int, summary: str
) -> tuple[Finding, ...]:
    row = rows[chosen]
    if row.pieces == 1:
        return ()
    return (
        Finding(
            check="segments",
            severity="note",
            what=f"goes together from {row.pieces} pieces, the longest print {row.longest_h:.1f} h",
            where=Place(text=", ".join(plane.words() for plane in row.cuts)),
            measured=f"{row.run.expected_h:.1f} h expected",
            required=f"at most {question.limits.most_h:g} h a print"
            if math.isfinite(question.limits.most_h)
            else "the least weighted cost",
            remedy=summary,
            source="restart model with the odds of failing given, not learned from a log",
        ),
    )
