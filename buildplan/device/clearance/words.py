"""The findings of clearance: what meets where, by how much, and what to do."""

from collections.abc import Sequence

from buildplan.device.clearance.model import PairClearance, Violation
from buildplan.findings import Finding, Place

MEETS_MM3 = 1e-3
"""Common volume from which parts are told to collide; below it they touch."""

SOURCE = "computed from the parts' poses; required gap: common practice, no source"


def angle_words(value: float) -> str:
    """An angle without needless digits: 0.00 reads 0, 7.50 reads 7.5."""
    return f"{round(value, 2) + 0.0:g}"


def point_words(point: Sequence[float]) -> str:
    """A point to a tenth of a millimetre: "(1.0, 2.0, 3.5) mm"."""
    return "(" + ", ".join(f"{round(x, 1) + 0.0:.1f}" for x in point) + ") mm"


def gap_words(pair: PairClearance) -> str:
    """The least gap as it is known: "0.42 mm", or ">= 20 mm"."""
    return f">= {pair.least_mm:g} mm" if pair.beyond else f"{pair.least_mm:.2f} mm"


def clearance_findings(
    pairs: Sequence[PairClearance], from_deg: float, to_deg: float
) -> tuple[Finding, ...]:
    """Stops for collisions, cautions for tight or open stretches, one note on the tightest pair."""
    found = [_violated(pair, violation) for pair in pairs for violation in pair.violated]
    found += [_unproven(pair, span) for pair in pairs for span in pair.unproven_deg]
    passing = [pair for pair in pairs if not pair.violated and not pair.unproven_deg]
    if passing:
        tight = min(passing, key=lambda pair: pair.least_mm)
        found.append(_passes(tight, len(passing), from_deg, to_deg))
    ranks = {"stop": 0, "caution": 1, "note": 2}
    return tuple(sorted(found, key=lambda finding: ranks[finding.severity]))


def _place(pair: PairClearance, point: tuple[float, ...], angle: float) -> Place:
    return Place(
        text=f"{pair.moving} against {pair.fixed} near {point_words(point)} at "
        f"{angle_words(angle)} degrees",
        point_mm=point,
    )


def _violated(pair: PairClearance, violation: Violation) -> Finding:
    span = f"from {angle_words(violation.from_deg)} to {angle_words(violation.to_deg)} degrees"
    collides = violation.overlap_mm3 > MEETS_MM3
    if collides:
        what = (
            f"{pair.moving} runs into {pair.fixed} {span}, overlapping by up to "
            f"{violation.overlap_mm3:.1f} mm3 at {angle_words(violation.at_deg)} degrees"
        )
        measured = f"{violation.overlap_mm3:.1f} mm3 of overlap"
    else:
        how = "touches" if violation.least_mm <= 0.0 else "comes too near to"
        what = f"{pair.moving} {how} {pair.fixed} {span}"
        measured = f"{violation.least_mm:.2f} mm"
    remedy = (
        "Take material off at that place, move the hinge axis away, or end the travel before it; "
        "if the contact is meant, name the pair as sliding or set a touch zone there."
    )
    return Finding(
        check="clearance",
        severity="stop" if collides else "caution",
        what=what,
        where=_place(pair, violation.place_mm, violation.at_deg),
        measured=measured,
        required=f"at least {pair.required_mm:g} mm",
        remedy=remedy,
        source=SOURCE,
    )


def _unproven(pair: PairClearance, span: tuple[float, float]) -> Finding:
    return Finding(
        check="clearance",
        severity="caution",
        what=(
            f"{pair.moving} against {pair.fixed} is not settled from {angle_words(span[0])} to "
            f"{angle_words(span[1])} degrees after {pair.poses} poses"
        ),
        where=Place(text=f"{pair.moving} against {pair.fixed}"),
        measured=f"at least {pair.proven_mm:.2f} mm proven, {gap_words(pair)} found",
        required=f"at least {pair.required_mm:g} mm",
        remedy=(
            "Allow more poses, give a rod's pins at more angles, or ask for a gap that differs "
            "more from the one found."
        ),
        source=SOURCE,
    )


def _passes(pair: PairClearance, count: int, from_deg: float, to_deg: float) -> Finding:
    others = f"; tightest of {count} pairs" if count > 1 else ""
    if pair.beyond:
        where = Place(text=f"{pair.moving} against {pair.fixed}")
    else:
        where = _place(pair, pair.place_mm, pair.at_deg)
    return Finding(
        check="clearance",
        severity="note",
        what=(
            f"{pair.moving} keeps {gap_words(pair)} from {pair.fixed} between "
            f"{angle_words(from_deg)} and {angle_words(to_deg)} degrees, proven at every angle"
            f"{others}"
        ),
        where=where,
        measured=gap_words(pair),
        required=f"at least {pair.required_mm:g} mm",
        remedy="Printed parts come out larger by up to 0.2 mm a side: keep that in hand.",
        source=SOURCE,
    )
