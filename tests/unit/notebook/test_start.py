"""Notebook 00: what lies in the folder, a mesh that becomes a build, the choice that is kept."""

import struct
from importlib.metadata import requires

import numpy as np
import pytest
from answer_builds import write_build

from buildplan.build import load_build
from buildplan.errors import InputError
from buildplan.notebook import check_computer, check_page, choose_build, open_build, show_folder
from buildplan.notebook.chosen import RECORD, base_folder, chosen_build
from buildplan.notebook.controls import Control, Row
from buildplan.notebook.start.folders import build_for_mesh, find_files


def write_sphere(path, around=470, bands=235):
    """A closed sphere of 2 * around * (bands - 1) facets as a binary STL."""
    turn = np.linspace(0.0, 2.0 * np.pi, around, endpoint=False)
    lift = np.linspace(0.0, np.pi, bands + 1)[1:-1]
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    rows = [np.column_stack([np.sin(a) * ring, np.full(around, np.cos(a))]) for a in lift]
    points = 20.0 * np.concatenate([*rows, [[0, 0, 1], [0, 0, -1]]])
    here = np.arange(around)
    beside = (here + 1) % around
    top, low = len(points) - 2, len(points) - 1
    last = (len(lift) - 1) * around
    facets = [np.column_stack([np.full(around, top), here, beside])]
    for k in range(len(lift) - 1):
        a, b = k * around + here, k * around + beside
        facets += [
            np.column_stack([a, a + around, b]),
            np.column_stack([b, a + around, b + around]),
        ]
    facets.append(np.column_stack([last + beside, last + here, np.full(around, low)]))
    facets = np.concatenate(facets)
    record = np.zeros(len(facets), dtype=[("n", "<3f4"), ("v", "<9f4"), ("a", "<u2")])
    record["v"] = points[facets].reshape(-1, 9)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(bytes(80) + struct.pack("<I", len(facets)) + record.tobytes())
    return len(facets)


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("BUILDPLAN_BUILD", raising=False)
    return tmp_path


def test_all_that_is_asked_for_is_a_declared_dependency():
    declared = " ".join(requires("buildplan"))
    for name in ("jupyterlab", "ipywidgets", "anywidget", "numpy", "numba", "manifold3d"):
        assert name in declared
    assert "Everything" in check_computer().heading


def test_a_dropped_mesh_of_eleven_megabytes_is_listed_chosen_and_opened_next_time(here):
    write_build(here)
    facets = write_sphere(here / "drop" / "My sphere.stl")
    size_mb = (here / "drop" / "My sphere.stl").stat().st_size / 1e6
    assert facets > 219_000
    assert size_mb > 10.9
    picker = choose_build()
    shown = [words for words, _ in picker.list.options]
    assert any("drop/My sphere.stl" in words and "11.0" in words for words in shown)
    picker.list.value = str(here / "drop" / "My sphere.stl")
    file = here / "my_sphere" / "build.toml"
    assert chosen_build(here) == file
    build = open_build()
    assert build.path.resolve() == file.resolve()
    assert build.parts[0].path.resolve() == (here / "drop" / "My sphere.stl").resolve()
    assert str(file) in picker._repr_mimebundle_()["text/html"]
    picker.list.value = str(here / "build.toml")
    assert open_build().path.resolve() == (here / "build.toml").resolve()


def test_a_path_that_is_wrong_is_said_in_words_and_changes_nothing(here):
    write_build(here)
    (here / "letter.txt").write_text("hello", "utf-8")
    picker = choose_build()
    for wrong in ("none.toml", "letter.txt", "none.stl"):
        picker.path.value = wrong
        said = picker._said.value
        assert wrong in said
        assert "fault in buildplan" not in said
    assert not (here / RECORD).exists()


def test_a_build_that_was_named_outside_goes_first_and_says_so(here, monkeypatch):
    file = write_build(here / "own")
    write_build(here)
    monkeypatch.setenv("BUILDPLAN_BUILD", str(file))
    picker = choose_build()
    with pytest.raises(InputError, match="BUILDPLAN_BUILD"):
        picker.choose(here / "build.toml")
    assert open_build().path == file


def test_a_chosen_build_that_is_gone_is_named(here):
    (here / RECORD).write_text("gone/build.toml\n", "utf-8")
    with pytest.raises(InputError, match=r"gone/build\.toml"):
        open_build()


def test_notebooks_look_into_the_working_folder_above(tmp_path):
    write_build(tmp_path)
    (tmp_path / "notebooks").mkdir()
    assert base_folder(tmp_path / "notebooks") == tmp_path
    assert base_folder(tmp_path / "notebooks" / "deeper") == tmp_path / "notebooks" / "deeper"


def test_results_and_hidden_files_are_not_offered(here):
    for name in ("out/build.toml", ".old/build.toml", "a/b/c/build.toml", "a/b/build.toml"):
        (here / name).parent.mkdir(parents=True, exist_ok=True)
        (here / name).write_text("", "utf-8")
    assert [one.words for one in find_files(here)] == ["a/b/build.toml"]


def test_a_mesh_keeps_the_build_file_that_it_has(here):
    write_sphere(here / "drop" / "ball.stl", around=8, bands=4)
    file = build_for_mesh(here, here / "drop" / "ball.stl")
    assert load_build(file).parts[0].name == "ball"
    file.write_text(file.read_text("utf-8").replace("PETG", "PLA"), "utf-8")
    assert build_for_mesh(here, here / "drop" / "ball.stl") == file
    assert "PLA" in file.read_text("utf-8")


def test_folders_are_told_whole_with_what_lies_in_them(here):
    build = load_build(write_build(here))
    assert "Nothing yet" in show_folder(build).html
    (here / "out").mkdir()
    (here / "out" / "bill.csv").write_text("1", "utf-8")
    answer = show_folder(build)
    assert str(here / "out") in answer.html
    assert "bill.csv" in answer.html
    assert "Nothing yet" not in answer.html


def test_the_kernel_answers_the_page_with_the_same_number():
    check, sent = check_page(), []
    check.send = sent.append
    check._handle_custom_msg({"own": 0.5, "times": 1}, [])
    assert sent == [{"own": 0.5, "times": 1}]
    assert "has not answered" in check._repr_mimebundle_()[0]["text/html"]


def test_a_slider_that_says_its_own_value_again_is_no_change():
    control = Control(key="bead_mm", label="bead", low=0.32, high=0.8, step=0.01)
    told = []
    row = Row(control, 0.45, lambda key, value: told.append((key, value)))
    row.input.value = 0.45000000000000007
    assert told == []
    row.input.value = 0.46
    row.input.value = 0.45
    assert told == [("bead_mm", 0.46), ("bead_mm", 0.45)]
