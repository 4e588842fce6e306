"""Keeping measured fits in the build file: the user's own rows of the table of fits."""

import tomllib
from collections.abc import Iterable
from pathlib import Path

from buildplan.build.keep import BUILD_FILE, keep_value
from buildplan.build.toml_text import read_toml
from buildplan.errors import BuildFileError
from buildplan.files import write_whole
from buildplan.tables.hardware import JointFit
from buildplan.tables.wording import normal_key

HEADING = "# ---- fits, as measured with the clearance ladder"


def keep_fits(build_path: Path | str, rows: Iterable[JointFit]) -> Path:
    """Write measured fits into a build file as ``[[fit]]`` rows and give the file's path.

    A row of the same name is changed in place; others are added at the end. Comments and order
    stay.

    Raises:
        BuildFileError: The file cannot be read or written.
    """
    file = Path(build_path)
    file = file / BUILD_FILE if file.is_dir() else file
    for row in rows:
        data, text, _ = read_toml(file)
        known = data.get("fit", [])
        names = [normal_key(str(r.get("name", ""))) for r in known if isinstance(r, dict)]
        if normal_key(row.name) in names:
            keep_value(file, ("fit", row.name), "clearance_mm", row.clearance_mm)
            keep_value(file, ("fit", row.name), "note", row.note)
            continue
        added = _with_row(text, row)
        if tomllib.loads(added) != {**data, "fit": [*known, _record(row)]}:
            raise BuildFileError(
                f"{file.name}: a [[fit]] row cannot be added without touching the rest of the "
                f"file. Write by hand at its end: {_row_text(row)!r}"
            )
        try:
            write_whole(file.resolve(), added)
        except OSError as error:
            raise BuildFileError(f"{file} cannot be written: {error.strerror or error}") from None
    return file


def _record(row: JointFit) -> dict[str, object]:
    return {"key": row.key, "name": row.name, "clearance_mm": row.clearance_mm, "note": row.note}


def _with_row(text: str, row: JointFit) -> str:
    heading = "" if HEADING in text else f"\n{HEADING} ----\n"
    return f"{text.rstrip()}\n{heading}\n{_row_text(row)}"


def _row_text(row: JointFit) -> str:
    return (
        f'[[fit]]\nkey = "{row.key}"\nname = "{row.name}"\n'
        f'clearance_mm = {row.clearance_mm!r}\nnote = "{row.note}"\n'
    )
