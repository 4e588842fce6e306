"""The rows of the report's tables, from a plan."""

from collections.abc import Callable
from typing import Any

from buildplan.findings import Finding
from buildplan.plan import PartPlan, Plan, chosen_option, task_of
from buildplan.plan.first import cycle_task_of, first_step
from buildplan.plan.takes import takes_of, where_got
from buildplan.report import numbers
from buildplan.report.gather import written

TODO_SHOWN = 8
SECTION_OF = {
    "slit": "saves hours",
    "orientation": "lies better so",
    "packing": "shares a platform",
    "fit": "it must fit a printer",
    "warping": "keeps it flat on the platform",
    "adhesion": "keeps it on the platform",
    "stability": "keeps it upright",
    "walls": "so that the wall comes out",
    "beads": "so that the wall comes out",
    "gaps": "so that the gap stays open",
    "holes": "so that the hole stays open",
    "pins": "so that the pin holds",
    "trapped": "so that the liquid drains",
    "islands": "nothing holds it up",
    "overhangs": "nothing holds it up",
    "bridges": "nothing holds it up",
    "health": "the mesh must be closed",
}
"""What a step is for, by the check that asks for it; the page's right column."""


def words(name: str) -> str:
    """A name as a person writes it."""
    return {"floor_roof": "floor and roof"}.get(name, name.replace("_", " "))


def capital(text: str) -> str:
    """A text that begins a sentence."""
    return text[:1].upper() + text[1:]


def uncapital(text: str) -> str:
    """A text that goes on after a colon."""
    return text[:1].lower() + text[1:]


def todo_steps(plan: Plan) -> list[dict[str, Any]]:
    """What to do first, with the finding that asks for it."""
    asked: dict[str, tuple[str, Finding]] = {}
    for item in plan.parts:
        for finding in item.findings:
            asked.setdefault(task_of(item, finding), (words(item.name), finding))
    for one in plan.cycles:
        for mark in one.marks:
            task = cycle_task_of(one, mark.finding)
            asked.setdefault(task, (words(one.printer.name), mark.finding))
    names = [item.name for item in plan.parts]
    steps: list[dict[str, Any]] = []
    for sentence in plan.first[:TODO_SHOWN]:
        if sentence in asked:
            about, finding = asked[sentence]
            fact = f"{capital(finding.what)}: {finding.measured}; required: {finding.required}."
            steps.append(
                {
                    "do": f"{capital(about)}: {uncapital(written(first_step(finding), names))}",
                    "why": written(fact, names),
                    "where": SECTION_OF.get(finding.check, "before it is printed"),
                    "severity": finding.severity,
                }
            )
        else:
            steps.append(
                {
                    "do": sentence,
                    "why": "Everything else can be printed and built while it is in the post.",
                    "where": "sets the earliest finish",
                    "severity": "note",
                }
            )
    return steps


def more_steps(plan: Plan) -> str:
    """How many steps the page does not list, in words."""
    more = len(plan.first) - TODO_SHOWN
    return f"And {more} more, each beside its part." if more > 0 else ""


def hours_rows(plan: Plan, bar: Callable[[float, float, int], Any]) -> list[dict[str, Any]]:
    """One row a part, the longest first."""
    home = [item for item in plan.parts if item.sent is None]
    scale_h = max((_hours(item, plan) for item in home), default=0.0)
    rows = []
    for item in sorted(home, key=lambda p: -_hours(p, plan)):
        copies, takes = item.quantity, takes_of(item, plan.splits)
        estimate = chosen_option(item).estimate
        most = max(estimate.by_role, key=lambda share: share.time_h)
        rows.append(
            {
                "name": words(item.name),
                "copies": f" × {copies}" if copies > 1 else "",
                "printer": where_got(item, plan.splits),
                "usual": numbers.num(copies * takes.time_h.likely, 1),
                "high": numbers.num(copies * takes.time_h.high, 1),
                "bar": bar(copies * takes.time_h.likely, scale_h, 200),
                "layers": numbers.num(estimate.layers, 0),
                "most": f"{words(most.role)}, "
                f"{numbers.num(100 * most.time_h / max(estimate.time_h, 1e-9), 0)} %",
                "support": numbers.num(copies * estimate.support_time_h, 1),
            }
        )
    return rows


def _hours(item: PartPlan, plan: Plan) -> float:
    return item.quantity * takes_of(item, plan.splits).time_h.likely


def material_rows(item: PartPlan) -> list[dict[str, Any]]:
    """Every feedstock for one part, the chosen one marked."""
    rows = []
    for row in item.comparison:
        runs = row.runs
        rows.append(
            {
                "name": row.name,
                "pick": row.feedstock == item.feedstock.key,
                "hours": numbers.num(row.time_h, 1) if runs else "",
                "mass": numbers.num(row.mass_g, 0) if runs else "",
                "cost": numbers.num(row.total_cost, 2) if runs else "",
                "holds": numbers.num(row.service_c, 0),
                "good": written(row.good_for) if runs else f"not on this printer: {row.reason}",
                "bad": written(row.bad_for) if runs else "",
                "care": written(f"{capital(row.moisture)}. {capital(row.hazards)}."),
            }
        )
    return rows


def trust_rows(plan: Plan) -> list[dict[str, str]]:
    """How far each kind of number can be trusted, and what would narrow it."""
    time, mass = plan.time_h, plan.mass_g
    hours_rest = "every move of every layer; speeds and accelerations of the printer's class"
    hours_narrow = "the hours of five prints from your own printers"
    if plan.logged:
        hours_rest = f"every move of every layer, put right by your {plan.logged} logged prints"
        hours_narrow = "more prints in the log; `buildplan log learn` shows what it says"
    return [
        {
            "name": "hours, all parts",
            "likely": numbers.num(time.likely, 1, "h"),
            "between": f"{numbers.num(time.low, 1)} and {numbers.num(time.high, 1, 'h')}",
            "rests": hours_rest,
            "narrows": hours_narrow,
        },
        {
            "name": "feedstock, all parts",
            "likely": numbers.num(mass.likely, 0, "g"),
            "between": f"{numbers.num(mass.low, 0)} and {numbers.num(mass.high, 0, 'g')}",
            "rests": "the volume of every bead; strand diameter and density from tables",
            "narrows": "weighing one printed part; a caliper on the strand",
        },
        {
            "name": "fit",
            "likely": "exact",
            "between": "as measured from the mesh",
            "rests": "a yes carries a turning that was checked again; a no is a search, no proof",
            "narrows": "measuring the build volume of your printer",
        },
    ]
