"""The print log as a table for spreadsheets, out and in again without loss.

UTF-8 with a byte-order mark, one row a print with its latest outcome, one row a changed nozzle or
feedstock. A text that a spreadsheet could take for a formula gets a leading apostrophe; reading
takes exactly one away. Lines that begin with # before the header are remarks.
"""

import csv
import hashlib
import io
import sqlite3
from dataclasses import dataclass
from pathlib import Path

from buildplan.errors import InputError
from buildplan.files import write_whole
from buildplan.journal.model import (
    Attempt,
    LoggedPrint,
    MachineChange,
    Outcome,
    PrintLog,
    check_attempt,
    check_outcome,
    clean_utc,
)
from buildplan.journal.record import (
    add_attempt,
    add_change,
    add_outcome,
    check_change,
    read_all,
)
from buildplan.journal.store import open_log, writing

COLUMNS = (
    "uid",
    "started",
    "part",
    "piece",
    "printer",
    "feedstock",
    "recipe",
    "predicted_h",
    "predicted_g",
    "end",
    "ended",
    "cause",
    "ran_h",
    "mass_g",
    "note",
    "walls_frac",
    "mesh_sha256",
    "estimator",
)
"""Columns written; reading needs those of NEEDED, in any order, and takes no others."""

NEEDED = ("started", "part", "printer", "feedstock", "predicted_h", "end", "ran_h")

CHANGE_ENDS = {"nozzle": "changed nozzle", "feedstock": "changed feedstock"}

FORMULA_STARTS = "=+-@\t\r\n'＝＋－＠"  # noqa: RUF001 - the wide twins are what is meant
"""A text that begins with one of these, blanks aside, could be taken for a formula."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvTaken:
    """What reading a table changed in the log.

    Attributes:
        prints: New prints.
        outcomes: New or corrected outcomes.
        changes: New changes of nozzle or feedstock.
        known: Rows that the log already held as they are.
    """

    prints: int
    outcomes: int
    changes: int
    known: int


def log_to_csv(log: PrintLog) -> str:
    """The log as CSV text (without the byte-order mark)."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    rows = [(item.number, _print_row(item)) for item in log.prints]
    rows += [(item.number, _change_row(item)) for item in log.changes]
    for _, row in sorted(rows, key=lambda pair: pair[0]):
        writer.writerow({name: shielded(value) for name, value in row.items()})
    return out.getvalue()


def write_csv(log: PrintLog, to: Path) -> Path:
    """Write the log as a CSV file: the old file or the new one, never half of one."""
    return write_whole(to, ("\ufeff" + log_to_csv(log)).encode("utf-8"))


def read_csv(path: Path) -> PrintLog:
    """What a CSV file says, without touching any log; rows numbered from 1.

    Raises:
        InputError: A column is missing, unknown or doubled, or a row cannot be; file, line and
            column are named.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"print log: {path} cannot be read as UTF-8 text: {error}") from error
    prints: list[LoggedPrint] = []
    changes: list[MachineChange] = []
    seen: dict[str, int] = {}
    for number, (line, row) in enumerate(_rows(path, text), 1):
        try:
            if row["end"] in CHANGE_ENDS.values():
                changes.append(_change_of(row, number, seen))
            else:
                prints.append(_print_of(row, number, seen))
        except InputError as error:
            raise InputError(f"{path}, line {line}: {error}") from error
    return PrintLog(prints=tuple(prints), changes=tuple(changes))


def take_csv(path: Path, table: Path) -> CsvTaken:
    """Put what a CSV file says into a log: all of it or, on any error, nothing.

    A row the log already holds as it is adds nothing, so reading a table twice is reading it once;
    a row of a known print with another outcome adds a correction.

    Raises:
        InputError: As read_csv and open_log, or a known print with another prediction.
    """
    given = read_csv(table)
    with open_log(path) as log, writing(log):
        return _take(log, given, table)


def shielded(text: str) -> str:
    """A text as a spreadsheet takes it for text; plain() undoes it."""
    return "'" + text if text.lstrip(" \u00a0\ufeff")[:1] in _STARTS and not _number(text) else text


def plain(text: str) -> str:
    """A cell's text without the apostrophe that shielded() put before it."""
    return text[1:] if text.startswith("'") else text


_STARTS = frozenset(FORMULA_STARTS)


def _number(text: str) -> bool:
    """Whether a text is a plain number, which a spreadsheet shows as it is."""
    return text[:1].isdigit()


def _print_row(item: LoggedPrint) -> dict[str, str]:
    attempt, outcome = item.attempt, item.outcome
    row = {
        "uid": attempt.uid,
        "started": attempt.started_utc,
        "part": attempt.part,
        "piece": str(attempt.piece),
        "printer": attempt.printer,
        "feedstock": attempt.feedstock,
        "recipe": attempt.recipe,
        "predicted_h": _digits(attempt.predicted_h),
        "predicted_g": _digits(attempt.predicted_g),
        "walls_frac": _digits(attempt.walls_frac),
        "mesh_sha256": attempt.mesh_sha256,
        "estimator": attempt.estimator,
    }
    if outcome is not None:
        row |= {
            "end": outcome.end,
            "ended": outcome.at_utc,
            "cause": outcome.cause,
            "ran_h": _digits(outcome.ran_h),
            "mass_g": _digits(outcome.mass_g),
            "note": outcome.note,
        }
    return row


def _change_row(item: MachineChange) -> dict[str, str]:
    return {
        "uid": item.uid,
        "started": item.at_utc,
        "printer": item.printer,
        "feedstock": item.feedstock,
        "end": CHANGE_ENDS[item.kind],
        "note": item.note,
    }


def _rows(path: Path, text: str) -> list[tuple[int, dict[str, str]]]:
    lines = text.splitlines(keepends=True)
    skipped = 0
    while skipped < len(lines) and lines[skipped].lstrip().startswith("#"):
        skipped += 1
    # split at line ends only: a cell may hold other separators
    body = text[sum(len(line) for line in lines[:skipped]) :]
    reader = csv.reader(io.StringIO(body, newline=""), strict=True)
    found: list[tuple[int, dict[str, str]]] = []
    header: list[str] | None = None
    try:
        for cells in reader:
            line = skipped + reader.line_num
            if not cells:
                continue
            if header is None:
                header = cells
                _check_header(path, header)
                continue
            if len(cells) != len(header):
                raise InputError(
                    f"{path}, line {line}: {len(cells)} cells found, {len(header)} needed"
                )
            row = dict.fromkeys(COLUMNS, "")
            row |= {name: plain(cell) for name, cell in zip(header, cells, strict=True)}
            found.append((line, row))
    except csv.Error as error:
        raise InputError(f"{path}, line {skipped + reader.line_num}: {error}") from error
    if header is None:
        raise InputError(f"{path}: no header found; the first line names {', '.join(NEEDED)}")
    return found


def _check_header(path: Path, header: list[str]) -> None:
    unknown = [name for name in header if name not in COLUMNS]
    missing = [name for name in NEEDED if name not in header]
    if unknown or missing or len(set(header)) != len(header):
        raise InputError(
            f"{path}, header: not known: {', '.join(unknown) or 'none'}; missing: "
            f"{', '.join(missing) or 'none'}; each of {', '.join(COLUMNS)} at most once"
        )


def _print_of(row: dict[str, str], number: int, seen: dict[str, int]) -> LoggedPrint:
    attempt = Attempt(
        uid=_uid(row, seen),
        started_utc=clean_utc(row["started"], "started"),
        part=row["part"],
        piece=_whole(row["piece"]),
        printer=row["printer"],
        feedstock=row["feedstock"],
        recipe=row["recipe"],
        predicted_h=_value(row, "predicted_h", needed=True) or 0.0,
        predicted_g=_value(row, "predicted_g"),
        walls_frac=_value(row, "walls_frac"),
        mesh_sha256=row["mesh_sha256"],
        estimator=row["estimator"],
    )
    check_attempt(attempt)
    outcome = None
    if row["end"]:
        outcome = Outcome(
            end=row["end"],  # type: ignore[arg-type]  # check_outcome refuses an unknown one
            at_utc=clean_utc(row["ended"] or row["started"], "ended"),
            ran_h=_value(row, "ran_h"),
            mass_g=_value(row, "mass_g"),
            cause=row["cause"],
            note=row["note"],
        )
        check_outcome(outcome)
    return LoggedPrint(number=number, attempt=attempt, outcome=outcome)


def _change_of(row: dict[str, str], number: int, seen: dict[str, int]) -> MachineChange:
    change = MachineChange(
        number=number,
        uid=_uid(row, seen),
        at_utc=clean_utc(row["started"], "changed"),
        kind="nozzle" if row["end"] == CHANGE_ENDS["nozzle"] else "feedstock",
        printer=row["printer"],
        feedstock=row["feedstock"],
        note=row["note"],
    )
    check_change(change)
    return change


def _uid(row: dict[str, str], seen: dict[str, int]) -> str:
    """The row's own uid, or one from what it says, counting rows that say the same."""
    if row["uid"]:
        if row["uid"] in seen:
            raise InputError(f"uid {row['uid']!r} stands twice; a print has one row")
        seen[row["uid"]] = 1
        return row["uid"]
    text = "\x1f".join(row[name] for name in COLUMNS)
    seen[text] = seen.get(text, 0) + 1
    return hashlib.sha256(f"{text}\x1f{seen[text]}".encode()).hexdigest()[:32]


def _take(log: sqlite3.Connection, given: PrintLog, table: Path) -> CsvTaken:
    before = read_all(log)
    known = {item.attempt.uid: item for item in before.prints}
    changed = {item.uid for item in before.changes}
    prints = outcomes = changes = same = 0
    rows: list[LoggedPrint | MachineChange] = [*given.prints, *given.changes]
    for item in sorted(rows, key=lambda row: row.number):
        if isinstance(item, MachineChange):
            same += item.uid in changed
            changes += item.uid not in changed
            add_change(log, item)
            continue
        old = known.get(item.attempt.uid)
        if old is not None and old.attempt != item.attempt:
            raise InputError(
                f"{table}: print {item.attempt.uid} of {item.attempt.part} was started with other "
                "values; what was predicted is never changed: give the row another uid"
            )
        number = add_attempt(log, item.attempt)
        prints += old is None
        if item.outcome is not None and (old is None or old.outcome != item.outcome):
            add_outcome(log, number, item.outcome)
            outcomes += 1
        else:
            same += old is not None
    return CsvTaken(prints=prints, outcomes=outcomes, changes=changes, known=same)


def _digits(value: float | None) -> str:
    return "" if value is None else repr(float(value))


def _value(row: dict[str, str], name: str, *, needed: bool = False) -> float | None:
    if not row[name] and not needed:
        return None
    try:
        return float(row[name])
    except ValueError:
        raise InputError(f"{name}: {row[name]!r} is no number") from None


def _whole(text: str) -> int:
    try:
        return int(text or "1")
    except ValueError:
        raise InputError(f"piece: {text!r} is no whole number") from None
