"""Orders, calendar and readiness: what is entered is kept in the build file, once."""

from datetime import date, datetime, timedelta
from pathlib import Path

import icalendar
import pytest
from answer_builds import write_build

import buildplan.plan.ready
from buildplan.build import load_build
from buildplan.errors import InputError
from buildplan.notebook.answers import (
    keep_result,
    keep_states,
    open_build,
    plan_of,
    show_bill,
    show_budget,
    show_calendar,
    show_chances,
    show_claims,
    show_looks,
    show_orders,
    show_verdict,
    try_claims,
    write_files,
)
from buildplan.notebook.answers.budget import order_rows
from buildplan.notebook.answers.readiness import result_changes, results_of
from buildplan.plan import make_plan

ASKED = (show_bill, show_budget, show_orders, show_calendar, show_chances, keep_states)
BEFORE = (show_verdict, show_claims, show_looks)


@pytest.fixture(scope="module")
def short_long_prints():
    """A print of an hour counts as long: the parts of this build are small."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(buildplan.plan.ready, "LONG_PRINT_H", 1.0)
        yield


@pytest.fixture(scope="module")
def planned_file(tmp_path_factory, short_long_prints):
    path = write_build(tmp_path_factory.mktemp("orders"))
    plan_of(open_build(path))
    return path


@pytest.fixture
def build(planned_file):
    """The build as it was written; its plan is worked out already."""
    write_build(planned_file.parent)
    return open_build(planned_file)


def test_states_are_kept_by_item_and_by_supplier(build):
    answer = keep_states(build, {"Fern": "ordered", "window film": "arrived"})
    assert "3 items changed" in answer.heading
    kept = {item.name: item.state for item in load_build(build.path).bought}
    assert kept == {"computer": "ordered", "servo": "ordered", "window film": "arrived"}
    assert "# the comment stays" in build.path.read_text("utf-8")


def test_the_same_state_twice_writes_nothing(build):
    keep_states(build, {"servo": "ordered"})
    before = build.path.read_bytes()
    answer = keep_states(build, {"servo": "ordered"})
    assert build.path.read_bytes() == before
    assert "changed" not in answer.heading


@pytest.mark.parametrize("states", [{"servo": "lost"}, {"motor": "ordered"}])
def test_a_wrong_name_or_state_is_refused_before_anything_is_written(build, states):
    before = build.path.read_bytes()
    with pytest.raises(InputError):
        keep_states(build, {"computer": "ordered"} | states)
    assert build.path.read_bytes() == before


def test_what_has_arrived_holds_nothing_up_and_asks_for_no_order(build):
    first = plan_of(build)
    keep_states(build, {"Willow": "arrived", "Fern": "ordered"})
    later = plan_of(build)
    assert {line.name.partition(":")[0] for line in first.calendar.orders} == {"Fern", "Willow"}
    assert later.calendar.orders == ()
    assert later.calendar.finish.p50_h < first.calendar.finish.p50_h
    rows = {row["supplier"]: row for row in order_rows(later)}
    assert rows["Willow"]["open"] == 0
    assert later.bill_cost == first.bill_cost


def test_a_plan_after_small_changes_is_the_plan_made_anew(build):
    keep_states(build, {"computer": "have", "servo": "arrived"})
    keep_result(build, "every wall prints", "held", on="2031-03-17")
    quick, anew = plan_of(build), make_plan(load_build(build.path))
    assert quick.bill_cost == anew.bill_cost
    assert quick.budget == anew.budget
    assert quick.calendar.bars == anew.calendar.bars
    assert [one.readiness for one in quick.ready] == [one.readiness for one in anew.ready]
    assert quick.first == anew.first


def test_order_by_days_stand_first_and_in_order(build):
    rows = order_rows(plan_of(build))
    days = [row["by"] for row in rows]
    dated = [day for day in days if day]
    assert days[: len(dated)] == dated
    assert rows[0]["by"]


def test_files_are_named_in_full_and_the_same_each_time(build):
    answer = write_files(build)
    files = sorted((build.path.parent / "out").iterdir())
    first = {path: path.read_bytes() for path in files}
    assert {path.name for path in files} == {"plan.xlsx", "bill.csv", "calendar.ics"}
    for path in files:
        assert str(path.absolute()) in str(answer)
    write_files(build)
    assert first == {path: path.read_bytes() for path in files}
    dates = icalendar.Calendar.from_ical((build.path.parent / "out" / "calendar.ics").read_bytes())
    assert list(dates.walk("VEVENT"))


def test_results_of_tests_move_the_verdict_and_are_kept(build):
    name = "bottom_plate: every wall prints"
    failed = keep_result(build, "every wall", "failed", on="2031-03-17")
    assert failed.severity == "stop"
    assert "Mend first: bottom plate: every wall prints" in str(failed)
    (claim,) = load_build(build.path).decisions.claims
    assert (claim.name, claim.failed_on, claim.proved_on) == (name, "2031-03-17", "")
    keep_result(build, name, "held", on="2031-03-18")
    (claim,) = load_build(build.path).decisions.claims
    assert (claim.failed_on, claim.proved_on) == ("", "2031-03-18")
    keep_result(build, name, "not tried")
    assert set(results_of(load_build(build.path), plan_of(build)).values()) == {"not tried"}


def test_a_result_that_is_there_changes_nothing(build):
    keep_result(build, "every wall", "held", on="2031-03-17")
    before = build.path.read_bytes()
    answer = keep_result(build, "every wall", "held", on="2031-04-01")
    assert build.path.read_bytes() == before
    assert "was kept before" in str(answer)
    assert result_changes(load_build(build.path), {}, "2031-03-17") == ([], [])


@pytest.mark.parametrize(
    ("claim", "result", "on"),
    [("bottom plate", "held", ""), ("xyz", "held", ""), ("every wall", "fine", ""),
     ("every wall", "held", "monday")],
)  # fmt: skip
def test_a_result_that_cannot_be_is_refused(build, claim, result, on):
    before = build.path.read_bytes()
    with pytest.raises(InputError):
        keep_result(build, claim, result, on)
    assert build.path.read_bytes() == before


def test_the_panel_writes_a_choice_at_once_and_answers(build):
    panel = try_claims(build)
    name = "bottom_plate: every wall prints"
    row = panel.rows[name] if name in panel.rows else panel.rows[next(iter(panel.rows))]
    row.input.value = "failed"
    assert any(claim.failed_on for claim in load_build(build.path).decisions.claims)
    assert panel.answer[0].readiness.verdict == "no-go"
    assert date.today().isoformat() in build.path.read_text("utf-8")
    panel.close()


def test_looks_have_the_hours_of_the_clock_when_the_start_is_given(build):
    shown = str(show_looks(build, "", "2031-03-22 08:30"))
    end = plan_of(build).ready[0].card.day.looks[-1].after_h
    at = datetime(2031, 3, 22, 8, 30) + timedelta(hours=end)
    assert f"Sat 22 Mar, {at:%H:%M}" in shown
    with pytest.raises(InputError, match="no moment"):
        show_looks(build, "", "tomorrow")


@pytest.mark.parametrize("ask", [*ASKED, *BEFORE], ids=lambda ask: ask.__name__)
def test_every_answer_says_it_in_one_sentence(ask, build):
    answer = ask(build)
    assert answer.heading
    assert "_" not in answer.heading
    assert "<table" in answer.html or "<svg" in answer.html


@pytest.fixture(scope="module")
def bare(tmp_path_factory):
    """Parts alone: nothing bought, no hours, no print that is long."""
    return open_build(write_build(tmp_path_factory.mktemp("bare"), whole=False))


@pytest.mark.parametrize("ask", [*ASKED, *BEFORE, write_files], ids=lambda f: f.__name__)
def test_parts_alone_get_answers_too(ask, bare):
    assert ask(bare).heading


def test_without_hours_it_says_what_to_write(bare):
    assert "[attended]" in str(show_calendar(bare))
    assert Path(bare.path).exists()
