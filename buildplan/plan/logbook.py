"""Writing into the print log of a build: a print that begins, how it ended, what was measured."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

from buildplan.build import Build
from buildplan.errors import InputError
from buildplan.journal import (
    Attempt,
    CsvTaken,
    LoggedPrint,
    PrintLog,
    attempt_of,
    clean_utc,
    learn,
    new_uid,
    now_utc,
    open_prints,
    read_log,
    record_start,
    take_csv,
)
from buildplan.journal.accept import Accepted, accept_print
from buildplan.part import read_part
from buildplan.part.turn import turn_part
from buildplan.plan.learned import (
    PromisedPrint,
    log_path,
    promise_print,
    read_experience,
    table_path,
)
from buildplan.tables.rows import find_row

LATE_TIMES = 2.0
"""A clock that says more than this many times the promise was read long after the end (ours)."""

MANY_S = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BegunPrint:
    """A print that was written down.

    Attributes:
        number: Its number in the log.
        path: The log.
    """

    number: int
    path: Path
    attempt: Attempt
    promised: PromisedPrint


def open_log_of(build: Build) -> tuple[Path, CsvTaken | None]:
    """The log's file; a table that the build file names is taken in on first use.

    Raises:
        InputError: The table cannot be read.
    """
    path, table = log_path(build), table_path(build)
    if table is not None and table.exists() and not path.exists():
        return path, take_csv(path, table)
    return path, None


def attempt_for(
    promised: PromisedPrint, part: str, *, begun_utc: str, piece: int = 1, uid: str = ""
) -> Attempt:
    """What the log keeps of a print: the estimator's own numbers, before anything learned.

    Args:
        promised: As promise_print gives it.
        part: Name of the part.
        begun_utc: When it begins.
        piece: Number of the piece of a split part.
        uid: Its name in every log; a new one where left out.
    """
    made = attempt_of(promised.raw, uid=uid or new_uid(), started_utc=begun_utc, piece=piece)
    return replace(
        made,
        part=part,
        printer=promised.printer.name,
        mesh_sha256=promised.mesh_sha256,
        estimator=version("buildplan"),
    )


def begin_print(
    build: Build,
    part: str,
    printer: str = "",
    *,
    at: str = "",
    piece: int = 1,
    mesh: Path | None = None,
    uid: str = "",
) -> BegunPrint:
    """Write down that a print was started, and what is promised of it.

    Args:
        build: A loaded build.
        part: Name of a part in it.
        printer: Key or name; left out, the plan's choice.
        at: When; left out, now.
        piece: Number of the piece of a split part; its mesh must be given from the second on.
        mesh: Mesh of that piece.
        uid: The same uid twice is one print.

    Raises:
        InputError: As promise_print and record_start, or a piece without its mesh.
    """
    if piece > 1 and mesh is None:
        raise InputError(
            f"--piece {piece} without its mesh: the hours of a piece follow from its own mesh; "
            "name the file that `buildplan split --out` wrote with --mesh"
        )
    path, _ = open_log_of(build)
    promised = promise_print(build, part, printer, mesh=mesh)
    begun = clean_utc(at, "start") if at else now_utc()
    attempt = attempt_for(promised, part, begun_utc=begun, piece=piece, uid=uid)
    return BegunPrint(
        number=record_start(path, attempt), path=path, attempt=attempt, promised=promised
    )


def print_of_log(path: Path, number: int | None) -> LoggedPrint:
    """The print that is meant: by its number, or the only one that runs.

    Raises:
        InputError: None runs, several run, or the log has no such print.
    """
    log: PrintLog = read_log(path)
    running = open_prints(log)
    if number is None:
        if len(running) == 1:
            return running[0]
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
    return found


def end_time(at: str) -> str:
    """When it ended, in UTC; left out, now.

    Raises:
        InputError: It is no date.
    """
    return clean_utc(at, "end") if at else now_utc()


def hours_since(item: LoggedPrint, moment: str, *, given: bool) -> float:
    """Hours by the clock from the start of a print; a date alone is no clock.

    Args:
        item: The print.
        moment: When it ended, in UTC.
        given: Whether somebody said when; else the moment is now.

    Raises:
        InputError: The start is a date alone, lies behind the end, or so far before it that the
            end was plainly written down late.
    """
    started = item.attempt.started_utc
    hours = math.nan
    if "T" in started and "T" in moment:
        hours = (moment_of(moment) - moment_of(started)).total_seconds() / MANY_S
    if not hours > 0.0:
        raise InputError(
            f"print {item.number} began at {started} and ended at {moment}: no hours follow from "
            "that; give the hours it ran"
        )
    promised = item.attempt.predicted_h
    if not given and hours > LATE_TIMES * promised:
        raise InputError(
            f"print {item.number} began {hours:.1f} h ago and was promised {promised:.1f} h: it "
            "ended before now; give the hours it ran, or when it ended"
        )
    return hours


def moment_of(text: str) -> datetime:
    """A moment as the log writes it."""
    return datetime.strptime(text, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)


def hold_against(
    build: Build,
    item: LoggedPrint,
    hours: float | None,
    grams: float | None,
    size_mm: tuple[float, float, float] | None,
) -> tuple[Accepted, ...]:
    """What was promised against what is measured; what is not measured is left out.

    What the print itself has taught since does not count.

    Raises:
        InputError: Sizes of a piece, or the part cannot be read.
    """
    drawn = None
    if size_mm is not None and item.attempt.piece > 1:
        raise InputError(
            f"print {item.number} is piece {item.attempt.piece} of {item.attempt.part}: only whole "
            "parts have sizes to hold these against; leave the sizes out and put them in the note"
        )
    if size_mm is not None:
        request = next((r for r in build.parts if r.name == item.attempt.part), None)
        if request is not None:
            part = read_part(request.path, unit=request.unit, name=request.name, health="quick")
            drawn = turn_part(part, request.orientation).size_mm
    experience = read_experience(build)
    learned = None
    if experience is not None:
        others = [one for one in experience.log.prints if one.attempt.uid != item.attempt.uid]
        learned = learn(replace(experience.log, prints=tuple(others)))
    return accept_print(
        item.attempt,
        learned=learned,
        names=_keys(build),
        ran_h=hours,
        mass_g=grams,
        size_mm=size_mm,
        drawn_mm=drawn,
    )


def _keys(build: Build) -> Callable[[str], str]:
    """From a name in the log to the key that the build's rows have."""

    def key(name: str) -> str:
        for kind in ("printer", "feedstock"):
            row = find_row(build.tables[kind].rows, name)
            if row is not None:
                return str(row.key)
        return name

    return key
