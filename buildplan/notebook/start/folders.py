"""Files that a notebook reads and writes: what lies in a folder, and a build file for one mesh."""

import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from buildplan.build import Build, load_build
from buildplan.build.keep import BUILD_FILE
from buildplan.demo.working import DROP
from buildplan.errors import InputError
from buildplan.files import write_whole
from buildplan.notebook.answers.answer import Answer, table
from buildplan.notebook.answers.calendar import OUT
from buildplan.part.read import READERS
from buildplan.report import numbers

DEEP = 2
"""How many folders deep files are looked for."""

MOST = 200
"""How many files are listed."""

ONE_MESH = """\
# Build file about one mesh. `buildplan new DIR` writes one with every key explained.
[build]
name = "{name}"
currency = "EUR"
energy_cost_kwh = 0.30
own_time_cost_h = 0.0
printers = ["large_moving_bed"]

[[part]]
name = "{name}"
file = "{file}"
unit = "mm"  # or "inch", "cm", "m": what a length of 1 in the mesh means
feedstock = "PETG"
recipe = "everyday"
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A file that a build can begin with.

    Attributes:
        path: Absolute.
        kind: A build file, or a mesh.
        words: How it is called in a list: its place in the folder, and the size of a mesh.
    """

    path: Path
    kind: Literal["build file", "mesh"]
    words: str


def find_files(base: Path) -> tuple[Found, ...]:
    """Build files of a folder, then meshes that were dropped, then all other meshes."""
    found = [one for path in _walk(base, DEEP) for one in _found(base, path)]
    found.sort(key=lambda one: (one.kind, base / DROP not in one.path.parents, one.words))
    return tuple(found[:MOST])


def build_for_mesh(base: Path, mesh: Path) -> Path:
    """The build file about one mesh, in a folder of its name; what is there already stays.

    Raises:
        InputError: The file is no mesh that can be read or is missing, or the folder cannot be
            written.
    """
    if mesh.suffix.lower() not in READERS:
        raise InputError(
            f"{mesh.name} is neither a build file (.toml) nor a mesh; "
            f"meshes end in {', '.join(READERS)}"
        )
    if not mesh.is_file():
        raise InputError(f"{mesh} is not there; look at the folder and write the path anew")
    name = re.sub(r"[^A-Za-z0-9]+", "_", mesh.stem).strip("_").lower() or "part"
    file = base / name / BUILD_FILE
    if file.is_file():
        return file
    place = Path(os.path.relpath(mesh, file.parent)).as_posix()
    text = ONE_MESH.format(name=name, file=place.replace("\\", "\\\\").replace('"', '\\"'))
    try:
        write_whole(file, text)
        load_build(file)
    except OSError as error:
        raise InputError(f"{file} cannot be written: {error.strerror or error}") from error
    return file


def show_folder(build: Build) -> Answer:
    """The folders that files are read from and written to, with what lies in them."""
    folder = build.path.absolute().parent
    out = folder / OUT
    read = [path for path in _entries(folder) if path.is_file()]
    written = _entries(out)
    columns = (("name", "file", ""), ("size", "size", ""))
    files = table(columns, _rows(read), right=("size",))
    results = (
        table(columns, _rows(written), right=("size",))
        if written
        else "<p>Nothing yet: the notebooks write there when you ask them to.</p>"
    )
    return Answer(
        heading="Results are written to one folder, beside the build file",
        html=(
            f"<h3>Read from {_safe(folder)}</h3>{files}<h3>Written to {_safe(out)}</h3>{results}"
        ),
    )


def size_words(path: Path) -> str:
    """Size of a file, or that it is a folder."""
    if path.is_dir():
        return "folder"
    size_kb = path.stat().st_size / 1000.0
    if size_kb >= 1000.0:
        return numbers.num(size_kb / 1000.0, 1, "MB")
    return numbers.num(size_kb, 1, "kB")


def _walk(folder: Path, deep: int) -> Iterator[Path]:
    for path in _entries(folder):
        if path.is_dir():
            if deep and path.name not in (OUT, "node_modules"):
                yield from _walk(path, deep - 1)
        else:
            yield path


def _found(base: Path, path: Path) -> Iterator[Found]:
    place = path.relative_to(base).as_posix()
    if path.name == BUILD_FILE:
        yield Found(path=path, kind="build file", words=place)
    elif path.suffix.lower() in READERS:
        yield Found(path=path, kind="mesh", words=f"{place}, {size_words(path)}")


def _entries(folder: Path) -> list[Path]:
    """What lies in a folder, in order of name; nothing where it cannot be read."""
    try:
        found = sorted(folder.iterdir(), key=lambda path: path.name)
    except OSError:
        return []
    return [path for path in found if not path.name.startswith(".")]


def _rows(paths: Iterable[Path]) -> list[dict[str, str]]:
    return [{"name": path.name, "size": size_words(path)} for path in paths]


def _safe(path: Path) -> str:
    from markupsafe import escape

    return str(escape(path))
