"""The bad-day card in sentences, the same on the terminal and on the page."""

from buildplan.decide.card import BadDay
from buildplan.report import numbers

LOOK_SHOWN_DIGITS = 1


def card_sentences(card: BadDay, currency: str) -> list[str]:
    """Hours on good and bad days, what is at stake, why tries are limited, what it rests on."""
    tries = numbers.count(card.tries, "try", "tries")
    said = [
        f"Usually {numbers.hours(card.usual_h)}{_median(card)}, 1 time in 20 over "
        f"{numbers.hours(card.high_h)}. "
        f"{_in_100(card.any_failure_frac)} at least one try fails; "
        f"{_in_100(card.gives_up_frac).lower()} all of {tries} do and it is given up.",
        f"Failed tries cost {numbers.grams(card.lost_g)} and "
        f"{numbers.money(card.lost_cost, currency)} on average, 1 time in 20 over "
        f"{numbers.grams(card.high_lost_g)} and {numbers.money(card.high_lost_cost, currency)}.",
    ]
    if not card.mean_exists:
        said.append(
            "Your log holds fewer hours of this than one try takes: an average over endless tries "
            f"does not exist, so {tries} are counted."
        )
    if card.reels > 1:
        said.append(
            f"One try takes {numbers.grams(card.need_g)} and the reel holds "
            f"{numbers.grams(card.have_g)}: have {card.reels} reels of the same batch dry."
        )
    said.append(f"These chances rest on: {card.basis}.")
    return said


def look_rows(card: BadDay) -> list[tuple[str, str, str, str]]:
    """Hours from the start, layer, height and what to look for, of every look."""
    return [
        (
            numbers.num(look.after_h, LOOK_SHOWN_DIGITS),
            str(look.layer),
            numbers.num(look.z_mm, LOOK_SHOWN_DIGITS),
            look.why,
        )
        for look in card.looks
    ]


def _median(card: BadDay) -> str:
    """Nothing where every second day is a usual one."""
    if card.median_h <= card.usual_h * 1.001:
        return ""
    return f", every second time over {numbers.hours(card.median_h)}"


def _in_100(chance: float) -> str:
    hundred = 100.0 * chance
    return f"{'Under 1' if hundred < 1.0 else f'{hundred:.0f}'} times in 100"
