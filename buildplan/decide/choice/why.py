"""Why each part is got the way it is: what the best plan without that option costs more."""

from dataclasses import replace

from buildplan.decide.choice.descend import nearest_of_equals
from buildplan.decide.choice.evaluate import evaluate
from buildplan.decide.choice.model import Case, Chosen, Reason
from buildplan.decide.choice.solve import NoChoiceError, choose

FREE_CENTS = 5
"""A choice that matters less than this is free (ours)."""

COMPONENTS = ("sent", "shipping", "feedstock", "machine", "own", "risk", "day")


def reasons(case: Case, chosen: Chosen, *, gap_frac: float = 0.0) -> tuple[Reason, ...]:
    """One for every part: its option is forbidden and all parts are decided anew.

    Where the other plan costs as much either way, other parts stay as they are chosen. At a gap
    over 0, or where ``chosen`` is not the least, ``more_cents`` may be under 0; settle first.
    """
    return tuple(
        _reason(case, chosen, index, gap_frac=gap_frac) for index in range(len(case.parts))
    )


def settle(case: Case, chosen: Chosen) -> tuple[Chosen, tuple[Reason, ...]]:
    """The least choice and its reasons, all of which cost 0 or more.

    A choice within a gap of the least may be beaten by one of its own alternatives; it is then
    replaced by the least itself.
    """
    said = reasons(case, chosen)
    if all(one.more_cents is None or one.more_cents >= 0 for one in said):
        return chosen, said
    least = choose(case, gap_frac=0.0, start=chosen.picks)
    return least, reasons(case, least)


def _reason(case: Case, chosen: Chosen, index: int, *, gap_frac: float) -> Reason:
    part = case.parts[index]
    pick = chosen.picks[index]
    option = part.options[pick].label
    forbidden = frozenset({(index, pick)})
    nothing = Reason(
        part=part.name, option=option, instead="", more_cents=None, by=(), moves=(), free=False
    )
    if len(part.options) == 1:
        return nothing
    try:
        found = choose(case, gap_frac=gap_frac, forbidden=forbidden, start=chosen.picks)
    except NoChoiceError:
        return nothing
    picks = nearest_of_equals(case, found.picks, chosen.picks, forbidden)
    other = replace(found, picks=picks, totals=evaluate(case, picks))
    by = [(name, getattr(other.totals, name) - getattr(chosen.totals, name)) for name in COMPONENTS]
    more = other.totals.total - chosen.totals.total
    moves = tuple(
        f"{case.parts[i].name}: {case.parts[i].options[new].label}"
        for i, (old, new) in enumerate(zip(chosen.picks, other.picks, strict=True))
        if i != index and old != new
    )
    return Reason(
        part=part.name,
        option=option,
        instead=part.options[other.picks[index]].label,
        more_cents=more,
        by=tuple(sorted((one for one in by if one[1]), key=lambda one: -abs(one[1]))),
        moves=moves,
        free=abs(more) <= FREE_CENTS,
    )
