"""What to do first: one sentence each, the gravest first."""

from buildplan.bill import BillLine
from buildplan.checks.packing import CyclePlan
from buildplan.findings import Finding
from buildplan.plan.model import PartPlan


def task_of(item: PartPlan, finding: Finding) -> str:
    """What a finding asks for, with the part it is about: one line of "what to do first"."""
    return f"{item.name.replace('_', ' ')}: {finding.remedy}"


def list_first(
    planned: tuple[PartPlan, ...], cycles: tuple[CyclePlan, ...], bill: tuple[BillLine, ...]
) -> tuple[str, ...]:
    """Stops, then the order with the longest wait, then cautions: one sentence each."""
    by_severity: dict[str, list[str]] = {"stop": [], "caution": [], "note": []}
    for item in planned:
        for finding in item.findings:
            by_severity[finding.severity].append(task_of(item, finding))
    for plan in cycles:
        for mark in plan.marks:
            by_severity[mark.finding.severity].append(mark.finding.remedy)
    waits = [line for line in bill if line.wanted.lead_d > 0]
    orders: list[str] = []
    if waits:
        slowest = max(waits, key=lambda line: line.wanted.lead_d)
        days = f"{slowest.wanted.lead_d:.0f} days to the door"
        orders.append(f"Order the {slowest.wanted.item} today: {days}, the longest wait.")
    return tuple(dict.fromkeys((*by_severity["stop"], *orders, *by_severity["caution"])))
