"""The real planner: the program proposes some plans, the calendar decides between them.

Minutes that a printer gets in a day are no constant, so that the program's day is a first guess.
Plans are asked for over several guesses, each is played through the calendar, and the best is then
bettered one part at a time.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import NamedTuple

from buildplan.decide.choice.evaluate import evaluate
from buildplan.decide.choice.model import Case, Machine, with_terms
from buildplan.decide.choice.solve import NoChoiceError, choose
from buildplan.errors import NoPlanError

Picks = tuple[int, ...]
DAY_FACTORS = (1.0, 3.0)
RATE_FACTORS = (1.0, 0.7)
HAZARD_FACTORS = (None, 0.5, 0.2)
"""Guesses: worth of a day, minutes a day of two printers, chance of losing a long print against
that of the cheapest plan. 2 x 2 x 2 x 3 = 24 programs (ours)."""

MOST_PLAYED = 60
"""Plans that are played through the calendar at most (ours; a play takes about 0.2 s)."""


class Simulated(NamedTuple):
    """What the calendar says of a plan: a tuple, as decide.calendar.simulator_for gives it.

    Attributes:
        p50_d, p90_d: Days by which half, and 9 in 10, of the outcomes are finished.
        cents: All that the plan costs but its days: ``totals.total - totals.day``.
    """

    p50_d: float
    p90_d: float
    cents: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Refined:
    """The plan that the calendar likes best.

    Attributes:
        picks: Index of an option for each part.
        simulated, value: What the calendar says of it, and its money and days together in cents.
        first, first_simulated, first_value: The plan of the program alone, and the same for it.
        proposed: Different plans that the program proposed.
        played: Plans that were played through the calendar.
        stopped: Whether the search ended because ``most_played`` was reached.
    """

    picks: Picks
    simulated: Simulated
    value: float
    first: Picks
    first_simulated: Simulated | None
    first_value: float | None
    proposed: int
    played: int
    stopped: bool


def shortlist(case: Case) -> tuple[Picks, ...]:
    """Different plans from 24 programs, the best of the case as it stands first."""
    best = choose(case)
    found: dict[Picks, None] = {best.picks: None}
    busy = sorted(range(len(case.machines)), key=lambda i: -_load(case, best.picks, i))[:2]
    rates = product(RATE_FACTORS, repeat=len(busy))
    for day, rate, hazard in product(DAY_FACTORS, list(rates), HAZARD_FACTORS):
        factors = dict(zip(busy, rate, strict=True))
        limit = None if hazard is None else hazard * best.totals.hazard
        asked = _guess(case, day, factors, limit)
        try:
            found.setdefault(choose(asked, start=best.picks).picks)
        except NoPlanError:
            continue
    return tuple(picks for picks in found if _may(case, picks))


def refine(
    case: Case,
    simulate: Callable[[Picks], tuple[float, float, int]],
    *,
    picks: Sequence[Picks] = (),
    most_played: int = MOST_PLAYED,
) -> Refined:
    """The shortlist through the calendar, then one part at a time until nothing betters it.

    The value is cents + worth of a day * the day by which 9 in 10 are finished. A plan whose 9 in
    10 miss the deadline is taken only where every plan does.

    Args:
        case: What is to be decided.
        simulate: From decide.calendar.simulator_for; NoPlanError where a plan has no end.
        picks: Plans to begin with; empty asks for the shortlist.
        most_played: Plans to play at most.

    Raises:
        NoChoiceError: No plan of the shortlist has an end in the calendar.
    """
    begun = tuple(picks) or shortlist(case)
    game = _Game(case, simulate, most_played)
    best = min((one for one in begun if game.rank(one) is not None), key=game.sure, default=None)
    if best is None:
        raise NoChoiceError(
            f"none of {len(begun)} plans comes to an end in the calendar: "
            f"{game.last or 'no plan was given'}"
        )
    while (better := _better(case, game, best)) is not None:
        best = better
    first = game.seen.get(begun[0])
    return Refined(
        picks=best,
        simulated=game.known(best),
        value=game.sure(best)[1],
        first=begun[0],
        first_simulated=None if first is None else first[1],
        first_value=None if first is None else first[0][1],
        proposed=len(begun),
        played=len(game.seen),
        stopped=game.stopped,
    )


def _better(case: Case, game: "_Game", best: Picks) -> Picks | None:
    """The first change of one part that the calendar likes better; the cheapest are tried first."""
    tried = [
        (*best[:i], k, *best[i + 1 :])
        for i, part in enumerate(case.parts)
        for k in range(len(part.options))
        if k != best[i]
    ]
    tried.sort(key=lambda picks: evaluate(case, picks).total)
    for picks in tried:
        rank = game.rank(picks) if _may(case, picks) else None
        if rank is not None and rank < game.sure(best):
            return picks
    return None


class _Game:
    """Plans that were played, each once."""

    def __init__(
        self, case: Case, simulate: Callable[[Picks], tuple[float, float, int]], most: int
    ) -> None:
        self.case, self.simulate, self.most = case, simulate, most
        self.seen: dict[Picks, tuple[tuple[bool, float], Simulated] | None] = {}
        self.stopped, self.last = False, ""

    def rank(self, picks: Picks) -> tuple[bool, float] | None:
        """Whether it is late, and its value; None where it has no end or was not played."""
        if picks not in self.seen:
            if len(self.seen) >= self.most:
                self.stopped = True
                return None
            self.seen[picks] = self._play(picks)
        entry = self.seen[picks]
        return None if entry is None else entry[0]

    def sure(self, picks: Picks) -> tuple[bool, float]:
        """The rank of a plan that has one."""
        entry = self.seen[picks]
        assert entry is not None
        return entry[0]

    def known(self, picks: Picks) -> Simulated:
        """What the calendar said of a plan that has an end."""
        entry = self.seen[picks]
        assert entry is not None
        return entry[1]

    def _play(self, picks: Picks) -> tuple[tuple[bool, float], Simulated] | None:
        try:
            said = Simulated(*self.simulate(picks))
        except NoPlanError as error:
            self.last = str(error)
            return None
        terms = self.case.terms
        late = terms.deadline_d is not None and said.p90_d > terms.deadline_d
        return (late, said.cents + terms.day_cents * said.p90_d), said


def _guess(case: Case, day: float, rates: dict[int, float], most_hazard: float | None) -> Case:
    """The case with another worth of a day, other minutes a day and another limit of risk."""
    terms = case.terms
    limits = [limit for limit in (terms.most_hazard, most_hazard) if limit is not None]
    machines: tuple[Machine, ...] = tuple(
        replace(row, minutes_per_day=max(1, int(row.minutes_per_day * rates.get(i, 1.0))))
        for i, row in enumerate(case.machines)
    )
    return with_terms(
        replace(case, machines=machines),
        replace(
            terms,
            day_cents=round(day * terms.day_cents),
            most_hazard=min(limits, default=None),
        ),
    )


def _load(case: Case, picks: Picks, machine: int) -> int:
    name = case.machines[machine].name
    rows = [part.options[k] for part, k in zip(case.parts, picks, strict=True)]
    return sum(getattr(o, "expected_min", 0) for o in rows if getattr(o, "printer", "") == name)


def _may(case: Case, picks: Picks) -> bool:
    """Whether a plan keeps attendance and risk; the deadline is the calendar's to judge."""
    open_end = with_terms(case, replace(case.terms, deadline_d=None))
    return not evaluate(open_end, picks).broken
