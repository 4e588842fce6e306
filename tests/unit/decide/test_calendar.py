"""The calendar: its tables, clocks, refusals, permission, posterior, the exported file."""

from dataclasses import replace
from datetime import UTC, date, datetime

import icalendar
import numpy as np
import pytest
from calendars import PRINTERS, always, at, evenings, job, sprout

from buildplan.decide.calendar import (
    Attended,
    OrderLine,
    Posterior,
    Step,
    Times,
    Unattended,
    attended_jobs,
    bars,
    check_attended,
    day_at,
    ics_text,
    longest_print_h,
    make_windows,
    may_run_alone,
    moment_at,
    order_by,
    permission_findings,
    read_attended,
    read_unattended,
    replay,
    schedule,
    simulate,
    simulator_for,
    worth_of_running_alone,
)
from buildplan.errors import InputError, NoPlanError
from buildplan.journal.failures import Tally, fit_failures
from buildplan.journal.learn import TIME_PRIOR, fit_factors

STAMP = datetime(2031, 3, 1, 12, 0, tzinfo=UTC)
GOOD = {
    "first_day": "2031-03-17",
    "time_zone": "Europe/Vienna",
    "off": ["2031-03-21"],
    "times": [{"days": ["Mon", "Fri"], "start": "17:00", "end": "24:00"}],
}


def test_a_good_table_is_read():
    table, faults = read_attended(GOOD)
    assert not faults
    assert table == Attended(
        first_day="2031-03-17",
        time_zone="Europe/Vienna",
        off=("2031-03-21",),
        times=(Times(days=("Mon", "Fri"), start="17:00", end="24:00"),),
    )
    assert read_attended(None) == (None, ())


@pytest.mark.parametrize(
    ("change", "path", "said"),
    [
        ({"first_day": "17 March"}, ("attended", "first_day"), "is not a day"),
        ({"off": ["2031-02-30"]}, ("attended", "off", 0), "is not a day"),
        ({"time_zone": "Vienna"}, ("attended", "time_zone"), "is not known"),
        ({"times": []}, ("attended", "times"), "empty"),
        ({"zone": "x"}, ("attended", "zone"), "zone"),
    ],
)
def test_every_wrong_value_is_named_with_its_place(change, path, said):
    table, faults = read_attended(GOOD | change)
    assert table is None
    assert [fault.path for fault in faults] == [path]
    assert said in faults[0].text


def test_all_faults_of_a_line_of_times_come_at_once():
    wrong = [
        {"days": [], "start": "5 pm", "end": "25:00"},
        {"days": ["Mon"], "start": "22:00", "end": "06:00"},
    ]
    _, faults = read_attended(GOOD | {"times": wrong})
    assert [fault.path[2:] for fault in faults] == [
        (0, "days"),
        (0, "start"),
        (0, "end"),
        (1, "end"),
    ]
    assert "two lines" in faults[-1].text


def test_a_day_off_has_no_window_and_touching_windows_become_one():
    times = (
        Times(days=("Mon", "Tue"), start="20:00", end="24:00"),
        Times(days=("Tue",), start="00:00", end="01:00"),
        Times(days=("Tue",), start="21:00", end="22:00"),
    )
    made = make_windows(Attended(first_day="2031-03-17", off=("2031-03-24",), times=times), days=9)
    np.testing.assert_allclose(made.start_h, [20.0, 44.0, 192.0, 212.0])
    np.testing.assert_allclose(made.end_h, [25.0, 48.0, 193.0, 216.0])
    assert made.longest_h == 5.0


def test_the_night_when_clocks_go_forward_is_an_hour_shorter():
    # Central Europe: Sun 30 March 2031, 02:00 becomes 03:00 (Directive 2000/84/EC, last Sunday)
    made = evenings(days=14, first_day="2031-03-29", time_zone="Europe/Vienna")
    plain = evenings(days=14, first_day="2031-03-29")
    assert made.day_end_h[1] == 47.0
    assert plain.day_end_h[1] == 48.0
    assert made.start_h[1] == 31.0  # Sunday 08:00
    assert moment_at(made, 31.0).isoformat() == "2031-03-30T08:00:00+02:00"
    assert moment_at(plain, 32.0).isoformat() == "2031-03-30T08:00:00"
    assert day_at(made, 47.0) == date(2031, 3, 30)


def test_the_night_when_clocks_go_back_is_an_hour_longer():
    made = evenings(days=3, first_day="2031-10-25", time_zone="Europe/Vienna")
    assert made.day_end_h.tolist() == [24.0, 49.0, 73.0]


def test_nobody_ever_there_is_refused():
    with pytest.raises(InputError, match="nobody is there on any day"):
        make_windows(
            Attended(
                first_day="2031-03-17",
                times=(Times(days=("Mon",), start="17:00", end="18:00"),),
                off=("2031-03-17",),
            ),
            days=3,
        )


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"after": ("lid",)}, "neither a print nor a step"),
        ({"name": "a"}, "stands twice"),
        ({"after": ("glue",)}, "ring"),
    ],
)
def test_a_network_that_does_not_hold_together_is_refused(more, said):
    step = Step(**({"name": "glue", "work_h": 1.0} | more))
    with pytest.raises(InputError, match=said):
        simulate((job("a", 2.0),), (step,), always(), PRINTERS, (0,), draws=10)


def test_a_print_without_a_printer_and_an_order_that_skips_are_refused():
    with pytest.raises(InputError, match="printers here: north, south"):
        schedule((job("a", 2.0, printers=("west",)),), (), always(), PRINTERS)
    with pytest.raises(InputError, match="each of 0 to 0 once"):
        simulate((job("a", 2.0),), (), always(), PRINTERS, (0, 0), draws=10)


def test_washing_curing_drying_deliveries_and_glue_add_up():
    one = job("a", 5.0, dry_h=4.0, wash_h=0.5, cure_h=1.5, set_up_h=0.25, removal_h=0.25)
    steps = (
        Step(name="pin", arrives=at(7.0)),
        Step(name="glue", after=("a", "pin"), work_h=1.0, cure_h=12.0),
        Step(name="paint", after=("glue",), work_h=2.0),
    )
    out = replay((one,), steps, always(), PRINTERS, (0,))
    assert out.ready_h.tolist() == pytest.approx([11.5, 7.0, 24.5, 26.5])
    kinds = {bar.kind for bar in out.bars}
    assert kinds == {
        "feedstock dries", "set-up", "print", "removal", "wash", "cure", "delivery", "assembly",
        "glue cures",
    }  # fmt: skip
    sure = replace(one, hazard_frac_h=0.0, start_fail_frac=0.0)
    found = simulate((sure,), steps, always(), PRINTERS, (0,), draws=10)
    assert found.ready_h[:, 0].tolist() == pytest.approx([11.5, 7.0, 24.5, 26.5])


def test_chances_by_day_rise_to_one_and_hold_the_quantiles():
    jobs, steps, windows, printers, order = sprout()
    found = simulate(jobs, steps, windows, printers, order)
    chances = [row.chance_frac for row in found.by_day]
    assert chances == sorted(chances)
    assert chances[-1] == 1.0
    by_day = {row.day: row.chance_frac for row in found.by_day}
    assert by_day[found.p90_day] >= 0.9
    assert found.items[-1].critical_frac == 1.0
    assert all(0.0 <= item.critical_frac <= 1.0 for item in found.items)


def test_a_delivery_meets_its_spread():
    step = Step(name="pin", arrives=replace(at(100.0), low=80.0, high=160.0))
    found = simulate((), (step,), always(), PRINTERS, (), draws=20_000)
    np.testing.assert_allclose(
        np.quantile(found.finish_h, [0.1, 0.5, 0.9]), [80, 100, 160], rtol=0.02
    )


def test_a_print_that_must_be_watched_and_fits_no_window_is_refused_with_the_hours():
    windows = evenings()
    shell = job("base shell", 20.5, attended_only=True, set_up_h=0.25, removal_h=0.25)
    assert longest_print_h(shell, windows) == 14.5
    with pytest.raises(NoPlanError) as error:
        check_attended((shell,), windows)
    assert "longest window 15.0 h minus set-up 15 min and removal 15 min leaves 14.5 h" in str(
        error.value
    )
    assert "in 2 pieces" in str(error.value)
    with pytest.raises(NoPlanError, match="'base shell' ends within"):
        simulate((shell,), (), windows, PRINTERS, (0,), draws=20)
    with pytest.raises(NoPlanError, match="longest has 15"):
        replay((shell,), (), windows, PRINTERS, (0,))


def test_a_watched_print_never_runs_outside_a_window():
    windows = evenings()
    jobs = tuple(job(f"piece {k}", 4.5, attended_only=True) for k in range(6))
    found = simulate(jobs, (), windows, PRINTERS, range(6), draws=500)
    assert found.unattended_h == pytest.approx(0.0, abs=1e-6)


def test_no_printer_runs_alone_until_it_is_stated():
    jobs = (job("a", 3.0), job("b", 3.0, printers=("south",)))
    assert all(one.attended_only for one in attended_jobs(jobs, ()))
    made = attended_jobs(jobs, ("north",))
    assert (made[0].printers, made[0].attended_only) == (("north",), False)
    assert (made[1].printers, made[1].attended_only) == (("south",), True)


def stated(**more):
    whole = {"smoke_alarm": True, "supply": True, "clear_bench": True}
    return Unattended(**({"printer": "north", "stated": "2031-03-01"} | whole | more))


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"smoke_alarm": False}, "a smoke alarm in the room"),
        ({"stated": "2031-03-18"}, "still to come"),
        ({"stated": "2030-03-01"}, "381 days ago"),
    ],
)
def test_a_statement_that_does_not_hold_is_a_stop(more, said):
    today = date(2031, 3, 17)
    assert may_run_alone((stated(**more),), today) == ()
    findings, cautions = permission_findings((stated(**more),), today)
    assert findings[0].severity == "stop"
    assert said in findings[0].what
    assert not cautions


def test_a_whole_statement_brings_the_caution():
    today = date(2031, 3, 17)
    assert may_run_alone((stated(),), today) == ("north",)
    findings, cautions = permission_findings((stated(),), today)
    assert not findings
    assert cautions[0].key == "printing"


def test_statements_are_read_with_their_faults():
    raw = {"printer": "north", "stated": "2031-03-01", "smoke_alarm": True}
    rows, faults = read_unattended([raw], PRINTERS)
    assert (rows[0].smoke_alarm, rows[0].supply, faults) == (True, False, ())
    _, faults = read_unattended([raw, raw | {"stated": "x"}, raw | {"printer": "west"}], PRINTERS)
    assert [fault.path for fault in faults] == [
        ("unattended", 1, "stated"),
        ("unattended", 1, "printer"),
        ("unattended", 2, "printer"),
    ]


def test_running_alone_has_its_hours_and_its_price():
    windows = evenings()
    jobs = tuple(job(f"piece {k}", 4.5) for k in range(4))
    order = schedule(jobs, (), windows, PRINTERS)
    planned = simulate(jobs, (), windows, PRINTERS, order, draws=500)
    worth = worth_of_running_alone(jobs, (), windows, PRINTERS, planned, draws=500)
    assert worth.unattended_h > 0.0
    assert worth.later_p50_h > 0.0
    assert not worth.refused
    long = (*jobs, job("base shell", 20.5))
    planned = simulate(long, (), windows, PRINTERS, range(5), draws=500)
    refused = worth_of_running_alone(long, (), windows, PRINTERS, planned, draws=500)
    assert "nobody is there so long" in refused.refused


def posterior(prints):
    tallies = ()
    if prints:
        tallies = (
            Tally(printer="north", feedstock="PETG", starts_held=prints, starts_failed=1,
                  hours_h=10.0 * prints, failures=1, start_hours_h=0.4, prints=prints),
        )  # fmt: skip
    return Posterior(failures=fit_failures(tallies), time=fit_factors((), TIME_PRIOR))


def test_a_posterior_shows_the_tail_that_a_single_rate_hides():
    windows = evenings()
    jobs = tuple(job(f"part {k}", 8.0, feedstock="PETG", printers=("north",)) for k in range(5))
    usual = simulate(jobs, (), windows, PRINTERS, range(5), draws=4000)
    new = simulate(jobs, (), windows, PRINTERS, range(5), draws=4000, posterior=posterior(0))
    logged = simulate(jobs, (), windows, PRINTERS, range(5), draws=4000, posterior=posterior(80))
    assert new.p90_h > logged.p90_h
    assert new.p90_h > usual.p90_h


def test_order_by_counts_a_part_of_a_day_as_a_day():
    assert order_by(date(2031, 3, 20), 2.5) == date(2031, 3, 17)
    assert order_by(date(2031, 3, 20), 0.0) == date(2031, 3, 20)
    with pytest.raises(InputError, match="0 or more"):
        order_by(date(2031, 3, 20), -1.0)


NASTY = "servo, metal; 2 \\ 3\nBEGIN:VEVENT " + "long " * 30 + "°"


def exported(time_zone="Europe/Vienna"):
    windows = evenings(time_zone=time_zone)
    jobs = (job("shell; left, big\\", 5.0), job("b", 2.0))
    rows = bars(jobs, (), windows, PRINTERS, (0, 1))
    orders = (OrderLine(name=NASTY, by=date(2031, 3, 19)),)
    return rows, windows, ics_text("sprout house", rows, orders, windows, stamp=STAMP)


def test_the_file_is_read_back_with_every_time_and_name():
    rows, windows, text = exported()
    events = icalendar.Calendar.from_ical(text).walk("VEVENT")
    set_ups = [bar for bar in rows if bar.kind == "set-up"]
    assert len(events) == len(set_ups) + 1
    said = {str(event["summary"]) for event in events}
    assert "Set up shell; left, big\\ on north" in said
    assert f"Last day to order {NASTY}" in said
    for event, bar in zip(events, sorted(set_ups, key=lambda b: (b.start_h, b.lane)), strict=False):
        assert event["dtstart"].dt == moment_at(windows, bar.start_h)
        assert event["dtend"].dt > event["dtstart"].dt
    assert events[-1]["dtstart"].dt == date(2031, 3, 19)
    assert len({str(event["uid"]) for event in events}) == len(events)


def test_the_file_keeps_to_rfc_5545_and_to_its_bytes():
    text = exported()[2]
    assert text == exported()[2]
    lines = text.split("\r\n")
    assert "\n" not in "".join(lines)
    assert max(len(line.encode()) for line in lines) <= 75
    assert text.count("DTSTAMP:20310301T120000Z") == text.count("BEGIN:VEVENT\r\n")
    assert lines[0] == "BEGIN:VCALENDAR"
    assert "VERSION:2.0" in lines
    assert any(line.startswith("PRODID:") for line in lines)


def test_without_a_zone_times_float_and_a_stamp_needs_one():
    rows, windows, text = exported(time_zone="")
    assert "DTSTART:20310317T170000\r\n" in text
    with pytest.raises(InputError, match="needs a time zone"):
        ics_text("x", rows, (), windows, stamp=datetime(2031, 3, 1))


def test_an_event_keeps_its_name_when_its_time_moves():
    rows, windows, text = exported()
    later = tuple(replace(bar, start_h=bar.start_h + 24, end_h=bar.end_h + 24) for bar in rows)
    moved = ics_text("sprout house", later, (), windows, stamp=STAMP)

    def uids(source):
        events = icalendar.Calendar.from_ical(source).walk("VEVENT")
        return {str(event["uid"]) for event in events}

    assert uids(moved) < uids(text)


def test_the_choice_gets_days_and_money_of_a_pick():
    windows = evenings()

    def network(pick):
        return (tuple(job(f"piece {k}", 12.0 / pick) for k in range(pick)), ())

    pick_days = simulator_for(network, lambda pick: 100 * pick, windows, PRINTERS, draws=500)
    days50, days90, cents = pick_days(3)
    assert 0.0 < days50 <= days90
    assert cents == 300
    whole = simulator_for(network, lambda pick: 0, windows, PRINTERS, PRINTERS, draws=500)
    assert whole(1)[0] <= days50


def test_bars_carry_the_share_of_the_binding_chain():
    jobs, steps, windows, printers, order = sprout()
    found = simulate(jobs, steps, windows, printers, order, draws=1000)
    rows = bars(jobs, steps, windows, printers, order, found)
    shares = {item.name: item.critical_frac for item in found.items}
    assert all(bar.critical_frac == shares[bar.task] for bar in rows)
