"""The section "Parts": pictures painted where something was found, findings beside close views."""

from collections.abc import Callable
from typing import Any

import numpy as np

from buildplan.checks.marks import Mark
from buildplan.findings import Finding, worst
from buildplan.plan import PartPlan, Plan, chosen_option
from buildplan.plan.takes import longest_print_h, pieces_of, takes_of, where_got
from buildplan.report import numbers
from buildplan.report.embed import bar, data_address
from buildplan.report.finding_picture import draw_finding, paint_marks, seen_from, spot_of
from buildplan.report.gather import (
    HoleSize,
    Told,
    check_words,
    hole_sizes,
    holes_line,
    note_line,
    place_and_numbers,
    tell,
    written,
)
from buildplan.report.picture import Picture, draw_part
from buildplan.report.sections import capital, words
from buildplan.report.verdict import longest_print

Progress = Callable[[int, int], None]
LARGE_SHARE = 0.2
"""A part whose print takes this share of the longest one, or with a stop or caution, is large."""

LARGE_PX = (820, 600)
SMALL_PX = (360, 260)
CLOSE_PX = (300, 220)
"""Pixels of the pictures; a close view is shown 260 wide."""

PIN_FRAC = (5.0, 6.8)
"""A pin's share of the picture's width and height, in percent."""

PICTURED_NOTES = {
    "walls", "gaps", "pins", "overhangs", "bridges", "islands", "orientation", "stability",
    "adhesion", "trapped", "health",
}  # fmt: skip
"""Checks whose notes get a close view; holes are a table, warping is about the whole foot."""


def parts_section(plan: Plan, progress: Progress | None) -> dict[str, Any]:
    """Large and small parts, with the plain picture of the longest print for the page's head."""
    longest = longest_print(plan)
    longest_h = longest_print_h(longest, plan.splits)
    takes = {item.name: takes_of(item, plan.splits) for item in plan.parts}
    scale_h = max(item.quantity * takes[item.name].time_h.likely for item in plan.parts)
    large: list[dict[str, Any]] = []
    small: list[dict[str, Any]] = []
    for index, item in enumerate(plan.parts):
        share = takes[item.name].time_h.likely / max(longest_h, 1e-9)
        if share >= LARGE_SHARE or worst(item.findings) in ("stop", "caution"):
            large.append(large_part(plan, item))
        else:
            small.append(_small(plan, item, scale_h))
        if progress is not None:
            progress(index + 1, len(plan.parts))
    large.sort(key=lambda part: -part["time_h"])
    hero = draw_part(longest.part, width_px=LARGE_PX[0], height_px=LARGE_PX[1])
    return {
        "hero": {"src": data_address(hero), "alt": words(longest.name)},
        "large": large,
        "small": small,
        "heading": _heading(plan),
        "sub": _sub(plan),
    }


def large_part(plan: Plan, item: PartPlan) -> dict[str, Any]:
    """A part with its large picture, its numbers, its holes and all its findings."""
    takes = takes_of(item, plan.splits)
    grave = tuple(mark for mark in item.marks if mark.finding.severity != "note")
    painted = paint_marks(grave)
    picture = draw_part(item.part, width_px=LARGE_PX[0], height_px=LARGE_PX[1], painted=painted)
    told, sizes = tell(item), hole_sizes(item)
    shown = [
        mark.finding.severity
        for mark in grave
        if len(mark.facets) and seen_from(item.part, mark.facets, picture.camera)
    ]
    return {
        "time_h": takes.time_h.likely,
        "name": words(item.name) + _copies(item),
        "src": data_address(picture),
        "pins": _pins(picture, told),
        "painted": [severity for severity in ("stop", "caution") if severity in shown],
        "facts": _facts(plan, item),
        "note": f"{numbers.size(item.part.size_mm)}, {_made_how(plan, item)}.",
        "holes": [_hole_row(size) for size in sizes],
        "features": any(size.about for size in sizes),
        "findings": [_told(item, one, number) for number, one in enumerate(told, 1)],
    }


def _facts(plan: Plan, item: PartPlan) -> list[dict[str, str]]:
    """Three numbers of one copy: of a print, or of what a service asks for all copies."""
    if item.sent is not None:
        goods, lead = item.sent.goods_cost, item.sent.lead_d
        return [
            {
                "value": "ask" if goods is None else numbers.num(goods.likely, 2),
                "unit": plan.currency,
            },
            {"value": numbers.num(lead.likely, 0), "unit": "days to the door"},
        ]
    takes = takes_of(item, plan.splits)
    return [
        {"value": numbers.num(takes.time_h.likely, 1), "unit": "h"},
        {"value": numbers.num(takes.mass_g.likely, 0), "unit": f"g {item.feedstock.key}"},
        {"value": numbers.num(takes.cost, 2), "unit": plan.currency},
    ]


def _made_how(plan: Plan, item: PartPlan) -> str:
    """Who makes it and why, in words."""
    mesh = f"mesh {item.part.health.grade}"
    if item.sent is not None:
        at_home = numbers.num(chosen_option(item).estimate.time_h, 1)
        return f"{mesh}; {item.sent.service}, {item.sent.basis}; at home it takes {at_home} h"
    where = where_got(item, plan.splits)
    why = item.reason if pieces_of(item, plan.splits) is None else "as the table of pieces says"
    return f"recipe {item.recipe.name}, {mesh}; {where}: {why}"


def _told(item: PartPlan, told: Told, number: int) -> dict[str, Any]:
    finding = told.marks[0].finding
    close, ring = _close_view(item, told)
    fact = capital(written(finding.what))
    return {
        "n": number,
        "severity": told.severity,
        "check": check_words(told.check),
        "what": fact,
        "why": capital(place_and_numbers(finding, [item.name])),
        "remedy": written(finding.remedy),
        "source": written(finding.source),
        "more": [capital(written(mark.finding.what)) + "." for mark in told.marks[1:]],
        "src": data_address(close) if close is not None else "",
        "ring": ring,
        "alt": f"Close view of the {words(item.name)}, painted where: {fact}",
    }


def _close_view(item: PartPlan, told: Told) -> tuple[Picture | None, tuple[float, float] | None]:
    """Close view of what a finding is about, and where on it a ring shows a small place, in %."""
    if told.severity == "note" and told.check not in PICTURED_NOTES:
        return None, None
    facets = np.unique(np.concatenate([mark.facets for mark in told.marks]))
    mark = Mark(finding=told.marks[0].finding, facets=facets)
    close = draw_finding(item.part, mark, width_px=CLOSE_PX[0], height_px=CLOSE_PX[1])
    spot = spot_of(item.part, mark, close) if close is not None else None
    return close, (round(100 * spot[0], 2), round(100 * spot[1], 2)) if spot else None


def _pins(picture: Picture, told: tuple[Told, ...]) -> list[dict[str, Any]]:
    """Numbers on the picture: one for each finding that has a place; of notes, the first."""
    pins: list[dict[str, Any]] = []
    for number, one in enumerate(told, 1):
        point = _point(one.marks[0].finding)
        if point:
            x, y = picture.at(point)
            taken = [(pin["x"], pin["y"]) for pin in pins]
            x, y = _beside(100 * x, 100 * y, taken)
            pins.append({"n": number, "x": round(x, 2), "y": round(y, 2)})
    return pins


def _beside(x: float, y: float, taken: list[tuple[float, float]]) -> tuple[float, float]:
    """A place for a pin, moved to the right until it covers no other."""
    while any(abs(x - a) < PIN_FRAC[0] and abs(y - b) < PIN_FRAC[1] for a, b in taken):
        x += PIN_FRAC[0] / 4
    return x, y


def _point(finding: Finding) -> tuple[float, ...]:
    box = finding.where.box_mm
    middle = tuple((box[i] + box[i + 3]) / 2 for i in range(3)) if box else ()
    return finding.where.point_mm or middle


def _hole_row(size: HoleSize) -> dict[str, Any]:
    low, high = (numbers.num(depth, 1) for depth in size.depth_mm)
    deep = low if low == high else f"{low} to {high}"
    return {
        "drawn": numbers.num(size.drawn_mm, 2),
        "printed": numbers.num(size.printed_mm, 2) if size.printed_mm > 0.0 else "closes up",
        "count": size.count,
        "lies": "upright" if size.upright else "lying",
        "ends": "through" if size.through else f"{deep} mm deep",
        "about": size.about,
    }


def _small(plan: Plan, item: PartPlan, scale_h: float) -> dict[str, Any]:
    copies, takes = item.quantity, takes_of(item, plan.splits)
    picture = draw_part(item.part, width_px=SMALL_PX[0], height_px=SMALL_PX[1])
    lines = [{"severity": one.severity, "what": capital(note_line(one))} for one in tell(item)]
    holes = holes_line(hole_sizes(item))
    lines += [{"severity": "note", "what": holes}] if holes else []
    return {
        "name": words(item.name),
        "copies": f" × {copies}" if copies > 1 else "",
        "src": data_address(picture),
        "nums": [
            numbers.hours(copies * takes.time_h.likely),
            numbers.grams(copies * takes.mass_g.likely),
            numbers.money(copies * takes.cost, plan.currency),
        ]
        if item.sent is None
        else [f"{fact['value']} {fact['unit']}" for fact in _facts(plan, item)],
        "bar": bar(copies * takes.time_h.likely, scale_h, 110),
        "where": where_got(item, plan.splits),
        "findings": lines,
    }


def _copies(item: PartPlan) -> str:
    return f" × {item.quantity}" if item.quantity > 1 else ""


def _heading(plan: Plan) -> str:
    longest = longest_print(plan)
    if not plan.time_h.likely:
        return "Services make every part"
    takes = takes_of(longest, plan.splits)
    share = longest.quantity * takes.time_h.likely / plan.time_h.likely
    return f"The {words(longest.name)} is {numbers.num(100 * share, 0)} % of the printing"


def _sub(plan: Plan) -> str:
    pieces = sum(item.quantity for item in plan.parts)
    kinds = numbers.count(len(plan.parts), "kind of part", "kinds of part")
    return (
        f"{kinds}, {numbers.count(pieces, 'piece')}. Pictures show each part the way it is printed."
    )
