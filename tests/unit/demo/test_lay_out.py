"""Laying the demo out: all of it in a new folder, or nothing and a clear refusal."""

import pytest

import buildplan.demo as demo
from buildplan.errors import InputError


def names(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def test_the_copy_holds_the_build_file_meshes_and_log_byte_for_byte(tmp_path):
    folder = demo.lay_out(tmp_path / "new" / "house")
    assert folder == tmp_path / "new" / "house"
    held = names(folder)
    assert {"build.toml", "print_log.csv", "base_shell.stl", "camera_ring.3mf"} <= set(held)
    assert not [name for name in held if name.endswith(".py")]
    for name in held:
        if "/" not in name:
            assert (folder / name).read_bytes() == (demo.demo_folder() / name).read_bytes()
    assert names(folder.parent) == [f"house/{name}" for name in held]  # no draft is left


def test_an_empty_folder_is_filled_in_place(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    before = tmp_path.stat().st_ino
    demo.lay_out(".")
    assert tmp_path.stat().st_ino == before
    assert (tmp_path / "build.toml").is_file()
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


def test_a_folder_that_holds_something_is_refused_and_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(InputError, match=r"is not empty: it holds 1 entry, 0 allowed; name a new"):
        demo.lay_out(tmp_path)
    assert names(tmp_path) == ["mine.txt"]


def test_a_file_in_the_way_is_refused(tmp_path):
    (tmp_path / "house").write_text("mine")
    with pytest.raises(InputError, match="is a file; name a new folder"):
        demo.lay_out(tmp_path / "house")
    with pytest.raises(InputError, match="cannot be laid out"):
        demo.lay_out(tmp_path / "house" / "deeper")


@pytest.mark.parametrize("empty_folder_there", [True, False])
def test_a_failure_on_the_way_leaves_nothing_behind(tmp_path, monkeypatch, empty_folder_there):
    class Broken:
        def read_bytes(self):
            raise OSError("disk is gone")

    whole = list(demo._files_to_copy())
    monkeypatch.setattr(demo, "_files_to_copy", lambda: iter([*whole, (Broken(), "last.stl")]))
    target = tmp_path / "house"
    if empty_folder_there:
        target.mkdir()
    with pytest.raises(InputError, match="disk is gone; name a folder that may be written"):
        demo.lay_out(target)
    assert names(tmp_path) == []


def test_the_layout_of_the_wheel_is_found_first_and_notebooks_come_along(tmp_path, monkeypatch):
    packed = tmp_path / "packed"
    (packed / "parts" / "sprout_house").mkdir(parents=True)
    (packed / "parts" / "sprout_house" / "build.toml").write_text("packed")
    (packed / "parts" / "sprout_house" / "make_parts.py").write_text("")
    (packed / "notebooks").mkdir()
    (packed / "notebooks" / "01-one.ipynb").write_text("{}")
    monkeypatch.setattr(demo, "_roots", lambda: (packed, demo.Path(demo.__file__).parents[2]))
    assert demo.demo_folder() == packed / "parts" / "sprout_house"
    folder = demo.lay_out(tmp_path / "house")
    assert names(folder) == ["build.toml", "notebooks/01-one.ipynb"]


def test_a_missing_demo_is_named(tmp_path, monkeypatch):
    monkeypatch.setattr(demo, "_roots", lambda: (tmp_path, tmp_path))
    with pytest.raises(InputError, match="the demo build is missing"):
        demo.demo_folder()
