"""What to do first: one short task each, the gravest first."""

import re
from collections.abc import Iterable

from buildplan.bill import BillLine
from buildplan.checks.packing import CyclePlan
from buildplan.device.chain.model import DeviceStudy
from buildplan.findings import SEVERITIES, Finding
from buildplan.plan.model import CalendarPlan, PartPlan, chosen_option

MOST_LETTERS = 120
"""A longer step is cut at its first semicolon: one reads these lines aloud."""

_SENTENCE_END = re.compile(r"(?<=[a-z)\d])\. (?=[A-Z])")


def task_of(item: PartPlan, finding: Finding) -> str:
    """What a finding asks for, with the part and the fact: one line of "what to do first"."""
    return _task(item.name, finding)


def cycle_task_of(plan: CyclePlan, finding: Finding) -> str:
    """What a finding about build cycles asks for, with the printer and the fact."""
    return _task(plan.printer.name, finding)


def device_task_of(finding: Finding) -> str:
    """What a finding about the device asks for, with the fact."""
    return _task("device", finding)


def bill_task_of(finding: Finding) -> str:
    """What a finding about the bill asks for, with the fact."""
    return _task("bill", finding)


def list_first(
    planned: tuple[PartPlan, ...],
    cycles: tuple[CyclePlan, ...],
    bill: tuple[BillLine, ...],
    device: DeviceStudy | None = None,
    of_bill: Iterable[Finding] = (),
    sets_date: str = "",
) -> tuple[str, ...]:
    """Stops, the order with the longest wait, cautions, then parts that are better turned.

    Within each, the device first, then the part with the most hours. Of several cautions of one
    check on one part the first stands for all; of stops, the first of those with the same remedy.
    """
    tasks: dict[str, list[str]] = {severity: [] for severity in SEVERITIES}
    for finding in _one_a_check(device.findings if device else ()):
        tasks[finding.severity].append(device_task_of(finding))
    by_hours = sorted(planned, key=lambda p: -p.quantity * chosen_option(p).estimate.time_h)
    for item in by_hours:
        for finding in _one_a_check(item.findings):
            tasks[finding.severity].append(task_of(item, finding))
    for plan in cycles:
        for finding in _one_a_check(mark.finding for mark in plan.marks):
            tasks[finding.severity].append(cycle_task_of(plan, finding))
    for finding in _one_a_check(of_bill):
        tasks[finding.severity].append(bill_task_of(finding))
    ordered = (*tasks["stop"], *_waits(bill, sets_date), *tasks["caution"], *tasks["note"])
    return tuple(dict.fromkeys(ordered))


def _one_a_check(findings: Iterable[Finding]) -> list[Finding]:
    """Stops that ask for different things, one caution a check, and notes on another way up."""
    kept: list[Finding] = []
    seen: set[tuple[str, str, str]] = set()
    for finding in findings:
        if finding.severity == "note" and finding.check != "orientation":
            continue
        step = first_step(finding) if finding.severity == "stop" else ""
        asked = (finding.severity, finding.check, step)
        if asked not in seen:
            kept.append(finding)
        seen.add(asked)
    return kept


def _waits(bill: tuple[BillLine, ...], sets_date: str) -> list[str]:
    """To order today: the slowest of the supplier that sets the date, and the slowest of all."""
    waits = [line.wanted for line in bill if line.wanted.lead_d > 0]
    said: dict[str, str] = {}
    for own, why in (
        ([one for one in waits if one.supplier == sets_date], "it sets the date"),
        (waits, "the longest wait"),
    ):
        if own:
            slowest = max(own, key=lambda one: one.lead_d)
            days = f"{slowest.lead_d:.0f} days to the door"
            said.setdefault(slowest.item, f"Order the {slowest.item} today: {days}, {why}.")
    return list(said.values())


def supplier_of_date(calendar: CalendarPlan | None) -> str:
    """The supplier whose delivery sets the finish date, or an empty text."""
    holds = calendar.holds if calendar is not None else ()
    if not holds or holds[0].kind not in ("delivery", "deliveries"):
        return ""
    return holds[0].lead.removeprefix("order from ")


def _task(about: str, finding: Finding) -> str:
    """The fact up to its first semicolon, then the first sentence of the remedy."""
    fact = finding.what.partition(";")[0]
    return f"{about.replace('_', ' ')}: {fact}. {first_step(finding)}"


def first_step(finding: Finding) -> str:
    """The first sentence of a remedy; of a long one, what stands before its first semicolon."""
    step = _SENTENCE_END.split(finding.remedy, maxsplit=1)[0].rstrip(".")
    return (step.partition(";")[0] if len(step) > MOST_LETTERS else step) + "."
