"""The choice: equal to trying everything, and behaving as money and days do."""

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
    Stock,
    Terms,
    choose,
    evaluate,
    front,
    reasons,
    soonest,
)
from buildplan.errors import InputError


def every_pick(case):
    return itertools.product(*(range(len(part.options)) for part in case.parts))


def brute(case):
    """Least total of all choices that keep what is asked, or None."""
    totals = (evaluate(case, pick) for pick in every_pick(case))
    kept = [one.total for one in totals if not one.broken]
    return min(kept, default=None)


def small_case(seed):
    rng = np.random.default_rng([11, seed])
    case = random_case(
        rng,
        int(rng.integers(3, 6)),
        int(rng.integers(2, 5)),
        int(rng.integers(0, 4)),
        printers=int(rng.integers(1, 3)),
        deadline=int(rng.integers(4, 14)) if rng.random() < 0.5 else None,
        most_hazard=float(rng.uniform(0.05, 0.6)) if rng.random() < 0.4 else None,
    )
    if rng.random() < 0.3:
        return replace(case, terms=replace(case.terms, may_run_alone=False))
    return case


@pytest.mark.parametrize("block", range(6))
def test_the_program_finds_what_trying_everything_finds(block):
    """300 cases, whole cents: no difference at all; infeasible in both or in neither."""
    for seed in range(50 * block, 50 * block + 50):
        case = small_case(seed)
        least = brute(case)
        if least is None:
            with pytest.raises(NoChoiceError):
                choose(case, gap_frac=0.0)
            continue
        found = choose(case, gap_frac=0.0)
        assert found.totals.total == least, seed
        assert not found.totals.broken
        assert found.totals == evaluate(case, found.picks)


@pytest.mark.parametrize("seed", range(12))
def test_the_front_is_that_of_all_choices(seed):
    rng = np.random.default_rng([12, seed])
    case = random_case(rng, 4, 3, 2, day_cents=0)
    hazards = (None, 0.3, 0.05)
    points = set()
    for limit in hazards:
        asked = replace(case, terms=replace(case.terms, most_hazard=limit))
        totals = [evaluate(asked, pick) for pick in every_pick(asked)]
        kept = [(t.days, t.total, t.hazard) for t in totals if not t.broken]
        for day in sorted({row[0] for row in kept}):
            points.add((day, min(row[1] for row in kept if row[0] <= day)))
    got = {(one.totals.days, one.totals.total) for one in front(case, hazards)}
    assert got <= points
    # the cheapest of all and the soonest of all are on it
    assert min(p[1] for p in points) == min(p[1] for p in got)
    assert min(p[0] for p in points) == min(p[0] for p in got)


@pytest.mark.parametrize("seed", range(10))
def test_the_order_of_parts_and_options_does_not_matter(seed):
    rng = np.random.default_rng([13, seed])
    case = random_case(rng, 6, 4, 2)
    turned = replace(
        case,
        parts=tuple(
            PartOptions(name=part.name, options=part.options[::-1]) for part in case.parts[::-1]
        ),
    )
    one, other = choose(case, gap_frac=0.0), choose(turned, gap_frac=0.0)
    assert one.totals.total == other.totals.total


@pytest.mark.parametrize("seed", range(10))
def test_more_freedom_never_costs_more(seed):
    rng = np.random.default_rng([14, seed])
    case = random_case(rng, 5, 4, 2, deadline=9)
    try:
        cost = choose(case, gap_frac=0.0).totals.total
    except NoChoiceError:
        return
    later = replace(case, terms=replace(case.terms, deadline_d=20))
    stocked = replace(
        case, stocks=tuple(replace(s, on_hand_g=s.on_hand_g + 500) for s in case.stocks)
    )
    extra = AtHome(printer="A0", feedstock="m0", pieces=1, expected_min=100, grams=10, own_min=5)
    first = case.parts[0]
    wider = replace(case, parts=(replace(first, options=(*first.options, extra)), *case.parts[1:]))
    for freer in (later, stocked, wider):
        assert choose(freer, gap_frac=0.0).totals.total <= cost


@pytest.mark.parametrize("seed", range(6))
def test_dearer_own_time_never_asks_for_more_of_it(seed):
    case = random_case(np.random.default_rng([15, seed]), 6, 5, 2)
    minutes = [
        choose(
            replace(case, terms=replace(case.terms, own_cents_per_min=rate)), gap_frac=0.0
        ).totals.own_min
        for rate in (0, 10, 40, 200)
    ]
    assert minutes == sorted(minutes, reverse=True)


@pytest.mark.parametrize("seed", range(6))
def test_all_money_times_three_is_three_times_the_cost(seed):
    case = random_case(np.random.default_rng([16, seed]), 5, 4, 2)

    def option(one):
        if isinstance(one, SentOut):
            return replace(one, cents=3 * one.cents)
        return replace(one, machine_cents=3 * one.machine_cents, risk_cents=3 * one.risk_cents)

    def service(one):
        free = None if one.free_from_cents is None else 3 * one.free_from_cents
        return replace(
            one,
            shipping_cents=3 * one.shipping_cents,
            least_cents=3 * one.least_cents,
            free_from_cents=free,
        )

    tripled = Case(
        parts=tuple(
            PartOptions(name=p.name, options=tuple(option(o) for o in p.options))
            for p in case.parts
        ),
        services=tuple(service(s) for s in case.services),
        stocks=tuple(replace(s, pack_cents=3 * s.pack_cents) for s in case.stocks),
        machines=case.machines,
        shops=tuple(service(s) for s in case.shops),
        terms=replace(
            case.terms,
            own_cents_per_min=3 * case.terms.own_cents_per_min,
            day_cents=3 * case.terms.day_cents,
        ),
    )
    one, three = choose(case, gap_frac=0.0), choose(tripled, gap_frac=0.0)
    assert three.totals.total == 3 * one.totals.total


def test_what_is_bought_holds_every_plan_back():
    case = case_of(
        (home(machine_cents=90), SentOut(service="s", cents=1, lead_d=8, own_min=0)),
        terms=Terms(day_cents=1000, tail_d=2, least_d=5),
    )
    assert choose(case).totals.days == 7
    waits = replace(case, terms=replace(case.terms, least_d=8, own_cents_per_min=500))
    best = choose(waits, gap_frac=0.0)
    assert best.totals.days == 10
    assert best.picks == (1,)
    with pytest.raises(NoChoiceError, match="soonest is day 10"):
        choose(replace(waits, terms=replace(waits.terms, deadline_d=9)))


def home(**more):
    given = {"printer": "p", "feedstock": "f", "pieces": 1, "expected_min": 60, "grams": 10}
    return AtHome(**{**given, "own_min": 10, **more})


def case_of(*parts, **more):
    given = {
        "services": (Service(name="s", shipping_cents=500, least_cents=1500),),
        "stocks": (Stock(feedstock="f", pack_g=1000, pack_cents=2000, on_hand_g=1000),),
        "machines": (Machine(name="p", minutes_per_day=600),),
    }
    return Case(
        parts=tuple(PartOptions(name=f"part {i}", options=o) for i, o in enumerate(parts)),
        **{**given, **more},
    )


def test_a_least_order_draws_a_part_along():
    """One part must be sent for 8.74, charged 15.00: a second one of 6 rides for nothing."""
    must = (SentOut(service="s", cents=874, lead_d=4),)
    may = (home(machine_cents=50), SentOut(service="s", cents=600, lead_d=4, own_min=10))
    assert choose(case_of(must, may), gap_frac=0.0).picks == (0, 1)
    alone = case_of((home(),), may)
    assert choose(alone, gap_frac=0.0).picks == (0, 0)


def test_components_sum_and_orders_are_charged_at_least():
    for seed in range(20):
        case = random_case(np.random.default_rng([17, seed]), 6, 4, 3)
        found = choose(case)
        t = found.totals
        assert t.total == t.sent + t.shipping + t.feedstock + t.machine + t.own + t.risk + t.day
        packs = dict(t.packs)
        used = dict.fromkeys(packs, 0)
        for part, pick in zip(case.parts, found.picks, strict=True):
            option = part.options[pick]
            if isinstance(option, AtHome):
                used[option.feedstock] += option.grams
        for stock in case.stocks:
            bought = packs[stock.feedstock] * stock.pack_g + stock.on_hand_g
            assert bought >= used[stock.feedstock]


def test_every_reason_costs_more_and_a_choice_that_hardly_matters_is_free():
    case = case_of(
        (home(machine_cents=100), home(machine_cents=103)),
        (home(machine_cents=100), SentOut(service="s", cents=9000, lead_d=3)),
        (SentOut(service="s", cents=4000, lead_d=3),),
    )
    found = choose(case, gap_frac=0.0)
    said = reasons(case, found)
    assert [one.free for one in said] == [True, False, False]
    assert said[0].more_cents == 3
    assert said[1].more_cents == 9000 - 100
    assert said[1].by[0] == ("sent", 9000)
    assert said[2].more_cents is None
    for seed in range(8):
        drawn = random_case(np.random.default_rng([18, seed]), 5, 4, 2)
        best = choose(drawn, gap_frac=0.0)
        for one in reasons(drawn, best):
            assert one.more_cents is None or one.more_cents >= 0
            assert one.more_cents is None or one.more_cents == sum(cents for _, cents in one.by)


def test_what_cannot_be_is_told_with_what_can():
    case = case_of(
        (home(expected_min=6000), SentOut(service="s", cents=4000, lead_d=6)),
        terms=Terms(deadline_d=3, tail_d=1),
    )
    with pytest.raises(
        NoChoiceError, match=r"soonest is day 7, at 45\.00 paid out, wanted by day 3"
    ):
        choose(case)
    early = soonest(case)
    assert early.totals.days == 7
    risky = case_of((home(long_hazard=0.3),), terms=Terms(most_hazard=0.1))
    with pytest.raises(NoChoiceError, match="26 times in 100 at least, 10 are allowed"):
        choose(risky)
    alone = case_of((home(alone=True),), terms=Terms(may_run_alone=False))
    with pytest.raises(NoChoiceError, match="outlasts the hours"):
        choose(alone)


@pytest.mark.parametrize(
    ("case", "said"),
    [
        (case_of(()), "has no option"),
        (case_of((home(printer="q"),)), "printer 'q'; known: p"),
        (case_of((home(feedstock="g"),)), "feedstock 'g'; known: f"),
        (case_of((SentOut(service="t", cents=1, lead_d=1),)), "service 't'; known: s"),
        (Case(parts=()), "0 parts"),
    ],
)
def test_what_is_not_there_is_named(case, said):
    with pytest.raises(InputError, match=said):
        choose(case)


def test_a_pick_that_is_none_is_refused():
    with pytest.raises(InputError, match="0 to 0 allowed"):
        evaluate(case_of((home(),)), [1])
    with pytest.raises(InputError, match="one each"):
        evaluate(case_of((home(),)), [])


def test_the_solver_prints_nothing(capfd):
    for seed in range(20):
        choose(random_case(np.random.default_rng([19, seed]), 8, 5, 3), gap_frac=0.0)
    assert capfd.readouterr().out == ""
