"""Whether a print log still says what was written into it."""

from dataclasses import dataclass
from pathlib import Path

from buildplan.errors import InputError
from buildplan.journal.store import ATTEMPT_COLUMNS, EVENT_COLUMNS, open_log, seal


@dataclass(frozen=True, slots=True, kw_only=True)
class LogCheck:
    """What a check of the whole file found.

    Attributes:
        rows: Rows whose seal holds, counted from the first.
        last_sha256: Seal of the last of them: a later log of the same prints contains it.
        fault: What is wrong, in words; empty where the log is whole.
    """

    rows: int
    last_sha256: str
    fault: str


def check_log(path: Path) -> LogCheck:
    """Check the file's pages, its indices and the seal of every row.

    Raises:
        InputError: There is no such file, it lies on a network folder, or is of a newer version.
    """
    with open_log(path, read_only=True) as log:
        pages = log.execute("PRAGMA integrity_check(1)").fetchone()[0]
        if pages != "ok":
            return LogCheck(rows=0, last_sha256="", fault=f"the file's pages are damaged: {pages}")
        if log.execute("PRAGMA foreign_key_check").fetchone():
            return LogCheck(rows=0, last_sha256="", fault="an event of no print")
        before, rows = "", 0
        both = sorted(
            [
                (row[0], table, tuple(row[:-1]), row[-1])
                for table, columns in (("attempt", ATTEMPT_COLUMNS), ("event", EVENT_COLUMNS))
                for row in log.execute(f"SELECT {', '.join(columns)}, sha FROM {table}")
            ],
            key=lambda item: item[:2],
        )
        for number, table, row, sha in both:
            if number != rows + 1:
                return LogCheck(
                    rows=rows, last_sha256=before, fault=f"row {rows + 1} is missing or doubled"
                )
            if seal(before, table, row) != sha:
                return LogCheck(
                    rows=rows,
                    last_sha256=before,
                    fault=f"row {number} ({table}) is not what was written",
                )
            before, rows = sha, number
    return LogCheck(rows=rows, last_sha256=before, fault="")


def require_whole(path: Path) -> LogCheck:
    """check_log, raising where something is wrong.

    Raises:
        InputError: The log is damaged; the message says where and what to do.
    """
    found = check_log(path)
    if found.fault:
        raise InputError(
            f"print log: {path}: {found.fault}; {found.rows} rows before it are good: "
            "put a backup in its place"
        )
    return found
