"""The rows of the report's tables, from a plan."""

from collections.abc import Callable
from typing import Any

from buildplan.decide.readiness.claims import KIND_OF_CHECK
from buildplan.findings import Finding
from buildplan.plan import PartPlan, Plan, chosen_option, task_of
from buildplan.plan.first import bill_task_of, cycle_task_of, device_task_of, first_step
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
    for finding in plan.device.findings if plan.device else ():
        asked.setdefault(device_task_of(finding), ("device", finding))
    for finding in plan.derived.findings:
        asked.setdefault(bill_task_of(finding), ("bill", finding))
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
                    "minutes": test_words(plan, about, finding),
                }
            )
        else:
            steps.append(
                {
                    "do": sentence,
                    "why": "Everything else can be printed and built while it is in the post.",
                    "where": "the longest wait",
                    "severity": "note",
                    "minutes": _wait_words(plan),
                }
            )
    return steps


def todo_sub(plan: Plan) -> str:
    """What the order means, and what the tests before the long prints take and are worth."""
    said = "In this order; the right column says what it is for."
    if not plan.ready:
        return said
    ready = plan.ready[0].readiness
    part = words(plan.ready[0].part)
    return (
        f"{said} The tests before the {part} take {numbers.hours(ready.tests_h)} and are worth "
        f"{numbers.hours(max(ready.untested_h - ready.tested_h, 0.0))} expected."
    )


def test_words(plan: Plan, about: str, finding: Finding) -> str:
    """Minutes of the test that tries what a finding doubts, and what skipping it costs."""
    kind = KIND_OF_CHECK.get(finding.check)
    for one in plan.ready:
        for line in one.readiness.lines:
            claim = line.claim
            if words(claim.about) == about and claim.kind == kind and line.skip_h > 0.0:
                minutes = numbers.num(60.0 * claim.test.hours, 0, "min")
                return f"test {minutes}, worth {numbers.hours(line.skip_h)}"
    return ""


def _wait_words(plan: Plan) -> str:
    """What the waiting for deliveries is worth, from the calendar."""
    holds = plan.calendar.holds if plan.calendar else ()
    waits = [hold for hold in holds if hold.kind in ("delivery", "deliveries")]
    if not waits:
        return ""
    top = waits[0]
    days = numbers.num(top.sooner_p50_h / 24.0, 1, "days")
    what = "deliveries hold" if top.kind == "deliveries" else "a delivery holds"
    return f"{what} all up {days}"


def more_steps(plan: Plan) -> str:
    """How many steps the page does not list, in words."""
    more = len(plan.first) - TODO_SHOWN
    return f"And {more} more, each beside its part below and in plan.json." if more > 0 else ""


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
