"""The calendar: ten thousand outcomes in one batch against one by one, event by event."""

from benchmarks.ratio import ratio, record
from calendars import sprout

from buildplan.decide.calendar import draw_luck, replay, simulate

SINGLES = 20


def test_ten_thousand_outcomes_cost_less_than_a_few_single_ones():
    jobs, steps, windows, printers, order = sprout()
    lucks = [draw_luck(jobs, seed) for seed in range(SINGLES)]
    times = ratio(
        lambda: simulate(jobs, steps, windows, printers, order, draws=10_000),
        lambda: [replay(jobs, steps, windows, printers, order, luck) for luck in lucks],
        rounds=5,
    )
    what = "10 000 calendars of 17 items in one batch, each"
    record(what, "one calendar event by event", times * 10_000 / SINGLES, 150.0)
