"""Part -> SegmentPlan: where to cut, into how many pieces, and what that saves and costs.

estimate of the whole -> quick hours model -> best cuts along each axis (dynamic programming) and in
any direction (beam search) -> for each number of pieces the best plan is really cut, joined and
estimated -> table -> the optimum of the user's weights.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from buildplan.errors import InputError
from buildplan.findings import Finding
from buildplan.part.feature import Feature, KeepOut
from buildplan.part.model import Part
from buildplan.part.turn import turn_part
from buildplan.process.estimate import Prices, estimate_print
from buildplan.segments.cut import Printing
from buildplan.segments.hours import fit_hours
from buildplan.segments.joints import JointSpec
from buildplan.segments.model import (
    MOST_PIECES,
    Piece,
    RejectedPlane,
    SegmentPlan,
    SplitLimits,
    SplitWeights,
)
from buildplan.segments.planes import Plane
from buildplan.segments.plans import Plans, given_plans, quick_plans
from buildplan.segments.question import Question, check_question, default_weights
from buildplan.segments.restart import FailureOdds
from buildplan.segments.rows import Bench, Made
from buildplan.segments.solid import solid_of
from buildplan.segments.words import findings_of, no_plan, summary_of
from buildplan.tables import fits, rules_for
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe
from buildplan.tables.rules import Rules

if TYPE_CHECKING:
    pass

LEAST_FRAC = 0.04
"""A piece is at least this share of the part (ours): crumbs are lost and break."""

SEARCH_FACETS = 40_000
SEARCH_SIMPLIFY_MM = 0.05
"""Parts with more facets are searched on a body simplified by so much (it may overlap itself by a
hair, so it is good for searching only); every row of the table is cut from the whole one."""

TRIED = 2
"""So many plans of one number of pieces are made where the first does not hold."""

NOTED = 12
"""So many rejected planes are kept."""


def split_part(  # noqa: PLR0913 - each argument is one thing a maker may say about the split
    part: Part,
    printer: Printer,
    feedstock: Feedstock,
    recipe: Recipe,
    *,
    most_h: float = math.inf,
    most_pieces: int = MOST_PIECES,
    exactly: int = 0,
    planes: Sequence[Plane] = (),
    features: Sequence[Feature] = (),
    keep_outs: Sequence[KeepOut] = (),
    joints: Sequence[JointSpec] = (),
    clearance_mm: float | None = None,
    rules: Rules | None = None,
    odds: FailureOdds | None = None,
    weights: SplitWeights | None = None,
    prices: Prices | None = None,
    check_pieces: bool = True,
    workers: int = 1,
) -> SegmentPlan:
    """Where to cut a part, into how many pieces, with which joints, and what that changes.

    Args:
        part: The part, as it is printed.
        printer: The machine that every piece must fit.
        feedstock: What it is made of.
        recipe: Process settings.
        most_h: Most hours of one print (the time you are there, less set-up).
        most_pieces: Rows of the table.
        exactly: The number of pieces to take; 0 for the cheapest that keeps the limits.
        planes: Cuts to make instead of searching for them.
        features: Named regions that no cut may go through.
        keep_outs: Boxes that no cut may go through.
        joints: Joints to try, the best liked first; ``default_joints`` where none.
        clearance_mm: Gap of a sliding fit, as your clearance ladder showed; the table's where None.
        rules: Rules of thumb; those of the feedstock where None.
        odds: How prints fail; the defaults of FailureOdds where None.
        weights: What counts how much; from the prices where None.
        prices: Energy and own time.
        check_pieces: Whether every check runs on each piece of the chosen row as it lies on the
            platform; what it finds carries the piece's name.
        workers: Threads for the pieces; the numbers do not depend on it.

    Raises:
        InputError: A number is impossible.
        MeshError: The part is no closed solid.
        NoPlanError: No number of pieces keeps the limits; with the number that comes nearest.
    """
    used = prices if prices is not None else Prices()
    wanted = weights if weights is not None else default_weights(printer, used)
    check_question(most_h, most_pieces, wanted, planes)
    if workers < 1:
        raise InputError(f"split: workers is {workers}; 1 or more is needed")
    solid = solid_of(part)
    whole = estimate_print(part, printer, feedstock, recipe, prices=used, workers=workers)
    large = solid.num_tri() > SEARCH_FACETS
    question = Question(
        part=part,
        solid=solid,
        small=solid.simplify(SEARCH_SIMPLIFY_MM) if large else solid,
        whole=whole,
        printing=Printing(printer=printer, feedstock=feedstock, recipe=recipe, prices=used),
        weights=wanted,
        odds=odds if odds is not None else FailureOdds(),
        limits=_limits(most_h, (*features, *keep_outs)),
        joints=tuple(joints),
        clearance_mm=fits()["sliding"].clearance_mm if clearance_mm is None else clearance_mm,
        rules=rules if rules is not None else rules_for(feedstock),
        model=fit_hours(part, whole),
        most=most_pieces,
        workers=workers,
        exactly=exactly,
    )
    rejected: tuple[RejectedPlane, ...] = ()
    if planes:
        plans = given_plans(question, planes)
    else:
        plans, rejected = quick_plans(question)
    bench = Bench(question=question, crumbs=bool(planes), final=False)
    made, failed = _make_rows(bench, plans)
    plan = _choose(bench, made, (*failed, *rejected), given=bool(planes))
    if not check_pieces or not plan.joints:
        return plan
    return replace(plan, findings=(*plan.findings, *_checked(question, plan.pieces)))


def _limits(most_h: float, boxes: Sequence[Feature | KeepOut]) -> SplitLimits:
    return SplitLimits(
        most_h=most_h,
        least_frac=LEAST_FRAC,
        keep=np.array([box.box_mm for box in boxes], dtype=np.float64).reshape(-1, 6),
        keep_names=tuple(box.name for box in boxes),
    )


def _make_rows(bench: Bench, plans: Plans) -> tuple[list[Made], tuple[RejectedPlane, ...]]:
    """The first plan of each number of pieces that keeps the limits, else the first that holds."""
    made: dict[int, Made] = {}
    failed: list[RejectedPlane] = []
    for pieces in sorted(plans):
        for plan in plans[pieces][:TRIED]:
            if pieces in made and not plan.is_done:
                continue
            item = bench.make(plan)
            if isinstance(item, str):
                plane = plan.cuts[-1][1]
                failed.append(RejectedPlane(plane=plane, reason=f"{pieces} pieces: {item}"))
                continue
            count = item.row.pieces
            if count not in made or (item.row.fits and not made[count].row.fits):
                made[count] = item
            if item.row.fits:
                break
    return [made[count] for count in sorted(made)], tuple(failed)


def _choose(
    rough: Bench,
    made: list[Made],
    rejected: tuple[RejectedPlane, ...],
    *,
    given: bool,
) -> SegmentPlan:
    """The cheapest row that keeps the limits, its pieces cut from the whole body with their joints.

    A row whose cost still holds when it is made in full is the best; else the next is made too.
    """
    question = rough.question
    bench = Bench(question=question, crumbs=given, final=True, cut=rough.cut)
    full: set[int] = set()
    while True:
        able = [k for k, item in enumerate(made) if item.row.fits and (item.joints or not given)]
        able = [k for k in able if question.exactly in (0, made[k].row.pieces)]
        if not able:
            raise no_plan(question, made, rejected)
        chosen = min(able, key=lambda k: (round(made[k].row.cost, 9), made[k].row.pieces))
        if chosen in full or not made[chosen].joints:
            return _plan(question, made, chosen, rejected)
        plan = made[chosen].plan
        best = bench.make(plan)
        full.add(chosen)
        if isinstance(best, str):
            plane = plan.cuts[-1][1]
            row = replace(made[chosen].row, fits=False, reason=best)
            made[chosen] = replace(made[chosen], row=row)
            rejected = (RejectedPlane(plane=plane, reason=best), *rejected)
        else:
            made[chosen] = best


def _plan(
    question: Question,
    made: Sequence[Made],
    chosen: int,
    rejected: Sequence[RejectedPlane],
) -> SegmentPlan:
    best = made[chosen]
    rows = tuple(item.row for item in made)
    summary = summary_of(rows, chosen)
    noted = {(plane.plane.words(), plane.reason): plane for plane in reversed(rejected)}
    return SegmentPlan(
        part=question.part.name,
        printer=question.printing.printer.key,
        pieces=best.pieces,
        joints=best.joints,
        loose=best.loose,
        table=rows,
        chosen=chosen,
        rejected=tuple(reversed(noted.values()))[:NOTED],
        odds=question.odds,
        weights=question.weights,
        summary=summary,
        findings=findings_of(question, rows, chosen, summary),
    )


def _checked(question: Question, pieces: Sequence[Piece]) -> tuple[Finding, ...]:
    """What the checks find on each piece as it is printed, with the piece's name in the place."""
    from buildplan.checks.run import check_part

    printing = question.printing
    found: list[Finding] = []
    for piece in pieces:
        findings = check_part(
            turn_part(piece.part, piece.orientation),
            printing.printer,
            printing.feedstock,
            printing.recipe,
            workers=question.workers,
        )
        for finding in (*piece.fit.findings, *findings):
            text = finding.where.text
            named = f"piece {piece.name}: {text}".rstrip(": ")
            found.append(replace(finding, where=replace(finding.where, text=named)))
    return tuple(found)
