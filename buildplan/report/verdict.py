"""The verdict in words: the same sentence on the terminal and at the head of the report."""

from buildplan.findings import Severity
from buildplan.plan import PartPlan, Plan
from buildplan.plan.takes import longest_print_h
from buildplan.report import numbers
from buildplan.report.date_words import date_sentence


def count_of(plan: Plan, severity: Severity) -> int:
    """How many findings of a severity the plan lists."""
    of_parts = sum(1 for item in plan.parts for f in item.findings if f.severity == severity)
    others = [mark.finding for one in plan.cycles for mark in one.marks]
    others += plan.device.findings if plan.device else ()
    others += plan.derived.findings
    others += plan.calendar.findings if plan.calendar else ()
    others += plan.choice.findings if plan.choice else ()
    return of_parts + sum(1 for finding in others if finding.severity == severity)


def longest_print(plan: Plan) -> PartPlan:
    """The part with the longest single print at home."""
    return max(plan.parts, key=lambda item: longest_print_h(item, plan.splits))


def what_sets_the_date(plan: Plan) -> str:
    """What sets the finish date and what comes next; empty where there is no calendar."""
    longest = longest_print(plan)
    hours = numbers.hours(longest_print_h(longest, plan.splits))
    return numbers.plain(
        date_sentence(plan, f"the {hours} of the {longest.name.replace('_', ' ')}")
    )


def verdict_sentence(plan: Plan) -> str:
    """One sentence: what stands in the way, or that nothing does, and the longest print."""
    longest = longest_print(plan)
    name = longest.name.replace("_", " ")
    time = numbers.plain(numbers.hours(longest_print_h(longest, plan.splits)))
    stops, cautions = count_of(plan, "stop"), count_of(plan, "caution")
    if stops:
        return f"Not yet: clear {numbers.count(stops, 'stop')} before the {time} of the {name}."
    if cautions:
        looks = numbers.count(cautions, "caution")
        return f"Look at {looks} before the {time} of the {name}."
    return f"Nothing stands in the way; the longest print is the {name}, {time}."
