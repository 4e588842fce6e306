"""Whether the packages that the notebooks need are installed, and new enough."""

import platform
import sys
from importlib.metadata import PackageNotFoundError, requires, version

from packaging.requirements import Requirement

from buildplan.notebook.answers.answer import Answer, table

NEEDED = ("jupyterlab", "ipywidgets", "anywidget", "numpy", "numba", "manifold3d")
"""Packages whose versions decide whether the notebooks work."""


def check_computer() -> Answer:
    """Versions that were found against those that are needed."""
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
