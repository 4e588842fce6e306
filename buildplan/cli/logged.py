"""What the log commands share: which log and which print is meant, and how an end is written."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from buildplan.build import Build
    from buildplan.journal import LoggedPrint, PrintLog


def built(build_file: Path) -> "Build":
    """The build a file describes."""
    import buildplan as bp

    return bp.load_build(build_file)


def log_of(build: "Build") -> Path:
    """The log's file; a table that the build file names is taken in on first use."""
    from buildplan.plan import table_path
    from buildplan.plan.logbook import open_log_of
    from buildplan.report.journal_text import print_taken
    from buildplan.report.terminal import console

    path, taken = open_log_of(build)
    table = table_path(build)
    if taken is not None and table is not None:
        print_taken(console(err=True), table, taken)
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
    from buildplan.plan.logbook import print_of_log

    build = built(build_file)
    path = log_of(build)
    return build, path, print_of_log(path, number)


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
    from buildplan.plan.logbook import end_time, hours_since
    from buildplan.report.journal_text import print_recorded
    from buildplan.report.terminal import console

    moment = end_time(at)
    ran = hours if hours is not None or end == "void" else hours_since(item, moment, given=bool(at))
    outcome = Outcome(end=end, at_utc=moment, ran_h=ran, mass_g=grams, cause=cause, note=note)
    record_outcome(path, item.number, outcome)
    words = {"aborted": "stopped", "void": "taken back"}.get(end, end)
    after = "" if ran is None else f" after {ran:.1f} h"
    print_recorded(console(), path, item.number, f"{item.attempt.part} {words}{after}")
