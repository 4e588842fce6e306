"""The card with every way to get the part, in sentences a maker can act on."""

from buildplan.decide.card.ways import BadDayCard, HomeWay, Spool, in_100
from buildplan.decide.sending.compare import SendRow
from buildplan.findings import Spread


def way_sentences(card: BadDayCard, currency: str) -> tuple[str, ...]:
    """Each way in one sentence, then what splitting changes, the spool, and when failures come."""
    said = [_home(way, currency) for way in card.home]
    said += [_sent(way, currency) for way in card.sent]
    said += [_split(card.home, currency), _spool(card.spool), _marks(card), card.mean_words]
    said.append(card.tries_reason[0].upper() + card.tries_reason[1:] + ".")
    return tuple(one for one in said if one)


def _home(way: HomeWay, currency: str) -> str:
    name = way.label[0].upper() + way.label[1:]
    if way.reason:
        return f"{name}: not possible, {way.reason}."
    about = "" if way.exact else "about "
    return (
        f"{name}: usually {about}{way.usual_h:.1f} h and {currency} {way.usual_cost:.2f}; 1 day in "
        f"20 over {way.high_h:.1f} h, and failed tries then cost over {way.high_lost_g:.0f} g and "
        f"{currency} {way.high_lost_cost:.2f} on top; at least one try fails "
        f"{in_100(way.any_failure_frac)}."
    )


def _sent(way: SendRow, currency: str) -> str:
    if way.stops:
        return f"Sent to {way.service}: not as it is: {'; '.join(way.stops)}."
    if way.order_cost is None:
        return f"Sent to {way.service}: no price yet; {way.basis}."
    own = f"{60.0 * way.own_h:.0f} min of your own time after it"
    terms = f" Its terms: {way.terms.rstrip('.')}." if way.terms else ""
    return (
        f"Sent to {way.service}: {_money_range(way.order_cost, currency)} with shipping, at the "
        f"door after {_range(way.lead_d, 0, 'days')}, {own}; {way.basis}.{terms}"
    )


def _split(home: tuple[HomeWay, ...], currency: str) -> str:
    """Splitting does not make failures rarer; it makes each of them smaller."""
    able = [way for way in home[1:] if not way.reason]
    if home[0].reason or not able:
        return ""
    whole, best = home[0], min(able, key=lambda way: (round(way.high_h, 2), way.pieces))
    saved = whole.high_h - best.high_h
    if saved <= 0.0:
        return "Cutting it does not shorten the bad day."
    return (
        f"{best.label[0].upper()}{best.label[1:]} the bad day is {saved:.1f} h shorter than in one "
        f"piece, for {currency} {best.usual_cost - whole.usual_cost:.2f} and "
        f"{60.0 * (best.own_h - whole.own_h):.0f} min of your own time more. Some try then fails "
        f"{in_100(best.any_failure_frac)} instead of {in_100(whole.any_failure_frac)}: there are "
        "more starts, and each failure costs less."
    )


def _spool(spool: Spool) -> str:
    if spool.high_short_g <= 0.0:
        return (
            f"{spool.on_hand_g:.0f} g on hand cover one try of {spool.need_g:.0f} g and what a bad "
            "day wastes."
        )
    if spool.short_g <= 0.0:
        return (
            f"{spool.on_hand_g:.0f} g on hand cover one try of {spool.need_g:.0f} g; on a bad day "
            f"{spool.high_short_g:.0f} g are missing: have {_packs(spool.high_packs)} ready."
        )
    more = (
        "" if spool.high_packs == spool.packs else f", {spool.high_packs} to be safe on a bad day"
    )
    return (
        f"One try takes {spool.need_g:.0f} g and {spool.usable_g:.0f} g of what is on hand can be "
        f"printed: {spool.short_g:.0f} g are missing. Have {_packs(spool.packs)} ready{more}."
    )


def _marks(card: BadDayCard) -> str:
    if not card.marks:
        return ""
    half = next(mark for mark in card.marks if mark.share_frac == 0.5)
    late = card.marks[-1]
    return (
        f"Half of all failures have come after {half.after_h:.1f} h (layer {half.layer}, "
        f"{half.lost_g:.0f} g laid), {100.0 * late.share_frac:.0f} in 100 after {late.after_h:.1f} "
        f"h (layer {late.layer}, {late.lost_g:.0f} g)."
    )


def _packs(count: int) -> str:
    return "1 more pack" if count == 1 else f"{count} more packs"


def _money_range(spread: Spread, currency: str) -> str:
    return f"{currency} {_range(spread, 2, '')}".replace("  ", " ").strip()


def _range(spread: Spread, digits: int, unit: str) -> str:
    likely = f"{spread.likely:.{digits}f} {unit}".rstrip()
    if spread.high - spread.low < 0.5 * 10.0**-digits:
        return likely
    if spread.likely - spread.low < 0.5 * 10.0**-digits:
        return f"{likely} (1 time in 10 over {spread.high:.{digits}f})"
    return f"{likely} ({spread.low:.{digits}f} to {spread.high:.{digits}f} 8 times in 10)"
