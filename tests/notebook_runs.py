"""Running a guided notebook without a browser, on the demo or on a build of other meshes."""

import os
import shutil
from pathlib import Path

import nbformat
from nbclient import NotebookClient

FOLDER = Path(__file__).parents[1] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))

OTHER = """
[build]
name = "strange meshes"
currency = "EUR"
energy_cost_kwh = 0.30
own_time_cost_h = 12.0
printers = ["large_moving_bed"]

[[part]]
name = "rabbit"
file = "rabbit.stl"
unit = "mm"
feedstock = "PETG"
recipe = "everyday"  # this comment stays
"""


def run_notebook(source, folder, build=None, twice=False):
    """A notebook run in a folder, on the build file named; its cells with their outputs.

    Args:
        source: The notebook, which is copied into the folder.
        folder: Where it runs.
        build: The build file that it is about; left out, what the notebook finds by itself.
        twice: Run all cells, then all of them again in the same kernel.
    """
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copy(source, folder)
    notebook = nbformat.read(folder / source.name, as_version=4)
    if twice:
        again = [dict(cell, id=f"{cell.id}-again") for cell in notebook.cells]
        notebook.cells += [nbformat.from_dict(cell) for cell in again]
    env = {key: value for key, value in os.environ.items() if key != "BUILDPLAN_BUILD"}
    if build is not None:
        env["BUILDPLAN_BUILD"] = str(build)
    client = NotebookClient(notebook, timeout=300, resources={"metadata": {"path": str(folder)}})
    return client.execute(env=env)


def outputs_of(notebook):
    """Every output of a notebook that was run."""
    return [out for cell in notebook.cells for out in cell.get("outputs", [])]


def write_other_build(folder, mesh):
    """A build file about one mesh that nobody here made."""
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copy(mesh, folder / "rabbit.stl")
    path = folder / "build.toml"
    path.write_text(OTHER, "utf-8")
    return path
