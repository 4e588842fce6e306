"""The section "Ways up": how else a part could lie, with what speaks for and against it."""

from typing import Any

from buildplan.checks.orientation import Orientation, OrientationCheck
from buildplan.part.turn import turn_part
from buildplan.plan import PartPlan, Plan
from buildplan.report import numbers
from buildplan.report.embed import data_address
from buildplan.report.gather import written
from buildplan.report.picture import draw_part
from buildplan.report.sections import capital, words
from buildplan.report.verdict import longest_print
from buildplan.report.ways_text import is_as_placed

WAYS_PX = (200, 150)
"""Pixels of a picture; it is shown 120 wide."""

LEAST_SAVED_H = 0.05
LEAST_SAVED_G = 0.5
"""Less is not worth a word in the heading."""


def ways_section(plan: Plan) -> dict[str, Any]:
    """A table of ways for every part that has another; those to turn first, then the longest."""
    longest = longest_print(plan)
    items = [item for item in plan.parts if _others(item.orientations)]
    items.sort(key=lambda item: (not item.orientations.marks, item is not longest))
    return {
        "heading": ways_heading(plan),
        "sub": (
            "Ranked by money: hours, supports, own time to take them off, and the chance that it "
            "comes loose or breaks along its layers. Hours of turned ways come from a quick model; "
            f"“buildplan turn {_file(plan)} PART” estimates them in full and keeps one."
        ),
        "parts": [
            part_ways(plan, item, open_=bool(item.orientations.marks) or item is longest)
            for item in items
        ],
    }


def ways_heading(plan: Plan) -> str:
    """Which parts to turn and what it saves, or that none needs it."""
    turned = [item for item in plan.parts if item.orientations.marks]
    if not turned:
        return "All parts lie well as placed"
    saved_h = sum(item.quantity * _saved_h(item.orientations) for item in turned)
    saved_g = sum(item.quantity * _saved_g(item.orientations) for item in turned)
    who = f"the {words(turned[0].name)}" if len(turned) == 1 else f"{len(turned)} parts"
    saved = []
    if abs(saved_h) >= LEAST_SAVED_H:
        saved.append(f"{numbers.hours(abs(saved_h))} {'less' if saved_h > 0 else 'more'}")
    if abs(saved_g) >= LEAST_SAVED_G:
        word = "less" if saved_g > 0 else "more"
        saved.append(f"{numbers.grams(abs(saved_g))} {word} support")
    if not saved:
        return f"Turn {who}"
    return f"Turn {who}: {' and '.join(saved)}"


def ways_line(check: OrientationCheck) -> str:
    """The ways up of a part in one line."""
    if check.marks:
        return written(f"better turned {check.best[0].turn_deg:.0f}°: {check.best[0].reason}")
    others = _others(check)
    if not others:
        return "no other way that fits was found"
    best, placed = others[0], check.as_placed
    differs = [
        _more(best.time_h - placed.time_h, "h", ""),
        _more(best.support_mass_g - placed.support_mass_g, "g", " support"),
    ]
    takes = " and ".join(text for text in differs if text) or "the same hours and supports"
    gains = (
        placed.time_h - best.time_h >= LEAST_SAVED_H
        or placed.support_mass_g - best.support_mass_g >= LEAST_SAVED_G
    )
    against = _for_and_against(best.reason)[1] if gains else ""
    return (
        f"lies well as placed; the best of {numbers.count(len(others), 'other way')}, turned "
        f"{best.turn_deg:.0f}°, takes {takes}" + (f"; against it: {against}" if against else "")
    )


def _more(value: float, unit: str, of: str) -> str:
    if numbers.rounded(abs(value), 1) == 0:
        return ""
    return f"{numbers.num(abs(value), 1, unit)} {'more' if value > 0 else 'less'}{of}"


def _others(check: OrientationCheck) -> list[Orientation]:
    return [way for way in check.best if not is_as_placed(way, check)]


def _saved_h(check: OrientationCheck) -> float:
    return check.as_placed.time_h - check.best[0].time_h


def _saved_g(check: OrientationCheck) -> float:
    return check.as_placed.support_mass_g - check.best[0].support_mass_g


def part_ways(plan: Plan, item: PartPlan, *, open_: bool) -> dict[str, Any]:
    """A row for every way up of a part, as placed among them."""
    check = item.orientations
    ways = list(check.best)
    if not any(is_as_placed(way, check) for way in ways):
        ways.insert(0, check.as_placed)
    return {
        "name": words(item.name),
        "open": open_,
        "line": numbers.plain(ways_line(check)),
        "rows": [_row(item, way) for way in ways],
        "currency": plan.currency,
    }


def _row(item: PartPlan, way: Orientation) -> dict[str, Any]:
    check = item.orientations
    placed = is_as_placed(way, check)
    turned = turn_part(item.part, way.matrix)
    picture = draw_part(turned, width_px=WAYS_PX[0], height_px=WAYS_PX[1])
    good, bad = _for_and_against(check.as_placed.reason if placed else way.reason)
    label = "as placed" if placed else f"turned {numbers.num(way.turn_deg, 0)}°"
    return {
        "placed": placed,
        "label": label if way.fits else f"{label}, does not fit",
        "src": data_address(picture),
        "alt": f"{words(item.name)} {label}",
        "hours": numbers.num(way.time_h, 1),
        "support": numbers.num(way.support_mass_g, 1),
        "on_part": numbers.num(100 * way.on_part_frac, 0),
        "contact": numbers.num(way.contact_mm2, 0),
        "cost": numbers.num(way.total_cost, 2),
        "good": good,
        "bad": bad,
    }


def _for_and_against(reason: str) -> tuple[str, str]:
    """The two halves of a reason; both begin with a capital."""
    good, _, bad = written(reason.removeprefix("as placed: ")).partition(", but ")
    return capital(good), capital(bad)


def _file(plan: Plan) -> str:
    from pathlib import Path

    return Path(plan.file).name
