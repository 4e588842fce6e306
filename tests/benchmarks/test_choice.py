"""The choice: the program against trying every plan, and the start of a descent against none."""

import itertools

import numpy as np
from benchmarks.ratio import ratio, record
from choices import random_case

from buildplan.decide.choice import choose, evaluate
from buildplan.decide.choice.program import program_of
from buildplan.decide.choice.solver import solved


def test_the_program_is_faster_than_trying_every_plan():
    case = random_case(np.random.default_rng(51), 7, 4, 2)
    picks = list(itertools.product(range(4), repeat=7))

    def every():
        rows = (evaluate(case, pick) for pick in picks)
        return min(one.total for one in rows if not one.broken)

    assert choose(case, gap_frac=0.0).totals.total == every()
    times = ratio(lambda: choose(case, gap_frac=0.0), every, rounds=5)
    record("choice of 7 parts with 4 options", "all 16 384 plans tried", times, 10.0)


def test_a_start_in_hand_makes_the_proof_quicker():
    case = random_case(np.random.default_rng(101), 14, 8, 3)
    best = choose(case, gap_frac=0.0).picks
    barred = [frozenset({(i, pick)}) for i, pick in enumerate(best)]
    times = ratio(
        lambda: [choose(case, gap_frac=0.0, forbidden=one, start=best) for one in barred],
        lambda: [solved(program_of(case, forbidden=one), case, 0.0, 20.0) for one in barred],
        rounds=3,
    )
    record("14 parts decided anew, from the plan in hand", "from nothing", times, 2.0)
