"""Every combination estimated: the numbers of single estimates, whatever runs the jobs."""

import csv
import json
import math
from dataclasses import replace

import pytest
from command import run
from gap_solids import as_part
from joblib import parallel_config
from solids import box

import buildplan as bp
from buildplan.errors import InputError
from buildplan.plan import StudyPart, study_build, study_parts


@pytest.fixture(scope="module")
def items():
    block, bar = as_part(box(12.0, 16.0, 6.0), "block"), as_part(box(460.0, 8.0, 4.0), "bar")
    feedstocks = (bp.feedstock("PLA"), bp.feedstock("PETG"))
    recipes = (bp.recipe("everyday"),)
    return [StudyPart(part=part, feedstocks=feedstocks, recipes=recipes) for part in (block, bar)]


@pytest.fixture(scope="module")
def printers():
    rows = bp.printers()
    vat = next(row for row in rows.values() if row.process == "vat")
    return [rows["small_moving_bed"], rows["large_moving_bed"], vat]


@pytest.fixture(scope="module")
def rows(items, printers):
    return study_parts(items, printers, ways=2, workers=1)


def test_every_combination_has_its_row_in_order(rows, items, printers):
    names = [(row.part, row.way, row.feedstock, row.printer) for row in rows]
    assert len(set(names)) == len(rows)
    ways = {name: 1 + max(row.way for row in rows if row.part == name) for name in ("block", "bar")}
    assert len(rows) == sum(ways[item.part.name] * 2 * len(printers) for item in items)
    assert names == sorted(
        names,
        key=lambda n: (n[0] != "block", n[1], n[2] != "PLA", [p.key for p in printers].index(n[3])),
    )


def test_a_row_is_the_single_estimate_bit_for_bit(rows, items, printers):
    for row in rows:
        if row.way or row.refused:
            continue
        item = next(one for one in items if one.part.name == row.part)
        feedstock = next(one for one in item.feedstocks if one.key == row.feedstock)
        printer = next(one for one in printers if one.key == row.printer)
        alone = bp.estimate_print(item.part, printer, feedstock, item.recipes[0])
        assert (row.time_h, row.mass_g, row.cost) == (alone.time_h, alone.mass_g, alone.total_cost)
        assert row.fits == bp.check_fit(item.part, printer).fits


def test_what_cannot_be_computed_says_why_and_stops_nothing(rows, printers):
    refused = [row for row in rows if row.printer == printers[-1].key]
    assert refused
    assert all("is for vat" in row.refused and math.isnan(row.time_h) for row in refused)
    assert any(not row.refused for row in rows)
    bars = [row for row in rows if row.part == "bar" and row.printer == "small_moving_bed"]
    assert not all(row.fits for row in bars)


@pytest.mark.parametrize("backend", ["threading", "loky"])
def test_threads_and_processes_give_identical_bits(backend, rows, items, printers):
    with parallel_config(backend=backend, n_jobs=2):
        assert repr(study_parts(items, printers, ways=2)) == repr(rows)


def test_the_order_of_what_is_asked_changes_no_row(rows, items, printers):
    turned = study_parts(items[::-1], printers, ways=1, workers=1)
    first = {repr(row) for row in rows if row.way == 0}
    assert {repr(row) for row in turned} == first


@pytest.mark.parametrize(("ways", "some"), [(0, True), (6, True), (1, False)])
def test_nothing_to_combine_is_refused(ways, some, items, printers):
    with pytest.raises(InputError, match=r"^study: "):
        study_parts(items if some else [], printers, ways=ways)


def test_a_build_names_its_parts_and_printers():
    from buildplan.demo import demo_folder

    build = bp.load_build(demo_folder())
    found = study_build(build, parts=["camera ring"], workers=1)
    assert {row.printer for row in found} == {printer.key for printer in build.printers}
    with pytest.raises(InputError, match="Did you mean camera_ring"):
        study_build(build, parts=["camera_rings"])
    with pytest.raises(InputError, match='printer "north" is not known'):
        study_build(replace(build), printers=["north"])


def test_the_command_prints_the_cheapest_and_writes_all(tmp_path):
    assert run("demo", "sprout", cwd=tmp_path).returncode == 0
    words = ("study", "sprout/build.toml", "--part", "push_rod", "--feedstock", "PLA,PETG")
    done = run(*words, "--csv", "all.csv", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "combinations of 1 part can be printed" in done.stdout
    table = list(csv.DictReader((tmp_path / "all.csv").read_text("utf-8").splitlines()))
    told = json.loads(run(*words, "--json", cwd=tmp_path).stdout)["rows"]
    assert len(table) == len(told) > 2
    assert [row["refused"] for row in table] == [row["refused"] for row in told]
