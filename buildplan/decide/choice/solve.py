"""The best choice, the soonest one, and cost against date against risk."""

import os
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace

import numpy as np

from buildplan.decide.choice.evaluate import evaluate
from buildplan.decide.choice.model import Case, Chosen, SentOut, with_terms
from buildplan.decide.choice.program import Program, program_of
from buildplan.errors import InputError

GAP_FRAC = 1e-4
LIMIT_S = 20.0
TINY = 1e-6
MOST_OPTIONS = 100_000


class NoChoiceError(InputError):
    """No choice keeps what is asked; the message says what could be had."""


def choose(
    case: Case,
    *,
    gap_frac: float = GAP_FRAC,
    limit_s: float = LIMIT_S,
    forbidden: frozenset[tuple[int, int]] = frozenset(),
) -> Chosen:
    """The choice that costs least in all: money, own time, expected loss and days.

    The program only proposes; every number is that of ``evaluate``. Between options that cost the
    same the first is taken.

    Args:
        case: What is to be decided.
        gap_frac: How far from the least it may stay; 0 for the least itself.
        limit_s: Longest the solver may take.
        forbidden: (part, option) that may not be chosen.

    Raises:
        NoChoiceError: Nothing keeps deadline, chances and attendance; it names the soonest day.
        InputError: A part has no option, or an option names what is not in the case.
    """
    _check(case)
    picks = _solved(program_of(case, forbidden=forbidden), case, gap_frac, limit_s)
    if picks is None:
        raise NoChoiceError(_why_none(case, forbidden))
    picks = _first_of_equals(case, picks, forbidden)
    return Chosen(picks=picks, totals=evaluate(case, picks))


def soonest(case: Case) -> Chosen | None:
    """The earliest day, and the least money on it; None where no day will do.

    The deadline is left out.
    """
    open_end = with_terms(case, replace(case.terms, deadline_d=None))
    day = with_terms(open_end, replace(open_end.terms, day_cents=max(open_end.terms.day_cents, 1)))
    weights = {"money": TINY, "own": TINY, "risk": TINY, "day": 1.0}
    picks = _solved(program_of(day, weights=weights), day, 0.0, LIMIT_S)
    if picks is None:
        return None
    # the least cost on that day, free of the weights' rounding
    first = evaluate(open_end, picks).days
    fixed = with_terms(open_end, replace(open_end.terms, deadline_d=first))
    again = _solved(program_of(fixed), fixed, GAP_FRAC, LIMIT_S)
    return Chosen(picks=again or picks, totals=evaluate(open_end, again or picks))


def front(case: Case, hazards: Sequence[float | None] = (None,)) -> tuple[Chosen, ...]:
    """Choices none of which is beaten in cost, day and chance of losing a long print at once.

    For each limit on the chance, the cheapest plan, then the cheapest a day sooner, until none is
    left. Days are worth nothing here: they are the other axis.

    Args:
        case: What is to be decided.
        hazards: Limits of -ln of the chance that no long print is lost; None for none.
    """
    found: list[Chosen] = []
    for limit in hazards:
        terms = replace(case.terms, day_cents=0, most_hazard=limit)
        last = case.terms.deadline_d
        while True:
            asked = with_terms(case, replace(terms, deadline_d=last))
            picks = _solved(program_of(asked), asked, 0.0, LIMIT_S)
            if picks is None:
                break
            picks = _first_of_equals(asked, picks, frozenset())
            found.append(Chosen(picks=picks, totals=evaluate(asked, picks)))
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


def _solved(
    program: Program, case: Case, gap_frac: float, limit_s: float
) -> tuple[int, ...] | None:
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    rows, columns, factors = (np.array(side) for side in zip(*program.entries, strict=True))
    shape = (len(program.least), len(program.cost))
    matrix = coo_array((factors.astype(float), (rows, columns)), shape=shape).tocsr()
    options: Mapping[str, float] = {"mip_rel_gap": gap_frac, "time_limit": limit_s}
    with _quiet_solver():
        answer = milp(
            np.array(program.cost, dtype=float),
            constraints=LinearConstraint(matrix, program.least, program.most),
            bounds=Bounds(program.low, program.high),
            integrality=np.array(program.whole),
            options=options,
        )
    if answer.x is None:
        return None
    return tuple(
        int(np.argmax([answer.x[program.at["pick", i, k]] for k in range(len(part.options))]))
        for i, part in enumerate(case.parts)
    )


@contextmanager
def _quiet_solver() -> Iterator[None]:
    """Keep stray lines of the solver's C++ off the screen and out of JSON on standard output."""
    sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _first_of_equals(
    case: Case, picks: tuple[int, ...], forbidden: frozenset[tuple[int, int]]
) -> tuple[int, ...]:
    """The same cost with the first option that has it, part by part."""
    best, cost = list(picks), evaluate(case, picks).total
    for i, part in enumerate(case.parts):
        for k in range(len(part.options)):
            if (i, k) in forbidden:
                continue
            tried = [*best[:i], k, *best[i + 1 :]]
            totals = evaluate(case, tried)
            if not totals.broken and (totals.total, k) < (cost, best[i]):
                best, cost = tried, totals.total
    return tuple(best)


def _why_none(case: Case, forbidden: frozenset[tuple[int, int]]) -> str:
    terms = case.terms
    said = "no choice of options keeps all that is asked"
    if forbidden:
        return said + " without the options that are forbidden"
    early = soonest(case)
    if early is not None and terms.deadline_d is not None:
        return (
            f"{said}: the soonest is day {early.totals.days}, at {early.totals.money / 100:.2f}, "
            f"wanted by day {terms.deadline_d}; allow a later day, a service that is quicker, or "
            "more of your own hours"
        )
    if terms.most_hazard is not None:
        least = sum(min(getattr(o, "long_hazard", 0.0) for o in p.options) for p in case.parts)
        lowest = 100.0 * (1.0 - float(np.exp(-least)))
        allowed = 100.0 * (1.0 - float(np.exp(-terms.most_hazard)))
        return (
            f"{said}: a long print is lost {lowest:.0f} times in 100 at least, {allowed:.0f} are "
            "allowed; allow more, cut the part into shorter pieces, or send it out"
        )
    return (
        f"{said}: a print outlasts the hours somebody is there; cut it, send it out, or state "
        "that its printer may run alone"
    )


def _check(case: Case) -> None:
    services = {service.name for service in case.services}
    printers = {machine.name for machine in case.machines}
    feedstocks = {stock.feedstock for stock in case.stocks}
    count = 0
    for part in case.parts:
        if not part.options:
            raise InputError(f"choice: {part.name} has no option; give at least one")
        count += len(part.options)
        for option in part.options:
            named = (
                [(option.service, services, "service")]
                if isinstance(option, SentOut)
                else [
                    (option.printer, printers, "printer"),
                    (option.feedstock, feedstocks, "feedstock"),
                ]
            )
            for name, known, what in named:
                if name not in known:
                    raise InputError(
                        f"choice: {part.name} asks for the {what} {name!r}; known: "
                        f"{', '.join(sorted(known)) or 'none'}"
                    )
    if not case.parts or count > MOST_OPTIONS:
        raise InputError(
            f"choice: {len(case.parts)} parts with {count} options found; 1 to {MOST_OPTIONS} "
            "options are taken"
        )
