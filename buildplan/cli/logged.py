"""What the log commands share: which log and which print is meant, and how an end is written."""

import math
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from buildplan.build import Build
    from buildplan.journal import LoggedPrint, PrintLog

LATE_TIMES = 2.0
"""A clock that says more than this many times the promise was read long after the end (ours)."""


def built(build_file: Path) -> "Build":
    """The build a file describes."""
    import buildplan as bp

    return bp.load_build(build_file)


def log_of(build: "Build") -> Path:
    """The log's file; a table that the build file names is taken in on first use."""
    from buildplan.journal import take_csv
    from buildplan.plan import log_path, table_path
    from buildplan.report.journal_text import print_taken
    from buildplan.report.terminal import console

    path, table = log_path(build), table_path(build)
    if table is not None and table.exists() and not path.exists():
        print_taken(console(err=True), table, take_csv(path, table))
    return path


def read(build: "Build") -> "PrintLog":
    """The log of a build."""
    from buildplan.journal import read_log

    return read_log(log_of(build))


def printer_row(build: "Build", name: str) -> Any:
    """A printer of the build by key or name."""
    from buildplan.errors import InputError
    from buildplan.tables.rows import find_row
    from buildplan.tables.wording import not_known

    row = find_row({printer.key: printer for printer in build.printers}, name)
    if row is None:
        raise InputError(not_known("printer", name, [one.name for one in build.printers]))
    return row


def print_of(build_file: Path, number: int | None) -> "tuple[Build, Path, LoggedPrint]":
    """The print that is meant: by its number, or the only one that runs."""
    from buildplan.errors import InputError
    from buildplan.journal import open_prints, read_log

    build = built(build_file)
    path = log_of(build)
    log = read_log(path)
    running = open_prints(log)
    if number is None:
        if len(running) == 1:
            return build, path, running[0]
        names = ", ".join(f"{item.number} ({item.attempt.part})" for item in running)
        raise InputError(
            f"print log: {names} run; say which by its number"
            if running
            else "print log: no print runs; give the number of the print to correct, as "
            "`buildplan log list` shows it"
        )
    found = next((item for item in log.prints if item.number == number), None)
    if found is None:
        known = ", ".join(str(item.number) for item in running) or "none"
        raise InputError(
            f"print log: {path.name} has no print {number}; those that run: {known}; "
            "`buildplan log list` shows all"
        )
    return build, path, found


def write_end(  # noqa: PLR0913 - what may be said about an end
    path: Path,
    item: "LoggedPrint",
    end: Any,
    *,
    hours: float | None,
    grams: float | None,
    note: str,
    at: str,
    cause: str = "",
) -> None:
    """Write down how a print ended; hours left out are those of the clock."""
    from buildplan.journal import Outcome, record_outcome
    from buildplan.report.journal_text import print_recorded
    from buildplan.report.terminal import console

    moment = end_time(at)
    ran = hours if hours is not None or end == "void" else hours_since(item, moment, given=bool(at))
    outcome = Outcome(end=end, at_utc=moment, ran_h=ran, mass_g=grams, cause=cause, note=note)
    record_outcome(path, item.number, outcome)
    words = {"aborted": "stopped", "void": "taken back"}.get(end, end)
    after = "" if ran is None else f" after {ran:.1f} h"
    print_recorded(console(), path, item.number, f"{item.attempt.part} {words}{after}")


def end_time(at: str) -> str:
    """When it ended, in UTC; left out, now."""
    from buildplan.journal import clean_utc, now_utc

    return clean_utc(at, "end") if at else now_utc()


def hours_since(item: "LoggedPrint", moment: str, *, given: bool) -> float:
    """Hours by the clock from the start of a print; a date alone is no clock.

    Raises:
        InputError: The start is a date alone, lies behind the end, or so far before it that the
            end was plainly written down late.
    """
    from buildplan.errors import InputError

    started = item.attempt.started_utc
    hours = math.nan
    if "T" in started and "T" in moment:
        hours = (_moment(moment) - _moment(started)).total_seconds() / 3600.0
    if not hours > 0.0:
        raise InputError(
            f"print {item.number} began at {started} and ended at {moment}: no hours follow from "
            "that; give them with --hours"
        )
    promised = item.attempt.predicted_h
    if not given and hours > LATE_TIMES * promised:
        raise InputError(
            f"print {item.number} began {hours:.1f} h ago and was promised {promised:.1f} h: it "
            "ended before now; give the hours it ran with --hours, or when it ended with --at"
        )
    return hours


def _moment(text: str) -> datetime:
    return datetime.strptime(text, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)


def accepted(
    build: "Build",
    item: "LoggedPrint",
    hours: float | None,
    grams: float | None,
    size_mm: tuple[float, float, float] | None,
) -> Any:
    """What was promised against what is measured."""
    from buildplan.errors import InputError
    from buildplan.journal.accept import accept_print
    from buildplan.part import read_part
    from buildplan.part.turn import turn_part
    from buildplan.plan import read_experience

    drawn = None
    if size_mm is not None and item.attempt.piece > 1:
        raise InputError(
            f"print {item.number} is piece {item.attempt.piece} of {item.attempt.part}: only whole "
            "parts have sizes to hold these against; leave --size-mm out and put them in --note"
        )
    if size_mm is not None:
        request = next((r for r in build.parts if r.name == item.attempt.part), None)
        if request is not None:
            part = read_part(request.path, unit=request.unit, name=request.name, health="quick")
            drawn = turn_part(part, request.orientation).size_mm
    experience = read_experience(build)
    return accept_print(
        item.attempt,
        learned=experience.learned if experience else None,
        names=_keys(build),
        ran_h=hours,
        mass_g=grams,
        size_mm=size_mm,
        drawn_mm=drawn,
    )


def _keys(build: "Build") -> Callable[[str], str]:
    """From a name in the log to the key that the build's rows have."""
    from buildplan.tables.rows import find_row

    def key(name: str) -> str:
        for kind in ("printer", "feedstock"):
            row = find_row(build.tables[kind].rows, name)
            if row is not None:
                return str(row.key)
        return name

    return key


def version_of_estimator() -> str:
    """The version that made the promise, as the log keeps it."""
    from importlib.metadata import version

    return version("buildplan")
