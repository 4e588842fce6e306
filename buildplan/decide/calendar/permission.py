"""Printing while nobody is there: off until the maker states it for a printer, with a date."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from buildplan.decide.calendar.batch import simulate
from buildplan.decide.calendar.model import Finish, Job, Posterior, Step
from buildplan.decide.calendar.order import schedule
from buildplan.decide.calendar.shape import Unattended
from buildplan.decide.calendar.windows import Windows
from buildplan.errors import NoPlanError
from buildplan.findings import Finding, Place
from buildplan.tables.cautions import Caution, caution

STATED_D = 365
"""Days after which a statement must be made anew. Source: ours; alarms are tried once a year."""

LOOKED_AT = {
    "smoke_alarm": "a smoke alarm in the room that was tried and is heard where people are",
    "supply": "a supply that its makers allow, with sound leads and plugs",
    "clear_bench": "nothing that burns on, over or beside the bench",
}
"""What a statement says, by its key. Source: common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attendance:
    """What printing unattended is worth.

    Attributes:
        unattended_h: Mean hours of printing while nobody is there, as planned.
        later_p50_h, later_p90_h: How much later everything ends when somebody is always there;
            0 where refused is not empty.
        refused: Why it cannot be printed so at all, or empty.
    """

    unattended_h: float
    later_p50_h: float
    later_p90_h: float
    refused: str


def may_run_alone(statements: Sequence[Unattended], today: date) -> tuple[str, ...]:
    """Printers with a statement that is whole, not of the future and not over a year old."""
    return tuple(row.printer for row in statements if not _lacks(row, today))


def permission_findings(
    statements: Sequence[Unattended], today: date
) -> tuple[tuple[Finding, ...], tuple[Caution, ...]]:
    """A stop for every statement that does not hold, and the caution for those that do."""
    findings, cautions = [], []
    for row in statements:
        lacks = _lacks(row, today)
        if lacks:
            findings.append(
                Finding(
                    check="unattended",
                    severity="stop",
                    what=f"{row.printer} is not planned to run alone: {lacks[0]}",
                    where=Place(text=f"[[unattended]] of {row.printer}"),
                    measured="; ".join(lacks),
                    required=f"all three looked at, within the last {STATED_D} days",
                    remedy="look at them and write down the day, or print while somebody is there",
                    source="common practice",
                )
            )
        else:
            trigger = f"{row.printer} may run while nobody is there, stated {row.stated}"
            cautions.append(caution("printing", trigger))
    return tuple(findings), tuple(cautions)


def attended_jobs(jobs: tuple[Job, ...], alone: Sequence[str]) -> tuple[Job, ...]:
    """The prints as they may run: alone only on printers that are allowed to.

    A print that may go to both kinds stays on those that may run alone; one without any must lie
    wholly in an attended window.
    """
    made = []
    for job in jobs:
        free = tuple(name for name in job.printers if name in alone)
        made.append(replace(job, printers=free) if free else replace(job, attended_only=True))
    return tuple(made)


def longest_print_h(job: Job, windows: Windows) -> float:
    """The longest print that fits a window with the set-up and removal of a job."""
    return max(windows.longest_h - job.set_up_h - job.removal_h, 0.0)


def check_attended(jobs: tuple[Job, ...], windows: Windows) -> None:
    """Refuse prints that must be watched and fit no window.

    Raises:
        NoPlanError: With the print, its hours and what fits.
    """
    for job in jobs:
        most = longest_print_h(job, windows)
        if job.attended_only and job.print_h > most:
            pieces = (
                f"in {-int(-job.print_h // most)} pieces or more" if most > 0.0 else "elsewhere"
            )
            raise NoPlanError(
                f"{job.name!r} takes {job.print_h:.1f} h and nobody is there so long: longest "
                f"window {windows.longest_h:.1f} h minus set-up {60.0 * job.set_up_h:.0f} min and "
                f"removal {60.0 * job.removal_h:.0f} min leaves {most:.1f} h; print it {pieces}, "
                "widen [attended], or state [[unattended]] for the printer"
            )


def worth_of_running_alone(  # noqa: PLR0913 (as simulate)
    jobs: tuple[Job, ...],
    steps: tuple[Step, ...],
    windows: Windows,
    printers: tuple[str, ...],
    planned: Finish,
    draws: int = 10_000,
    seed: int = 0,
    posterior: Posterior | None = None,
) -> Attendance:
    """Hours unattended, and what it would cost to print only while somebody is there."""
    watched = tuple(replace(job, attended_only=True) for job in jobs)
    try:
        check_attended(watched, windows)
        order = schedule(watched, steps, windows, printers, seed)
        other = simulate(watched, steps, windows, printers, order, draws, seed, posterior)
    except NoPlanError as error:
        return Attendance(
            unattended_h=planned.unattended_h, later_p50_h=0.0, later_p90_h=0.0, refused=str(error)
        )
    return Attendance(
        unattended_h=planned.unattended_h,
        later_p50_h=other.p50_h - planned.p50_h,
        later_p90_h=other.p90_h - planned.p90_h,
        refused="",
    )


def _lacks(row: Unattended, today: date) -> tuple[str, ...]:
    """What a statement lacks, in words."""
    lacks = [f"not stated: {text}" for key, text in LOOKED_AT.items() if not getattr(row, key)]
    age = (today - date.fromisoformat(row.stated)).days
    if age < 0:
        lacks.append(f"stated {row.stated}, which is still to come")
    if age > STATED_D:
        lacks.append(f"stated {row.stated}, {age} days ago")
    return tuple(lacks)
