"""Writing to and reading from the print log."""

import sqlite3
import uuid
from pathlib import Path

from buildplan.errors import InputError
from buildplan.journal.model import (
    CHANGES,
    Attempt,
    Change,
    LoggedPrint,
    MachineChange,
    Outcome,
    PrintLog,
    check_attempt,
    check_outcome,
    check_text,
    clean_utc,
)
from buildplan.journal.store import append, open_log, writing


def new_uid() -> str:
    """A name for an attempt that no other log uses."""
    return uuid.uuid4().hex


def record_start(path: Path, attempt: Attempt) -> int:
    """Write that a print was started; gives its number. On the disk when this returns.

    The same uid twice is one attempt: the number of the first is given.

    Raises:
        InputError: The attempt cannot be, or the file cannot be written.
    """
    check_attempt(attempt)
    with open_log(path) as log, writing(log):
        return add_attempt(log, attempt)


def record_outcome(path: Path, number: int, outcome: Outcome) -> int:
    """Write what happened to print ``number``; gives the number of the new row.

    A second outcome corrects the first; both stay in the file.

    Raises:
        InputError: There is no such print, the outcome cannot be, or the file cannot be written.
    """
    check_outcome(outcome)
    with open_log(path) as log, writing(log):
        found = log.execute("SELECT 1 FROM attempt WHERE seq = ?", (number,)).fetchone()
        if not found:
            raise InputError(
                f"print log: {path} has no print {number}; `buildplan log list` shows the numbers"
            )
        return add_outcome(log, number, outcome)


def record_change(path: Path, change: MachineChange) -> int:
    """Write that a nozzle or a feedstock was changed; gives the row's number.

    Raises:
        InputError: Unknown kind, no printer, no feedstock where one is needed, no date.
    """
    check_change(change)
    with open_log(path) as log, writing(log):
        return add_change(log, change)


def machine_change(
    kind: Change, printer: str, at_utc: str, *, feedstock: str = "", note: str = ""
) -> MachineChange:
    """A change as record_change takes it (its number comes with the writing)."""
    return MachineChange(
        number=0,
        uid=new_uid(),
        at_utc=at_utc,
        kind=kind,
        printer=printer,
        feedstock=feedstock,
        note=note,
    )


def read_log(path: Path) -> PrintLog:
    """All prints with their latest outcome, and all changes, as written.

    Raises:
        InputError: There is no such file, or it cannot be read.
    """
    with open_log(path, read_only=True) as log:
        # one transaction, so that prints and changes are of the same moment
        log.execute("BEGIN")
        try:
            return read_all(log)
        finally:
            log.execute("ROLLBACK")


def open_prints(log: PrintLog) -> tuple[LoggedPrint, ...]:
    """Prints that were started and have no end yet."""
    return tuple(p for p in log.prints if p.outcome is None or p.outcome.end == "running")


def add_attempt(log: sqlite3.Connection, attempt: Attempt) -> int:
    """record_start inside a transaction that is already open."""
    same = log.execute("SELECT seq FROM attempt WHERE uid = ?", (attempt.uid,)).fetchone()
    if same:
        return int(same[0])
    grams, walls = attempt.predicted_g, attempt.walls_frac
    return append(
        log,
        "attempt",
        {
            "uid": attempt.uid,
            "started_utc": attempt.started_utc,
            "part": attempt.part,
            "piece": attempt.piece,
            "printer": attempt.printer,
            "feedstock": attempt.feedstock,
            "recipe": attempt.recipe,
            "predicted_h": float(attempt.predicted_h),
            "predicted_g": None if grams is None else float(grams),
            "walls_frac": None if walls is None else float(walls),
            "mesh_sha256": attempt.mesh_sha256,
            "estimator": attempt.estimator,
        },
    )


def add_outcome(log: sqlite3.Connection, number: int, outcome: Outcome) -> int:
    """record_outcome inside a transaction that is already open."""
    return append(
        log,
        "event",
        {
            "uid": new_uid(),
            "attempt": number,
            "at_utc": outcome.at_utc,
            "kind": outcome.end,
            "ran_h": None if outcome.ran_h is None else float(outcome.ran_h),
            "mass_g": None if outcome.mass_g is None else float(outcome.mass_g),
            "cause": outcome.cause,
            "printer": "",
            "feedstock": "",
            "note": outcome.note,
        },
    )


def add_change(log: sqlite3.Connection, change: MachineChange) -> int:
    """record_change inside a transaction that is already open; the same uid twice is one row."""
    same = log.execute("SELECT seq FROM event WHERE uid = ?", (change.uid,)).fetchone()
    if same:
        return int(same[0])
    return append(
        log,
        "event",
        {
            "uid": change.uid,
            "attempt": None,
            "at_utc": change.at_utc,
            "kind": change.kind,
            "ran_h": None,
            "mass_g": None,
            "cause": "",
            "printer": change.printer,
            "feedstock": change.feedstock,
            "note": change.note,
        },
    )


def check_change(change: MachineChange) -> None:
    """Refuse a change that cannot be.

    Raises:
        InputError: As record_change.
    """
    if change.kind not in CHANGES:
        raise InputError(f"print log: change {change.kind!r} found; allowed: {', '.join(CHANGES)}")
    if not change.printer.strip():
        raise InputError(f"print log: a changed {change.kind} needs the printer's name")
    if change.kind == "feedstock" and not change.feedstock.strip():
        raise InputError("print log: a changed feedstock needs its name")
    if clean_utc(change.at_utc, "changed") != change.at_utc:
        raise InputError(f"print log, changed: {change.at_utc!r} must be put in UTC first")
    for what in ("uid", "printer", "feedstock", "note"):
        check_text(getattr(change, what), what)


def read_all(log: sqlite3.Connection) -> PrintLog:
    """read_log over an open connection."""
    latest: dict[int, Outcome] = {}
    for number, at, kind, ran_h, mass_g, cause, note in log.execute(
        "SELECT attempt, at_utc, kind, ran_h, mass_g, cause, note FROM event "
        "WHERE attempt IS NOT NULL ORDER BY seq"
    ):
        latest[number] = Outcome(
            end=kind, at_utc=at, ran_h=ran_h, mass_g=mass_g, cause=cause, note=note
        )
    prints = tuple(
        LoggedPrint(
            number=row[0],
            attempt=Attempt(
                uid=row[1],
                started_utc=row[2],
                part=row[3],
                piece=row[4],
                printer=row[5],
                feedstock=row[6],
                recipe=row[7],
                predicted_h=row[8],
                predicted_g=row[9],
                walls_frac=row[10],
                mesh_sha256=row[11],
                estimator=row[12],
            ),
            outcome=latest.get(row[0]),
        )
        for row in log.execute(
            "SELECT seq, uid, started_utc, part, piece, printer, feedstock, recipe, predicted_h, "
            "predicted_g, walls_frac, mesh_sha256, estimator FROM attempt ORDER BY seq"
        )
    )
    changes = tuple(
        MachineChange(
            number=row[0],
            uid=row[1],
            at_utc=row[2],
            kind=row[3],
            printer=row[4],
            feedstock=row[5],
            note=row[6],
        )
        for row in log.execute(
            "SELECT seq, uid, at_utc, kind, printer, feedstock, note FROM event "
            "WHERE attempt IS NULL ORDER BY seq"
        )
    )
    return PrintLog(prints=prints, changes=changes)
