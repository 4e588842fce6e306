"""Claims of a build, from its findings, features and coupons."""

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from buildplan.decide.readiness.model import Claim, ClaimTest, Evidence, Kind
from buildplan.decide.readiness.shape import OwnClaim
from buildplan.findings import Finding, worst
from buildplan.tables.claims import ClaimDefault, claim_defaults

KIND_OF_CHECK: dict[str, Kind] = {
    "fit": "size", "packing": "size", "units": "size",
    "health": "mesh", "repair": "mesh",
    "walls": "walls", "thin wall": "walls", "beads": "walls", "bead": "walls", "slit": "walls",
    "layer": "walls", "layer steps": "walls",
    "gaps": "holes", "holes": "holes", "pins": "holes",
    "overhangs": "overhangs", "overhang": "overhangs", "bridges": "overhangs",
    "islands": "overhangs", "trapped": "overhangs", "hollow": "overhangs",
    "adhesion": "first layer", "warping": "first layer", "stability": "first layer",
    "platform temperature": "first layer",
    "reel": "feedstock", "nozzle temperature": "feedstock", "flow": "feedstock",
    "mechanism": "mechanism", "chain": "mechanism",
    "clearance": "clearance", "reach": "clearance", "assembly": "clearance",
    "power": "volts", "heat": "heat", "enclosure": "heat", "view": "view",
}  # fmt: skip
"""Which claim a check is about; checks that are not named count to "other"."""

OF_PART: tuple[Kind, ...] = ("size", "mesh", "walls", "overhangs", "first layer")
MOVING = ("hinge", "hook", "snap", "slot", "bearing")
HOLDING = ("hole", "boss", "pin")
MEND = "Mend it, test again, and enter what the new test shows."


@dataclass(frozen=True, slots=True, kw_only=True)
class CouponOffer:
    """A coupon or ladder that can be printed first.

    Attributes:
        part: The part it is cut from; empty for a ladder, which any part may use.
        kind: Kind of the feature ("hinge", "hole", "wall").
        time_h, mass_g: From its estimate.
    """

    name: str
    part: str
    kind: str
    time_h: float
    mass_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PartFacts:
    """What is known of one part of the long print.

    Attributes:
        findings: Of its checks, its fit and its estimate.
        features: Kinds of its named features, one for each feature.
        feedstock: Its name.
    """

    name: str
    findings: tuple[Finding, ...]
    features: tuple[str, ...] = ()
    feedstock: str = ""


def claims_for(
    parts: Sequence[PartFacts],
    *,
    coupons: Sequence[CouponOffer] = (),
    device_findings: Mapping[Kind, tuple[Finding, ...]] | None = None,
    own: Sequence[OwnClaim] = (),
) -> tuple[Claim, ...]:
    """What must be true before these parts are printed.

    Args:
        parts: Those of the long print.
        coupons: Small prints that can prove a feature.
        device_findings: For each question that was computed ("mechanism", "clearance", "volts",
            "heat", "view") its findings; an empty tuple says that it came out clean.
        own: Of the build file.
    """
    made: list[Claim] = []
    for part in parts:
        made += _of_part(part, coupons)
    for name in dict.fromkeys(part.feedstock for part in parts if part.feedstock):
        found = [f for part in parts if part.feedstock == name for f in part.findings]
        about = [f for f in found if KIND_OF_CHECK.get(f.check) == "feedstock"]
        made.append(_claim("feedstock", name, "assumed", tuple(about), None))
    for kind, findings in (device_findings or {}).items():
        made.append(_claim(kind, "device", "computed", tuple(findings), None))
    return _with_own(made, own)


def _of_part(part: PartFacts, coupons: Sequence[CouponOffer]) -> list[Claim]:
    by_kind: dict[Kind, list[Finding]] = {kind: [] for kind in OF_PART}
    for finding in part.findings:
        kind = KIND_OF_CHECK.get(finding.check, "other")
        if kind == "feedstock" and part.feedstock:
            continue
        if kind in OF_PART or finding.severity != "note":
            by_kind.setdefault(kind, []).append(finding)
    holes = by_kind.pop("holes", [])
    made = []
    for kind, found in by_kind.items():
        offer = _offer(coupons, part.name, ("wall",)) if kind == "walls" else None
        made.append(_claim(kind, part.name, "computed", tuple(found), offer))
    if holes or any(kind in HOLDING for kind in part.features):
        offer = _offer(coupons, part.name, HOLDING)
        made.append(_claim("holes", part.name, "assumed", tuple(holes), offer))
    if any(kind in MOVING for kind in part.features):
        made.append(_claim("fits", part.name, "assumed", (), _offer(coupons, part.name, MOVING)))
    return made


def _offer(coupons: Sequence[CouponOffer], part: str, kinds: tuple[str, ...]) -> CouponOffer | None:
    """The shortest coupon of the part, else the shortest ladder."""
    able = [offer for offer in coupons if offer.kind in kinds and offer.part in (part, "")]
    return min(able, key=lambda offer: (offer.part == "", offer.time_h), default=None)


def _claim(
    kind: Kind,
    about: str,
    evidence: Evidence,
    findings: tuple[Finding, ...],
    offer: CouponOffer | None,
) -> Claim:
    row = claim_defaults()[kind]
    grave = worst(findings)
    first = next((f for f in findings if f.severity == grave), None)
    p = row.p_computed_frac if evidence == "computed" else row.p_assumed_frac
    because = "the check found nothing" if evidence == "computed" else "nothing has proved it yet"
    remedy = ""
    if first is not None and grave == "stop":
        p, because, remedy = 1.0, first.what, first.remedy
    elif first is not None and grave == "caution":
        p, because = max(p, row.p_caution_frac), f"look first: {first.what}"
    return Claim(
        name=f"{about}: {row.claim}",
        about=about,
        kind=kind,
        evidence=evidence,
        p_wrong_frac=p,
        test=_test(row, offer),
        seen_at_frac=row.seen_at_frac,
        because=because,
        remedy=remedy,
    )


def _test(row: ClaimDefault, offer: CouponOffer | None) -> ClaimTest:
    return ClaimTest(
        what=row.test if offer is None else f"print {offer.name} and try it",
        own_h=row.own_h,
        machine_h=0.0 if offer is None else offer.time_h,
        mass_g=0.0 if offer is None else offer.mass_g,
        wait_d=row.wait_d,
        sensitivity_frac=row.sensitivity_frac,
        false_alarm_frac=row.false_alarm_frac,
    )


def _with_own(made: Sequence[Claim], own: Sequence[OwnClaim]) -> tuple[Claim, ...]:
    by_name = {claim.name: claim for claim in made}
    for given in own:
        known = by_name.get(given.name)
        if known is None:
            known = dataclasses.replace(
                _claim(given.kind, given.about or "device", "assumed", (), None), name=given.name
            )
        by_name[given.name] = _changed(known, given)
    return tuple(by_name.values())


def _changed(claim: Claim, given: OwnClaim) -> Claim:
    """A claim with what the build file says; a stop of a check stays a stop."""
    fields = ("own_h", "machine_h", "mass_g", "wait_d", "sensitivity_frac", "false_alarm_frac")
    numbers = {name: getattr(given, name) for name in fields if getattr(given, name) is not None}
    test = dataclasses.replace(claim.test, what=given.test or claim.test.what, **numbers)
    seen = claim.seen_at_frac if given.seen_at_frac is None else given.seen_at_frac
    claim = dataclasses.replace(claim, test=test, seen_at_frac=seen)
    if claim.p_wrong_frac >= 1.0:
        return claim
    if given.failed_on:
        return dataclasses.replace(
            claim,
            p_wrong_frac=1.0,
            because=f"its test on {given.failed_on} showed that it is not so",
            remedy=MEND,
        )
    if given.proved_on:
        row = claim_defaults()[claim.kind]
        because = f"proved by a coupon on {given.proved_on}"
        claim = dataclasses.replace(
            claim, evidence="coupon", p_wrong_frac=row.p_coupon_frac, because=because
        )
    if given.p_wrong_frac is not None:
        because = f"{claim.because}; your own chance" if given.proved_on else "your own chance"
        claim = dataclasses.replace(claim, p_wrong_frac=given.p_wrong_frac, because=because)
    return claim
