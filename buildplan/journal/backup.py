"""A copy of the print log, made while others may be writing to it."""

import sqlite3
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

from buildplan.errors import InputError
from buildplan.files import write_whole
from buildplan.journal.store import errors_of, open_log
from buildplan.journal.verify import LogCheck, require_whole


def back_up(path: Path, to: Path) -> LogCheck:
    """Copy a log to another file, check the copy, then move it into place.

    An older file at ``to`` is kept until the copy is whole. ``to`` may lie on a network folder.

    Raises:
        InputError: The log cannot be read, is damaged, is the file itself, or ``to`` cannot be
            written.
    """
    if to.resolve() == path.resolve():
        raise InputError(f"print log: {to} is the log itself; name another file for the backup")
    if not to.parent.is_dir():
        raise InputError(f"print log: there is no folder {to.parent} for the backup; make it first")
    with TemporaryDirectory() as folder:
        copy = Path(folder) / "copy.sqlite"
        with open_log(path, read_only=True) as log, closing(sqlite3.connect(copy)) as other:
            log.backup(other)
            other.execute("PRAGMA journal_mode=DELETE")
        found = require_whole(copy)
        data = copy.read_bytes()
    with errors_of(to):
        write_whole(to, data)
    return found
