"""What would change the choice: the worth of own time, and a quote; and what staying by costs."""

from dataclasses import dataclass, replace

from buildplan.decide.choice.evaluate import evaluate
from buildplan.decide.choice.model import Case, Chosen, SentOut, with_terms
from buildplan.decide.choice.solve import NoChoiceError, choose
from buildplan.errors import InputError

MOST_OWN_CENTS_PER_MIN = 200
"""120 an hour: the worth of own time is followed up to here (ours)."""

TINY = 1e-9
MIN_PER_H = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnTimeStep:
    """One plan, and the worth of an own hour between which it is the best.

    Attributes:
        from_cents_h, to_cents_h: Cents an hour.
    """

    from_cents_h: float
    to_cents_h: float
    picks: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteChange:
    """What a service would have to ask for a part that is now made at home.

    Attributes:
        quoted_cents: What is asked now, its cheapest way.
        at_most_cents: It must be this or less; under 0: no price there would do, because the order,
            the days or own time cost too much.
    """

    part: str
    service: str
    quoted_cents: int
    at_most_cents: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Supervision:
    """What it costs to print only while somebody is there.

    Attributes:
        attended: The best plan so, or None where there is none.
        alone: The best plan where printers run while nobody is there.
        more_cents, later_d: What staying by costs more, and how many days; None where it cannot be.
        refused: Why it cannot be, or empty.
    """

    attended: Chosen | None
    alone: Chosen
    more_cents: int | None
    later_d: int | None
    refused: str


def own_time_steps(
    case: Case, *, most_cents_per_min: int = MOST_OWN_CENTS_PER_MIN
) -> tuple[OwnTimeStep, ...]:
    """Which plan is best at which worth of own time, from 0 up.

    The cost of a plan is a line in the worth v of a minute, F + L v, so that the best plans are a
    lower envelope. Two plans are taken, the case is solved where their lines cross, and so on until
    nothing lies under a crossing. The case holds whole cents a minute, so that both neighbours of a
    crossing are solved; a plan that is best within less than a cent a minute alone is not seen.

    Source: Eisner and Severance (1976), Mathematical techniques for efficient record segmentation
    in large shared databases, Journal of the ACM 23, 619-635.
    """
    if most_cents_per_min < 1:
        raise InputError(f"own time: most {most_cents_per_min} cents a minute; 1 or more allowed")
    ends = [_line(case, 0), _line(case, most_cents_per_min)]
    hull = [ends[0], *_between(case, (0.0, ends[0]), (float(most_cents_per_min), ends[1])), ends[1]]
    steps: list[OwnTimeStep] = []
    begin = 0.0
    for number, line in enumerate(hull):
        last = number + 1 == len(hull)
        end = float(most_cents_per_min) if last else _crossing(line, hull[number + 1])
        if end - begin > TINY or (last and not steps):
            steps.append(
                OwnTimeStep(
                    from_cents_h=MIN_PER_H * begin, to_cents_h=MIN_PER_H * end, picks=line.picks
                )
            )
            begin = end
    return tuple(steps)


def part_range(steps: tuple[OwnTimeStep, ...], part: int, own_cents_h: float) -> OwnTimeStep:
    """The widest run of steps around a worth of own time in which a part's option stays."""
    here = next(i for i, step in enumerate(steps) if own_cents_h <= step.to_cents_h + TINY)
    option, first, last = steps[here].picks[part], here, here
    while first and steps[first - 1].picks[part] == option:
        first -= 1
    while last + 1 < len(steps) and steps[last + 1].picks[part] == option:
        last += 1
    return replace(
        steps[here], from_cents_h=steps[first].from_cents_h, to_cents_h=steps[last].to_cents_h
    )


def quote_changes(case: Case, chosen: Chosen) -> tuple[QuoteChange, ...]:
    """For each part made at home and each service that quoted it: the quote that could send it.

    A quote that is d lower makes a plan at most d cheaper (a least order or lost free shipping can
    eat some of it), so that nothing over ``at_most_cents`` will do.
    """
    found = []
    for i, part in enumerate(case.parts):
        if isinstance(part.options[chosen.picks[i]], SentOut):
            continue
        names = dict.fromkeys(o.service for o in part.options if isinstance(o, SentOut))
        rows = (_quote_change(case, chosen, i, name) for name in names)
        found += [row for row in rows if row is not None]
    return tuple(found)


def _quote_change(case: Case, chosen: Chosen, index: int, service: str) -> QuoteChange | None:
    """The part is sent to this service, and all other parts are decided anew."""
    options = case.parts[index].options
    there = {k: o for k, o in enumerate(options) if isinstance(o, SentOut) and o.service == service}
    others = frozenset((index, k) for k in range(len(options)) if k not in there)
    start = (*chosen.picks[:index], next(iter(there)), *chosen.picks[index + 1 :])
    try:
        other = choose(case, gap_frac=0.0, forbidden=others, start=start)
    except NoChoiceError:
        return None
    quoted = there[other.picks[index]].cents
    return QuoteChange(
        part=case.parts[index].name,
        service=service,
        quoted_cents=quoted,
        at_most_cents=quoted - (other.totals.total - chosen.totals.total),
    )


def supervision_price(case: Case) -> Supervision:
    """What it costs to print only while somebody is there: one number beside the caution.

    Raises:
        NoChoiceError: Not even with printers that run alone is there a plan.
    """
    alone = choose(with_terms(case, replace(case.terms, may_run_alone=True)), gap_frac=0.0)
    watched = with_terms(case, replace(case.terms, may_run_alone=False))
    try:
        attended = choose(watched, gap_frac=0.0, start=alone.picks)
    except NoChoiceError as error:
        return Supervision(
            attended=None, alone=alone, more_cents=None, later_d=None, refused=str(error)
        )
    return Supervision(
        attended=attended,
        alone=alone,
        more_cents=attended.totals.total - alone.totals.total,
        later_d=attended.totals.days - alone.totals.days,
        refused="",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """A plan's cost: fixed + minutes * v."""

    fixed: int
    minutes: int
    picks: tuple[int, ...]

    def at(self, worth: float) -> float:
        return self.fixed + self.minutes * worth


def _line(case: Case, worth: int, start: tuple[int, ...] = ()) -> _Line:
    asked = with_terms(case, replace(case.terms, own_cents_per_min=worth))
    picks = choose(asked, gap_frac=0.0, start=start).picks
    totals = evaluate(asked, picks)
    return _Line(fixed=totals.total - totals.own, minutes=totals.own_min, picks=picks)


def _crossing(one: _Line, other: _Line) -> float:
    return (other.fixed - one.fixed) / (one.minutes - other.minutes)


def _between(case: Case, left: tuple[float, _Line], right: tuple[float, _Line]) -> list[_Line]:
    """Lines of the envelope between two, in order."""
    (low, one), (high, other) = left, right
    if one.minutes <= other.minutes or high - low <= 1.0 + TINY:
        return []
    at = _crossing(one, other)
    for worth in sorted({int(at), int(at) + 1}):
        if not low < worth < high:
            continue
        found = _line(case, worth, one.picks)
        if found.at(worth) < min(one.at(worth), other.at(worth)) - TINY:
            middle = (float(worth), found)
            return [*_between(case, left, middle), found, *_between(case, middle, right)]
    return []
