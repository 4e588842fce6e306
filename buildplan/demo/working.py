"""The working folder of the guided notebooks: laid out once, taken up again without overwriting."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources.abc import Traversable
from pathlib import Path

from buildplan.demo import guided_notebooks, lay_out
from buildplan.errors import InputError
from buildplan.files import write_whole

FOLDER = "notebooks"
FIRST = "00-start-here.ipynb"
DROP = "drop"
"""Folder for meshes of the user's own, which notebook 00 lists."""
RECORD = ".laid_out.json"
"""Which version of each notebook was laid out: its SHA-256 by name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingFolder:
    """What was laid out in a working folder.

    Attributes:
        folder: Absolute.
        resumed: Whether it was there before.
        added: Notebooks that were missing.
        beside: Newer versions, put beside the user's own.
    """

    folder: Path
    resumed: bool
    added: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()

    @property
    def first(self) -> Path:
        """The notebook to begin with."""
        return self.folder / FOLDER / FIRST


def working_folder(folder: Path | str) -> WorkingFolder:
    """Lay out notebooks and demo build in a folder, or take up one that was laid out before.

    Nothing that is there is overwritten: a notebook that is newer than the one laid out is put
    beside it as ``NAME.new.ipynb``.

    Raises:
        InputError: The folder is a file, holds something else, or cannot be written.
    """
    target = Path(folder).expanduser().absolute()
    ours = {source.name: source for source in guided_notebooks()}
    if not ours:
        raise InputError("the guided notebooks are missing; install buildplan anew")
    if target.exists() and not target.is_dir():
        raise InputError(f"{target} is a file; name a folder for the notebooks")
    try:
        known = (target / FOLDER).is_dir()
        empty = not known and (not target.exists() or not any(target.iterdir()))
        if not known and not empty:
            raise InputError(
                f"{target} holds other files and no {FOLDER} folder; name a new folder, or one "
                "that `buildplan notebooks` has laid out"
            )
        if empty:
            lay_out(target)
            (target / DROP).mkdir()
            _record(target, {name: _sha256(source) for name, source in ours.items()})
            return WorkingFolder(folder=target, resumed=False)
        return _resume(target, ours)
    except OSError as error:
        raise InputError(
            f"{target} cannot be used for the notebooks: {error.strerror or error}; name a folder "
            "that may be read and written"
        ) from error


def _resume(target: Path, ours: Mapping[str, Traversable]) -> WorkingFolder:
    laid = _recorded(target)
    added, beside = [], []
    for name, source in sorted(ours.items()):
        place, mark = target / FOLDER / name, _sha256(source)
        if not place.exists():
            write_whole(place, source.read_bytes())
            added.append(name)
        elif laid.get(name) != mark and _sha256(place) != mark:
            new = place.with_suffix(".new.ipynb")
            write_whole(new, source.read_bytes())
            beside.append(new.name)
        laid[name] = mark
    _record(target, laid)
    return WorkingFolder(folder=target, resumed=True, added=tuple(added), beside=tuple(beside))


def _sha256(source: Traversable) -> str:
    return hashlib.sha256(source.read_bytes()).hexdigest()


def _recorded(target: Path) -> dict[str, str]:
    try:
        found = json.loads((target / FOLDER / RECORD).read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return {str(name): str(mark) for name, mark in found.items()} if isinstance(found, dict) else {}


def _record(target: Path, laid: Mapping[str, str]) -> None:
    write_whole(target / FOLDER / RECORD, json.dumps(dict(laid), indent=1, sort_keys=True) + "\n")
