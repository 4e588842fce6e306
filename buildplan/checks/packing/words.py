"""Findings, reasons and sentences of packing."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from buildplan.checks.marks import Mark
from buildplan.checks.packing.model import Cycle, CyclePlan, Placing
from buildplan.checks.packing.platform import Platform
from buildplan.findings import Finding, Place
from buildplan.part.model import Part
from buildplan.tables.printer import Printer

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

PACKING_SOURCE = (
    "search on a grid, checked on the true outlines; no proof that no better one exists"
)

MOST_FINDINGS = 5
"""Cycles that get a finding of their own, of each kind."""

MOST_NAMES = 4
"""Names that a sentence lists."""


def why_left_out(part: Part, shape: "BaseGeometry", platform: Platform, printer: Printer) -> str:
    """Why no platform of this printer takes a part, with the numbers."""
    if part.size_mm[2] > platform.height_mm + 1e-6:
        return (
            f"{part.size_mm[2]:.1f} mm tall as it stands, {printer.name} takes "
            f"{platform.height_mm:g} mm"
        )
    x0, y0, x1, y1 = shape.bounds
    room = (
        f"{platform.width_mm:g} mm across"
        if platform.is_round
        else f"{platform.width_mm:g} x {platform.depth_mm:g} mm"
    )
    return (
        f"{x1 - x0:.1f} x {y1 - y0:.1f} mm seen from above with all that stands around it, "
        f"{printer.name} has {room} free, and no turn about z was found to fit"
    )


def named(placings: Sequence[Placing]) -> str:
    """Parts of a cycle in words: "camera_ring x2 and servo_arm"."""
    counts: dict[str, int] = {}
    for placing in placings:
        counts[placing.name] = counts.get(placing.name, 0) + 1
    words = [name if n == 1 else f"{name} x{n}" for name, n in counts.items()]
    return _listed(words)


def _listed(words: list[str]) -> str:
    if len(words) > MOST_NAMES:
        words = [*words[: MOST_NAMES - 1], f"{len(words) - MOST_NAMES + 1} more parts"]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def hours(time_h: float) -> str:
    """Minutes below an hour and a half, else hours with one decimal."""
    return f"{60.0 * time_h:.0f} min" if time_h < 1.5 else f"{time_h:.1f} h"


def count_of(number: int) -> str:
    """Build cycles counted in words."""
    return "1 build cycle" if number == 1 else f"{number} build cycles"


WAY_WORDS = {
    "together": "parts side by side",
    "one by one": "one after another on the platform",
    "separate": "each in a build cycle of its own",
}


def reason_of(plan: CyclePlan, others: Sequence[CyclePlan]) -> str:
    """Why a set is printed this way, in one sentence."""
    if not plan.cycles:
        return "No part fits this printer."
    cycles = count_of(len(plan.cycles))
    if not all(cycle.timed for cycle in plan.cycles):
        return f"{cycles} hold all parts; without estimates hours and losses are not weighed."
    if not others:
        return f"{cycles}, {WAY_WORDS[plan.way]}: {hours(plan.time_h)} of the machine."
    apart = next((other for other in others if other.way == "separate"), others[0])
    if apart.way != "separate":
        apart = min(others, key=lambda other: other.expected_cost)
    rest = [other for other in others if other is not apart]
    text = f"{cycles}, {WAY_WORDS[plan.way]}, instead of {_against(plan, apart)}"
    if rest:
        rival = min(rest, key=lambda other: other.expected_cost)
        dearer = rival.expected_cost - plan.expected_cost
        text += f"; {WAY_WORDS[rival.way]} would cost {abs(dearer):.2f} "
        text += "more" if dearer >= 0.0 else "less, too little to tell them apart"
    return text + "."


def _against(plan: CyclePlan, other: CyclePlan) -> str:
    """What another way of printing a set differs in."""
    own = 60.0 * (other.own_time_h - plan.own_time_h)
    stakes = [max(c.at_stake.worst.time_h for c in p.cycles) for p in (plan, other)]
    words = [f"{len(other.cycles)} {WAY_WORDS[other.way]}"]
    if abs(own) >= 0.5:
        words.append(f"{abs(own):.0f} min {'less' if own > 0 else 'more'} own time")
    if abs(stakes[0] - stakes[1]) >= 1.0 / 60.0:
        words.append(f"at most {hours(stakes[0])} at stake instead of {hours(stakes[1])}")
    dearer = other.expected_cost - plan.expected_cost
    if abs(dearer) >= 0.005:
        change = "cheaper" if dearer > 0.0 else "dearer"
        words.append(f"{abs(dearer):.2f} {change} with failures counted in")
    return f"{words[0]}: {', '.join(words[1:])}" if len(words) > 1 else words[0]


def find_packing(plan: CyclePlan, long_cycle_h: float) -> tuple[Mark, ...]:
    """Findings of a plan: what is left out, what shares a platform, what is at stake."""
    found = [_left_out(plan)] if plan.left_out else []
    shared = [cycle for cycle in plan.cycles if len(cycle.placings) > 1]
    found += [_shared(plan, cycle) for cycle in shared[:MOST_FINDINGS]]
    if len(shared) > MOST_FINDINGS:
        found.append(_more_shared(plan, shared[MOST_FINDINGS:]))
    long = [
        cycle
        for cycle in shared
        if cycle.at_stake.worst.time_h > long_cycle_h and cycle.way == "together"
    ]
    long.sort(key=lambda cycle: -cycle.at_stake.worst.time_h)
    found += [_at_stake(plan, cycle, long_cycle_h) for cycle in long[:MOST_FINDINGS]]
    return tuple(Mark(finding=finding) for finding in found)


def _left_out(plan: CyclePlan) -> Finding:
    names = _listed([left.name for left in plan.left_out])
    first = plan.left_out[0]
    verb = "does not fit" if len(plan.left_out) == 1 else "do not fit"
    return Finding(
        check="packing",
        severity="caution",
        what=f"{names} {verb} the platform of {plan.printer.name}",
        where=Place(text=plan.printer.name),
        measured=f"{first.name}: {first.reason}",
        required="a part stands on the platform less its margin, turned about z only",
        remedy=(
            f"Print {first.name} on a larger printer, split it into segments, or lay it over and "
            "estimate it anew."
        ),
        source=f"build volume of printer {plan.printer.key!r}; search over turns, no proof",
    )


def _shared(plan: CyclePlan, cycle: Cycle) -> Finding:
    copies = len(cycle.placings)
    saved = ""
    if cycle.timed:
        own = 60.0 * cycle.own_time_h * (copies - 1)
        saved = f", saves {own:.0f} min own time"
        machine = cycle.apart_h - cycle.time_h
        if machine > 1.0 / 60.0:
            saved += f" and {hours(machine)} of the machine"
        elif machine < -1.0 / 60.0:
            saved += f" and takes {hours(-machine)} more of the machine"
    what = f"{named(cycle.placings)} go on one platform: 1 build cycle instead of {copies}{saved}"
    remedy = f"Place them as drawn for build cycle {cycle.number}."
    if cycle.way == "one by one":
        remedy = f"Place them as drawn for build cycle {cycle.number} and print them in its order."
    return Finding(
        check="packing",
        severity="note",
        what=what,
        where=Place(text=f"build cycle {cycle.number} on {plan.printer.name}"),
        measured=f"least gap {cycle.least_gap_mm:.1f} mm, {100.0 * cycle.used_frac:.0f} % covered",
        required=f"a gap of at least {plan.gap_mm:g} mm",
        remedy=remedy,
        source=PACKING_SOURCE,
    )


def _more_shared(plan: CyclePlan, cycles: Sequence[Cycle]) -> Finding:
    """The cycles that get no note of their own, in one."""
    copies = sum(len(cycle.placings) for cycle in cycles)
    return Finding(
        check="packing",
        severity="note",
        what=f"{len(cycles)} more build cycles hold {copies} copies",
        where=Place(text=plan.printer.name),
        measured=f"least gap {min(cycle.least_gap_mm for cycle in cycles):.1f} mm",
        required=f"a gap of at least {plan.gap_mm:g} mm",
        remedy="Place them as drawn for each of these build cycles.",
        source=PACKING_SOURCE,
    )


def _at_stake(plan: CyclePlan, cycle: Cycle, long_cycle_h: float) -> Finding:
    mean, worst = cycle.at_stake.mean, cycle.at_stake.worst
    return Finding(
        check="packing",
        severity="caution",
        what=(
            f"build cycle {cycle.number} puts {hours(worst.time_h)} and {worst.mass_g:.0f} g of "
            f"{len(cycle.placings)} pieces at stake at once"
        ),
        where=Place(text=f"build cycle {cycle.number} on {plan.printer.name}"),
        measured=(
            f"a failure costs {hours(mean.time_h)}, {mean.mass_g:.0f} g and {mean.cost:.2f} on "
            f"average, {worst.cost:.2f} at the very end"
        ),
        required=f"at most {hours(long_cycle_h)} at stake without a look",
        remedy=(
            f"Watch the first layers and look in every few hours, or print the longest of "
            f"{named(cycle.placings)} alone."
        ),
        source="ours: longer than a day of watching; estimates of the parts",
    )
