"""What to print in pieces, and which small coupon proves what before the long print."""

import math
from collections.abc import Iterable
from dataclasses import replace

from buildplan.build import Build, PartRequest
from buildplan.checks.marks import Mark, findings_of
from buildplan.errors import BuildplanError
from buildplan.findings import SEVERITIES, Finding, Place
from buildplan.part.feature import Feature, FeatureKind
from buildplan.part.turn import turn_features, turn_keep_outs
from buildplan.plan.learned import Experience, odds_from
from buildplan.plan.model import CouponPlan, PartPlan, SplitAnswer, chosen_option
from buildplan.process.estimate import estimate_print
from buildplan.segments.coupon import cut_coupon
from buildplan.segments.restart import FailureOdds
from buildplan.segments.run import split_part
from buildplan.tables import rules_for
from buildplan.tables.printer import Printer

COUPON_KINDS: tuple[FeatureKind, ...] = (
    "hinge",
    "snap",
    "hook",
    "pin",
    "bearing",
    "slot",
    "boss",
    "hole",
)
"""Features that a coupon can prove, those that move first."""

LONG_PRINT_H = 4.0
"""Coupons are offered for prints that take longer (ours)."""

OFFER_H = 8.0
"""Parts that print longer are also cut into pieces, to compare (ours)."""

WORTH_FRAC = 0.2
"""A coupon that takes more than this share of its part's hours proves too little (ours)."""


def plan_splits(
    build: Build, planned: Iterable[PartPlan], experience: Experience | None = None
) -> tuple[SplitAnswer, ...]:
    """Every part that is to be cut, or that fits no printer or takes too long: pieces or a refusal.

    How prints fail is taken from the log where there is one; hours of pieces are the estimator's.
    """
    answers = []
    for item in planned:
        option = chosen_option(item)
        request = _request_of(build, item)
        if item.sent is not None or not _is_cut(build, item, request.way.pieces):
            continue
        printer = next(p for p in request.printers if p.key == option.printer)
        odds = odds_from(experience, printer.key, item.feedstock.key)
        answers.append(_split(build, item, request, printer, odds, exactly=request.way.pieces))
    return tuple(answers)


def _is_cut(build: Build, item: PartPlan, pieces: int) -> bool:
    """Whether a part is cut: since the build file says so, or since it must be."""
    option = chosen_option(item)
    too_long = 0.0 < build.longest_print_h < option.estimate.time_h
    return pieces > 1 or (pieces == 0 and (too_long or not option.fit.fits))


def plan_offers(
    build: Build,
    planned: Iterable[PartPlan],
    splits: Iterable[SplitAnswer],
    experience: Experience | None = None,
) -> tuple[SplitAnswer, ...]:
    """Long parts that print whole, cut into pieces all the same to compare; refusals left out."""
    must = {answer.part for answer in splits}
    answers = []
    for item in planned:
        option = chosen_option(item)
        if item.name in must or option.estimate.time_h < OFFER_H:
            continue
        request = _request_of(build, item)
        printer = next(p for p in request.printers if p.key == option.printer)
        odds = odds_from(experience, printer.key, item.feedstock.key)
        answer = _split(build, item, request, printer, odds)
        if answer.plan is not None:
            answers.append(answer)
    return tuple(answers)


def cut_into(
    build: Build, item: PartPlan, pieces: int, experience: Experience | None = None
) -> SplitAnswer:
    """A part cut into exactly so many pieces, whether it need be or not; or why it cannot be."""
    request = _request_of(build, item)
    printer = next(p for p in request.printers if p.key == chosen_option(item).printer)
    odds = odds_from(experience, printer.key, item.feedstock.key)
    return _split(build, item, request, printer, odds, exactly=pieces)


def _split(
    build: Build,
    item: PartPlan,
    request: PartRequest,
    printer: Printer,
    odds: FailureOdds | None,
    *,
    exactly: int = 0,
) -> SplitAnswer:
    most_h = build.longest_print_h if build.longest_print_h > 0.0 else math.inf
    try:
        plan = split_part(
            item.part,
            printer,
            item.feedstock,
            item.recipe,
            most_h=most_h,
            exactly=exactly,
            features=turn_features(request.features, request.orientation),
            keep_outs=turn_keep_outs(request.keep_outs, request.orientation),
            prices=build.prices,
            odds=odds,
            clearance_mm=build.tables["fit"].rows["sliding"].clearance_mm,
            rules=rules_for(item.feedstock, build.tables["rule"].rows),
        )
    except BuildplanError as error:
        return SplitAnswer(part=item.name, plan=None, finding=_refusal(item, str(error)))
    return SplitAnswer(part=item.name, plan=plan, finding=None)


def _refusal(item: PartPlan, reason: str) -> Finding:
    option = chosen_option(item)
    return Finding(
        check="segments",
        severity="stop" if not option.fit.fits else "caution",
        what="no way was found to print it in pieces",
        where=Place(text=item.name.replace("_", " ")),
        measured=f"{option.estimate.time_h:.1f} h in one piece",
        required="pieces that fit the printer and keep the hours",
        remedy=reason if reason.endswith(".") else f"{reason}.",
        source="search of cut planes; no proof that none exists",
    )


def with_pieces(item: PartPlan, splits: Iterable[SplitAnswer]) -> PartPlan:
    """The part with what its split says: pieces answer a part that fits nowhere."""
    answer = next((a for a in splits if a.part == item.name), None)
    if answer is None:
        return item
    if answer.plan is None:
        assert answer.finding is not None  # a split gives a plan or says why not
        marks = (*item.marks, Mark(finding=answer.finding))
    else:
        own = [f for f in answer.plan.findings if f.check == "segments"]
        marks = tuple(m for m in item.marks if m.finding.check != "fit")
        marks = (*marks, *(Mark(finding=finding) for finding in own))
    ordered = tuple(sorted(marks, key=lambda m: SEVERITIES.index(m.finding.severity)))
    return replace(item, marks=ordered, findings=findings_of(ordered))


def plan_coupons(build: Build, planned: Iterable[PartPlan]) -> tuple[CouponPlan, ...]:
    """For every long print one coupon of each kind of feature that must work, quickest first."""
    coupons = []
    for item in planned:
        hours = chosen_option(item).estimate.time_h
        if hours < LONG_PRINT_H or item.sent is not None:
            continue
        request = _request_of(build, item)
        printer = next(p for p in request.printers if p.key == chosen_option(item).printer)
        features = turn_features(request.features, request.orientation)
        for kind in COUPON_KINDS:
            made = _coupon(item, printer, [f for f in features if f.kind == kind])
            if made is not None and made.estimate.time_h <= WORTH_FRAC * hours:
                coupons.append(made)
    return tuple(coupons)


def _coupon(item: PartPlan, printer: Printer, features: list[Feature]) -> CouponPlan | None:
    """A coupon of the smallest of some features, or None where none can be cut."""
    for feature in sorted(features, key=_volume_mm3):
        try:
            coupon = cut_coupon(item.part, feature)
            estimate = estimate_print(coupon.part, printer, item.feedstock, item.recipe)
        except BuildplanError:
            continue
        alike = len(features) - 1
        return CouponPlan(
            part=item.name, kind=feature.kind, alike=alike, coupon=coupon, estimate=estimate
        )
    return None


def _volume_mm3(feature: Feature) -> float:
    x0, y0, z0, x1, y1, z1 = feature.box_mm
    return (x1 - x0) * (y1 - y0) * (z1 - z0)


def _request_of(build: Build, item: PartPlan) -> PartRequest:
    return next(request for request in build.parts if request.name == item.name)
