"""What must be true before each long print, from the findings of its part and of the device."""

from collections.abc import Iterable, Sequence

from buildplan.build import Build
from buildplan.decide.card import BadDayCard, bad_day_card, runs_of_plan
from buildplan.decide.readiness import (
    CouponOffer,
    PartFacts,
    Readiness,
    claims_for,
    judge_readiness,
)
from buildplan.decide.readiness.model import Kind
from buildplan.decide.sending import SendRow
from buildplan.device.chain.model import DeviceStudy
from buildplan.findings import Finding
from buildplan.journal import fit_failures
from buildplan.plan.learned import Experience
from buildplan.plan.model import (
    CouponPlan,
    PartPlan,
    Plan,
    ReadyPrint,
    SplitAnswer,
    chosen_option,
)
from buildplan.plan.takes import pack_g_of

LONG_PRINT_H = 8.0
"""A print that takes longer is worth a list of what must be true (ours)."""

REDO_H = 1.5
"""Own hours to change a drawing and set up again after a failure of the design (ours)."""

OF_DEVICE: tuple[tuple[Kind, tuple[str, ...]], ...] = (
    ("mechanism", ("mechanism", "chain")),
    ("clearance", ("clearance", "reach", "assembly")),
    ("volts", ("power",)),
    ("heat", ("heat",)),
    ("view", ("view",)),
)
"""Which checks of the device answer which claim."""


def plan_ready(
    build: Build,
    planned: Sequence[tuple[PartPlan, float]],
    coupons: Iterable[CouponPlan],
    device: DeviceStudy | None,
    offers: Sequence[SplitAnswer],
    sent: Sequence[SendRow],
    experience: Experience | None,
) -> tuple[ReadyPrint, ...]:
    """A list for every long print, the longest first; ``planned`` holds hours of longest prints."""
    small = _offers(coupons)
    found = []
    for item, hours in planned:
        if hours < LONG_PRINT_H:
            continue
        answer = _judged(build, item, hours, small, device)
        card = card_of(build, item, offers, sent, experience)
        found.append(ReadyPrint(part=item.name, card=card, readiness=answer))
    return tuple(sorted(found, key=lambda one: -one.readiness.long_print_h))


def ready_again(build: Build, plan: Plan) -> tuple[ReadyPrint, ...]:
    """The lists of a plan after own claims of its build file have changed."""
    small = _offers(plan.coupons)
    by_name = {item.name: item for item in plan.parts}
    found = []
    for one in plan.ready:
        hours = one.readiness.long_print_h
        answer = _judged(build, by_name[one.part], hours, small, plan.device)
        found.append(ReadyPrint(part=one.part, card=one.card, readiness=answer))
    return tuple(found)


def _offers(coupons: Iterable[CouponPlan]) -> list[CouponOffer]:
    return [
        CouponOffer(
            name=one.coupon.part.name,
            part=one.part,
            kind=one.kind,
            time_h=one.estimate.time_h,
            mass_g=one.estimate.mass_g,
        )
        for one in coupons
    ]


def _judged(
    build: Build,
    item: PartPlan,
    long_print_h: float,
    small: Sequence[CouponOffer],
    device: DeviceStudy | None,
) -> Readiness:
    """What must be true before one print, from the findings and the build's own claims."""
    features = next(request.features for request in build.parts if request.name == item.name)
    facts = PartFacts(
        name=item.name,
        findings=item.findings,
        features=tuple(feature.kind for feature in features),
        feedstock=item.feedstock.name,
    )
    claims = claims_for(
        [facts],
        coupons=small,
        device_findings=_of_device(device),
        own=build.decisions.claims,
    )
    return judge_readiness(claims, long_print_h, REDO_H)


def card_of(
    build: Build,
    item: PartPlan,
    offers: Sequence[SplitAnswer],
    sent: Sequence[SendRow],
    experience: Experience | None,
) -> BadDayCard:
    """On the chosen printer, from a full reel; in pieces and sent out beside it."""
    estimate = chosen_option(item).estimate
    plans = [one.plan for one in offers if one.part == item.name and one.plan is not None]
    runs = [
        run
        for plan in plans
        for run in runs_of_plan(
            plan, own_cost_h=build.prices.own_time_cost_h, set_up_h=estimate.own_time_h
        )
    ]
    return bad_day_card(
        estimate,
        fit_failures(()) if experience is None else experience.failures,
        in_pieces=runs,
        sent=sent,
        pack_g=pack_g_of(item.feedstock),
        overhang_z_mm=tuple(region.low_mm for region in item.checks.overhangs.regions),
    )


def _of_device(device: DeviceStudy | None) -> dict[Kind, tuple[Finding, ...]]:
    """Findings by claim, for every question that was computed."""
    if device is None:
        return {}
    asked: dict[Kind, bool] = {
        "mechanism": bool(device.drives),
        "clearance": bool(device.gaps or device.reached or device.assembly),
        "volts": device.power is not None,
        "heat": device.heat is not None,
        "view": device.views is not None,
    }
    return {
        kind: tuple(f for f in device.findings if f.check in checks)
        for kind, checks in OF_DEVICE
        if asked[kind]
    }
