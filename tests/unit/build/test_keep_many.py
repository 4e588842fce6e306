"""Several values kept in the build file in one step: all of them, or none."""

import tomllib

import pytest

from buildplan.build import load_build
from buildplan.build.keep_many import OwnRow, keep_values
from buildplan.demo import lay_out
from buildplan.errors import BuildFileError


@pytest.fixture
def file(tmp_path):
    return lay_out(tmp_path / "sprout") / "build.toml"


def changed_lines(before, after):
    return [line for line in after.splitlines() if line not in before.splitlines()]


def test_values_of_many_tables_change_and_nothing_else(file):
    before = file.read_text("utf-8")
    build = keep_values(
        file,
        [
            (("part", "push_rod"), "quantity", 1),
            (("build",), "energy_cost_kwh", 0.41),
            (("part", "camera_ring"), "way", "whole"),
        ],
    )
    after = file.read_text("utf-8")
    assert build.prices.energy_cost_kwh == 0.41
    assert next(p for p in build.parts if p.name == "camera_ring").way.pieces == 1
    assert load_build(file).sha256 == build.sha256
    assert len(changed_lines(before, after)) == 2
    comments = [line for line in before.splitlines() if line.lstrip().startswith("#")]
    assert [line for line in after.splitlines() if line.lstrip().startswith("#")] == comments


def test_a_row_is_added_once_and_takes_values(file):
    row = OwnRow(kind="recipe", name="mine", like="everyday")
    for infill in (0.3, 0.35):
        keep_values(file, [(("recipe", "mine"), "infill_frac", infill)], rows=[row])
    rows = tomllib.loads(file.read_text("utf-8"))["recipe"]
    assert [r["infill_frac"] for r in rows if r.get("name") == "mine"] == [0.35]


def test_one_wrong_value_leaves_the_file_as_it_stands(file):
    before = file.read_bytes()
    changes = [(("build",), "energy_cost_kwh", 0.41), (("part", "push_rod"), "quantity", 0)]
    with pytest.raises(BuildFileError, match="quantity"):
        keep_values(file, changes)
    assert file.read_bytes() == before


def test_the_same_values_again_do_not_touch_the_file(file):
    keep_values(file, [(("build",), "energy_cost_kwh", 0.41)])
    stamp = file.stat().st_mtime_ns
    keep_values(file, [(("build",), "energy_cost_kwh", 0.41)])
    assert file.stat().st_mtime_ns == stamp


def test_marks_and_line_ends_of_other_editors_stay(file):
    text = file.read_text("utf-8").replace("\n", "\r\n")
    file.write_bytes(b"\xef\xbb\xbf" + text.encode("utf-8"))
    keep_values(
        file,
        [(("recipe", "mine"), "infill_frac", 0.3)],
        rows=[OwnRow(kind="recipe", name="mine", like="everyday")],
    )
    raw = file.read_bytes()
    assert raw.startswith(b"\xef\xbb\xbf")
    assert raw.count(b"\n") == raw.count(b"\r\n")
