"""The section "Build cycles": what shares a platform, what that saves and what is at stake."""

from typing import Any

from buildplan.checks.packing import Cycle, CyclePlan, Loss
from buildplan.plan import Plan, chosen_option
from buildplan.report import numbers
from buildplan.report.embed import drawing
from buildplan.report.gather import written
from buildplan.report.platform_picture import draw_platform
from buildplan.report.sections import capital, words

WAY_WORDS = {
    "together": "layer by layer together",
    "one by one": "one after another, in this order",
    "separate": "alone",
}


def cycles_section(plan: Plan) -> dict[str, Any]:
    """For each printer its build cycles with their numbers and a drawing of each platform."""
    names = [item.name for item in plan.parts]
    return {
        "heading": cycles_heading(plan),
        "sub": _sub(plan),
        "currency": plan.currency,
        "printers": [_printer(one, names) for one in plan.cycles],
    }


def cycles_heading(plan: Plan) -> str:
    """How many build cycles all pieces take, and what sharing saves."""
    alone = len(_alone(plan))
    placed = [len(cycle.placings) for one in plan.cycles for cycle in one.cycles]
    pieces, runs = sum(placed) + alone, len(placed) + alone
    if not runs:
        return "No part fits a printer as it is"
    saved_h = sum(own_saved_h(cycle) for one in plan.cycles for cycle in one.cycles)
    text = f"{numbers.count(pieces, 'piece')} in {numbers.count(runs, 'build cycle')}"
    if saved_h <= 0.0:
        return f"{text}: none gains by sharing a platform"
    return f"{text}, {numbers.hours(saved_h)} less of your own time than one by one"


def own_saved_h(cycle: Cycle) -> float:
    """Own time that sharing a platform saves: one set-up and one clearing for each piece more."""
    return cycle.own_time_h * (len(cycle.placings) - 1)


def reason_words(one: CyclePlan, names: list[str]) -> str:
    """Why a printer's parts are printed this way, in one sentence."""
    if one.cycles and all(len(cycle.placings) == 1 for cycle in one.cycles):
        count = len(one.cycles)
        if count == 1:
            return "One piece, one build cycle."
        return (
            f"{count} build cycles, one for each piece: sharing a platform was weighed and would "
            "not pay, or they do not fit side by side."
        )
    return capital(written(one.reason, names))


def names_in(cycle: Cycle) -> str:
    """The pieces of a cycle, copies counted."""
    counts: dict[str, int] = {}
    for placing in cycle.placings:
        counts[placing.name] = counts.get(placing.name, 0) + 1
    return ", ".join(
        words(n) + (f"{numbers.FIXED_SPACE}×{numbers.FIXED_SPACE}{k}" if k > 1 else "")
        for n, k in counts.items()
    )


def _alone(plan: Plan) -> list[str]:
    """Parts on printers that have no plan of cycles: one piece each."""
    planned = {one.printer.key for one in plan.cycles}
    left = {left.name for one in plan.cycles for left in one.left_out}
    return [
        item.name
        for item in plan.parts
        if item.name not in left
        and chosen_option(item).fit.fits
        and item.sent is None
        and chosen_option(item).printer not in planned
    ]


def _sub(plan: Plan) -> str:
    text = (
        "A failure costs feedstock, energy and machine until then, and your time to set up again: "
        "on average over all moments, and at the very end."
    )
    alone = [
        f"{words(item.name)} ({words(chosen_option(item).printer)})"
        for item in plan.parts
        if item.name in _alone(plan)
    ]
    return f"{text} Alone on its printer: {', '.join(alone)}." if alone else text


def _printer(one: CyclePlan, names: list[str]) -> dict[str, Any]:
    return {
        "name": one.printer.name,
        "reason": reason_words(one, names),
        "rows": [_row(cycle) for cycle in one.cycles],
        "drawings": [
            drawing(
                draw_platform(cycle, one.printer, kind="svg", width_mm=110.0),
                f"{one.printer.key}-{cycle.number}",
            )
            for cycle in one.cycles
        ],
        "left_out": [
            {"name": words(left.name), "quantity": left.quantity, "reason": written(left.reason)}
            for left in one.left_out
        ],
        "looks": [
            {
                "severity": mark.finding.severity,
                "what": capital(written(mark.finding.what, names)),
                "why": capital(written(mark.finding.measured, names)),
                "remedy": written(mark.finding.remedy, names),
            }
            for mark in one.marks
            if mark.finding.severity != "note"
        ],
    }


def _row(cycle: Cycle) -> dict[str, Any]:
    saved_min = 60.0 * own_saved_h(cycle)
    return {
        "number": cycle.number,
        "pieces": capital(names_in(cycle)),
        "way": WAY_WORDS[cycle.way] if len(cycle.placings) > 1 else "alone",
        "hours": numbers.num(cycle.time_h, 1),
        "mass": numbers.num(cycle.mass_g, 0),
        "saved": numbers.num(saved_min, 0),
        "mean": _loss(cycle.at_stake.mean),
        "worst": _loss(cycle.at_stake.worst),
    }


def _loss(loss: Loss) -> list[str]:
    return [
        numbers.num(loss.time_h, 1),
        numbers.num(loss.mass_g, 0),
        numbers.num(loss.cost, 2),
    ]
