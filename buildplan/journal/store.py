"""The print log's file: SQLite, append-only, every row sealed by the row before it.

Attempts and events share one running number. Row k carries sha-256 of row k - 1's seal and of its
own values, so a changed, missing or reordered row is found. What a seal cannot show is a log cut
off at its end, or rewritten as a whole by someone who means to.

Source: SQLite documentation: Write-Ahead Logging; PRAGMA synchronous (FULL); STRICT Tables.
"""

import hashlib
import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from buildplan.errors import InputError
from buildplan.journal.network import refuse_network_folder

VERSION = 1
"""Version of the tables below, kept in the file's user_version."""

APPLICATION = 0x62706A6C
"""Mark of a print log in the file's header."""

WAIT_S = 30.0
"""How long a writer waits for another one."""

ATTEMPT_COLUMNS = (
    "seq",
    "uid",
    "started_utc",
    "part",
    "piece",
    "printer",
    "feedstock",
    "recipe",
    "predicted_h",
    "predicted_g",
    "walls_frac",
    "mesh_sha256",
    "estimator",
)
EVENT_COLUMNS = (
    "seq",
    "uid",
    "attempt",
    "at_utc",
    "kind",
    "ran_h",
    "mass_g",
    "cause",
    "printer",
    "feedstock",
    "note",
)

SCHEMA = (
    """CREATE TABLE attempt(
  seq INTEGER PRIMARY KEY CHECK(seq > 0), uid TEXT NOT NULL UNIQUE, started_utc TEXT NOT NULL,
  part TEXT NOT NULL, piece INTEGER NOT NULL CHECK(piece > 0), printer TEXT NOT NULL,
  feedstock TEXT NOT NULL, recipe TEXT NOT NULL, predicted_h REAL NOT NULL CHECK(predicted_h > 0),
  predicted_g REAL CHECK(predicted_g > 0),
  walls_frac REAL CHECK(walls_frac BETWEEN 0 AND 1),
  mesh_sha256 TEXT NOT NULL, estimator TEXT NOT NULL,
  sha TEXT NOT NULL) STRICT""",
    """CREATE TABLE event(
  seq INTEGER PRIMARY KEY CHECK(seq > 0), uid TEXT NOT NULL UNIQUE,
  attempt INTEGER REFERENCES attempt(seq), at_utc TEXT NOT NULL,
  kind TEXT NOT NULL
    CHECK(kind IN ('running', 'done', 'failed', 'aborted', 'void', 'nozzle', 'feedstock')),
  ran_h REAL CHECK(ran_h >= 0), mass_g REAL CHECK(mass_g >= 0), cause TEXT NOT NULL,
  printer TEXT NOT NULL, feedstock TEXT NOT NULL, note TEXT NOT NULL, sha TEXT NOT NULL,
  CHECK((kind IN ('nozzle', 'feedstock')) = (attempt IS NULL)),
  CHECK((attempt IS NULL) = (printer <> '')),
  CHECK(kind <> 'failed' OR cause <> ''),
  CHECK(attempt IS NULL OR kind = 'void' OR ran_h IS NOT NULL)) STRICT""",
    "CREATE INDEX event_of_attempt ON event(attempt, seq)",
    *(
        f"CREATE TRIGGER {table}_{word}_refused BEFORE {word} ON {table} BEGIN "
        "SELECT RAISE(ABORT, 'the print log is append-only: add an event'); END"
        for table in ("attempt", "event")
        for word in ("update", "delete")
    ),
)


@contextmanager
def open_log(path: Path, *, read_only: bool = False) -> Iterator[sqlite3.Connection]:
    """A connection to a print log, made where there is none yet (unless read_only).

    Raises:
        InputError: On a network folder; written by a newer version; no print log; unreadable.
    """
    refuse_network_folder(path.parent)
    if read_only and not path.exists():
        raise InputError(f"print log: there is no {path}; the first print you log makes it")
    if not path.parent.is_dir():
        raise InputError(f"print log: there is no folder {path.parent}; make it first")
    with errors_of(path), closing(_connect(path, read_only)) as log:
        _check_or_make(log, path, read_only)
        yield log


@contextmanager
def errors_of(path: Path) -> Iterator[None]:
    """Turn what SQLite raises into an error that names the file and what to do."""
    try:
        yield
    except sqlite3.OperationalError as error:
        if "locked" in str(error):
            raise InputError(
                f"print log: {path} was busy for {WAIT_S:g} s; another program holds it: end that"
            ) from error
        raise InputError(f"print log: {path}: {error}; see whether it may be written") from error
    except sqlite3.IntegrityError as error:
        raise InputError(f"print log: {path} refuses the row: {error}") from error
    except sqlite3.DatabaseError as error:
        raise InputError(
            f"print log: {path} is damaged or no print log ({error}); put a backup in its place"
        ) from error


@contextmanager
def writing(log: sqlite3.Connection) -> Iterator[None]:
    """One transaction: all of it is on the disk when the block ends, or nothing is."""
    log.execute("BEGIN IMMEDIATE")
    try:
        yield
        log.execute("COMMIT")
    except BaseException:
        if log.in_transaction:
            log.execute("ROLLBACK")
        raise


def append(log: sqlite3.Connection, table: str, values: dict[str, object]) -> int:
    """Add a sealed row to "attempt" or "event" inside a transaction; gives its number."""
    last = log.execute(
        "SELECT seq, sha FROM (SELECT seq, sha FROM (SELECT seq, sha FROM attempt "
        "ORDER BY seq DESC LIMIT 1) UNION ALL SELECT seq, sha FROM (SELECT seq, sha FROM event "
        "ORDER BY seq DESC LIMIT 1)) ORDER BY seq DESC LIMIT 1"
    ).fetchone()
    number, before = (last[0] + 1, last[1]) if last else (1, "")
    columns = ATTEMPT_COLUMNS if table == "attempt" else EVENT_COLUMNS
    row = (number, *(values[name] for name in columns[1:]))
    marks = ", ".join("?" * (len(columns) + 1))
    log.execute(
        f"INSERT INTO {table}({', '.join(columns)}, sha) VALUES({marks})",
        (*row, seal(before, table, row)),
    )
    return number


def seal(before: str, table: str, row: tuple[object, ...]) -> str:
    """sha-256 of the seal before and of a row, numbers by their shortest exact digits."""
    text = json.dumps([before, table, *row], separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _connect(path: Path, read_only: bool) -> sqlite3.Connection:
    where = f"{path.resolve().as_uri()}?mode={'ro' if read_only else 'rwc'}"
    log = sqlite3.connect(where, uri=True, isolation_level=None, timeout=WAIT_S)
    log.execute("PRAGMA foreign_keys=ON")
    log.execute("PRAGMA trusted_schema=OFF")
    log.execute("PRAGMA cell_size_check=ON")
    return log


def _check_or_make(log: sqlite3.Connection, path: Path, read_only: bool) -> None:
    if not read_only and _head(log) == (0, 0, 0):
        with writing(log):
            # another writer may have made the tables since the look above
            if _head(log) == (0, 0, 0):
                for statement in SCHEMA:
                    log.execute(statement)
                log.execute(f"PRAGMA application_id={APPLICATION}")
                log.execute(f"PRAGMA user_version={VERSION}")
    version, mark, _ = _head(log)
    if mark != APPLICATION:
        raise InputError(
            f"print log: {path} is no print log of buildplan (mark {mark:#x} found, "
            f"{APPLICATION:#x} allowed); name another file or put a backup in its place"
        )
    if version > VERSION:
        raise InputError(
            f"print log: {path} was written by a newer buildplan (tables of version {version}, "
            f"this one knows {VERSION}); update buildplan, the file was left as it is"
        )
    if version < 1:
        raise InputError(
            f"print log: {path} says version {version}, 1 to {VERSION} allowed; it is damaged: "
            "put a backup in its place"
        )
    if not read_only:
        mode = log.execute("PRAGMA journal_mode=WAL").fetchone()[0]
        log.execute("PRAGMA synchronous=FULL")
        if mode != "wal":
            raise InputError(
                f"print log: {path} cannot be written safely here (mode {mode} found, wal needed); "
                "keep it in a folder of this machine"
            )


def _head(log: sqlite3.Connection) -> tuple[int, int, int]:
    """Version, mark and number of tables."""
    version = log.execute("PRAGMA user_version").fetchone()[0]
    mark = log.execute("PRAGMA application_id").fetchone()[0]
    tables = log.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    return version, mark, tables
