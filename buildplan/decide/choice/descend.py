"""One part at a time, by exact cost: a start for the proof, and the order among equals."""

from collections.abc import Sequence

from buildplan.decide.choice.evaluate import evaluate
from buildplan.decide.choice.model import AtHome, Case

Forbidden = frozenset[tuple[int, int]]


def descend(case: Case, start: Sequence[int], forbidden: Forbidden) -> tuple[int, ...] | None:
    """Picks that no change of one part betters, or None where the descent keeps no limit.

    Args:
        case: What is to be decided.
        start: Picks to begin from; empty begins from each part's cheapest alone.
        forbidden: (part, option) that may not be chosen.
    """
    picks = [
        _allowed(case, i, start[i] if start else None, forbidden) for i in range(len(case.parts))
    ]
    if any(pick is None for pick in picks):
        return None
    best = tuple(pick for pick in picks if pick is not None)
    value = _value(case, best)
    bettered = True
    while bettered:
        bettered = False
        for i, part in enumerate(case.parts):
            for k in range(len(part.options)):
                if k == best[i] or (i, k) in forbidden:
                    continue
                tried = (*best[:i], k, *best[i + 1 :])
                other = _value(case, tried)
                if other < value:
                    best, value, bettered = tried, other, True
    return best if not evaluate(case, best).broken else None


def first_of_equals(case: Case, picks: tuple[int, ...], forbidden: Forbidden) -> tuple[int, ...]:
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


def nearest_of_equals(
    case: Case, picks: tuple[int, ...], wanted: Sequence[int], forbidden: Forbidden
) -> tuple[int, ...]:
    """The same cost or less, with parts put back to what is wanted where that costs nothing."""
    best, cost = list(picks), evaluate(case, picks).total
    put_back = True
    while put_back:
        put_back = False
        for i, k in enumerate(wanted):
            if best[i] == k or (i, k) in forbidden:
                continue
            tried = [*best[:i], k, *best[i + 1 :]]
            totals = evaluate(case, tried)
            if not totals.broken and totals.total <= cost:
                best, cost, put_back = tried, totals.total, True
    return tuple(best)


def _value(case: Case, picks: Sequence[int]) -> tuple[int, float, int]:
    """Broken limits first, then how late and how risky, then the cost."""
    totals = evaluate(case, picks)
    late = max(0, totals.days - (case.terms.deadline_d or totals.days)) if totals.broken else 0
    risk = totals.hazard if totals.broken else 0.0
    return len(totals.broken), late + risk, totals.total


def _allowed(case: Case, part: int, wanted: int | None, forbidden: Forbidden) -> int | None:
    """What is wanted where it may be; else the option that costs least by itself."""
    terms = case.terms
    open_to = [
        (k, o)
        for k, o in enumerate(case.parts[part].options)
        if (part, k) not in forbidden
        and (terms.may_run_alone or not (isinstance(o, AtHome) and o.alone))
    ]
    if any(k == wanted for k, _ in open_to):
        return wanted
    if not open_to:
        return None
    price = {stock.feedstock: stock.pack_cents / stock.pack_g for stock in case.stocks}

    def cost(row: tuple[int, object]) -> float:
        option = row[1]
        if isinstance(option, AtHome):
            own = option.own_min * terms.own_cents_per_min
            paid = option.machine_cents + option.risk_cents
            return own + paid + price[option.feedstock] * option.grams
        return float(getattr(option, "cents", 0))

    return min(open_to, key=cost)[0]
