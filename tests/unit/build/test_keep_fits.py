"""Measured fits come back from the build file, and nothing else in it changes."""

import tomllib

import pytest

import buildplan as bp
from buildplan.build.keep_fits import keep_fits
from buildplan.demo import lay_out
from buildplan.errors import BuildFileError
from buildplan.segments.ladder import clearance_ladder, fits_from_ladder


@pytest.fixture
def demo(tmp_path):
    return lay_out(tmp_path / "demo") / "build.toml"


def measured(press, sliding, free):
    return fits_from_ladder(clearance_ladder(), press=press, sliding=sliding, free=free)


def test_measured_fits_are_the_build_s_own_rows(demo):
    before = demo.read_text()
    keep_fits(demo, measured(2, 4, 7))
    rows = bp.load_build(demo).tables["fit"].rows
    assert {key: row.clearance_mm for key, row in rows.items()} == {
        "press": 0.05,
        "sliding": 0.15,
        "free": 0.3,
    }
    assert demo.read_text().startswith(before.rstrip())
    kept = tomllib.loads(demo.read_text())
    kept.pop("fit")
    assert kept == tomllib.loads(before)


def test_a_second_measurement_replaces_the_first(demo):
    keep_fits(demo, measured(2, 4, 7))
    keep_fits(demo, measured(3, 5, 8))
    rows = bp.load_build(demo).tables["fit"].rows
    assert [rows[key].clearance_mm for key in ("press", "sliding", "free")] == [0.1, 0.2, 0.4]
    assert demo.read_text().count("[[fit]]") == 3
    assert demo.read_text().count("# ---- fits, as measured") == 1


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(BuildFileError):
        keep_fits(tmp_path / "build.toml", measured(2, 4, 7))
