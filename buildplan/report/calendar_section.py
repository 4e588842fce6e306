"""The sections "When it is done" and "Before the long print", as text and drawings."""

import math
from dataclasses import replace
from typing import Any

from buildplan.decide.calendar import Bar, DayChance, Finish, day_at
from buildplan.decide.readiness import ReadinessLine
from buildplan.plan import Plan
from buildplan.plan.model import CalendarPlan, ReadyPrint
from buildplan.report import numbers
from buildplan.report.calendar_picture import draw_calendar
from buildplan.report.card_words import card_sentences, look_rows
from buildplan.report.embed import drawing
from buildplan.report.sections import words

SETS_THE_DATE_FRAC = 0.5
"""From this share of the outcomes on, an item sets the date."""

DAYS_SHOWN = 10
SIGNS = {"no-go": "stop", "go with these open": "caution", "go": "none"}


def calendar_section(plan: Plan) -> dict[str, Any]:
    """The calendar with its chances, what sets the date, and when to order."""
    calendar = plan.calendar
    if calendar is None:
        return {"shown": False}
    if calendar.finish is None:
        return {
            "shown": True,
            "heading": "No calendar: a print fits no time at which somebody is there",
            "refused": words(calendar.refused),
        }
    return {
        "shown": True,
        "heading": calendar_heading(calendar),
        "refused": "",
        "lines": calendar_lines(calendar),
        "picture": drawing(
            draw_calendar(told_bars(calendar), calendar.finish, calendar.windows), "cal"
        ),
        "days": [_day(row) for row in _days_worth_showing(calendar.finish)],
        "orders": [{"name": line.name, "by": f"{line.by:%a %d %b}"} for line in calendar.orders],
    }


def told_bars(calendar: CalendarPlan) -> list[Bar]:
    """The bars with names as people write them."""
    return [replace(bar, lane=words(bar.lane), task=words(bar.task)) for bar in calendar.bars]


def calendar_heading(calendar: CalendarPlan) -> str:
    """The day by which it is as likely as not done, and the one that 9 in 10 outcomes keep."""
    finish = calendar.finish
    if finish is None:
        return "No calendar"
    usual, late = f"{finish.p50_day:%a %d %b}", f"{finish.p90_day:%a %d %b}"
    if usual == late:
        return f"Done by {usual}, 9 times in 10"
    return f"As likely as not done by {usual}; 9 times in 10 by {late}"


def calendar_lines(calendar: CalendarPlan) -> list[str]:
    """What sets the date, what waits for you, what runs while nobody is there."""
    finish = calendar.finish
    if finish is None:
        return [words(calendar.refused)]
    chain = [item.name for item in finish.items if item.critical_frac >= SETS_THE_DATE_FRAC]
    said = []
    if chain:
        said.append(f"What sets the date: {', then '.join(words(name) for name in chain)}.")
    waits = numbers.num(finish.waiting_h, 0, "h")
    said.append(f"Finished prints wait {waits} in all for somebody to take them off.")
    attendance = calendar.attendance
    if attendance is not None:
        alone = numbers.num(attendance.unattended_h, 0, "h")
        said.append(f"Printers run {alone} while nobody is there, as you have allowed.")
        if attendance.refused:
            said.append(
                f"With somebody always there it cannot be printed so: {words(attendance.refused)}."
            )
        else:
            later = numbers.num(max(attendance.later_p50_h, 0.0) / 24.0, 1, "days")
            said.append(f"With somebody always there it would be done {later} later.")
    return said


def day_words(calendar: CalendarPlan, time_h: float) -> str:
    """The day in which an hour lies, or that it lies beyond the days looked at."""
    if not math.isfinite(time_h) or time_h > float(calendar.windows.day_end_h[-1]):
        return "later than the days looked at"
    return f"{day_at(calendar.windows, time_h):%a %d %b}"


def bad_day_section(plan: Plan) -> list[dict[str, Any]]:
    """The card of each long print: every way to get it, and when to look."""
    return [
        {
            "part": words(one.part),
            "card": card_sentences(one.card, plan.currency),
            "looks": look_rows(one.card),
        }
        for one in plan.ready
    ]


def bad_day_heading(plan: Plan) -> str:
    """What the longest print takes 1 day in 20, against the usual."""
    one = plan.ready[0]
    usual, high = (numbers.num(x, 1, "h") for x in (one.card.day.usual_h, one.card.day.high_h))
    return f"The {words(one.part)} usually takes {usual}; 1 day in 20 over {high}"


def ready_section(plan: Plan) -> list[dict[str, Any]]:
    """One list for each long print."""
    return [_ready(one) for one in plan.ready]


def ready_heading(plan: Plan) -> str:
    """The verdict on the longest print."""
    first = plan.ready[0]
    ready = first.readiness
    hours = numbers.hours(ready.long_print_h)
    verdict = ready.verdict[:1].upper() + ready.verdict[1:]
    return f"{verdict} for the {hours} of the {words(first.part)}"


def _ready(one: ReadyPrint) -> dict[str, Any]:
    ready = one.readiness
    return {
        "part": words(one.part),
        "verdict": ready.verdict,
        "severity": SIGNS[ready.verdict],
        "reason": ready.reason,
        "stops": [
            {"name": words(c.name), "because": c.because, "remedy": c.remedy} for c in ready.stops
        ],
        "lines": [_line(line) for line in ready.lines],
        "hours": (
            f"Expected hours lost on this print: {numbers.num(ready.untested_h, 1, 'h')} untested, "
            f"{numbers.num(ready.tested_h, 1, 'h')} with the list, of which "
            f"{numbers.num(ready.tests_h, 1, 'h')} are the tests."
        ),
    }


def _line(line: ReadinessLine) -> dict[str, Any]:
    claim = line.claim
    return {
        "band": line.band,
        "name": words(claim.name),
        "evidence": claim.evidence,
        "wrong": numbers.num(100.0 * claim.p_wrong_frac, 0),
        "test": words(claim.test.what),
        "text": line.text,
        "quiet": line.band == "skip",
    }


def _days_worth_showing(finish: Finish) -> list[DayChance]:
    """Days between 1 and 99 in 100, and not more than fit one row."""
    rows = [row for row in finish.by_day if 0.01 <= row.chance_frac <= 0.995]
    if len(rows) <= DAYS_SHOWN:
        return rows or list(finish.by_day[-1:])
    step = -(-len(rows) // DAYS_SHOWN)
    return rows[::step]


def _day(row: DayChance) -> dict[str, str]:
    return {"day": f"{row.day:%a %d %b}", "chance": numbers.num(100.0 * row.chance_frac, 0)}
