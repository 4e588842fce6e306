"""Orders dealt by the kernel against the windows' own arithmetic, one print after the other."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildplan.decide.calendar import Job, schedule
from buildplan.decide.calendar.batch import first_start_h
from buildplan.decide.calendar.order import last_hours_h
from buildplan.decide.calendar.windows import windows_from

HOURS = st.sampled_from([0.25, 0.5, 1.0, 3.3, 7.75, 10.1])


@st.composite
def weeks(draw):
    days = draw(st.integers(2, 30))
    pairs = [
        (24.0 * day + begin, 24.0 * day + begin + length)
        for day in range(days)
        for begin, length in draw(
            st.lists(st.tuples(st.sampled_from([0.0, 6.5, 8.0, 17.0, 22.0]), HOURS), max_size=2)
        )
    ]
    pairs = pairs or [(0.0, 24.0)]
    edges = 24.0 * np.arange(1, days + 1)
    return windows_from(pairs, first_day=date(2031, 3, 17), day_end_h=edges)


@st.composite
def prints(draw):
    same = draw(st.booleans())
    set_up, removal = draw(HOURS), draw(HOURS)
    return tuple(
        Job(
            name=f"print {k}",
            print_h=draw(HOURS),
            printers=draw(st.sampled_from([("north",), ("south",), ("north", "south")])),
            set_up_h=set_up if same else draw(HOURS),
            removal_h=removal if same else draw(HOURS),
            cure_h=draw(st.sampled_from([0.0, 2.0])),
            dry_h=draw(st.sampled_from([0.0, 4.0])),
            not_before_h=draw(st.sampled_from([0.0, 24.0, 50.5])),
            attended_only=draw(st.booleans()),
        )
        for k in range(draw(st.integers(1, 6)))
    )


def dealt(order, jobs, windows, printers):
    """Hour at which the last print lies ready, by Windows.fit and Windows.work."""
    needs = [j.set_up_h + (j.print_h + j.removal_h if j.attended_only else 0.0) for j in jobs]
    removals = [job.removal_h for job in jobs]
    free, last = dict.fromkeys(printers, 0.0), 0.0

    def fit(hour, number, lengths):
        if len(set(lengths)) == 1:
            return float(windows.fit(hour, lengths[0]))
        return float(windows.fit(np.array([hour]), np.array([lengths[number]]))[0])

    for number in order:
        job = jobs[number]
        begin = first_start_h(job, windows)
        where = [name for name in printers if name in job.printers]
        name = min(where, key=lambda one: max(free[one], begin))
        go = fit(max(free[name], begin), number, needs)
        off = fit(go + job.set_up_h + job.print_h, number, removals) + job.removal_h
        free[name] = off
        last = max(last, float(windows.work(off + job.wash_h + job.cure_h, 0.0)))
    return last


@settings(deadline=None, max_examples=60)
@given(weeks(), prints(), st.randoms(use_true_random=False))
def test_the_kernel_deals_as_the_windows_say_to_the_bit(windows, jobs, chance):
    orders = [chance.sample(range(len(jobs)), len(jobs)) for _ in range(5)]
    printers = ("north", "south")
    found = last_hours_h(np.array(orders), jobs, (), windows, printers)
    assert found.tolist() == [dealt(order, jobs, windows, printers) for order in orders]


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_the_order_found_is_the_best_of_all(seed):
    from itertools import permutations

    chance = np.random.default_rng(seed)
    windows = windows_from(
        [(24.0 * day + 17.0, 24.0 * day + 23.0) for day in range(60)],
        first_day=date(2031, 3, 17),
        day_end_h=24.0 * np.arange(1, 61),
    )
    jobs = tuple(
        Job(name=f"print {k}", print_h=float(hours), printers=("north", "south"))
        for k, hours in enumerate(chance.uniform(1.0, 14.0, 6))
    )
    every = np.array(list(permutations(range(6))))
    least = last_hours_h(every, jobs, (), windows, ("north", "south")).min()
    order = schedule(jobs, (), windows, ("north", "south"), seed)
    assert dealt(order, jobs, windows, ("north", "south")) == least
