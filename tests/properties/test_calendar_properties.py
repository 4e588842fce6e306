"""The calendar's laws: windows by minutes, overlap, precedence, closed form, exact orders."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from calendars import PRINTERS, always, evenings, job, sprout, sprout_jobs, sprout_steps

from buildplan.decide.calendar import Job, Step, draw_luck, replay, schedule, simulate
from buildplan.decide.calendar.order import last_hours_h

RNG_SEED = 20


@pytest.fixture(scope="module")
def windows():
    return evenings(60)


@pytest.fixture(scope="module")
def minutes(windows):
    grid = np.zeros(60 * 24 * 60, bool)
    for start, end in zip(windows.start_h, windows.end_h, strict=True):
        grid[round(60 * start) : round(60 * end)] = True
    return grid


def test_fit_and_work_agree_with_stepping_through_every_minute(windows, minutes):
    rng = np.random.default_rng(RNG_SEED)
    counted = np.cumsum(minutes)
    for _ in range(400):
        start, need = int(rng.integers(0, 60 * 168)), int(rng.integers(1, 500))
        before = counted[start - 1] if start else 0
        done = np.searchsorted(counted, before + need) + 1
        assert windows.work(start / 60, need / 60) * 60 == pytest.approx(done, abs=1e-6)
        unbroken = int(rng.integers(1, 360))
        moment = start
        while not minutes[moment : moment + unbroken].all():
            moment += 1
        assert windows.fit(start / 60, unbroken / 60) * 60 == pytest.approx(moment, abs=1e-6)
        many = windows.fit(np.array([start / 60]), np.array([unbroken / 60]))
        assert many[0] * 60 == pytest.approx(moment, abs=1e-6)


def test_fit_is_idempotent_and_work_adds_up(windows):
    rng = np.random.default_rng(RNG_SEED)
    times = rng.uniform(0.0, 500.0, 5000)
    first, second = rng.uniform(0.0, 9.0, 5000), rng.uniform(0.0, 9.0, 5000)
    for need in (0.0, 0.2, 3.0, 14.9):
        once = windows.fit(times, need)
        np.testing.assert_array_equal(windows.fit(once, need), once)
        assert np.all(once >= times)
    in_two = windows.work(windows.work(times, first), second)
    np.testing.assert_allclose(in_two, windows.work(times, first + second), rtol=1e-12)


def test_fit_and_work_never_fall_with_time_or_length(windows):
    rng = np.random.default_rng(RNG_SEED)
    times = np.sort(rng.uniform(0.0, 500.0, 2000))
    needs = np.sort(rng.uniform(0.0, 14.0, 2000))
    assert np.all(np.diff(windows.fit(times, 2.0)) >= 0.0)
    assert np.all(np.diff(windows.work(times, 2.0)) >= 0.0)
    assert np.all(np.diff(windows.fit(np.full(2000, 20.0), needs)) >= 0.0)
    assert np.all(np.diff(windows.work(np.full(2000, 20.0), needs)) >= 0.0)


def attended(windows, start, end):
    return np.any((windows.start_h <= start + 1e-9) & (end <= windows.end_h + 1e-9))


@pytest.mark.parametrize("seed", range(30))
def test_bars_stay_in_windows_do_not_overlap_and_keep_their_order(seed):
    jobs, steps, windows, printers, order = sprout()
    out = replay(jobs, steps, windows, printers, order, draw_luck(jobs, seed))
    by_hand = [bar for bar in out.bars if bar.kind in ("set-up", "removal", "assembly")]
    assert all(attended(windows, bar.start_h, bar.end_h) for bar in by_hand)
    for group in (
        *([bar for bar in out.bars if bar.lane == lane] for lane in (*printers, "you")),
        by_hand,
    ):
        for before, after in itertools.pairwise(sorted(group, key=lambda bar: bar.start_h)):
            assert before.end_h <= after.start_h + 1e-9
    ready = dict(zip((item.name for item in (*jobs, *steps)), out.ready_h, strict=True))
    for step in steps:
        begun = [
            bar.start_h for bar in out.bars if bar.task == step.name and bar.kind == "assembly"
        ]
        for name in step.after:
            assert ready[name] <= min(begun, default=math.inf) + 1e-9
            assert ready[name] <= ready[step.name] + 1e-9
        worked = [b.end_h - b.start_h for b in out.bars if b.task == step.name and b.lane == "you"]
        assert math.fsum(worked) == pytest.approx(step.work_h, abs=1e-9)


def test_without_failures_and_spread_every_outcome_is_the_same_and_equals_the_replay():
    jobs, steps, windows, printers, order = sprout()
    sure = tuple(replace(j, log_sd_frac=0.0, hazard_frac_h=0.0, start_fail_frac=0.0) for j in jobs)
    found = simulate(sure, steps, windows, printers, order, draws=50)
    assert np.ptp(found.finish_h) == 0.0
    alone = replay(sure, steps, windows, printers, order, one_person=False)
    np.testing.assert_allclose(found.ready_h[:, 0], alone.ready_h, atol=1e-9)
    assert found.waiting_h == pytest.approx(alone.waiting_h, abs=1e-9)
    assert found.unattended_h == pytest.approx(alone.unattended_h, abs=1e-9)
    assert replay(sure, steps, windows, printers, order).finish_h >= alone.finish_h - 1e-9


def test_always_attended_the_mean_is_the_closed_form():
    hazard, hours = 0.0143841, 20.0
    one = job("a", hours, hazard_frac_h=hazard, start_fail_frac=0.0, set_up_h=0.0, removal_h=0.0)
    found = simulate((one,), (), always(), PRINTERS, (0,), draws=200_000)
    closed = math.expm1(hazard * hours) / hazard
    error = found.finish_h.std() / math.sqrt(200_000)
    assert abs(found.mean_h - closed) < 3.0 * error


def test_vector_and_scalar_engine_agree_within_three_standard_errors():
    jobs, steps, windows, printers, order = sprout()
    batch = simulate(jobs, steps, windows, printers, order, draws=20_000)
    single = [
        replay(jobs, steps, windows, printers, order, draw_luck(jobs, s), one_person=False).finish_h
        for s in range(600)
    ]
    error = math.hypot(np.std(single) / math.sqrt(600), batch.finish_h.std() / math.sqrt(20_000))
    assert abs(np.mean(single) - batch.mean_h) < 3.0 * error


def test_the_same_seed_gives_the_same_bytes_and_another_seed_does_not():
    jobs, steps, windows, printers, order = sprout()
    first, again, other = (
        simulate(jobs, steps, windows, printers, order, draws=2000, seed=s) for s in (3, 3, 4)
    )
    assert first.ready_h.tobytes() == again.ready_h.tobytes()
    assert first.by_day == again.by_day
    assert first.items == again.items
    assert first.ready_h.tobytes() != other.ready_h.tobytes()


def test_adding_a_print_leaves_the_luck_of_the_others_alone():
    jobs, _, windows, printers, order = sprout()
    few = simulate(jobs, (), windows, printers, order, draws=2000)
    extra = (*jobs, job("spare arm", 3.0))
    more = simulate(extra, (), windows, printers, (*order, 10), draws=2000)
    np.testing.assert_array_equal(more.ready_h[:10], few.ready_h)


def test_adding_a_print_on_a_printer_of_its_own_in_front_changes_no_other():
    jobs, _, windows, _, order = sprout()
    extra = (job("spare arm", 3.0, printers=("third",)), *jobs)
    three = (*PRINTERS, "third")
    few = simulate(jobs, (), windows, three, order, draws=2000)
    more = simulate(extra, (), windows, three, (0, *(k + 1 for k in order)), draws=2000)
    np.testing.assert_array_equal(more.ready_h[1:], few.ready_h)


def test_longer_windows_never_end_later():
    jobs, steps, windows, printers, order = sprout()
    sure = tuple(replace(j, hazard_frac_h=0.0, start_fail_frac=0.0) for j in jobs)
    found = simulate(sure, steps, windows, printers, order, draws=500)
    wide = simulate(sure, steps, always(), printers, order, draws=500)
    assert wide.p50_h <= found.p50_h
    assert wide.p90_h <= found.p90_h


def random_case(rng, count):
    jobs = tuple(
        Job(
            name=f"print {k}",
            printers=PRINTERS,
            print_h=float(np.round(rng.uniform(0.5, 14.0), 2)),
            set_up_h=0.25,
            removal_h=0.25,
        )
        for k in range(count)
    )
    steps = tuple(
        Step(name=f"step {k}", after=(f"print {k}",), work_h=float(np.round(rng.uniform(0, 4), 2)))
        for k in range(count)
    )
    return jobs, steps


def exact_h(jobs, steps, windows):
    """Least finish over all sequences and all ways to split them over the two printers."""
    count = len(jobs)
    orders = np.array(list(itertools.permutations(range(count))))
    hours, tail = np.array([j.print_h for j in jobs]), np.array([s.work_h for s in steps])
    best = math.inf
    for split in range(count + 1):
        free, last = np.zeros(len(orders)), np.zeros(len(orders))
        for place in range(count):
            free = np.zeros(len(orders)) if place == split else free
            now = orders[:, place]
            end = windows.fit(free, 0.25) + 0.25 + hours[now]
            free = windows.fit(end, 0.25) + 0.25
            last = np.maximum(last, windows.work(free, tail[now]))
        best = min(best, float(last.min()))
    return best


def test_the_search_finds_the_exact_order_in_forty_cases(windows):
    rng = np.random.default_rng(RNG_SEED)
    for case in range(40):
        jobs, steps = random_case(rng, 7 if case % 10 == 0 else 4 + case % 3)
        order = schedule(jobs, steps, windows, PRINTERS, seed=case)
        found = float(last_hours_h(np.array([order]), jobs, steps, windows, PRINTERS)[0])
        assert found == pytest.approx(exact_h(jobs, steps, windows), abs=1e-9)


def test_the_search_is_never_worse_than_the_list_rule_and_repeats_itself(windows):
    rng = np.random.default_rng(RNG_SEED)
    for case in range(6):
        jobs, steps = random_case(rng, 10)
        order = schedule(jobs, steps, windows, PRINTERS, seed=case)
        assert order == schedule(jobs, steps, windows, PRINTERS, seed=case)
        rule = np.argsort([-(j.print_h + s.work_h) for j, s in zip(jobs, steps, strict=True)])
        both = last_hours_h(np.array([order, rule]), jobs, steps, windows, PRINTERS)
        assert both[0] <= both[1] + 1e-9


def test_the_order_of_the_demo_makes_prints_wait_less():
    jobs, steps, windows, printers, order = sprout()
    better = schedule(sprout_jobs(), sprout_steps(), windows, printers)
    given, found = (simulate(jobs, steps, windows, printers, o) for o in (order, better))
    assert found.p90_h <= given.p90_h
