"""Answers on printing and on the ways to get a part: numbers, and what the build file keeps."""

import re
import shutil
import tomllib

import pytest
from answer_builds import write_build

from buildplan.build import load_build
from buildplan.errors import BuildFileError, InputError
from buildplan.notebook.answers import (
    keep_way,
    keep_way_up,
    look_at_pieces,
    open_build,
    part_of,
    pieces_of,
    plan_of,
    show_bad_day,
    show_changes,
    show_choice,
    show_coupons,
    show_findings,
    show_measures,
    show_pieces,
    show_prints,
    show_ways_up,
    write_coupons,
)
from buildplan.notebook.answers.memory import card_of_part, ways_of
from buildplan.part import read_part

SERVICE = """
[[service]]
name = "Service Alder"
shipping_cost = 6.90
lead_d = 6.0
feedstocks = ["PETG"]

[[quote]]
service = "Service Alder"
part = "bottom_plate"
cost = 49.00
said_on = "2031-03-01"
"""
FEATURE = """
[[part.feature]]
name = "corner"
kind = "boss"
box_mm = [0.0, 0.0, -5.0, 25.0, 25.0, 10.0]
"""


@pytest.fixture(scope="module")
def build(tmp_path_factory):
    file = write_build(tmp_path_factory.mktemp("print"), whole=False, slow=True)
    text = file.read_text("utf-8").replace('recipe = "slow"\n', f'recipe = "slow"\n{FEATURE}', 1)
    file.write_text("# the first line stays\n" + text + SERVICE, "utf-8")
    return open_build(file)


@pytest.fixture
def copied(build, tmp_path):
    """The same build in a folder of its own, to be written to."""
    shutil.copytree(build.path.parent, tmp_path / "own")  # parts are named: nothing is planned
    return load_build(tmp_path / "own" / "build.toml")


def test_every_part_has_one_row_and_the_heading_counts_the_cautions(build):
    plan, answer = plan_of(build), show_prints(build)
    assert answer.html.count("<tr>") == 1 + len(plan.parts)
    found = [f.severity for item in plan.parts for f in item.findings]
    stops, cautions = found.count("stop"), found.count("caution")
    if stops:
        assert f"{stops} stop" in answer.heading
    elif cautions:
        assert f"{cautions} caution" in answer.heading
    else:
        assert "nothing that must be looked at" in answer.heading


def test_all_cautions_of_a_part_are_told_with_what_to_do(build):
    item = part_of(plan_of(build), "bottom_plate")
    said = str(show_findings(build, "Bottom plate"))
    for finding in item.findings:
        if finding.severity != "note":
            assert finding.measured.split()[0] in said
    assert show_findings(build).heading.startswith("Bottom plate")  # the longest print


def test_a_part_that_is_not_there_is_named_with_what_is(build):
    with pytest.raises(InputError, match=r"bottom_plat.*Allowed: bottom_plate, servo_arm.*mean"):
        show_measures(build, "bottom_plat")


def test_measures_are_those_of_the_checks(build):
    item = part_of(plan_of(build), "servo_arm")
    said = str(show_measures(build, "servo_arm"))
    assert f"at least {item.checks.walls.limit_mm:.1f} mm" in said
    assert (f"{len(item.checks.gaps.holes)} hole" in said) == bool(item.checks.gaps.holes)


def test_the_bad_day_is_never_shorter_than_the_usual_one(build):
    item = part_of(plan_of(build), "bottom_plate")
    card, answer = card_of_part(build, item), show_bad_day(build)
    whole = card.home[0]
    assert whole.high_h > whole.usual_h
    assert f"{whole.usual_h:.1f} h" in answer.heading.replace("\u00a0", " ")
    rows = re.findall(r"^In .*$", str(answer), re.M)
    assert len([row for row in rows if row.count("|") >= 8]) == len(card.home)
    assert "55.90" in str(answer)  # 49.00 and 6.90 for the post
    assert "no print was logged" in str(answer) or "These chances rest on" in str(answer)


def test_a_short_print_has_a_bad_day_too(build):
    answer = show_bad_day(build, "servo_arm")
    assert answer.heading.startswith("Servo arm in one piece: usually")


def test_pieces_asked_for_are_cut_and_shown(build):
    item = part_of(plan_of(build), "bottom_plate")
    made = pieces_of(build, item, 2).plan
    said = str(show_pieces(build, pieces=2))
    assert len(made.pieces) == 2
    whole = item.part.volume_mm3
    assert sum(p.part.volume_mm3 for p in made.pieces) == pytest.approx(whole, rel=0.03)
    for piece in made.pieces:
        assert piece.name.replace("_", " ") in said
    assert look_at_pieces(build, pieces=2).header["list_title"].startswith("Assembly")
    with pytest.raises(InputError, match="give 2 to 8"):
        show_pieces(build, pieces=9)


def test_a_short_part_is_not_cut_and_the_answer_says_why(build):
    answer = show_pieces(build, "servo_arm")
    assert answer.heading == "The servo arm is not cut"
    assert "pieces = 2" in str(answer)


def test_the_choice_names_each_part_and_what_would_change_it(build):
    said = str(show_choice(build))
    assert all(item.name.replace("_", " ") in said for item in plan_of(build).parts)
    assert "day_cost" in str(show_changes(build))


def test_without_a_second_way_there_is_nothing_to_choose(tmp_path):
    alone = open_build(write_build(tmp_path, whole=False))
    assert show_choice(alone).heading == "There is nothing to choose"
    assert "[[service]]" in str(show_changes(alone))


def test_every_way_up_has_its_number_and_picture(build):
    check, matrices = ways_of(build, "servo_arm")
    answer = show_ways_up(build, "servo_arm")
    assert len(check.best) == len(matrices) <= answer.html.count("<img")
    assert f"{len(matrices)}: " in str(answer)


def test_coupons_are_written_as_they_are_planned(build, tmp_path):
    plan = plan_of(build)
    assert [one.coupon.feature for one in plan.coupons] == ["corner"]
    assert "corner" in str(show_coupons(build))
    answer = write_coupons(build, tmp_path / "small")
    files = sorted((tmp_path / "small").iterdir())
    assert [file.suffix for file in files] == [".3mf", ".stl"]
    assert all(file.name in str(answer) for file in files)
    volume = plan.coupons[0].coupon.part.volume_mm3
    for file in files:
        assert read_part(file).volume_mm3 == pytest.approx(volume, rel=1e-4)


def test_asked_again_each_answer_is_the_same(build):
    asked = (show_prints, show_findings, show_measures, show_bad_day, show_choice, show_coupons)
    for ask in asked:
        assert ask(build).html == ask(build).html


def test_a_way_is_kept_once_and_the_rest_of_the_file_stays(copied):
    first = copied.path.read_bytes()
    assert "as the build file says" in keep_way(copied, "bottom_plate").heading
    assert copied.path.read_bytes() == first

    assert keep_way(copied, "bottom_plate", "Service Alder").severity == "ok"
    text = copied.path.read_text("utf-8")
    assert text.startswith("# the first line stays")
    changed = tomllib.loads(text)
    assert changed["part"][0].pop("way") == "Service Alder"
    assert changed == tomllib.loads(first.decode())
    assert load_build(copied.path).parts[0].way.service == "Service Alder"
    assert "already" in keep_way(copied, "bottom_plate", "Service Alder").heading

    keep_way(copied, "bottom_plate", way="as it must be")
    assert load_build(copied.path).parts[0].way == load_build(copied.path).parts[1].way


def test_a_way_that_is_none_changes_nothing_and_says_what_may_be(copied):
    first = copied.path.read_bytes()
    with pytest.raises(BuildFileError, match="Service Alder"):
        keep_way(copied, "bottom_plate", way="by magic")
    assert copied.path.read_bytes() == first


def test_a_way_up_is_kept_by_its_number_and_taken_back(copied):
    first = copied.path.read_bytes()
    check, matrices = ways_of(copied, "servo_arm")
    keep_way_up(copied, "servo_arm")
    assert copied.path.read_bytes() == first
    with pytest.raises(InputError, match=f"1 to {len(matrices)}"):
        keep_way_up(copied, "servo_arm", take=99)

    other = next(n for n, way in enumerate(check.best, 1) if way.turn_deg > 1.0)
    assert keep_way_up(copied, "servo_arm", take=other).severity == "ok"
    kept = load_build(copied.path).parts[1].orientation
    assert kept == pytest.approx(matrices[other - 1], abs=1e-9)
    keep_way_up(copied, "servo_arm", take=-1)
    assert load_build(copied.path).parts[1].orientation == copied.parts[1].orientation
