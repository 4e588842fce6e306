"""What must be true before each long print, from the findings of its part and of the device."""

from collections.abc import Iterable, Sequence

from buildplan.build import Build
from buildplan.decide.card import BadDay, bad_day
from buildplan.decide.readiness import (
    CouponOffer,
    PartFacts,
    claims_for,
    judge_readiness,
)
from buildplan.decide.readiness.model import Kind
from buildplan.device.chain.model import DeviceStudy
from buildplan.findings import Finding
from buildplan.plan.learned import Experience, chances_from
from buildplan.plan.model import CouponPlan, PartPlan, ReadyPrint, chosen_option
from buildplan.tables.feedstock import Feedstock, VatFeedstock

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
    planned: Sequence[PartPlan],
    coupons: Iterable[CouponPlan],
    device: DeviceStudy | None,
    experience: Experience | None,
) -> tuple[ReadyPrint, ...]:
    """A list for every long print, the longest first."""
    offers = [
        CouponOffer(
            name=one.coupon.part.name,
            part=one.part,
            kind=one.kind,
            time_h=one.estimate.time_h,
            mass_g=one.estimate.mass_g,
        )
        for one in coupons
    ]
    requests = {request.name: request for request in build.parts}
    found = []
    for item in planned:
        hours = chosen_option(item).estimate.time_h
        if hours < LONG_PRINT_H:
            continue
        facts = PartFacts(
            name=item.name,
            findings=item.findings,
            features=tuple(feature.kind for feature in requests[item.name].features),
            feedstock=item.feedstock.name,
        )
        claims = claims_for(
            [facts],
            coupons=offers,
            device_findings=_of_device(device),
            own=build.decisions.claims,
        )
        answer = judge_readiness(claims, hours, REDO_H)
        card = _card(item, experience)
        found.append(ReadyPrint(part=item.name, card=card, readiness=answer))
    return tuple(sorted(found, key=lambda one: -one.readiness.long_print_h))


def _card(item: PartPlan, experience: Experience | None) -> BadDay:
    """On the chosen printer, from a full reel."""
    option = chosen_option(item)
    return bad_day(
        option.estimate,
        chances_from(experience, option.printer, item.feedstock.key),
        pack_g=pack_g_of(item.feedstock),
        overhang_z_mm=tuple(region.low_mm for region in item.checks.overhangs.regions),
    )


def pack_g_of(feedstock: Feedstock) -> float:
    """Grams in a reel or a bottle as sold."""
    if isinstance(feedstock, VatFeedstock):
        return feedstock.pack_ml * feedstock.liquid_density_g_cm3
    return feedstock.pack_g


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
