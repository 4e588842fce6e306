"""The choice in sentences that a maker can check."""

from buildplan.decide.choice.change import OwnTimeStep, QuoteChange, Supervision
from buildplan.decide.choice.model import Reason

MOST_NAMED = 3
"""So many parts that would change are named; more are counted (ours)."""

NAMES = {
    "sent": "services",
    "shipping": "shipping",
    "feedstock": "feedstock packs",
    "machine": "energy and wear",
    "own": "own time",
    "risk": "failed tries",
    "day": "days",
}


def reason_words(reason: Reason, currency: str = "") -> str:
    """Why a part is got this way, in one or two sentences."""
    begin = f"{reason.part}: {reason.option}"
    if reason.more_cents is None:
        return f"{begin}. No other way keeps what is asked."
    if reason.free:
        text = (
            f"{begin}. A free choice: {reason.instead} costs "
            f"{_more(reason.more_cents, currency)} in all."
        )
    else:
        by = ", ".join(f"{NAMES[name]} {_signed(cents)}" for name, cents in reason.by)
        text = (
            f"{begin}. Next best is {reason.instead}, at "
            f"{_more(reason.more_cents, currency)} in all: {by}."
        )
    if reason.free or not reason.moves:
        return text
    if len(reason.moves) > MOST_NAMED:
        return f"{text} {len(reason.moves)} other parts would change with it."
    return f"{text} With it would change: {'; '.join(reason.moves)}."


def range_words(part: str, kept: OwnTimeStep, most_cents_h: float, currency: str = "") -> str:
    """Between which worth of an own hour a part's option stays.

    Say nothing of a free choice: it changes with ties, not with the worth of time.
    """
    low, high = kept.from_cents_h, kept.to_cents_h
    unit = f"{currency} " if currency else ""
    if low <= 0.0 and high >= most_cents_h:
        return f"{part}: the same, whatever an own hour is worth up to {unit}{high / 100:.2f}."
    if low <= 0.0:
        return f"{part}: the same as long as an own hour is worth {unit}{high / 100:.2f} or less."
    if high >= most_cents_h:
        return f"{part}: the same as long as an own hour is worth {unit}{low / 100:.2f} or more."
    return (
        f"{part}: the same as long as an own hour is worth {unit}{low / 100:.2f} to "
        f"{high / 100:.2f}."
    )


def quote_words(change: QuoteChange, currency: str = "") -> str:
    """What a service would have to ask for a part."""
    now = _money(change.quoted_cents, currency)
    if change.at_most_cents < 0:
        return (
            f"{change.part}: {change.service} asks {now}; no price there would do: shipping, days "
            "and own time alone cost more than printing it."
        )
    return (
        f"{change.part}: {change.service} asks {now}; sending it out would need "
        f"{_money(change.at_most_cents, currency)} or less."
    )


def supervision_words(price: Supervision, currency: str = "") -> str:
    """What staying by the printers costs, in one sentence."""
    if price.more_cents is None:
        return f"Printing only while somebody is there cannot be done: {price.refused}."
    days = price.later_d or 0
    count = f"{abs(days)} day" if abs(days) == 1 else f"{abs(days)} days"
    when = "on the same day" if days == 0 else f"{count} {'later' if days > 0 else 'sooner'}"
    if price.more_cents == 0:
        return f"Printing only while somebody is there costs nothing more, done {when}."
    return (
        f"Printing only while somebody is there costs {_money(price.more_cents, currency)} more in "
        f"all, done {when}."
    )


def _money(cents: int, currency: str) -> str:
    return f"{currency} {cents / 100:.2f}".strip()


def _more(cents: int, currency: str) -> str:
    return "exactly as much" if cents == 0 else f"{_money(cents, currency)} more"


def _signed(cents: int) -> str:
    return f"{'+' if cents > 0 else '−'}{abs(cents) / 100:.2f}"
