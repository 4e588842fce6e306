"""A choice kept in the build file: only the one value changes, and it reads back as it was."""

import math
import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest
from build_files import SOUND, lay_out

from buildplan.build import load_build
from buildplan.build.keep import keep_orientation, keep_value
from buildplan.demo import demo_folder
from buildplan.errors import BuildFileError

ON_ITS_SIDE = (1.0, 0.0, 0.0, 0.0, 0.0, -1.0, 0.0, 1.0, 0.0)
IDENTITY = tuple(np.eye(4).ravel().tolist())


def about_z(angle):
    c, s = math.cos(angle), math.sin(angle)
    return (c, -s, 0.0, 0.0, s, c, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0)


def part_of(file, name):
    (found,) = (request for request in load_build(file).parts if request.name == name)
    return found


def changed_lines(old, new):
    """Lines that are in one text only."""
    before, after = old.splitlines(), new.splitlines()
    return [x for x in before if x not in after], [x for x in after if x not in before]


@pytest.fixture
def file(tmp_path):
    return lay_out(tmp_path / "gate")


@pytest.fixture
def house(tmp_path):
    return Path(shutil.copytree(demo_folder(), tmp_path / "house"))


def test_a_way_up_reads_back_as_it_was_kept(file):
    matrix = about_z(0.3)
    assert keep_orientation(file, "ring", matrix) == file
    assert part_of(file, "ring").orientation == matrix


def test_nine_numbers_are_enough_and_the_folder_will_do(file):
    keep_orientation(file.parent, "ring", ON_ITS_SIDE)
    rows = np.array(part_of(file, "ring").orientation).reshape(4, 4)
    np.testing.assert_array_equal(rows[:3, :3].ravel(), ON_ITS_SIDE)


def test_only_the_lines_of_the_choice_change(file):
    keep_orientation(file, "ring", ON_ITS_SIDE)
    gone, new = changed_lines(SOUND, file.read_text("utf-8"))
    assert gone == []
    assert new[0] == "orientation = ["
    assert [line.strip() for line in new[1:4]] == [
        "[1.0, 0.0, 0.0],",
        "[0.0, 0.0, -1.0],",
        "[0.0, 1.0, 0.0],",
    ]
    text = file.read_text("utf-8")
    assert text.index("orientation = [\n") < text.index("[[bought]]")
    assert text.index('feedstock = "standard photopolymer"') < text.index("orientation = [\n")


def test_a_kept_value_is_replaced_in_its_place_and_the_comment_beside_it_stays(file):
    file.write_text(SOUND.replace('revision = "B"', 'revision = "B"  # sent to print'))
    keep_value(file, ("build",), "revision", "C")
    gone, new = changed_lines(SOUND, file.read_text("utf-8"))
    assert (gone, new) == (['revision = "B"'], ['revision = "C"  # sent to print'])


def test_as_placed_is_kept_in_words(file):
    keep_orientation(file, "roof vent", "as placed")
    assert part_of(file, "roof vent").orientation == IDENTITY
    assert 'orientation = "as placed"' in file.read_text("utf-8")


def test_the_part_stays_where_it_was_in_the_device(file):
    def standing(request):
        turn = np.array(request.orientation).reshape(4, 4)
        return [np.array(pose).reshape(4, 4) @ turn for pose in request.poses]

    before = standing(part_of(file, "roof vent"))
    for matrix in (about_z(0.7), ON_ITS_SIDE, "as placed"):
        keep_orientation(file, "roof vent", matrix)
        after = standing(part_of(file, "roof vent"))
        np.testing.assert_allclose(after, before, atol=1e-9)


def test_poses_are_left_alone_where_the_way_up_stays(file):
    old = file.read_text("utf-8")
    keep_orientation(file, "roof vent", (0.0, -1.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0))
    gone, _ = changed_lines(old, file.read_text("utf-8"))
    assert gone == ["orientation = [[0, -1, 0], [1, 0, 0], [0, 0, 1]]"]


def test_the_demo_build_keeps_every_comment_and_every_other_value(house):
    file = house / "build.toml"
    old = file.read_text("utf-8")
    for request in load_build(house).parts:
        keep_orientation(house, request.name, about_z(0.25))
    new = file.read_text("utf-8")
    comments = [line for line in old.splitlines() if "#" in line]
    assert [line for line in new.splitlines() if "#" in line] == comments
    before, after = tomllib.loads(old), tomllib.loads(new)
    for part in (*before["part"], *after["part"]):
        part.pop("orientation", None)
        part.pop("poses", None)
    assert after == before
    assert {request.orientation for request in load_build(house).parts} == {about_z(0.25)}


def test_a_new_key_goes_after_the_last_one_of_its_table_not_after_the_next_heading(house):
    file = house / "build.toml"
    keep_value(house, ("part", "camera_ring"), "about", "new words")
    keep_orientation(house, "camera_ring", ON_ITS_SIDE)
    text = file.read_text("utf-8")
    assert text.index("orientation = [") < text.index("# ---- bought items")


def test_values_of_any_table_can_be_kept(house):
    keep_value(house, ("mechanism", "servo", "standard"), "supply_v", 5.5)
    keep_value(house, ("power", "load", "camera"), "chosen", True)
    keep_value(house, ("bought", "Window film"), "quantity", 2)
    keep_value(house, ("journal",), "files", ("a.csv", "b.csv"))
    data = tomllib.loads((house / "build.toml").read_text("utf-8"))
    assert data["mechanism"]["servo"]["standard"]["supply_v"] == 5.5
    named = {row["name"]: row for row in (*data["power"]["load"], *data["bought"])}
    assert named["camera"]["chosen"] is True
    assert named["window film"]["quantity"] == 2
    assert data["journal"]["files"] == ["a.csv", "b.csv"]


def test_a_table_that_is_missing_is_made(file):
    keep_value(file, ("journal", "habits"), "weighs", False)
    assert load_build(file).sections["journal"] == {"habits": {"weighs": False}}
    assert changed_lines(SOUND, file.read_text("utf-8"))[0] == []


@pytest.mark.parametrize(
    ("matrix", "said"),
    [
        ((2.0, 0, 0, 0, 1, 0, 0, 0, 1), "is not a rotation: a number in it is over 1"),
        ((1.0, 0.2, 0, 0, 1, 0, 0, 0, 1), "its rows are off right angles"),
        ((1.0, 0, 0, 0, 1, 0, 0, 0, -1), "mirrors the part"),
        ((1.0, 0, 0, 5, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1), "moves the part"),
        ((1.0, 0, 0, 0), '"as placed" or 9 or 16 finite numbers, found 4 entries'),
        ((math.nan,) * 9, "9 or 16 finite numbers"),
        (("a",) * 9, "9 or 16 finite numbers"),
        ("upside down", '"as placed" or 9 or 16 finite numbers, found "upside down"'),
    ],
)
def test_what_is_no_rotation_is_refused_and_the_file_stays(file, matrix, said):
    with pytest.raises(BuildFileError, match='part "ring": the orientation') as error:
        keep_orientation(file, "ring", matrix)
    assert said in str(error.value)
    assert file.read_text("utf-8") == SOUND


def test_an_unknown_part_is_refused_with_the_near_name(file):
    with pytest.raises(BuildFileError) as error:
        keep_orientation(file, "rof vent", "as placed")
    assert str(error.value) == (
        'build.toml: part "rof vent" is not known. Allowed: roof vent, ring. '
        "Did you mean roof vent?"
    )


@pytest.mark.parametrize(
    ("table", "key", "value", "said"),
    [
        (("part",), "about", "x", "part holds several tables. Name one of them"),
        (("build", "name"), "about", "x", 'build.name is "garden gate", not a table'),
        (("quote", "Alder"), "about", "x", "holds no [[quote]]. Add one"),
        (("build",), "about", math.inf, "finite numbers"),
        (("build",), "about", None, "a build file keeps texts"),
    ],
)
def test_what_cannot_be_kept_is_refused_and_the_file_stays(file, table, key, value, said):
    with pytest.raises(BuildFileError) as error:
        keep_value(file, table, key, value)
    assert said in str(error.value)
    assert file.read_text("utf-8") == SOUND


def test_a_file_that_is_not_there_or_no_toml_is_refused(tmp_path):
    with pytest.raises(BuildFileError, match="cannot be read"):
        keep_orientation(tmp_path / "none.toml", "ring", "as placed")
    broken = tmp_path / "build.toml"
    broken.write_text("[build\n")
    with pytest.raises(BuildFileError, match="not a TOML file"):
        keep_orientation(broken, "ring", "as placed")


def test_a_broken_pose_is_refused_before_anything_is_written(file):
    text = SOUND.replace("[1, 0, 0, 5]", "[1, 0, 5]")
    file.write_text(text)
    with pytest.raises(BuildFileError, match="a pose is not four rows of four numbers"):
        keep_orientation(file, "roof vent", ON_ITS_SIDE)
    assert file.read_text("utf-8") == text


@pytest.mark.parametrize("ending", ["\r\n", "\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_byte_order_mark_stay(file, ending, mark):
    file.write_bytes((mark + SOUND.replace("\n", ending)).encode("utf-8"))
    keep_orientation(file, "ring", about_z(0.1))
    raw = file.read_bytes().decode("utf-8")
    assert raw.startswith(mark + "[build]")
    assert raw.count("\n") == raw.count(ending)
    assert part_of(file, "ring").orientation == about_z(0.1)


def test_a_file_without_a_last_line_end_is_no_trouble(file):
    file.write_text(SOUND.rstrip("\n"))
    keep_value(file, ("service", "Alder"), "lead_d", 3)
    (service,) = load_build(file).decisions.services
    assert (service.name, service.lead_d) == ("Alder", 3.0)


def test_inline_parts_are_changed_too(file):
    inline = SOUND[: SOUND.index("[[part]]")] + (
        'part = [ { name = "ring", file = "box.stl", feedstock = "petg" } ] # all of it\n'
    )
    # the array stands in the root table, so before the first header
    head, tail = inline.split("[build]", 1)
    parts = tail[tail.index("part = [") :]
    file.write_text(head + parts + "[build]" + tail[: tail.index("part = [")])
    keep_orientation(file, "ring", ON_ITS_SIDE)
    assert "# all of it" in file.read_text("utf-8")
    rows = np.array(part_of(file, "ring").orientation).reshape(4, 4)
    np.testing.assert_array_equal(rows[:3, :3].ravel(), ON_ITS_SIDE)


def test_a_link_to_the_file_stays_a_link(file, tmp_path):
    link = tmp_path / "link.toml"
    link.symlink_to(file)
    keep_value(link, ("build",), "revision", "D")
    assert link.is_symlink()
    assert load_build(file).revision == "D"
