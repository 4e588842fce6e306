"""The verdict counts what is listed and names what sets the date; each number says its range."""

import json
import re
from dataclasses import replace

import pytest

from buildplan.findings import SEVERITIES, Spread
from buildplan.plan.takes import takes_of
from buildplan.report import as_json
from buildplan.report.page import report_page
from buildplan.report.sections import todo_steps
from buildplan.report.trust_section import nine_in_ten, part_rows, trust_rows
from buildplan.report.verdict import count_of, verdict_sentence, what_sets_the_date


def listed(thing):
    """Every finding in a JSON object that is about what is built, wherever it stands."""
    places = [*thing["parts"], *thing["cycles"]]
    places += [thing[key] for key in ("device", "calendar", "choice", "derived") if thing[key]]
    return [finding for place in places for finding in place.get("findings", ())]


@pytest.fixture(scope="module")
def page(troubled):
    return report_page(troubled)


def test_the_verdict_counts_what_is_listed(troubled):
    thing = json.loads(as_json.dump(as_json.plan_object(troubled)))
    for severity in SEVERITIES:
        found = [one for one in listed(thing) if one["severity"] == severity]
        assert count_of(troubled, severity) == len(found) == thing["counts"][severity]
    assert thing["counts"]["stop"] == 2
    assert thing["headline"] == verdict_sentence(troubled)


def test_what_sets_the_date_is_the_same_sentence_everywhere(troubled, page):
    said = what_sets_the_date(troubled)
    top = troubled.calendar.holds[0]
    assert top.kind == "deliveries"
    days = f"{top.sooner_p50_h / 24.0:.1f} days sooner"
    assert days in said
    assert "days of delivery set" in said
    assert " Order the " in said
    thing = as_json.plan_object(troubled)
    assert thing["date_set_by"] == said
    assert thing["calendar"]["sets_the_date"][0]["lead"] == top.lead
    text = re.sub(r"<[^>]+>", "", page).replace("\u00a0", " ").replace("\u202f", " ")
    assert said in text


def test_without_a_calendar_no_date_is_said(troubled):
    bare = replace(troubled, calendar=None)
    assert what_sets_the_date(bare) == ""
    assert as_json.plan_object(bare)["date_set_by"] is None


def test_a_range_of_8_in_10_is_widened_to_9_in_10():
    low, high = nine_in_ten(Spread(low=10.0 / 1.2, likely=10.0, high=12.0))
    # ln 1.2 / 1.28155 * 1.64485 = 0.23401
    assert high == pytest.approx(12.6366, abs=1e-3)
    assert low == pytest.approx(100.0 / 12.6366, abs=1e-3)
    assert nine_in_ten(Spread(low=0.0, likely=1.0, high=2.0))[1] == pytest.approx(2.28348, abs=1e-4)


def test_every_part_at_home_says_what_its_hours_rest_on(troubled):
    rows = part_rows(troubled)
    assert len(rows) == len(troubled.parts)
    assert all("your" in row.rests for row in rows)
    first = max(
        troubled.parts, key=lambda p: p.quantity * takes_of(p, troubled.splits).time_h.likely
    )
    assert rows[0].name.startswith(first.name.replace("_", " "))
    assert all(row.rests and row.narrows and row.between for row in trust_rows(troubled))


def test_steps_about_the_bill_or_device_are_not_told_as_waits(troubled):
    waits = [step for step in todo_steps(troubled) if step["where"] == "the longest wait"]
    assert all(step["do"].startswith("Order the ") for step in waits)


def test_sections_stand_in_the_order_of_a_decision(page):
    wanted = ("first", "parts", "badday", "choice", "device", "bill", "calendar", "ready")
    here = [page.index(f'id="{name}"') for name in wanted if f'id="{name}"' in page]
    assert here == sorted(here)
    assert here[-1] < page.index('id="trust"') < page.index('id="cautions"')
    sections = re.findall(r"<section id=.*?</section>", page, re.S)
    assert sections
    assert all(re.search(r"<h2>[^<]{8,}</h2>", section) for section in sections)
