"""Every notebook runs from top to bottom, is committed without outputs and holds no logic."""

import ast

import nbformat
import pytest
from answer_builds import write_build
from notebook_runs import NOTEBOOKS, outputs_of, run_notebook, write_other_build

LOGIC = (ast.FunctionDef, ast.ClassDef, ast.For, ast.While, ast.Try, ast.If)
QUICK = ("00-start-here", "01-meet-the-parts", "02-hours-grams-money")
"""These plan nothing, so that they run on the whole demo everywhere; the others in the gate."""

ON_DEMO = [
    pytest.param(path, id=path.stem, marks=() if path.stem in QUICK else pytest.mark.slow)
    for path in NOTEBOOKS
]
PLANNING = [pytest.param(path, id=path.stem) for path in NOTEBOOKS if path.stem not in QUICK]


@pytest.fixture(params=NOTEBOOKS, ids=lambda path: path.stem)
def notebook_file(request):
    return request.param


@pytest.mark.filterwarnings("ignore")  # the notebook client's own event loop, not ours
@pytest.mark.parametrize("file", ON_DEMO)
def test_runs_from_top_to_bottom_in_an_empty_folder(file, tmp_path):
    outputs = outputs_of(run_notebook(file, tmp_path))
    assert any("text/html" in out.get("data", {}) for out in outputs)
    assert not [out for out in outputs if out.output_type in ("error", "stream")]


@pytest.mark.filterwarnings("ignore")  # the notebook client's own event loop, not ours
@pytest.mark.parametrize("file", PLANNING)
def test_runs_twice_on_a_small_build_with_every_table_and_says_the_same(file, tmp_path):
    build = write_build(tmp_path / "own")
    before = build.read_bytes()
    outputs = outputs_of(run_notebook(file, tmp_path / "work", build, twice=True))
    assert not [out for out in outputs if out.output_type in ("error", "stream")]
    said = [out.data["text/plain"] for out in outputs if out.output_type == "execute_result"]
    half = len(said) // 2
    assert half > 2
    assert said[:half] == said[half:]
    assert build.read_bytes() == before


@pytest.mark.filterwarnings("ignore")  # the notebook client's own event loop, not ours
@pytest.mark.parametrize("file", ON_DEMO)
def test_runs_twice_on_a_mesh_of_a_stranger_and_changes_no_file(file, tmp_path, npm_mesh):
    build = write_other_build(tmp_path / "own", npm_mesh("stl-models", "objects/bunny.bin.stl"))
    before = build.read_bytes()
    outputs = outputs_of(run_notebook(file, tmp_path / "work", build, twice=True))
    assert not [out for out in outputs if out.output_type in ("error", "stream")]
    shown = [out.data["text/html"] for out in outputs if "text/html" in out.get("data", {})]
    half = len(shown) // 2
    assert half > 0
    assert any("rabbit" in html or str(build.parent) in html for html in shown[:half])
    assert build.read_bytes() == before
    assert not (tmp_path / "work" / "sprout_house").exists()


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
