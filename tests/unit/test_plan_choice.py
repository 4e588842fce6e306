"""At home, in pieces or sent out: from services and quotes in the build file to plan and report."""

import json
from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

import buildplan as bp
from buildplan.build.decisions import Decisions
from buildplan.decide.choice import AtHome, SentOut, evaluate
from buildplan.decide.sending import ChoiceTable, QuoteTable, ServiceTable
from buildplan.demo import demo_folder
from buildplan.device.chain.shape import DeviceTables
from buildplan.errors import InputError
from buildplan.plan import read_experience, refine_choice
from buildplan.plan.choice import longest_lead_d
from buildplan.plan.refine import network_of
from buildplan.report import as_json
from buildplan.report.choice_section import (
    choice_heading,
    choice_rows,
    choice_section,
    choice_sentences,
    sent_rows,
)
from buildplan.report.choice_text import print_played
from buildplan.report.page import report_page
from buildplan.report.plan_text import print_plan

NAMES = ("roof_vent", "push_rod", "camera_ring")


@pytest.fixture(scope="module")
def build():
    whole = replace(bp.load_build(demo_folder()), device=DeviceTables())
    return replace(whole, parts=tuple(part for part in whole.parts if part.name in NAMES))


@pytest.fixture(scope="module")
def plan(build):
    return bp.make_plan(build, workers=1)


def planned(build, **changes):
    return bp.make_plan(
        replace(build, decisions=replace(build.decisions, **changes)), workers=1
    ).choice


def test_the_choice_is_never_dearer_than_what_the_plan_counts(plan):
    choice = plan.choice
    assert [part.name for part in choice.case.parts] == [part.name for part in plan.parts]
    assert choice.chosen.totals.total <= choice.as_planned.total
    assert choice.chosen.totals == evaluate(choice.case, choice.chosen.picks)
    assert not choice.chosen.totals.broken
    assert all(reason.more_cents is None or reason.more_cents >= 0 for reason in choice.reasons)


def test_own_time_and_grams_of_an_option_are_those_of_its_estimate(build, plan):
    for part, item in zip(plan.choice.case.parts, plan.parts, strict=True):
        for option in part.options:
            if not isinstance(option, AtHome) or option.pieces > 1:
                continue
            key = next(row.key for row in build.printers if row.name == option.printer)
            one = next(o.estimate for o in item.options if o.printer == key)
            assert option.grams == pytest.approx(one.mass_g * item.quantity, abs=1.0)
            assert option.expected_min >= 60.0 * one.time_h * item.quantity - 1.0
            assert option.own_min == pytest.approx(60.0 * one.own_time_h * item.quantity, abs=1.0)


def test_a_cheap_quote_sends_a_part_out_and_a_dear_one_keeps_it_home(build):
    oak = ServiceTable(name="Oak", lead_d=2.0)
    for cost, kind in ((0.01, SentOut), (5000.0, AtHome)):
        quote = QuoteTable(service="Oak", part="camera_ring", cost=cost)
        choice = planned(build, services=(oak,), quotes=(quote,))
        where = [part.name for part in choice.case.parts].index("camera_ring")
        option = choice.case.parts[where].options[choice.chosen.picks[where]]
        assert isinstance(option, kind), cost


def test_a_service_that_would_refuse_a_part_is_no_option(build):
    small = ServiceTable(name="Oak", lead_d=2.0, largest_mm=(20.0, 20.0, 20.0))
    quote = QuoteTable(service="Oak", part="roof_vent", cost=0.01)
    choice = planned(build, services=(small,), quotes=(quote,))
    options = [option for part in choice.case.parts for option in part.options]
    assert not any(isinstance(option, SentOut) for option in options)
    (row,) = (row for row in choice.rows if row.part == "roof_vent")
    assert "larger than Oak takes" in row.stops[0]


def test_a_day_that_cannot_be_kept_is_told_with_the_soonest(build):
    choice = planned(build, choice=ChoiceTable(done_by="2031-03-18"))
    assert choice.chosen is None
    assert "the soonest is day" in choice.refused
    assert choice_heading(choice, "EUR").startswith("No choice keeps what is asked")
    assert longest_lead_d(build) > 1.0


def test_one_way_for_each_part_is_no_choice(build):
    ring = tuple(part for part in build.parts if part.name == "camera_ring")
    alone = bp.make_plan(replace(build, parts=ring, decisions=Decisions()), workers=1)
    assert alone.choice is None
    assert choice_section(alone) is None


def test_old_quotes_are_findings_of_the_plan(plan):
    assert any("56 days old" in finding.what for finding in plan.choice.findings)


def test_every_part_has_its_row_and_every_quote_its_own(plan, build):
    choice = plan.choice
    rows = choice_rows(choice, "EUR")
    assert [row["part"] for row in rows] == ["roof vent", "push rod", "camera ring"]
    assert all(row["why"] for row in rows)
    quoted = [quote for quote in build.decisions.quotes if quote.part in NAMES]
    assert len(sent_rows(choice.rows, "EUR")) == len(quoted)
    said = " ".join(choice_sentences(choice, "EUR"))
    assert "failed tries to be expected" in said


def test_terminal_page_and_json_show_the_choice(plan):
    to = StringIO()
    print_plan(Console(file=to, width=100), plan)
    text = " ".join(to.getvalue().split())
    assert "At home or sent out" in text
    assert choice_heading(plan.choice, "EUR") in text.replace("\u00a0", " ").replace("\u202f", " ")
    page = report_page(plan)
    assert 'id="choice"' in page
    data = json.loads(as_json.dump(as_json.plan_object(plan)))["choice"]
    assert [row["part"] for row in data["parts"]] == list(NAMES)
    total = data["totals"]["total_cents"]
    components = ("sent", "shipping", "feedstock", "machine", "own", "risk", "day")
    assert total == sum(data["totals"][f"{name}_cents"] for name in components)


def test_a_hostile_service_is_shown_as_it_is_written(build):
    name = "<script>alert(1)</script>[bold]"
    service = ServiceTable(name=name, lead_d=2.0)
    quotes = (QuoteTable(service=name, part="roof_vent", cost=30.0),)
    decisions = replace(build.decisions, services=(service,), quotes=quotes)
    made = bp.make_plan(replace(build, decisions=decisions), workers=1)
    page = report_page(made)
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)" in page
    to = StringIO()
    print_plan(Console(file=to, width=400), made)
    if any(name in line for line in choice_sentences(made.choice, "EUR")):
        assert name in to.getvalue()


@pytest.fixture(scope="module")
def played(build, plan):
    return refine_choice(build, plan, read_experience(build), most_played=25, draws=400)


def test_the_calendar_never_likes_the_refined_choice_less_than_the_first(plan, played):
    found = played.refined
    assert found.first_value is None or found.value <= found.first_value
    assert len(found.picks) == len(plan.choice.case.parts)
    assert found.simulated.p50_d <= found.simulated.p90_d
    totals = evaluate(played.case, found.picks)
    assert found.simulated.cents == totals.total - totals.day


def test_what_is_sent_out_arrives_and_what_is_cut_prints_in_pieces(build, plan):
    choice = plan.choice
    sent = tuple(
        next((k for k, o in enumerate(part.options) if isinstance(o, SentOut)), 0)
        for part in choice.case.parts
    )
    jobs, steps = network_of(build, plan, choice, sent, read_experience(build))
    deliveries = {step.name for step in steps if " from Service" in step.name}
    at_home = [
        part.name
        for part, pick in zip(choice.case.parts, sent, strict=True)
        if isinstance(part.options[pick], AtHome)
    ]
    assert len(deliveries) == len(choice.case.parts) - len(at_home)
    assert {job.name.split(",")[0] for job in jobs} == set(at_home)
    waiting = {name for step in steps for name in step.after}
    assert deliveries & waiting


def test_hours_of_a_job_are_the_estimators_own(build, plan):
    home = tuple(0 for _ in plan.choice.case.parts)
    jobs, _ = network_of(build, plan, plan.choice, home, read_experience(build))
    for job in jobs:
        item = next(item for item in plan.parts if item.name == job.name)
        raw = next(one.raw for one in item.options if one.printer == job.printers[0])
        assert job.print_h == pytest.approx(raw.time_h)


def test_the_played_choice_is_told_with_its_dates(plan, played):
    to = StringIO()
    print_played(Console(file=to, width=100), plan, played)
    text = " ".join(to.getvalue().split())
    assert "Every second time done by" in text
    assert "choices played" in text
    data = as_json.played_object(played)
    assert [row["part"] for row in data["parts"]] == list(NAMES)


def test_without_attended_hours_or_options_nothing_is_played(build, plan):
    silent = replace(build, decisions=replace(build.decisions, attended=None))
    with pytest.raises(InputError, match=r"without \[attended\]"):
        refine_choice(silent, plan, None)
    with pytest.raises(InputError, match="one way only"):
        refine_choice(build, replace(plan, choice=None), None)
