"""The commented template that `buildplan new` writes."""

import re
import tomllib

import pytest
import trimesh

from buildplan.build import load_build, write_template
from buildplan.errors import BuildFileError


def test_the_template_loads_as_it_is(tmp_path):
    build = load_build(write_template(tmp_path / "new", "my device"))
    assert build.name == "my device"
    assert [part.name for part in build.parts] == ["example box"]
    assert [row.key for row in build.printers] == ["small_moving_bed"]


def test_the_example_mesh_is_a_closed_box(tmp_path):
    build = load_build(write_template(tmp_path, "my device"))
    mesh = trimesh.load(build.parts[0].path)
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(60 * 40 * 25)
    assert mesh.bounds.tolist() == [[0, 0, 0], [60, 40, 25]]


@pytest.mark.parametrize("name", ['a "quoted" one', "back\\slash", "Gewächshaus ☘", "@name@"])
def test_any_printable_name_survives(tmp_path, name):
    assert load_build(write_template(tmp_path, name)).name == name


@pytest.mark.parametrize("name", ["", " ", "two\nlines", "x" * 101, "\x1b[2J"])
def test_a_name_that_cannot_be_one_is_refused_before_anything_is_written(tmp_path, name):
    with pytest.raises(BuildFileError, match="the device's name"):
        write_template(tmp_path / "new", name)
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("file", ["build.toml", "parts/example_box.stl"])
def test_nothing_is_overwritten(tmp_path, file):
    (tmp_path / "parts").mkdir()
    (tmp_path / file).write_text("mine")
    with pytest.raises(BuildFileError, match="is there already"):
        write_template(tmp_path, "my device")
    assert [p.read_text() for p in tmp_path.rglob("*") if p.is_file()] == ["mine"]


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(BuildFileError, match="cannot be written"):
        write_template(tmp_path / "file" / "new", "my device")


def test_every_line_that_is_commented_out_works_when_taken_in(tmp_path):
    file = write_template(tmp_path, "my device")
    text = file.read_text(encoding="utf-8")
    taken = re.sub(r"^# (?=\[|[a-z0-9_]+ = )", "", text, flags=re.MULTILINE)
    (tmp_path / "my_tables.toml").write_text("")
    assert tomllib.loads(taken) != tomllib.loads(text)
    file.write_text(taken, encoding="utf-8")
    build = load_build(file)
    assert [row.name for row in build.tables["printer"].rows.values()][-1] == "north bench"
    assert build.parts[0].features[0].name == "left hinge"
    assert build.bought[0].name == "screw M3 x 8"
