"""The print log on the command line: start, done, failed, list, learn, check, and its copies."""

import math
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from buildplan.build import Build
    from buildplan.journal import LoggedPrint, PrintLog

log_app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="The print log of a build: what was promised, what happened, what it teaches.",
)

LATE_TIMES = 2.0
"""A clock that says more than this many times the promise was read long after the end (ours)."""

BuildArgument = Annotated[Path, typer.Argument(help="The build file (build.toml).")]
Number = Annotated[
    int | None, typer.Argument(help="Number of the print; left out, the only one that runs.")
]
Hours = Annotated[
    float | None, typer.Option(min=0.0, help="Hours it ran; left out, the clock since its start.")
]
Grams = Annotated[float | None, typer.Option(min=0.0, help="What it weighs on a kitchen scale.")]
Note = Annotated[str, typer.Option(help="Anything worth remembering.")]
At = Annotated[str, typer.Option(help="When, as 2031-02-03 or 2031-02-03T18:20:00Z. [now]")]


@log_app.command()
def start(
    build_file: BuildArgument,
    part: Annotated[str, typer.Argument(help="Name of a part in it.")],
    printer: Annotated[str, typer.Option(help="Which printer; left out, the plan's choice.")] = "",
    piece: Annotated[int, typer.Option(min=1, help="Number of the piece of a split part.")] = 1,
    mesh: Annotated[
        Path | None, typer.Option(help="Mesh of that piece, as `buildplan split` wrote it.")
    ] = None,
    at: At = "",
) -> None:
    """Write down that a print was started, and what is promised of it."""
    from dataclasses import replace

    import buildplan as bp
    from buildplan.errors import InputError
    from buildplan.journal import attempt_of, clean_utc, new_uid, now_utc, record_start
    from buildplan.plan import promise_print
    from buildplan.report.journal_text import print_recorded, print_started
    from buildplan.report.terminal import console

    if piece > 1 and mesh is None:
        raise InputError(
            f"--piece {piece} without its mesh: the hours of a piece follow from its own mesh; "
            "name the file that `buildplan split --out` wrote with --mesh"
        )
    build = bp.load_build(build_file)
    path = _log_of(build)
    promised = promise_print(build, part, printer, mesh=mesh)
    begun = clean_utc(at, "start") if at else now_utc()
    attempt = replace(
        attempt_of(promised.raw, uid=new_uid(), started_utc=begun, piece=piece),
        part=part,
        printer=promised.printer.name,
        mesh_sha256=promised.mesh_sha256,
        estimator=_version(),
    )
    number = record_start(path, attempt)
    what = part if piece == 1 else f"piece {piece} of {part}"
    print_recorded(console(), path, number, f"{what} on {attempt.printer} has begun")
    print_started(console(), promised.learned, begun, promised.basis)


@log_app.command()
def done(
    build_file: BuildArgument,
    number: Number = None,
    hours: Hours = None,
    grams: Grams = None,
    size_mm: Annotated[
        tuple[float, float, float] | None,
        typer.Option("--size-mm", help="Measured width, depth and height of the print."),
    ] = None,
    note: Note = "",
    at: At = "",
) -> None:
    """Write down that a print is done, and hold it against what was promised."""
    from buildplan.report.terminal import console

    build, path, item = _print_of(build_file, number)
    moment = _end_of(at)
    ran = hours if hours is not None else _since(item, moment, given=bool(at))
    said = _accepted(build, item, ran, grams, size_mm)
    text = "; ".join([*([note] if note else []), *(one.text for one in said)])
    _end(path, item, "done", hours=ran, grams=grams, note=text, at=moment)
    from buildplan.report.journal_text import print_acceptance

    print_acceptance(console(), said)


@log_app.command()
def failed(
    build_file: BuildArgument,
    number: Number = None,
    cause: Annotated[str, typer.Option(help="Why it failed; `--cause help` lists them.")] = "",
    hours: Hours = None,
    grams: Grams = None,
    note: Note = "",
    at: At = "",
) -> None:
    """Write down that a print failed, why, and after how many hours."""
    from buildplan.errors import InputError
    from buildplan.journal import CAUSES

    if cause == "help":
        typer.echo("\n".join(CAUSES))
        return
    if cause not in CAUSES:
        raise InputError(f"--cause {cause or 'is missing'}; one of: {', '.join(CAUSES)}")
    _, path, item = _print_of(build_file, number)
    _end(path, item, "failed", hours=hours, grams=grams, note=note, at=at, cause=cause)


@log_app.command()
def stopped(
    build_file: BuildArgument,
    number: Number = None,
    hours: Hours = None,
    note: Note = "",
    at: At = "",
) -> None:
    """Write down that you stopped a print yourself; it does not count as a failure."""
    _, path, item = _print_of(build_file, number)
    _end(path, item, "aborted", hours=hours, grams=None, note=note, at=at, cause="user")


@log_app.command()
def void(build_file: BuildArgument, number: int, note: Note = "") -> None:
    """Take back an entry that was a mistake; it stays in the file and counts for nothing."""
    _, path, item = _print_of(build_file, number)
    _end(path, item, "void", hours=None, grams=None, note=note, at="")


@log_app.command()
def changed(
    build_file: BuildArgument,
    printer: Annotated[str, typer.Argument(help="Which printer.")],
    feedstock: Annotated[str, typer.Option(help="A new batch of it; left out, a nozzle.")] = "",
    note: Note = "",
    at: At = "",
) -> None:
    """Write down a new nozzle or a new batch: older prints then say less about the next."""
    import buildplan as bp
    from buildplan.journal import clean_utc, machine_change, now_utc, record_change
    from buildplan.report.journal_text import print_recorded
    from buildplan.report.terminal import console

    build = bp.load_build(build_file)
    path, row = _log_of(build), _printer(build, printer)
    moment = clean_utc(at, "change") if at else now_utc()
    kind: Any = "feedstock" if feedstock else "nozzle"
    change = machine_change(kind, row.name, moment, feedstock=feedstock, note=note)
    number = record_change(path, change)
    print_recorded(console(), path, number, f"new {feedstock or 'nozzle'} on {row.name}", "change")


@log_app.command("list")
def list_prints(
    build_file: BuildArgument,
    last: Annotated[int, typer.Option(min=1, help="How many, the newest.")] = 30,
) -> None:
    """The prints of a log, oldest first, and those that still run."""
    from buildplan.report.journal_text import print_log
    from buildplan.report.terminal import console

    print_log(console(), _read(_built(build_file)), last)


@log_app.command()
def learn(build_file: BuildArgument) -> None:
    """What the log teaches: hours, grams and failures for every printer and feedstock."""
    from buildplan.journal import fit_failures, tally_log
    from buildplan.journal import learn as learn_from
    from buildplan.report.journal_text import print_learned
    from buildplan.report.terminal import console

    log = _read(_built(build_file))
    print_learned(console(), log, learn_from(log), fit_failures(tally_log(log)))


@log_app.command()
def check(build_file: BuildArgument) -> None:
    """Whether every row of the log is as it was written."""
    from buildplan.journal import check_log
    from buildplan.report.journal_text import print_check
    from buildplan.report.terminal import console

    path = _log_of(_built(build_file))
    found = check_log(path)
    print_check(console(), path, found)
    if found.fault:
        raise SystemExit(3)


@log_app.command()
def backup(
    build_file: BuildArgument, to: Annotated[Path, typer.Argument(help="File to write.")]
) -> None:
    """A whole copy of the log, also while a print is being written."""
    from buildplan.journal import back_up
    from buildplan.report import numbers

    copied = back_up(_log_of(_built(build_file)), to)
    rows = numbers.count(copied.rows, "row")
    typer.echo(f"Copied to {to.resolve()}: {rows}, each as it was written.")


@log_app.command()
def export(
    build_file: BuildArgument, to: Annotated[Path, typer.Argument(help="CSV file to write.")]
) -> None:
    """The log as a table for a spreadsheet."""
    from buildplan.journal import write_csv

    typer.echo(f"Wrote {write_csv(_read(_built(build_file)), to)}.")


@log_app.command("import")
def import_table(
    build_file: BuildArgument, table: Annotated[Path, typer.Argument(help="CSV file to read.")]
) -> None:
    """Take a table in; rows that are known already add nothing."""
    from buildplan.journal import take_csv
    from buildplan.report.journal_text import print_taken
    from buildplan.report.terminal import console

    print_taken(console(), table, take_csv(_log_of(_built(build_file)), table))


def _built(build_file: Path) -> "Build":
    import buildplan as bp

    return bp.load_build(build_file)


def _log_of(build: "Build") -> Path:
    """The log's file; a table that the build file names is taken in on first use."""
    from buildplan.journal import take_csv
    from buildplan.plan import log_path, table_path
    from buildplan.report.journal_text import print_taken
    from buildplan.report.terminal import console

    path, table = log_path(build), table_path(build)
    if table is not None and table.exists() and not path.exists():
        print_taken(console(err=True), table, take_csv(path, table))
    return path


def _read(build: "Build") -> "PrintLog":
    from buildplan.journal import read_log

    return read_log(_log_of(build))


def _printer(build: "Build", name: str) -> Any:
    from buildplan.errors import InputError
    from buildplan.tables.rows import find_row
    from buildplan.tables.wording import not_known

    row = find_row({printer.key: printer for printer in build.printers}, name)
    if row is None:
        raise InputError(not_known("printer", name, [one.name for one in build.printers]))
    return row


def _print_of(build_file: Path, number: int | None) -> "tuple[Build, Path, LoggedPrint]":
    """The print that is meant: by its number, or the only one that runs."""
    from buildplan.errors import InputError
    from buildplan.journal import open_prints, read_log

    build = _built(build_file)
    path = _log_of(build)
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


def _end(  # noqa: PLR0913 - what may be said about an end
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
    from buildplan.journal import Outcome, record_outcome
    from buildplan.report.journal_text import print_recorded
    from buildplan.report.terminal import console

    moment = _end_of(at)
    ran = hours if hours is not None or end == "void" else _since(item, moment, given=bool(at))
    outcome = Outcome(end=end, at_utc=moment, ran_h=ran, mass_g=grams, cause=cause, note=note)
    record_outcome(path, item.number, outcome)
    words = {"aborted": "stopped", "void": "taken back"}.get(end, end)
    after = "" if ran is None else f" after {ran:.1f} h"
    print_recorded(console(), path, item.number, f"{item.attempt.part} {words}{after}")


def _end_of(at: str) -> str:
    from buildplan.journal import clean_utc, now_utc

    return clean_utc(at, "end") if at else now_utc()


def _since(item: "LoggedPrint", moment: str, *, given: bool) -> float:
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


def _accepted(
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


def _version() -> str:
    from importlib.metadata import version

    return version("buildplan")
