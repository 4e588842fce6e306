"""The working folder of the notebooks: laid out, taken up again, nothing of the user's lost."""

import json

import pytest

from buildplan.demo.working import FIRST, FOLDER, RECORD, working_folder
from buildplan.errors import InputError


def test_lays_out_all_notebooks_with_the_demo_build(tmp_path):
    made = working_folder(tmp_path / "mine")
    assert not made.resumed
    assert made.first.is_file()
    assert made.folder.is_absolute()
    assert (made.folder / "build.toml").is_file()
    assert len(list((made.folder / FOLDER).glob("0*.ipynb"))) >= 3


def test_taking_up_again_overwrites_nothing_and_puts_back_what_is_missing(tmp_path):
    folder = working_folder(tmp_path).folder
    mine = folder / FOLDER / FIRST
    mine.write_text("changed by me", "utf-8")
    other = next(p for p in sorted((folder / FOLDER).glob("*.ipynb")) if p != mine)
    whole = other.read_bytes()
    other.unlink()
    (folder / "build.toml").write_text("mine too", "utf-8")
    made = working_folder(folder)
    assert made.resumed
    assert made.added == (other.name,)
    assert made.beside == ()
    assert other.read_bytes() == whole
    assert mine.read_text("utf-8") == "changed by me"
    assert (folder / "build.toml").read_text("utf-8") == "mine too"


def test_a_newer_notebook_is_put_beside_the_users_own_once(tmp_path):
    folder = working_folder(tmp_path).folder
    mine, record = folder / FOLDER / FIRST, folder / FOLDER / RECORD
    newer = mine.read_bytes()
    mine.write_text("an older one, changed by me", "utf-8")
    record.write_text(json.dumps(json.loads(record.read_text()) | {FIRST: "older"}), "utf-8")
    made = working_folder(folder)
    assert made.beside == ("00-start-here.new.ipynb",)
    assert (folder / FOLDER / made.beside[0]).read_bytes() == newer
    assert mine.read_text("utf-8") == "an older one, changed by me"
    assert working_folder(folder).beside == ()


def test_a_file_and_a_folder_of_other_things_are_refused(tmp_path):
    (tmp_path / "letter.txt").write_text("hello", "utf-8")
    with pytest.raises(InputError, match="is a file"):
        working_folder(tmp_path / "letter.txt")
    with pytest.raises(InputError, match="holds other files"):
        working_folder(tmp_path)


def test_a_folder_below_a_file_is_refused(tmp_path):
    (tmp_path / "letter.txt").write_text("hello", "utf-8")
    with pytest.raises(InputError, match=r"letter\.txt"):
        working_folder(tmp_path / "letter.txt" / "deeper")
