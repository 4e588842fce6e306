"""The best choice, the soonest one, and cost against date against risk."""

from collections.abc import Sequence
from dataclasses import replace

from buildplan.decide.choice.check import check_case
from buildplan.decide.choice.descend import descend, first_of_equals
from buildplan.decide.choice.evaluate import evaluate
from buildplan.decide.choice.model import AtHome, Case, Chosen, Terms, with_terms
from buildplan.decide.choice.program import program_of
from buildplan.decide.choice.solver import NO_PICKS, solved
from buildplan.errors import NoPlanError

GAP_FRAC = 1e-4
LIMIT_S = 10.0
DAYS_ALONE = {"money": 0.0, "own": 0.0, "risk": 0.0, "day": 1.0}


class NoChoiceError(NoPlanError):
    """No choice keeps what is asked; the message says what could be had."""


def choose(
    case: Case,
    *,
    gap_frac: float = GAP_FRAC,
    limit_s: float = LIMIT_S,
    forbidden: frozenset[tuple[int, int]] = frozenset(),
    start: Sequence[int] = (),
) -> Chosen:
    """The choice that costs least in all: money, own time, expected loss and days.

    The program only proposes; every number is that of ``evaluate``. Between options that cost the
    same the first is taken.

    Args:
        case: What is to be decided.
        gap_frac: How far from the least it may stay; 0 for the least itself.
        limit_s: Longest the solver may take.
        forbidden: (part, option) that may not be chosen.
        start: Picks to start from; a good start makes the proof quick and changes no cost.

    Raises:
        NoChoiceError: Nothing keeps deadline, chances and attendance; it names what could be had.
        NoPlanError: The solver ran out of time with nothing in hand.
        InputError: A part has no option, a number cannot be, or a name is not in the case.
    """
    check_case(case)
    found = _least(case, gap_frac, limit_s, forbidden, start)
    if found is None:
        raise NoChoiceError(_why_none(case, forbidden))
    picks = first_of_equals(case, found, forbidden)
    return Chosen(picks=picks, totals=evaluate(case, picks))


def _least(
    case: Case,
    gap_frac: float,
    limit_s: float,
    forbidden: frozenset[tuple[int, int]],
    start: Sequence[int],
) -> tuple[int, ...] | None:
    """Picks of least total: a descent first, then the program for anything a cent better."""
    begun = descend(case, start or NO_PICKS, forbidden)
    program = program_of(case, forbidden=forbidden)
    if begun is None:
        return solved(program, case, gap_frac, limit_s)
    cost = evaluate(case, begun).total
    better = cost - max(1.0, gap_frac * cost)
    program.row(((key, program.cost[at]) for key, at in program.at.items()), -float("inf"), better)
    return solved(program, case, gap_frac, limit_s, in_hand=begun) or begun


def soonest(case: Case) -> Chosen | None:
    """The earliest day, and the least cost on it; None where no day will do.

    The deadline is left out.
    """
    check_case(case)
    open_end = with_terms(case, replace(case.terms, deadline_d=None))
    days = with_terms(case, replace(open_end.terms, day_cents=1))
    picks = solved(program_of(days, weights=DAYS_ALONE), days, 0.0, LIMIT_S)
    if picks is None:
        return None
    first = evaluate(open_end, picks).days
    fixed = with_terms(case, replace(case.terms, deadline_d=first))
    again = _least(fixed, GAP_FRAC, LIMIT_S, frozenset(), picks) or picks
    return Chosen(picks=again, totals=evaluate(open_end, again))


def front(case: Case, hazards: Sequence[float | None] = (None,)) -> tuple[Chosen, ...]:
    """Choices none of which is beaten in cost, day and chance of losing a long print at once.

    For each limit on the chance, the cheapest plan, then the cheapest a day sooner, until none is
    left. Days are worth nothing here: they are the other axis.

    Args:
        case: What is to be decided.
        hazards: Limits of -ln of the chance that no long print is lost; None for none.
    """
    check_case(case)
    found: list[Chosen] = []
    for limit in hazards:
        terms = replace(case.terms, day_cents=0, most_hazard=limit)
        last = case.terms.deadline_d
        start: tuple[int, ...] = ()
        while True:
            asked = with_terms(case, replace(terms, deadline_d=last))
            picks = _least(asked, 0.0, LIMIT_S, frozenset(), start)
            if picks is None:
                break
            start = first_of_equals(asked, picks, frozenset())
            found.append(Chosen(picks=start, totals=evaluate(asked, start)))
            last = found[-1].totals.days - 1
    return tuple(
        sorted(
            (one for one in found if not any(_beats(other, one) for other in found)),
            key=lambda one: (one.totals.days, one.totals.total, one.totals.hazard),
        )
    )


def _beats(one: Chosen, other: Chosen) -> bool:
    left = (one.totals.total, one.totals.days, one.totals.hazard)
    right = (other.totals.total, other.totals.days, other.totals.hazard)
    if left == right:
        return one.picks < other.picks
    return all(a <= b for a, b in zip(left, right, strict=True))


def _why_none(case: Case, forbidden: frozenset[tuple[int, int]]) -> str:
    """What stands in the way, and what could be had instead."""
    terms = case.terms
    said = "no choice of options keeps all that is asked"
    if forbidden:
        return said + " without the options that are forbidden"
    stuck = [
        part.name
        for part in case.parts
        if all(isinstance(o, AtHome) and o.alone for o in part.options)
    ]
    if stuck and not terms.may_run_alone:
        names = ", ".join(stuck)
        return (
            f"{said}: every print of {names} outlasts the hours somebody is there; cut it, send "
            "it out, or state that its printer may run alone"
        )
    least = sum(_least_hazard(part.options, alone=terms.may_run_alone) for part in case.parts)
    if terms.most_hazard is not None and least > terms.most_hazard:
        return (
            f"{said}: a long print is lost {_percent(least)} times in 100 at least, "
            f"{_percent(terms.most_hazard)} are allowed; allow more, cut the part into shorter "
            "pieces, or send it out"
        )
    early = soonest(case)
    if early is None or terms.deadline_d is None:
        return f"{said}; allow more, or give more options"
    text = (
        f"{said}: the soonest is day {early.totals.days}, at {early.totals.money / 100:.2f} paid "
        f"out, wanted by day {terms.deadline_d}; allow a later day"
    )
    risk = _least_risk_by_then(case, terms)
    if risk is not None:
        text += f", or a chance of {_percent(risk)} in 100 to lose a long print"
    return text + ", or find a quicker service or more hours of your own"


def _least_hazard(options: Sequence[object], *, alone: bool) -> float:
    allowed = [
        o.long_hazard if isinstance(o, AtHome) else 0.0
        for o in options
        if alone or not (isinstance(o, AtHome) and o.alone)
    ]
    return min(allowed, default=0.0)


def _least_risk_by_then(case: Case, terms: Terms) -> float | None:
    """Lowest -ln of the chance to lose no long print by the deadline, where a limit is asked."""
    if terms.most_hazard is None:
        return None
    free = with_terms(case, replace(terms, most_hazard=None))
    program = program_of(free, weights=dict.fromkeys(DAYS_ALONE, 0.0))
    for i, part in enumerate(case.parts):
        for k, option in enumerate(part.options):
            if isinstance(option, AtHome):
                program.cost[program.at["pick", i, k]] = option.long_hazard
    picks = solved(program, free, 0.0, LIMIT_S)
    return None if picks is None else evaluate(free, picks).hazard


def _percent(hazard: float) -> str:
    from math import expm1

    return f"{-100.0 * expm1(-hazard):.0f}"
