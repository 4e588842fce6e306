"""The bad-day card in sentences and rows, the same on the terminal and on the page."""

from buildplan.decide.card import BadDayCard, way_sentences
from buildplan.report import numbers


def card_sentences(card: BadDayCard, currency: str) -> list[str]:
    """Every way to get the part, what is at stake, and what the chances rest on."""
    return [*way_sentences(card, currency), f"These chances rest on: {card.day.basis}."]


def look_rows(card: BadDayCard) -> list[tuple[str, str, str, str]]:
    """Hours from the start, layer, height and what to look for, of every look."""
    return [
        (
            numbers.num(look.after_h, 1),
            str(look.layer),
            numbers.num(look.z_mm, 1),
            look.why,
        )
        for look in card.day.looks
    ]
