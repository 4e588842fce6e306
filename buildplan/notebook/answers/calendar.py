"""When it is done: calendar, chance by each day, what sets the date, files to take along."""

from pathlib import Path

from buildplan.build import Build
from buildplan.files import write_whole
from buildplan.notebook.answers.answer import Answer, figure, not_asked, sentences, table
from buildplan.notebook.answers.memory import current, plan_of
from buildplan.plan.model import CalendarPlan
from buildplan.report import numbers
from buildplan.report.calendar_picture import draw_calendar
from buildplan.report.calendar_section import (
    SETS_THE_DATE_FRAC,
    calendar_heading,
    calendar_lines,
    told_bars,
)
from buildplan.report.embed import bar
from buildplan.report.files import bill_csv, calendar_ics
from buildplan.report.sections import words
from buildplan.report.workbook import workbook_bytes

OUT = "out"
BAR_PX = 220
ITEMS_SHOWN = 8
DAYS_SHOWN = 21
MOST_FRAC = 0.995
"""Days that are as good as sure say no more."""

ADD = (
    "[attended]",
    'first_day = "2031-03-17"',
    'times = [{ days = ["Sat", "Sun"], start = "08:00", end = "23:00" }]',
)


def show_calendar(build: Build) -> Answer:
    """The usual course of all prints, deliveries and own work, with one person for everything."""
    plan = plan_of(build)
    if plan.calendar is None:
        return _no_hours()
    if plan.calendar.finish is None:
        return _refused(plan.calendar)
    found = plan.calendar
    drawn = draw_calendar(told_bars(found), plan.calendar.finish, found.windows)
    caption = (
        "The usual course, with one person for everything. A marked task sets the date in more "
        "than half of all outcomes."
    )
    return Answer(
        heading=calendar_heading(found),
        html=figure(drawn, "calendar", caption) + sentences(calendar_lines(found)),
    )


def show_chances(build: Build) -> Answer:
    """Chance that all is finished by the end of each day, and what sets the date."""
    plan = plan_of(build)
    calendar = plan.calendar
    if calendar is None:
        return _no_hours()
    if calendar.finish is None:
        return _refused(calendar)
    known = [row for row in calendar.finish.by_day if 0.01 <= row.chance_frac <= MOST_FRAC]
    shown = (known or list(calendar.finish.by_day[-1:]))[:DAYS_SHOWN]
    days = [
        {
            "day": f"{row.day:%a %d %b}",
            "bar": bar(100.0 * row.chance_frac, 100.0, BAR_PX),
            "chance": numbers.num(100.0 * row.chance_frac, 0),
        }
        for row in shown
    ]
    html = table(
        (
            ("day", "done by the end of", ""),
            ("bar", "", ""),
            ("chance", "times in 100", ""),
        ),
        days,
        right=("chance",),
    )
    items = sorted(calendar.finish.items, key=lambda item: -item.critical_frac)
    setting = [item for item in items if item.critical_frac > 0.005][:ITEMS_SHOWN]
    html += "<h3>What sets the date</h3>" + table(
        (
            ("name", "print, delivery or step", ""),
            ("bar", "", ""),
            ("share", "holds it up, times in 100", ""),
            ("tries", "tries on average", ""),
        ),
        [
            {
                "name": words(item.name),
                "bar": bar(100.0 * item.critical_frac, 100.0, BAR_PX),
                "share": numbers.num(100.0 * item.critical_frac, 0),
                "tries": numbers.num(item.tries, 2),
                "pick": item.critical_frac >= SETS_THE_DATE_FRAC,
            }
            for item in setting
        ],
        right=("share", "tries"),
    )
    finish = calendar.finish
    usual, late = f"{finish.p50_day:%a %d %b}", f"{finish.p90_day:%a %d %b}"
    return Answer(heading=f"Half of all outcomes end by {usual}, 9 in 10 by {late}", html=html)


def write_files(build: Build, folder: str | Path = "") -> Answer:
    """The workbook, the bill and the dates as files; the same plan writes the same bytes.

    Args:
        build: Whose plan is written.
        folder: Where; left out, "out" beside the build file.

    Raises:
        OutputError: A file cannot be written.
    """
    now, plan = current(build), plan_of(build)
    target = (Path(folder).expanduser() if str(folder) else now.path.parent / OUT).absolute()
    made = [
        (write_whole(target / "plan.xlsx", workbook_bytes(plan)), "the plan as a workbook"),
        (
            write_whole(target / "bill.csv", bill_csv(plan.bill, plan.currency)),
            "the bill as a table",
        ),
    ]
    if plan.calendar is not None and plan.calendar.bars:
        dates = calendar_ics(plan, plan.calendar)
        about = "set-ups and order-by days, for the calendar on your telephone"
        made.append((write_whole(target / "calendar.ics", dates), about))
    rows = [
        {
            "file": str(path),
            "about": about,
            "size": numbers.num(path.stat().st_size / 1000.0, 1),
        }
        for path, about in made
    ]
    html = table(
        (("file", "file", ""), ("about", "what it is", ""), ("size", "size", "kB")),
        rows,
        right=("size",),
    )
    if plan.calendar is None:
        html += sentences(["Without [attended] in the build file there are no dates to write."])
    return Answer(
        heading=f"{numbers.count(len(made), 'file')} written into {target}",
        html=html,
        severity="ok",
    )


def _no_hours() -> Answer:
    return not_asked("No calendar: the build file does not say when you are there", ADD)


def _refused(calendar: CalendarPlan) -> Answer:
    return Answer(
        heading="No calendar: a print fits no time at which somebody is there",
        html=sentences([words(calendar.refused)]),
        severity="stop",
    )
