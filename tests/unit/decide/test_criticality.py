"""What sets the date: without it the calendar ends sooner by what a hand count says."""

from dataclasses import replace

import pytest

from buildplan.decide.calendar import (
    Attended,
    Job,
    Step,
    Times,
    make_windows,
    simulate,
    what_holds_up,
)
from buildplan.findings import Spread

WEEK = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def windows(start="00:00", end="24:00"):
    times = (Times(days=WEEK, start=start, end=end),)
    return make_windows(Attended(first_day="2031-03-17", times=times))


def sure(name, hours, printer="bench"):
    return Job(
        name=name, printers=(printer,), print_h=hours, hazard_frac_h=0.0, start_fail_frac=0.0
    )


def delivery(name, hours):
    return Step(name=name, arrives=Spread(low=hours, likely=hours, high=hours))


def holds(jobs, steps, open_hours=None, draws=400):
    open_hours = open_hours or windows()
    printers = tuple(dict.fromkeys(name for job in jobs for name in job.printers))
    order = range(len(jobs))
    planned = simulate(jobs, steps, open_hours, printers, order, draws)
    found = what_holds_up(jobs, steps, open_hours, printers, order, planned, draws)
    return planned, {(hold.kind, hold.name): hold for hold in found}, found


def build(after):
    return Step(name="build", after=after, work_h=2.0)


def test_a_late_delivery_sets_the_date_and_the_print_takes_over_without_it():
    jobs, steps = (sure("shell", 10.0),), (delivery("gears", 100.0), build(("gears", "shell")))
    planned, by, found = holds(jobs, steps)
    assert planned.p50_h == pytest.approx(102.0)
    assert found[0].kind == "delivery"
    assert by["delivery", "gears"].sooner_p50_h == pytest.approx(102.0 - 12.3)
    assert by["work", "build"].sooner_p50_h == pytest.approx(2.0)
    assert ("print", "shell") not in by


def test_two_deliveries_side_by_side_show_little_alone_and_much_together():
    steps = (delivery("gears", 100.0), delivery("glass", 97.0), build(("gears", "glass")))
    _, by, found = holds((), steps)
    assert found[0].kind == "deliveries"
    assert found[0].lead == "gears"
    assert by["deliveries", ""].sooner_p50_h == pytest.approx(100.0)
    assert by["delivery", "gears"].sooner_p50_h == pytest.approx(3.0)
    assert ("delivery", "glass") not in by


def test_a_long_print_sets_the_date_and_a_short_delivery_does_not():
    jobs = (sure("shell", 30.0), sure("lid", 5.0))
    steps = (delivery("gears", 4.0), build(("gears", "shell", "lid")))
    _, by, _ = holds(jobs, steps)
    assert by["print", "shell"].sooner_p50_h == pytest.approx(30.0)
    assert by["print", "lid"].sooner_p50_h == pytest.approx(5.0)
    # 35.6 h as planned; without both prints the delivery at 4 h takes over
    assert by["printer", "bench"].sooner_p50_h == pytest.approx(35.6 - 4.0)
    assert ("delivery", "gears") not in by


def test_glue_and_hours_away_hold_up_what_a_hand_count_says():
    steps = (replace(build(()), cure_h=12.0),)
    planned, by, _ = holds((), steps, windows("10:00", "20:00"))
    assert planned.p50_h == pytest.approx(24.0)
    assert by["cure", "build"].sooner_p50_h == pytest.approx(12.0)
    assert by["hours", ""].sooner_p50_h == pytest.approx(10.0)


def test_the_same_luck_stays_with_what_is_not_thought_away():
    risky = Job(name="shell", printers=("bench",), print_h=20.0, hazard_frac_h=0.03)
    late = Step(name="gears", arrives=Spread(low=20.0, likely=24.0, high=60.0))
    steps = (late, build(("shell", "gears")))
    planned, by, found = holds((risky,), steps, draws=2000)
    again = holds((risky,), steps, draws=2000)[2]
    assert found == again
    assert 0.0 < by["print", "shell"].chain_frac < 1.0
    assert all(hold.sooner_p50_h <= planned.p50_h for hold in found)
    shares = by["print", "shell"].chain_frac + by["delivery", "gears"].chain_frac
    assert shares == pytest.approx(1.0)
