"""Parts that the build file gives to a service or wants in pieces, through plan, bill, calendar."""

from dataclasses import replace
from decimal import Decimal
from io import StringIO

import pytest
from rich.console import Console

import buildplan as bp
from buildplan.build.ways import AS_IT_MUST, Way, read_way, way_text
from buildplan.decide.choice import SentOut
from buildplan.decide.sending import QuoteTable, ServiceTable
from buildplan.demo import demo_folder, lay_out
from buildplan.device.chain.shape import DeviceTables
from buildplan.errors import BuildFileError
from buildplan.plan import take_choice
from buildplan.plan.takes import longest_print_h, where_got
from buildplan.report.choice_text import print_kept
from buildplan.report.page import report_page
from buildplan.report.plan_text import print_plan

NAMES = ("push_rod", "camera_ring")
ROWAN = ServiceTable(name="Rowan", lead_d=5.0, lead_high_d=8.0, shipping_cost=6.9)


@pytest.fixture(scope="module")
def build():
    whole = replace(bp.load_build(demo_folder()), device=DeviceTables())
    return replace(whole, parts=tuple(part for part in whole.parts if part.name in NAMES))


def sent(build, service=ROWAN, cost=11.25, name="camera_ring"):
    quotes = (QuoteTable(service=service.name, part=name, cost=cost),) if cost else ()
    parts = tuple(
        replace(part, way=Way(service=service.name)) if part.name == name else part
        for part in build.parts
    )
    decisions = replace(build.decisions, services=(service,), quotes=quotes)
    return bp.make_plan(replace(build, parts=parts, decisions=decisions), workers=1)


@pytest.fixture(scope="module")
def home(build):
    return bp.make_plan(build, workers=1)


@pytest.fixture(scope="module")
def plan(build):
    return sent(build)


def row(plan, name):
    return next(item for item in plan.parts if item.name == name)


def test_a_sent_part_takes_no_machine_hours_and_no_feedstock(plan, home):
    ring, rod = row(home, "camera_ring"), row(plan, "push_rod")
    assert plan.time_h.likely == pytest.approx(
        home.time_h.likely - ring.quantity * bp.plan.chosen_option(ring).estimate.time_h
    )
    assert plan.mass_g.likely == pytest.approx(
        rod.quantity * bp.plan.chosen_option(rod).estimate.mass_g
    )
    assert longest_print_h(row(plan, "camera_ring"), plan.splits) == 0.0
    assert where_got(row(plan, "camera_ring"), plan.splits) == "Rowan"
    assert all(p.name != "camera_ring" for c in plan.cycles for y in c.cycles for p in y.placings)


def test_its_price_is_a_line_and_its_shipping_an_order(plan):
    (line,) = (line for line in plan.bill if line.wanted.kind == "sent")
    copies = row(plan, "camera_ring").quantity
    assert line.cost == Decimal("11.25") * copies
    (order,) = (order for order in plan.orders.orders if order.supplier == "Rowan")
    assert (order.shipping_cost, order.lead_d) == (Decimal("6.90"), 5.0)
    assert plan.bill_cost == sum((line.cost for line in plan.bill), Decimal(0)) + sum(
        (one.shipping_cost + one.import_cost for one in plan.orders.orders), Decimal(0)
    )


def test_the_calendar_waits_for_its_delivery(plan):
    names = [bar.task for bar in plan.calendar.bars]
    assert "order from Rowan" in names
    assert not any("camera_ring" in name for name in names)


def test_a_least_order_is_topped_up_to_the_cent(build):
    dear = replace(ROWAN, least_order_cost=50.0)
    plan = sent(build, dear)
    lines = [line for line in plan.bill if line.wanted.kind == "sent"]
    assert sum((line.cost for line in lines), Decimal(0)) == Decimal("50.00")
    assert "least order" in lines[-1].wanted.item


def test_without_a_quote_the_price_is_asked_for_and_a_limit_is_a_stop(build):
    plan = sent(build, replace(ROWAN, largest_mm=(5.0, 5.0, 5.0)), cost=0.0)
    found = {finding.severity: finding for finding in row(plan, "camera_ring").findings}
    assert "larger than Rowan takes" in found["stop"].what
    assert "is not known" in found["caution"].what
    (line,) = (line for line in plan.bill if line.wanted.kind == "sent")
    assert (line.cost, line.wanted.item) == (Decimal(0), "camera_ring (no price known)")


def test_the_choice_counts_it_where_the_file_has_it(plan):
    index = [part.name for part in plan.choice.case.parts].index("camera_ring")
    options = plan.choice.case.parts[index].options
    assert any(isinstance(option, SentOut) for option in options)
    copies = row(plan, "camera_ring").quantity
    counted = plan.choice.as_planned
    assert (counted.sent, counted.shipping) == (1125 * copies, 690)


def test_report_and_terminal_name_the_service(plan):
    page = report_page(plan)
    assert "Rowan" in page
    said = StringIO()
    print_plan(Console(file=said, width=120), plan)
    assert "theirs" in said.getvalue()


@pytest.mark.parametrize(
    ("text", "way"),
    [
        ("", AS_IT_MUST),
        ("whole", Way(pieces=1)),
        ("2 pieces", Way(pieces=2)),
        ("8 pieces", Way(pieces=8)),
        ("Rowan", Way(service="Rowan")),
    ],
)
def test_a_way_is_read_from_its_text_and_written_back(text, way):
    found, faults = read_way(text, ("Rowan",), ("part", 0, "way"))
    assert (found, faults) == (way, ())
    if text:
        assert way_text(found.pieces, found.service) == text


@pytest.mark.parametrize("text", ["9 pieces", "1 pieces", "Rowen", "hole"])
def test_a_wrong_way_names_what_is_allowed(tmp_path, text):
    folder = lay_out(tmp_path / "sprout")
    file = folder / "build.toml"
    body = file.read_text("utf-8")
    file.write_text(body.replace('name = "push_rod"', f'name = "push_rod"\nway = "{text}"', 1))
    with pytest.raises(BuildFileError, match=f'way "{text}" is not known. Allowed: whole, 2 pie'):
        bp.load_build(file)


def test_a_choice_is_kept_in_the_file_and_counted_by_the_next_plan(tmp_path):
    file = lay_out(tmp_path / "sprout") / "build.toml"
    build = bp.load_build(file)
    ring = tuple(part for part in build.parts if part.name == "camera_ring")
    small = replace(build, parts=ring, device=DeviceTables())
    made = bp.make_plan(small, workers=1)
    (part,) = made.choice.case.parts
    pick = next(k for k, option in enumerate(part.options) if isinstance(option, SentOut))
    comments = [line for line in file.read_text("utf-8").splitlines() if line.startswith("#")]

    kept = take_choice(small, made, (pick,))

    assert kept == (f"camera_ring from {part.options[pick].service}",)
    again = bp.load_build(file)
    (ring,) = (one for one in again.parts if one.name == "camera_ring")
    assert ring.way == Way(service=part.options[pick].service)
    lines = file.read_text("utf-8").splitlines()
    assert comments == [line for line in lines if line.startswith("#")]
    small = replace(again, parts=(ring,), device=DeviceTables())
    made = bp.make_plan(small, workers=1)
    assert made.parts[0].sent.service == ring.way.service
    assert take_choice(small, made, (pick,)) == ()
    said = StringIO()
    print_kept(Console(file=said, width=200), file, kept, asked=True)
    assert "camera ring from" in said.getvalue()
