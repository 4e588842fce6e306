"""The calendar: when somebody is there, when all is finished, in which order, when to set up."""

from buildplan.decide.calendar.batch import simulate
from buildplan.decide.calendar.criticality import Hold, HoldKind, what_holds_up
from buildplan.decide.calendar.export import OrderLine, ics_text, order_by
from buildplan.decide.calendar.model import (
    Bar,
    DayChance,
    Finish,
    ItemShare,
    Job,
    Outcome,
    Posterior,
    Step,
)
from buildplan.decide.calendar.order import schedule
from buildplan.decide.calendar.permission import (
    Attendance,
    attended_jobs,
    check_attended,
    longest_print_h,
    may_run_alone,
    permission_findings,
    worth_of_running_alone,
)
from buildplan.decide.calendar.picks import simulator_for
from buildplan.decide.calendar.replay import Luck, bars, draw_luck, replay
from buildplan.decide.calendar.shape import (
    Attended,
    Times,
    Unattended,
    read_attended,
    read_unattended,
)
from buildplan.decide.calendar.windows import Windows, day_at, make_windows, moment_at

__all__ = [
    "Attendance",
    "Attended",
    "Bar",
    "DayChance",
    "Finish",
    "Hold",
    "HoldKind",
    "ItemShare",
    "Job",
    "Luck",
    "OrderLine",
    "Outcome",
    "Posterior",
    "Step",
    "Times",
    "Unattended",
    "Windows",
    "attended_jobs",
    "bars",
    "check_attended",
    "day_at",
    "draw_luck",
    "ics_text",
    "longest_print_h",
    "make_windows",
    "may_run_alone",
    "moment_at",
    "order_by",
    "permission_findings",
    "read_attended",
    "read_unattended",
    "replay",
    "schedule",
    "simulate",
    "simulator_for",
    "what_holds_up",
    "worth_of_running_alone",
]
