"""The build file is the truth: inputs are written to it at once and read back from it."""

import hashlib
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from buildplan.build import Build, load_build
from buildplan.build.keep import BUILD_FILE, Change
from buildplan.build.keep_many import OwnRow, keep_values


class Kept:
    """A build file that a panel looks through: what it says, and whether somebody changed it.

    Nothing is held back: what ``keep`` has returned for is in the file, whole. What another program
    writes meanwhile stays, and is noticed by ``changed_beneath``.

    Raises:
        BuildFileError: The file cannot be read or is wrong.
    """

    def __init__(self, build_path: Path | str) -> None:
        path = Path(build_path).expanduser()
        self.path = (path / BUILD_FILE if path.is_dir() else path).absolute()
        self.build: Build = load_build(self.path)
        self._stamp = self._stamped()

    def keep(self, changes: Sequence[Change], rows: Sequence[OwnRow] = ()) -> Build:
        """Write values, comments and order kept, and give the build that the file describes now.

        Raises:
            BuildFileError: A value is not allowed, or the file cannot be written; it stays as it
                was.
        """
        self.build = keep_values(self.path, changes, rows=rows, before=self.build)
        self._stamp = self._stamped()
        return self.build

    def changed_beneath(self) -> bool:
        """Whether the file holds something else than what was last read or written here."""
        stamp = self._stamped()
        if stamp == self._stamp:
            return False
        try:
            same = hashlib.sha256(self.path.read_bytes()).hexdigest() == self.build.sha256
        except OSError:
            return True
        if same:
            self._stamp = stamp
        return not same

    def read_again(self) -> Build:
        """The build as the file has it now.

        Raises:
            BuildFileError: It cannot be read or is wrong; the last build stays.
        """
        self.build = load_build(self.path)
        self._stamp = self._stamped()
        return self.build

    def saved_words(self, what: str) -> str:
        """What the line says after a value was kept."""
        return f"{what} saved to {self.path.name}, {datetime.now():%H:%M:%S}"

    def _stamped(self) -> tuple[int, int, int]:
        """What changes when the file does: time, size, number; zeros where it is not there."""
        try:
            found = self.path.stat()
        except OSError:
            return (0, 0, 0)
        return (found.st_mtime_ns, found.st_size, found.st_ino)
