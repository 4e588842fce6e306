"""First questions of the guided notebooks: is all installed, and where do files go."""

import platform
import sys
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path

from buildplan.build import Build
from buildplan.notebook.answers.answer import Answer, table
from buildplan.report import numbers

NEEDED = ("jupyterlab", "ipywidgets", "anywidget", "numpy", "numba", "manifold3d")
"""Packages whose versions decide whether the notebooks work."""


def check_computer() -> Answer:
    """Versions that were found against those that are needed."""
    from packaging.requirements import Requirement

    wanted = {r.name: r.specifier for r in map(Requirement, requires("buildplan") or [])}
    rows = [{"what": "python", "found": platform.python_version(), "needed": ">=3.11", "ok": "yes"}]
    missing = []
    for name in NEEDED:
        try:
            found = version(name)
            fine = name not in wanted or wanted[name].contains(found, prereleases=True)
        except PackageNotFoundError:
            found, fine = "none", False
        if not fine:
            missing.append(name)
        needed = str(wanted.get(name, ""))
        rows.append({"what": name, "found": found, "needed": needed, "ok": "yes" if fine else "NO"})
    heading = (
        f"To be mended first: {sys.executable} -m pip install --upgrade {' '.join(missing)}"
        if missing
        else "Everything that is needed is installed"
    )
    columns = (("what", "package", ""), ("found", "found", ""), ("needed", "needed", ""))
    return Answer(
        heading=heading,
        html=table((*columns, ("ok", "fits", "")), rows),
        severity="stop" if missing else "ok",
        with_fonts=True,
    )


def show_folder(build: Build) -> Answer:
    """The folder that files are read from and written to, with what lies in it."""
    folder = build.path.absolute().parent
    entries = sorted(folder.iterdir(), key=lambda path: path.name)
    found = [path for path in entries if not path.name.startswith(".")]
    rows = [{"name": path.name, "size": _size(path)} for path in found]
    return Answer(
        heading=f"Files are read from and written to {folder}",
        html=table((("name", "file", ""), ("size", "size", "")), rows),
    )


def _size(path: Path) -> str:
    if path.is_dir():
        return "folder"
    size_kb = path.stat().st_size / 1000.0
    if size_kb >= 1000.0:
        return numbers.num(size_kb / 1000.0, 1, "MB")
    return numbers.num(size_kb, 1, "kB")
