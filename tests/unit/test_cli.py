"""The command line as its user meets it: output, exit codes, files written whole."""

import csv
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import solids
from command import run


def box_file(folder, size=20.0, name="box.stl"):
    from stl import mesh

    vertices, facets = solids.arrays(solids.box(size, size, size))
    data = np.zeros(len(facets), dtype=mesh.Mesh.dtype)
    data["vectors"] = vertices[facets]
    mesh.Mesh(data).save(str(folder / name))
    return folder / name


@pytest.fixture
def planned(demo_run):
    return demo_run.folder, demo_run.said


def test_plan_prints_a_row_for_every_part_and_names_its_files(planned):
    folder, out = planned
    for word in ("base shell", "roof vent", "hinge pin x 2", "camera ring", "all parts", "First"):
        assert word in out
    for name in ("plan.json", "bill.csv", "report.html"):
        path = folder / "out" / name
        assert path.stat().st_size > 500
        assert str(path) in out.replace("\n", "")
    assert max(map(len, out.splitlines()[:-4])) <= 100


def test_plan_json_and_bill_hold_the_same_numbers_as_the_table(planned):
    folder, out = planned
    plan = json.loads((folder / "out" / "plan.json").read_text("utf-8"))
    assert plan["schema_version"] == 3
    assert len(plan["parts"]) == 9
    shell = next(p for p in plan["parts"] if p["name"] == "base_shell")
    assert f"{shell['estimate']['time_h']:.1f}" in out
    assert 18.0 <= shell["estimate"]["time_h"] <= 26.0
    small = next(o for o in shell["options"] if o["printer"] == "north_bench")
    assert not small["fit"]["fits"]
    rows = list(csv.DictReader((folder / "out" / "bill.csv").read_text("utf-8").splitlines()))
    assert f"{sum(float(r['cost']) for r in rows):.2f}" == plan["orders"]["goods_cost"]
    paid = sum(float(plan["orders"][key]) for key in ("goods_cost", "shipping_cost"))
    assert f"{paid:.2f}" == plan["totals"]["bill_cost"] == "305.70"


def test_the_report_is_one_file_that_names_no_other_host(planned):
    folder, _ = planned
    page = (folder / "out" / "report.html").read_text("utf-8")
    assert "http://" not in page
    assert "https://" not in page.replace("https://scripts.sil.org", "")
    assert "invented" in page


def test_two_runs_write_the_same_bytes(tmp_path):
    assert run("new", "mine", cwd=tmp_path).returncode == 0
    file = tmp_path / "mine" / "build.toml"
    box_file(file.parent, size=12.0)
    with file.open("a", encoding="utf-8") as text:
        text.write('\n[[part]]\nname = "box"\nfile = "box.stl"\nunit = "mm"\n')
        text.write('feedstock = "PLA"\nquantity = 2\n')
    for name, workers in (("one", "1"), ("two", "2")):
        done = run("plan", file, "--out", name, "--workers", workers, cwd=tmp_path)
        assert done.returncode == 0, done.stderr
    names = {path.name for path in (tmp_path / "one").iterdir()}
    assert names >= {"plan.json", "bill.csv", "report.html", "plan.xlsx"}
    for name in names:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


@pytest.mark.slow
def test_another_run_of_the_whole_demo_writes_the_same_bytes(demo_run, tmp_path):
    out = tmp_path / "again"
    words = ("plan", "sprout/build.toml", "--out", out, "--workers", "2")
    again = run(*words, cwd=demo_run.folder)
    assert again.returncode == 0, again.stderr
    for name in ("plan.json", "bill.csv", "report.html"):
        assert (demo_run.out / name).read_bytes() == (out / name).read_bytes()


def test_part_prints_one_json_object_and_nothing_else(tmp_path):
    box_file(tmp_path)
    done = run("part", "box.stl", "--printer", "small_moving_bed", "--json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    found = json.loads(done.stdout)
    assert found["size_mm"] == [20.0, 20.0, 20.0]
    assert found["volume_mm3"] == 8000.0
    assert found["fit"]["how"] == "as placed"


def test_part_compares_materials_in_words(tmp_path):
    box_file(tmp_path)
    done = run("part", "box.stl", "--materials", "all", cwd=tmp_path, columns="120")
    assert done.returncode == 0, done.stderr
    for word in ("PLA", "TPU", "good for", "bad for", "round platform"):
        assert word in done.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("part", "nowhere.stl"), "nowhere.stl"),
        (("part", "box.stl", "--feedstock", "PTEG"), "Did you mean PETG"),
        (("part", "box.stl", "--printer", "nonsense"), "nonsense"),
        (("part", "box.stl", "--layer-mm", "7"), "7"),
        (("part", "box.stl", "--unit", "furlong"), "furlong"),
        (("plan", "missing.toml"), "missing.toml"),
        (("demo", "."), "not empty"),
        (("tables", "screws"), "printers, feedstocks, recipes, rules"),
        (("part",), "Missing argument"),
        (("fly",), "No such command"),
    ],
)
def test_bad_input_is_one_line_on_the_error_stream_and_exit_code_2(tmp_path, words, said):
    box_file(tmp_path)
    done = run(*words, cwd=tmp_path)
    assert done.returncode == 2, done.stdout
    assert done.stdout == ""
    lines = [line for line in done.stderr.splitlines() if not line.startswith("First run")]
    assert len(lines) == 1, done.stderr
    assert lines[0].startswith("error: ")
    assert said in lines[0]
    assert "Traceback" not in done.stderr


def test_strict_leaves_with_3_when_there_is_a_stop(tmp_path):
    box_file(tmp_path, size=300.0)
    words = ("part", "box.stl", "--printer", "small_moving_bed")
    assert run(*words, cwd=tmp_path).returncode == 0
    strict = run(*words, "--strict", cwd=tmp_path)
    assert strict.returncode == 3
    assert "stop" in strict.stdout
    assert "does not fit" in strict.stdout


def test_a_readable_answer_at_eighty_columns(tmp_path):
    box_file(tmp_path)
    done = run("part", "box.stl", cwd=tmp_path, columns="80")
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_new_writes_a_build_file_that_plans(tmp_path):
    assert run("new", "mine", cwd=tmp_path).returncode == 0
    done = run("plan", "mine/build.toml", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert run("new", "mine", cwd=tmp_path).returncode == 2


def test_kernels_compile_without_a_cache_where_none_can_be_written(tmp_path):
    """Numba documents the RuntimeError "no locator available" for this case."""
    code = (
        "import numba.core.caching as c\n"
        "c.CompileResultCacheImpl._locator_classes = []\n"
        "c.CacheImpl._locator_classes = []\n"
        "from buildplan.kernels.motion import time_moves\n"
        "print(time_moves.stats.cache_path)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "None"


def test_a_part_of_the_wrong_unit_says_so(tmp_path):
    box_file(tmp_path, size=1.0)
    found = json.loads(run("part", "box.stl", "--json", cwd=tmp_path).stdout)
    assert "units" in [finding["check"] for finding in found["findings"]]
    assert Path(found["file"]).name == "box.stl"
