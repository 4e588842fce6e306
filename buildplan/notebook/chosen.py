"""Which build all notebooks of a folder are about, kept in a small text file."""

from pathlib import Path

from buildplan.build.keep import BUILD_FILE
from buildplan.errors import InputError
from buildplan.files import write_whole

RECORD = "chosen_build.txt"
"""Holds one line: the path of the build file, from its own folder where that is shorter."""


def base_folder(start: Path | str = ".") -> Path:
    """The folder that builds are looked for in: the one of the notebooks, or the one above."""
    here = Path(start).absolute()
    for folder in (here, here.parent):
        if (folder / BUILD_FILE).is_file() or (folder / RECORD).is_file():
            return folder
    return here


def chosen_build(base: Path) -> Path | None:
    """The build file that was chosen; None where none was.

    Raises:
        InputError: It is gone.
    """
    record = base / RECORD
    try:
        line = record.read_text("utf-8").strip()
    except FileNotFoundError:
        return None
    file = base / line
    if not line or not file.is_file():
        raise InputError(
            f"{record} names {line or 'nothing'}, which is not there; choose a build in "
            f"00-start-here.ipynb, or delete {RECORD}"
        )
    return file


def keep_chosen(base: Path, file: Path) -> Path:
    """Write down the build file that was chosen, and give the record.

    Raises:
        OSError: The folder cannot be written.
    """
    inside = file.is_relative_to(base)
    line = file.relative_to(base).as_posix() if inside else str(file)
    return write_whole(base / RECORD, line + "\n")
