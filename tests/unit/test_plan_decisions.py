"""When it is done and what must be true before: from the build file to plan and report."""

import shutil
from dataclasses import replace
from datetime import date

import icalendar
import pytest

import buildplan as bp
from buildplan.build.decisions import Decisions
from buildplan.demo import demo_folder
from buildplan.device.chain.shape import DeviceTables
from buildplan.report.calendar_section import (
    calendar_lines,
    calendar_section,
    ready_heading,
    ready_section,
)
from buildplan.report.files import calendar_ics


@pytest.fixture(scope="module")
def build():
    return replace(bp.load_build(demo_folder()), device=DeviceTables())


@pytest.fixture(scope="module")
def plan(build):
    """The demo's longest and two small parts, without its device."""
    names = ("bottom_plate", "push_rod", "camera_ring")
    parts = tuple(part for part in build.parts if part.name in names)
    return bp.make_plan(replace(build, parts=parts), workers=1)


def without(build, **changes):
    parts = tuple(part for part in build.parts if part.name in ("push_rod", "camera_ring"))
    decisions = replace(build.decisions, **changes)
    return bp.make_plan(replace(build, parts=parts, decisions=decisions), workers=1)


def test_every_part_is_printed_once_and_the_date_is_a_chance(plan):
    calendar = plan.calendar
    tasks = {bar.task for bar in calendar.bars if bar.kind == "print"}
    assert "camera_ring" in tasks
    assert len(tasks) == 3
    chances = [row.chance_frac for row in calendar.finish.by_day]
    assert chances == sorted(chances)
    assert calendar.finish.p50_day <= calendar.finish.p90_day
    assert calendar.finish.p50_day > date(2031, 3, 17)


def test_nobody_sets_up_outside_the_attended_hours(plan):
    windows = plan.calendar.windows
    for bar in plan.calendar.bars:
        if bar.kind in ("set-up", "removal"):
            inside = (windows.start_h <= bar.start_h + 1e-9) & (bar.end_h <= windows.end_h + 1e-9)
            assert inside.any(), bar


def test_what_sets_the_date_and_when_to_order_is_said(plan):
    lines = calendar_lines(plan.calendar)
    assert lines[0].startswith("What sets the date: order from Willow")
    assert any("while nobody is there, as you have allowed" in line for line in lines)
    days = [line.by for line in plan.calendar.orders]
    assert days == sorted(days)
    assert min(days) >= date(2031, 3, 17)


def test_without_a_statement_printers_do_not_run_alone(build):
    plan = without(build, unattended=())
    assert plan.calendar.attendance is None
    assert plan.calendar.finish.unattended_h == pytest.approx(0.0, abs=1e-9)


def test_a_print_longer_than_any_attended_time_is_refused_with_what_fits(build):
    shell = tuple(part for part in build.parts if part.name == "base_shell")
    alone = replace(build.decisions, unattended=())
    plan = bp.make_plan(replace(build, parts=shell, decisions=alone), workers=1)
    assert plan.calendar.finish is None
    assert "longest window 15.0 h minus set-up" in plan.calendar.refused
    shown = calendar_section(plan)
    assert shown["heading"].startswith("No calendar")


def test_a_statement_that_is_too_old_is_a_stop(build):
    old = replace(build.decisions.unattended[0], stated="2029-01-01")
    plan = without(build, unattended=(old,))
    assert [finding.severity for finding in plan.calendar.findings] == ["stop"]
    assert plan.verdict == "stop"


def test_without_attended_hours_there_is_no_calendar(build):
    plan = without(build, attended=None)
    assert plan.calendar is None
    assert calendar_section(plan) == {"shown": False}


def test_the_calendar_file_is_read_by_others_and_the_same_every_time(plan):
    data = calendar_ics(plan, plan.calendar)
    assert data == calendar_ics(plan, plan.calendar)
    events = icalendar.Calendar.from_ical(data).walk("VEVENT")
    names = [str(event["SUMMARY"]) for event in events]
    assert any("Willow" in name for name in names)
    assert len({str(event["UID"]) for event in events}) == len(events)


def test_a_long_print_gets_its_list_and_a_short_one_none(build, plan):
    assert plan.ready == ()
    shell = tuple(part for part in build.parts if part.name == "base_shell")
    long = bp.make_plan(replace(build, parts=shell), workers=1)
    (one,) = long.ready
    assert one.part == "base_shell"
    assert one.readiness.tested_h < one.readiness.untested_h
    assert ready_heading(long).endswith("of the base shell")
    rows = ready_section(long)[0]["lines"]
    assert any(row["name"] == "drain mat keeps the bed from flooding" for row in rows)
    assert any("coupon hinge left" in row["test"] for row in rows)
    assert {row["band"] for row in rows} <= {"now", "before printing", "skip"}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('after = ["roof_vent", ', 'after = ["roof", ', 'after "roof" is not known'),
        ("work_h = 0.7", "work_h = -1.0", "work_h -1 is out of range"),
        ('printer = "north bench"\nstated', 'printer = "west bench"\nstated', '"west bench"'),
        ('start = "06:30"', 'start = "6h30"', '"6h30"'),
        ("p_wrong_frac = 0.08 ", "p_wrong_frac = 1.8 ", "p_wrong_frac 1.8 is not allowed"),
    ],
)
def test_a_wrong_table_is_a_fault_with_its_line(tmp_path, old, new, said):
    text = (demo_folder() / "build.toml").read_text("utf-8")
    assert old in text
    shutil.copytree(demo_folder(), tmp_path / "h", ignore=shutil.ignore_patterns("*.py", "__pyc*"))
    (tmp_path / "h" / "build.toml").write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(bp.BuildFileError) as found:
        bp.load_build(tmp_path / "h")
    lines = str(found.value).splitlines()
    assert len(lines) == 1
    assert said in lines[0]
    assert "line " in lines[0]


def test_nothing_said_is_nothing_decided():
    assert Decisions().attended is None
