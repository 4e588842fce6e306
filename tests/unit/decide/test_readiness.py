"""Readiness: the demo of the findings, the table, the claims and the sentences."""

import io

import pytest

from buildplan.decide.readiness import (
    Claim,
    ClaimTest,
    CouponOffer,
    PartFacts,
    best_tests,
    claims_for,
    hours_at_stake,
    judge_readiness,
    read_own_claims,
)
from buildplan.errors import InputError
from buildplan.findings import Finding, Place
from buildplan.report.readiness_text import print_readiness
from buildplan.report.terminal import console
from buildplan.tables.claims import claim_defaults

# p wrong, hours, sensitivity, false alarm, seen at, days of waiting
DEMO = {
    "platform": (0.005, 0.02, 0.99, 0.0, 0.0, 0.0),
    "walls": (0.03, 0.1, 0.9, 0.02, 0.6, 0.0),
    "hinge": (0.20, 0.7, 0.92, 0.03, 1.0, 0.0),
    "servo": (0.10, 0.3, 0.95, 0.03, 1.0, 0.0),
    "sweep": (0.02, 0.05, 0.99, 0.0, 1.0, 0.0),
    "tabs": (0.15, 0.45, 0.97, 0.02, 1.0, 0.0),
    "insert": (0.10, 0.25, 0.9, 0.03, 1.0, 0.0),
    "supply": (0.08, 0.5, 0.9, 0.05, 1.0, 0.0),
    "board heat": (0.12, 1.0, 0.8, 0.1, 1.0, 0.0),
    "sun": (0.15, 0.2, 0.7, 0.05, 1.0, 1.0),
    "camera": (0.12, 0.3, 0.95, 0.05, 1.0, 0.0),
    "drain": (0.08, 0.4, 0.8, 0.05, 1.0, 0.0),
}


def claim(name, p, hours, sees=0.9, alarm=0.03, at=1.0, wait=0.0):
    test = ClaimTest(
        what="try it", own_h=hours, wait_d=wait, sensitivity_frac=sees, false_alarm_frac=alarm
    )
    return Claim(
        name=name, about="demo", kind="other", evidence="assumed", p_wrong_frac=p, test=test,
        seen_at_frac=at,
    )  # fmt: skip


def demo():
    return [claim(name, *row) for name, row in DEMO.items()]


def finding(check, severity):
    return Finding(
        check=check, severity=severity, what="a wall is 0.3 mm thick", where=Place(text="low"),
        measured="0.3 mm", required="at least 0.8 mm", remedy="Thicken it by 0.5 mm.", source="x",
    )  # fmt: skip


def test_regression_the_demo_numbers_of_the_findings():
    ready = judge_readiness(demo(), 22.0, 1.5)
    assert ready.untested_h == pytest.approx(16.88, abs=0.005)
    assert ready.tested_h == pytest.approx(9.388, abs=0.0005)
    assert ready.tests_h == pytest.approx(4.25)
    skip = {line.claim.name: line.skip_h for line in ready.lines}
    wanted = {"sun": 1.83, "camera": 1.81, "insert": 1.44, "walls": 0.23, "hinge": 2.82}
    for name, hours in wanted.items():
        assert skip[name] == pytest.approx(hours, abs=0.005)
    bands = {line.claim.name: line.band for line in ready.lines}
    assert bands["platform"] == "skip"
    assert bands["board heat"] == "before printing"
    assert ready.lines[0].claim.name == "sun"
    assert ready.lines[0].text == "skip it: +1.83 h, costs 0.20 h, start it first: 1 d of waiting"
    assert ready.verdict == "no-go"


def test_single_gains_do_not_add_up_regression():
    claims = demo()
    none = hours_at_stake(claims, 22.0, 1.5)
    alone = [
        none - hours_at_stake(claims, 22.0, 1.5, [i == j for j in range(12)]) for i in range(12)
    ]
    assert sum(max(0.0, gain) for gain in alone) == pytest.approx(2.79, abs=0.005)
    assert none - best_tests(claims, 22.0, 1.5)[0] == pytest.approx(7.49, abs=0.005)


def test_the_same_seed_gives_the_same_answer():
    assert judge_readiness(demo(), 22.0, 1.5) == judge_readiness(demo(), 22.0, 1.5)


def test_every_row_of_the_table_says_where_its_numbers_come_from_and_rises():
    for row in claim_defaults().values():
        assert row.source == "assumed starting value, no source: edit it"
        assert row.p_coupon_frac <= row.p_computed_frac <= row.p_assumed_frac
        assert row.p_computed_frac <= row.p_caution_frac


def test_a_stop_is_a_no_go_with_its_remedy():
    claims = claims_for([PartFacts(name="shell", findings=(finding("walls", "stop"),))])
    ready = judge_readiness(claims, 20.0, 1.5)
    assert ready.verdict == "no-go"
    assert ready.reason == (
        'Not so: "shell: every wall prints": a wall is 0.3 mm thick. Thicken it by 0.5 mm.'
    )


def test_a_caution_raises_the_chance_and_a_clean_check_lowers_it():
    def walls(*findings):
        claims = claims_for([PartFacts(name="shell", findings=findings)])
        return next(c.p_wrong_frac for c in claims if c.kind == "walls")

    row = claim_defaults()["walls"]
    assert walls() == walls(finding("walls", "note")) == row.p_computed_frac
    assert walls(finding("walls", "caution")) == row.p_caution_frac
    assert row.p_computed_frac < row.p_assumed_frac


def test_a_stop_of_a_check_that_no_claim_names_is_not_lost():
    claims = claims_for([PartFacts(name="shell", findings=(finding("new check", "stop"),))])
    assert judge_readiness(claims, 20.0, 1.5).verdict == "no-go"


def test_a_feature_takes_its_own_coupon_and_else_the_ladder():
    ladder = CouponOffer(name="clearance ladder", part="", kind="hinge", time_h=0.4, mass_g=6.0)
    own = CouponOffer(name="roof hinge", part="roof", kind="hinge", time_h=0.5, mass_g=4.0)
    roof = PartFacts(name="roof", findings=(), features=("hinge",))
    base = PartFacts(name="base", findings=(), features=("hinge",))
    fits = {c.about: c for c in claims_for([roof, base], coupons=[ladder, own]) if c.kind == "fits"}
    assert fits["roof"].test.what == "print roof hinge and try it"
    assert fits["roof"].test.machine_h == 0.5
    assert fits["base"].test.what == "print clearance ladder and try it"


def test_the_build_file_proves_changes_and_adds_claims():
    name = "roof: what turns, snaps or slides does so"
    own, faults = read_own_claims(
        [
            {"name": name, "proved_on": "2031-03-17"},
            {"name": "drains do not clog", "p_wrong_frac": 0.08, "own_h": 0.4, "wait_d": 1.0},
        ]
    )
    assert faults == ()
    roof = PartFacts(name="roof", findings=(), features=("hinge",))
    claims = {c.name: c for c in claims_for([roof], own=own)}
    assert claims[name].evidence == "coupon"
    assert claims[name].p_wrong_frac == claim_defaults()["fits"].p_coupon_frac
    assert claims["drains do not clog"].p_wrong_frac == 0.08
    assert claims["drains do not clog"].test.wait_d == 1.0


def test_the_build_file_cannot_talk_a_stop_away():
    own, _ = read_own_claims([{"name": "shell: every wall prints", "p_wrong_frac": 0.01}])
    claims = claims_for([PartFacts(name="shell", findings=(finding("walls", "stop"),))], own=own)
    assert judge_readiness(claims, 20.0, 1.5).verdict == "no-go"


def test_a_failed_test_is_a_stop_until_it_is_mended():
    name = "shell: every wall prints"
    own, _ = read_own_claims([{"name": name, "failed_on": "2031-03-17"}])
    answer = judge_readiness(claims_for([PartFacts(name="shell", findings=())], own=own), 20.0, 1.5)
    assert answer.verdict == "no-go"
    assert [claim.name for claim in answer.stops] == [name]
    assert "2031-03-17" in answer.reason


def test_a_claim_is_not_proved_and_failed_at_once():
    both = {"name": "a", "proved_on": "2031-03-17", "failed_on": "2031-03-18"}
    _, faults = read_own_claims([both, {"name": "b", "failed_on": "monday"}])
    assert [fault.path for fault in faults] == [
        ("claim", 0, "failed_on"),
        ("claim", 1, "failed_on"),
    ]


def test_every_fault_of_own_claims_is_told_with_its_path():
    _, faults = read_own_claims(
        [{"name": "a", "p_wrong_frac": 2.0}, {"name": "b", "proved_on": "monday"}, {"nam": "c"}]
    )
    assert {fault.path[:2] for fault in faults} == {("claim", 0), ("claim", 1), ("claim", 2)}
    assert read_own_claims({"name": "a"})[1][0].path == ("claim",)


def test_a_chance_out_of_range_is_refused():
    with pytest.raises(InputError, match="0 to 1 is allowed"):
        hours_at_stake([claim("a", 1.2, 0.1)], 20.0, 1.5)


def test_no_claim_and_no_worthwhile_test_is_a_go():
    assert judge_readiness([], 20.0, 1.5).verdict == "go"
    assert judge_readiness([claim("a", 0.01, 5.0)], 20.0, 1.5).verdict == "go"
    some = judge_readiness([claim("a", 0.05, 0.1)], 20.0, 1.5)
    assert some.verdict == "go with these open"
    assert some.reason.startswith("The open test would save only 0.8 h expected")
    sure = judge_readiness([claim("a", 0.5, 0.1)], 20.0, 1.5)
    assert sure.reason.startswith("Do the open test first: it saves 8.")


def test_the_terminal_says_verdict_reason_and_hours():
    out = io.StringIO()
    print_readiness(console(out, width=160), judge_readiness(demo(), 22.0, 1.5))
    said = " ".join(out.getvalue().split())
    assert "no-go" in said
    assert "Do the 11 open tests first: together they save 7.5 h expected" in said
    assert "16.9 h untested; 9.4 h with the list, 4.2 h of it tests" in said
