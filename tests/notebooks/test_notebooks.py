"""Every notebook runs from top to bottom, is committed without outputs and holds no logic."""

import ast
import shutil
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

FOLDER = Path(__file__).parents[2] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
LOGIC = (ast.FunctionDef, ast.ClassDef, ast.For, ast.While, ast.Try, ast.If)


@pytest.fixture(params=NOTEBOOKS, ids=lambda path: path.stem)
def notebook_file(request):
    return request.param


@pytest.mark.filterwarnings("ignore")  # the notebook client's own event loop, not ours
def test_runs_from_top_to_bottom_in_an_empty_folder(notebook_file, tmp_path):
    shutil.copy(notebook_file, tmp_path)
    notebook = nbformat.read(tmp_path / notebook_file.name, as_version=4)
    done = NotebookClient(
        notebook, timeout=300, resources={"metadata": {"path": str(tmp_path)}}
    ).execute()
    outputs = [out for cell in done.cells for out in cell.get("outputs", [])]
    assert any("text/html" in out.get("data", {}) for out in outputs)
    assert not [out for out in outputs if out.output_type in ("error", "stream")]


def test_is_committed_without_outputs(notebook_file):
    notebook = nbformat.read(notebook_file, as_version=4)
    assert not [c for c in notebook.cells if c.cell_type == "code" and c.outputs]
    assert not [c for c in notebook.cells if c.cell_type == "code" and c.execution_count]


def test_holds_no_logic_and_no_long_cell(notebook_file):
    for cell in nbformat.read(notebook_file, as_version=4).cells:
        if cell.cell_type == "code":
            logic = [n for n in ast.walk(ast.parse(cell.source)) if isinstance(n, LOGIC)]
            assert not logic, f"move into buildplan/: {cell.source[:60]!r}"
            assert len(cell.source.splitlines()) <= 8
