"""What would change the choice, what staying by costs, and plans that the calendar decides."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from choices import random_case

from buildplan.decide.choice import (
    AtHome,
    Case,
    Machine,
    NoChoiceError,
    PartOptions,
    SentOut,
    Service,
    Simulated,
    Stock,
    Terms,
    choose,
    evaluate,
    front,
    own_time_steps,
    part_range,
    quote_changes,
    quote_words,
    range_words,
    reason_words,
    reasons,
    refine,
    settle,
    shortlist,
    soonest,
    supervision_price,
    supervision_words,
)
from buildplan.decide.choice.program import program_of
from buildplan.decide.choice.solver import solved
from buildplan.errors import InputError, NoPlanError


def every_pick(case):
    return itertools.product(*(range(len(part.options)) for part in case.parts))


def kept(case):
    totals = ((pick, evaluate(case, pick)) for pick in every_pick(case))
    return [(pick, one) for pick, one in totals if not one.broken]


def home(**more):
    given = {"printer": "north", "feedstock": "PETG", "pieces": 1, "expected_min": 60, "grams": 10}
    return AtHome(**{**given, "own_min": 10, **more})


def case_of(*parts, **more):
    given = {
        "services": (Service(name="Alder", shipping_cents=500, least_cents=1500),),
        "stocks": (Stock(feedstock="PETG", pack_g=1000, pack_cents=2000, on_hand_g=1000),),
        "machines": (Machine(name="north", minutes_per_day=600),),
    }
    return Case(
        parts=tuple(PartOptions(name=f"part {i}", options=o) for i, o in enumerate(parts)),
        **{**given, **more},
    )


def small(seed, **more):
    return random_case(np.random.default_rng([31, seed]), 4, 4, 2, **more)


def test_printing_alone_is_off_until_it_is_stated():
    assert Terms().may_run_alone is False
    with pytest.raises(NoChoiceError, match=r"every print of part 0 outlasts the hours"):
        choose(case_of((home(alone=True),)))


def test_a_limit_is_kept_to_the_last_digit_where_the_solver_is_not():
    """Two prints exceed the limit by 5e-7, half of the solver's own tolerance."""
    case = case_of(
        (home(long_hazard=0.15), home(machine_cents=900)),
        (home(long_hazard=0.15 + 5e-7), home(machine_cents=900)),
        terms=Terms(most_hazard=0.3),
    )
    found = choose(case, gap_frac=0.0)
    assert not found.totals.broken
    assert found.totals.machine == 900
    # and from a program without a start in hand
    assert not soonest(case).totals.broken


def test_running_out_of_time_is_not_told_as_impossible():
    case = random_case(np.random.default_rng(3), 40, 12, 3)
    found = choose(case, limit_s=1e-3)
    assert not found.totals.broken
    with pytest.raises(NoPlanError, match="does not say that there is none") as caught:
        solved(program_of(case), case, 0.0, 1e-6)
    assert not isinstance(caught.value, NoChoiceError)


def test_what_stands_in_the_way_is_what_is_named():
    stuck = case_of(
        (home(alone=True, long_hazard=0.01),), terms=Terms(most_hazard=0.1, may_run_alone=False)
    )
    with pytest.raises(NoChoiceError, match="every print of part 0 outlasts"):
        choose(stuck)
    short = case_of(
        (home(alone=True), home(long_hazard=0.5)),
        terms=Terms(most_hazard=0.1, may_run_alone=False),
    )
    with pytest.raises(NoChoiceError, match="39 times in 100 at least, 10 are allowed"):
        choose(short)
    both = case_of(
        (home(long_hazard=0.5), SentOut(service="Alder", cents=4000, lead_d=30)),
        terms=Terms(most_hazard=0.1, deadline_d=4),
    )
    with pytest.raises(
        NoChoiceError, match=r"soonest is day 30, at 45\.00 .* a chance of 39 in 100 to lose"
    ):
        choose(both)


@pytest.mark.parametrize("seed", range(12))
def test_the_soonest_plan_is_that_of_all_plans(seed):
    case = small(seed, most_hazard=0.3 if seed % 2 else None)
    days = {(one.days, one.total) for _, one in kept(case)}
    found = soonest(case)
    got = None if found is None else (found.totals.days, found.totals.total)
    assert got == min(days, default=None)


def test_the_soonest_day_does_not_give_way_to_money():
    case = case_of((home(expected_min=600, machine_cents=900_000_000), home(expected_min=1300)))
    assert soonest(case).totals.days == 1


@pytest.mark.parametrize("seed", range(40))
def test_the_front_has_every_point_that_no_plan_beats(seed):
    """For each limit the front of cost and date is that of all plans, point by point."""
    rng = np.random.default_rng([32, seed])
    shape = (int(rng.integers(3, 5)), int(rng.integers(2, 5)), int(rng.integers(0, 3)))
    case = random_case(rng, *shape, day_cents=0)
    for limit in (None, 0.3, 0.1):
        asked = replace(case, terms=replace(case.terms, most_hazard=limit))
        rows = {(one.total, one.days) for _, one in kept(asked)}
        want = {
            row
            for row in rows
            if not any(o != row and o[0] <= row[0] and o[1] <= row[1] for o in rows)
        }
        assert {(one.totals.total, one.totals.days) for one in front(case, (limit,))} == want


@pytest.mark.parametrize("seed", range(8))
def test_a_reason_costs_what_the_best_other_plan_costs(seed):
    case = small(seed)
    best, said = settle(case, choose(case))
    for i, one in enumerate(said):
        others = [t.total for pick, t in kept(case) if pick[i] != best.picks[i]]
        assert one.more_cents == min(others, default=best.totals.total) - best.totals.total


def test_a_plan_that_is_not_the_least_is_replaced_by_it():
    case = small(3)
    worst = max(kept(case), key=lambda row: row[1].total)[0]
    poor = replace(choose(case), picks=worst, totals=evaluate(case, worst))
    best, said = settle(case, poor)
    assert best.totals.total == choose(case, gap_frac=0.0).totals.total
    assert all(one.more_cents is None or one.more_cents >= 0 for one in said)


def test_only_what_must_move_is_said_to_move():
    equal = (home(machine_cents=50), home(machine_cents=50, printer="south"))
    two = (Machine(name="north", minutes_per_day=600), Machine(name="south", minutes_per_day=600))
    case = case_of((home(), home(machine_cents=700)), equal, equal, machines=two)
    found = replace(choose(case), picks=(0, 1, 1))
    assert reasons(case, found)[0].moves == ()


@pytest.mark.parametrize("seed", range(10))
def test_the_best_plan_at_every_worth_of_own_time_is_that_of_all_plans(seed):
    case = small(seed)
    steps = own_time_steps(case)
    assert steps[0].from_cents_h == 0.0
    assert steps[-1].to_cents_h == 60 * 200
    for one, other in itertools.pairwise(steps):
        assert one.to_cents_h == other.from_cents_h
    plans = [(t.total - t.own, t.own_min) for _, t in kept(case)]
    for step in steps:
        own = evaluate(case, step.picks)
        fixed, minutes = own.total - own.own, own.own_min
        for worth in (step.from_cents_h / 60, step.to_cents_h / 60):
            least = min(f + m * worth for f, m in plans)
            # a plan best within less than a cent a minute alone may be missed
            assert fixed + minutes * worth <= least + 0.5 * max(m for _, m in plans)
        middle = (step.from_cents_h + step.to_cents_h) / 120
        if middle == int(middle):
            assert fixed + minutes * middle == min(f + m * middle for f, m in plans)


def test_own_time_flips_a_part_where_the_two_lines_cross():
    """Pieces save 6.00 and cost 30 min more: whole from 12.00 an hour up."""
    case = case_of((home(machine_cents=1600), home(machine_cents=1000, own_min=40, pieces=2)))
    steps = own_time_steps(case)
    assert [step.picks for step in steps] == [(1,), (0,)]
    assert steps[0].to_cents_h == pytest.approx(1200.0)
    text = range_words("part 0", part_range(steps, 0, 2000.0), 12_000.0, "EUR")
    assert text == "part 0: the same as long as an own hour is worth EUR 12.00 or more."


def test_a_quote_sends_a_part_out_just_where_it_is_said_to():
    case = case_of((home(machine_cents=2600), SentOut(service="Alder", cents=4000, lead_d=1)))
    found = choose(case, gap_frac=0.0)
    (change,) = quote_changes(case, found)
    assert change.at_most_cents == 2600 - 500
    for cents, picks in ((2099, (1,)), (2101, (0,))):
        sent = SentOut(service="Alder", cents=cents, lead_d=1)
        asked = case_of((home(machine_cents=2600), sent))
        assert choose(asked, gap_frac=0.0).picks == picks
    said = "part 0: Alder asks EUR 40.00; sending it out would need EUR 21.00 or less."
    assert quote_words(change, "EUR") == said
    cheap = case_of((home(machine_cents=100), SentOut(service="Alder", cents=4000, lead_d=1)))
    (change,) = quote_changes(cheap, choose(cheap))
    assert "no price there would do" in quote_words(change)


@pytest.mark.parametrize("seed", range(10))
def test_staying_by_never_costs_less_and_costs_what_all_plans_say(seed):
    case = small(seed)
    price = supervision_price(case)
    watched = replace(case, terms=replace(case.terms, may_run_alone=False))
    rows = [one.total for _, one in kept(watched)]
    if price.more_cents is None:
        assert not rows
        return
    least = min(one.total for _, one in kept(case))
    assert price.more_cents == min(rows) - least >= 0


def test_the_price_of_staying_by_is_one_sentence():
    pieces = home(pieces=2, own_min=40, machine_cents=130, expected_min=700)
    case = case_of((home(alone=True, expected_min=600), pieces), terms=Terms(own_cents_per_min=20))
    text = supervision_words(supervision_price(case), "EUR")
    assert text == (
        "Printing only while somebody is there costs EUR 7.30 more in all, done 1 day later."
    )
    none = supervision_words(supervision_price(case_of((home(alone=True),))))
    assert "cannot be done" in none
    assert "every print of part 0 outlasts" in none


def test_reasons_read_as_sentences():
    case = case_of(
        (home(), home(machine_cents=3, printer="south")),
        (home(), home(machine_cents=100, pieces=3, own_min=30)),
        (home(),),
        machines=(
            Machine(name="north", minutes_per_day=600),
            Machine(name="south", minutes_per_day=600),
        ),
        terms=Terms(own_cents_per_min=20),
    )
    said = [reason_words(one, "EUR") for one in reasons(case, choose(case))]
    assert said == [
        "part 0: PETG on north. A free choice: PETG on south costs EUR 0.03 more in all.",
        "part 1: PETG on north. Next best is PETG on north in 3 pieces, at EUR 5.00 more in all: "
        "own time +4.00, energy and wear +1.00.",
        "part 2: PETG on north. No other way keeps what is asked.",
    ]


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"stocks": (Stock(feedstock="PETG", pack_g=0, pack_cents=1),)}, "grams of a pack"),
        ({"machines": (Machine(name="north", minutes_per_day=0),)}, "minutes a day of north"),
        ({"terms": Terms(attended_min_per_day=0)}, "attended minutes a day"),
        ({"terms": Terms(most_hazard=float("nan"))}, "nan found"),
        ({"services": (Service(name="Alder", shipping_cents=1),) * 2}, "'Alder' stands twice"),
        (
            {"shops": (Service(name="shop", shipping_cents=1, least_cents=9),)},
            "counts only its shipping",
        ),
    ],
)
def test_numbers_that_cannot_be_are_refused(more, said):
    with pytest.raises(InputError, match=said):
        choose(case_of((home(),), **more))


def stand_in(case):
    """A calendar of its own kind: a day is worth less on a busy printer, 9 in 10 come later."""

    def simulate(picks):
        totals = evaluate(case, picks)
        return Simulated(
            totals.days * 1.1, totals.days * 1.25 + totals.hazard * 4, totals.total - totals.day
        )

    return simulate


def test_the_shortlist_begins_with_the_program_and_keeps_the_limits():
    case = random_case(np.random.default_rng(41), 8, 6, 2)
    found = shortlist(case)
    assert found[0] == choose(case).picks
    assert 1 < len(found) == len(set(found)) <= 25
    assert not any(evaluate(case, picks).broken for picks in found)


@pytest.mark.parametrize("seed", range(4))
def test_the_calendar_never_makes_the_plan_worse_and_no_single_change_betters_it(seed):
    case = random_case(np.random.default_rng([42, seed]), 5, 4, 2)
    simulate = stand_in(case)
    found = refine(case, simulate, most_played=2000)

    def value(picks):
        said = simulate(picks)
        return said.cents + case.terms.day_cents * said.p90_d

    assert found.value == value(found.picks) <= found.first_value == value(found.first)
    assert found.value <= min(value(picks) for picks in shortlist(case))
    for i, part in enumerate(case.parts):
        for k in range(len(part.options)):
            tried = (*found.picks[:i], k, *found.picks[i + 1 :])
            if not evaluate(case, tried).broken:
                assert value(tried) >= found.value
    assert not found.stopped


def test_plans_without_an_end_are_passed_over_and_none_left_is_told():
    case = random_case(np.random.default_rng(43), 4, 4, 1)
    best, simulate = choose(case).picks, stand_in(case)

    def without_best(picks):
        if picks == best:
            raise NoPlanError("no end")
        return simulate(picks)

    found = refine(case, without_best)
    assert found.picks != best
    assert found.first_value is None

    def never(picks):
        raise NoPlanError("the base shell fits no window")

    with pytest.raises(NoChoiceError, match="the base shell fits no window"):
        refine(case, never)


def test_a_deadline_is_kept_by_nine_in_ten_where_any_plan_does():
    case = random_case(np.random.default_rng(44), 5, 5, 2, day_cents=0)
    simulate = stand_in(case)
    open_end = refine(case, simulate)
    wanted = replace(case, terms=replace(case.terms, deadline_d=int(open_end.simulated.p90_d)))
    found = refine(wanted, simulate)
    assert found.simulated.p90_d <= wanted.terms.deadline_d


def test_the_search_stops_where_it_is_told_to():
    case = random_case(np.random.default_rng(45), 6, 6, 2)
    found = refine(case, stand_in(case), most_played=5)
    assert found.stopped
    assert found.played == 5
