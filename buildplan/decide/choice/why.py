"""Why each part is got the way it is: what the best plan without that option costs more."""

from buildplan.decide.choice.model import Case, Chosen, Reason
from buildplan.decide.choice.solve import NoChoiceError, choose

FREE_CENTS = 5
"""A choice that matters less than this is free."""

COMPONENTS = ("sent", "shipping", "feedstock", "machine", "own", "risk", "day")


def reasons(case: Case, chosen: Chosen, *, gap_frac: float = 0.0) -> tuple[Reason, ...]:
    """One for every part: its option is forbidden and all parts are decided anew."""
    return tuple(
        _reason(case, chosen, index, gap_frac=gap_frac) for index in range(len(case.parts))
    )


def _reason(case: Case, chosen: Chosen, index: int, *, gap_frac: float) -> Reason:
    part = case.parts[index]
    pick = chosen.picks[index]
    option = part.options[pick].label
    try:
        other = choose(case, gap_frac=gap_frac, forbidden=frozenset({(index, pick)}))
    except NoChoiceError:
        return Reason(
            part=part.name, option=option, instead="", more_cents=None, by=(), moves=(), free=False
        )
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
