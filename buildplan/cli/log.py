"""The print log on the command line: start, done, failed, list, learn, check, and its copies."""

from pathlib import Path
from typing import Annotated, Any

import typer

from buildplan.cli.logged import built, log_of, print_of, printer_row, read, write_end

log_app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="The print log of a build: what was promised, what happened, what it teaches.",
)

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
    from buildplan.plan.logbook import begin_print
    from buildplan.report.journal_text import print_recorded, print_started
    from buildplan.report.terminal import console

    build = built(build_file)
    log_of(build)
    begun = begin_print(build, part, printer, at=at, piece=piece, mesh=mesh)
    what = part if piece == 1 else f"piece {piece} of {part}"
    said = f"{what} on {begun.attempt.printer} has begun"
    print_recorded(console(), begun.path, begun.number, said)
    promised = begun.promised
    print_started(console(), promised.learned, begun.attempt.started_utc, promised.basis)


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
    from buildplan.plan.logbook import end_time, hold_against, hours_since
    from buildplan.report.terminal import console

    build, path, item = print_of(build_file, number)
    moment = end_time(at)
    ran = hours if hours is not None else hours_since(item, moment, given=bool(at))
    said = hold_against(build, item, ran, grams, size_mm)
    text = "; ".join([*([note] if note else []), *(one.text for one in said)])
    write_end(path, item, "done", hours=ran, grams=grams, note=text, at=moment)
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
    _, path, item = print_of(build_file, number)
    write_end(path, item, "failed", hours=hours, grams=grams, note=note, at=at, cause=cause)


@log_app.command()
def stopped(
    build_file: BuildArgument,
    number: Number = None,
    hours: Hours = None,
    note: Note = "",
    at: At = "",
) -> None:
    """Write down that you stopped a print yourself; it does not count as a failure."""
    _, path, item = print_of(build_file, number)
    write_end(path, item, "aborted", hours=hours, grams=None, note=note, at=at, cause="user")


@log_app.command()
def void(build_file: BuildArgument, number: int, note: Note = "") -> None:
    """Take back an entry that was a mistake; it stays in the file and counts for nothing."""
    _, path, item = print_of(build_file, number)
    write_end(path, item, "void", hours=None, grams=None, note=note, at="")


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
    path, row = log_of(build), printer_row(build, printer)
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

    print_log(console(), read(built(build_file)), last)


@log_app.command()
def learn(build_file: BuildArgument) -> None:
    """What the log teaches: hours, grams and failures for every printer and feedstock."""
    from buildplan.journal import fit_failures, tally_log
    from buildplan.journal import learn as learn_from
    from buildplan.report.journal_text import print_learned
    from buildplan.report.terminal import console

    log = read(built(build_file))
    print_learned(console(), log, learn_from(log), fit_failures(tally_log(log)))


@log_app.command()
def check(build_file: BuildArgument) -> None:
    """Whether every row of the log is as it was written."""
    from buildplan.journal import check_log
    from buildplan.report.journal_text import print_check
    from buildplan.report.terminal import console

    path = log_of(built(build_file))
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

    copied = back_up(log_of(built(build_file)), to)
    rows = numbers.count(copied.rows, "row")
    typer.echo(f"Copied to {to.resolve()}: {rows}, each as it was written.")


@log_app.command()
def export(
    build_file: BuildArgument, to: Annotated[Path, typer.Argument(help="CSV file to write.")]
) -> None:
    """The log as a table for a spreadsheet."""
    from buildplan.journal import write_csv

    typer.echo(f"Wrote {write_csv(read(built(build_file)), to)}.")


@log_app.command("import")
def import_table(
    build_file: BuildArgument, table: Annotated[Path, typer.Argument(help="CSV file to read.")]
) -> None:
    """Take a table in; rows that are known already add nothing."""
    from buildplan.journal import take_csv
    from buildplan.report.journal_text import print_taken
    from buildplan.report.terminal import console

    print_taken(console(), table, take_csv(log_of(built(build_file)), table))
