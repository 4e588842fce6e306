"""Two revisions of a build: only what differs is told, and it adds up."""

import json
import shutil
from dataclasses import replace

import pytest
from typer.testing import CliRunner

import buildplan as bp
from buildplan.bill import compare_revisions
from buildplan.cli import app
from buildplan.demo import demo_folder
from buildplan.device.chain.shape import DeviceTables
from buildplan.plan import mark_of, revision_of
from buildplan.report.compare_text import changes_sentence, signed

SMALL = ("push_rod", "servo_arm")


@pytest.fixture(scope="module")
def build():
    whole = bp.load_build(demo_folder())
    parts = tuple(part for part in whole.parts if part.name in SMALL)
    return replace(whole, parts=parts, device=DeviceTables())


@pytest.fixture(scope="module")
def plan(build):
    return bp.make_plan(build, workers=1)


def changes_of(plan, build):
    return compare_revisions(revision_of(plan), revision_of(bp.make_plan(build, workers=1)))


def test_the_same_build_changes_nothing(plan, build):
    found = changes_of(plan, build)
    assert found.same
    assert changes_sentence(found, "EUR") == "Nothing changes."


def test_a_renamed_part_is_no_change(plan, build):
    parts = (replace(build.parts[0], name="coupler"), build.parts[1])
    assert build.parts[0].name == "push_rod"
    found = changes_of(plan, replace(build, parts=parts))
    assert [one.kind for one in found.parts] == ["renamed"]
    assert "1 part only got another name" in changes_sentence(found, "EUR")


def test_another_recipe_is_printed_anew_and_says_by_how_much(plan, build):
    thin = replace(build.parts[0].recipe, key="thin", layer_mm=0.15)
    parts = (replace(build.parts[0], recipe=thin), build.parts[1])
    found = changes_of(plan, replace(build, parts=parts))
    (one,) = found.parts
    assert (one.name, one.differs) == ("push_rod", ("how",))
    assert one.time_h == pytest.approx(found.time_h)
    assert found.reprint_h > 0.2
    assert "Print anew: push rod" in changes_sentence(found, "EUR")


def test_one_more_screw_pack_is_one_line(plan, build):
    bought = tuple(
        replace(item, quantity=60) if item.name == "screw M3 x 8" else item for item in build.bought
    )
    found = changes_of(plan, replace(build, bought=bought))
    assert [(line.item, line.packs) for line in found.lines] == [("screw M3 x 8", 1)]
    assert found.reprint_h == 0.0
    assert changes_sentence(found, "EUR") == (
        "Nothing is printed anew; the bill changes by +4.20 EUR."
    )


def test_the_mark_follows_what_is_printed_and_nothing_else(plan, build):
    dearer = replace(build, bought=build.bought[1:])
    assert mark_of(bp.make_plan(dearer, workers=1)) == mark_of(plan)
    turned = replace(build.parts[0], quantity=2)
    other = bp.make_plan(replace(build, parts=(turned, build.parts[1])), workers=1)
    assert mark_of(other) != mark_of(plan)


def test_signs_of_differences():
    assert (signed(1.25, 1), signed(-0.04, 1), signed(0.0, 2), signed(-3.0, 0)) == (
        "+1.3",
        "0.0",
        "0.00",
        "−3",
    )


@pytest.mark.slow
def test_the_command_tells_both_revisions_apart(tmp_path):
    for name in ("a", "b"):
        shutil.copytree(
            demo_folder(), tmp_path / name, ignore=shutil.ignore_patterns("*.py", "__pycache__")
        )
    file = tmp_path / "b" / "build.toml"
    text = file.read_text("utf-8").replace('revision = "A"', 'revision = "B"')
    file.write_text(text.replace("price_cost = 62.00", "price_cost = 70.00"), "utf-8")
    done = CliRunner().invoke(
        app, ["compare", str(tmp_path / "a" / "build.toml"), str(file), "--json"]
    )
    assert done.exit_code == 0, done.output
    data = json.loads(done.stdout)
    assert (data["before"], data["after"]) == ("sprout house A", "sprout house B")
    assert [(line["item"], line["cost"]) for line in data["lines"]] == [
        ("single-board computer", "8.00")
    ]
    assert data["parts"] == []
