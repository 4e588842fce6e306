"""Parts in pieces and coupons in the report, the text and the JSON of a plan."""

from dataclasses import replace

import pytest

import buildplan as bp
from buildplan.demo import demo_folder
from buildplan.device.chain.shape import DeviceTables
from buildplan.report import as_json
from buildplan.report.page import report_page


@pytest.fixture(scope="module")
def plan():
    build = bp.load_build(demo_folder())
    shell = next(part for part in build.parts if part.name == "base_shell")
    small = replace(shell, printers=shell.printers[:1])
    return bp.make_plan(replace(build, parts=(small,), device=DeviceTables()), workers=1)


def test_the_page_shows_the_choice_the_pieces_and_the_coupons(plan):
    page = report_page(plan)
    assert "Base shell is printed in 2 pieces" in page
    assert "base_shell 1" not in page
    assert "pulled apart, joints numbered" in page
    assert "hinge: hinge left" in page


def test_the_json_holds_pieces_and_coupons(plan):
    made = as_json.plan_object(plan)
    (split,) = made["splits"]
    assert split["part"] == "base_shell"
    assert split["refused"] is None
    assert len(split["split"]["pieces"]) == 2
    kinds = {coupon["kind"] for coupon in made["coupons"]}
    assert {"hinge", "boss"} <= kinds
    assert as_json.dump(made) == as_json.dump(as_json.plan_object(plan))
