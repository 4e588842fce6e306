"""Readiness: formula against simulation, enumeration against local search, order, limits."""

import itertools
from dataclasses import replace

import numpy as np

from buildplan.decide.readiness import Claim, ClaimTest, best_tests, fail_fast, hours_at_stake
from buildplan.decide.readiness.stake import _every_set, alarm_frac, hours_of_sets


def random_claims(random, count):
    return [
        Claim(
            name=f"claim {i:02d}", about="", kind="other", evidence="assumed",
            p_wrong_frac=float(random.uniform(0.005, 0.3)),
            seen_at_frac=float(random.choice([0.1, 0.5, 1.0])),
            test=ClaimTest(
                what="", own_h=float(random.uniform(0.05, 2.0)),
                sensitivity_frac=float(random.uniform(0.6, 1.0)),
                false_alarm_frac=float(random.uniform(0.0, 0.1)),
            ),
        )
        for i in range(count)
    ]  # fmt: skip


def simulate(claims, tested, long_print_h, redo_h, draws, random):
    """Hours of each draw, told as a story: tests, alarms, then prints until nothing is wrong."""
    total = np.zeros(draws)
    wrong = np.zeros((len(claims), draws), bool)
    for i, one in enumerate(claims):
        is_wrong = random.random(draws) < one.p_wrong_frac
        if tested[i]:
            chance = np.where(is_wrong, one.test.sensitivity_frac, one.test.false_alarm_frac)
            alarm = random.random(draws) < chance
            total += one.test.hours + alarm * redo_h
            is_wrong &= ~alarm
        wrong[i] = is_wrong
    at = np.array([one.seen_at_frac for one in claims])[:, None]
    while wrong.any():
        first = np.where(wrong, at, np.inf).min(axis=0)
        stopped = np.isfinite(first)
        total += np.where(stopped, np.where(stopped, first, 0.0) * long_print_h + redo_h, 0.0)
        wrong &= at != first
    return total


def test_the_formula_agrees_with_simulations_within_three_standard_errors_pooled():
    """Eight cases of 400 000 draws, untested and tested in turn: no bias is left in their sum."""
    off = []
    for seed in range(8):
        random = np.random.default_rng(seed)
        claims = random_claims(random, 10)
        tested = best_tests(claims, 22.0, 1.5)[1] if seed % 2 else (False,) * 10
        hours = simulate(claims, tested, 22.0, 1.5, 400_000, random)
        error = hours.std() / 400_000**0.5
        off.append((hours.mean() - hours_at_stake(claims, 22.0, 1.5, tested)) / error)
    assert abs(sum(off)) < 3.0 * len(off) ** 0.5
    assert max(map(abs, off)) < 4.0


def test_the_fast_enumeration_equals_the_formula_set_by_set():
    random = np.random.default_rng(3)
    claims = random_claims(random, 8)
    sets = (np.arange(256)[:, None] >> np.arange(8)) & 1 == 1
    slow = hours_of_sets(claims, sets, 12.0, 2.0)
    assert np.allclose(_every_set(claims, 12.0, 2.0), slow, rtol=0.0, atol=1e-12)


def test_local_search_finds_what_enumeration_finds_up_to_twelve_claims():
    random = np.random.default_rng(1)
    for _ in range(200):
        claims = random_claims(random, int(random.integers(1, 13)))
        hours = float(random.uniform(3.0, 30.0))
        whole, _ = best_tests(claims, hours, 1.5)
        near, _ = best_tests(claims, hours, 1.5, exhaustive=0)
        assert abs(near - whole) < 1e-9


def test_a_claim_that_cannot_be_wrong_is_never_listed():
    random = np.random.default_rng(2)
    for _ in range(100):
        claims = random_claims(random, 6)
        claims[3] = replace(
            claims[3],
            p_wrong_frac=0.0,
            test=replace(claims[3].test, own_h=float(random.choice([0.0, 0.5])),
                         false_alarm_frac=float(random.choice([0.0, 0.05]))),
        )  # fmt: skip
        for limit in (16, 0):
            assert not best_tests(claims, 22.0, 1.5, exhaustive=limit)[1][3]


def test_a_perfect_free_test_is_always_listed_where_changing_the_drawing_costs_nothing():
    random = np.random.default_rng(4)
    for _ in range(100):
        claims = random_claims(random, 6)
        test = ClaimTest(what="", own_h=0.0, sensitivity_frac=1.0, false_alarm_frac=0.0)
        claims[2] = replace(claims[2], test=test)
        assert best_tests(claims, 22.0, 0.0)[1][2]


def test_fail_fast_is_the_best_of_all_orders():
    random = np.random.default_rng(5)
    for _ in range(100):
        claims = random_claims(random, 5)
        least = min(until_alarm(order) for order in itertools.permutations(claims))
        assert until_alarm(fail_fast(claims)) <= least + 1e-12


def until_alarm(order):
    hours, left = 0.0, 1.0
    for one in order:
        hours += left * one.test.hours
        left *= 1.0 - alarm_frac(one)
    return hours


def test_more_doubt_or_a_longer_print_never_costs_less():
    random = np.random.default_rng(6)
    for _ in range(100):
        claims = random_claims(random, 7)
        base, _ = best_tests(claims, 20.0, 1.5)
        assert best_tests(claims, 24.0, 1.5)[0] >= base - 1e-12
        untested = hours_at_stake(claims, 20.0, 1.5)
        claims[0] = replace(claims[0], p_wrong_frac=min(1.0, 2.0 * claims[0].p_wrong_frac))
        assert hours_at_stake(claims, 20.0, 1.5) >= untested
