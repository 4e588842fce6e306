"""What was learned, in sentences: how many prints stand behind a number, and how sure it is."""

from buildplan.journal.failures import LearnedOdds
from buildplan.journal.learn import FEW_PRINTS, LearnedFactor


def basis_words(factor: LearnedFactor, printer: str) -> str:
    """Whose prints a factor rests on: "from your 7 prints on north bench"."""
    if factor.prints == 0:
        return "from the tables alone: nothing is logged yet"
    if factor.own_prints == 0:
        return (
            f"from your {_prints(factor.prints)} on other printers: none on {printer} yet, so the "
            "range is wide"
        )
    text = f"from your {_prints(factor.own_prints)} on {printer}"
    if factor.wide:
        text += f"; the range stays wide until {FEW_PRINTS} are logged"
    return text


def factor_words(factor: LearnedFactor, printer: str, feedstock: str, what: str) -> str:
    """One sentence on a factor; ``what`` is "hours" or "grams"."""
    name = {"hours": "Prints take", "grams": "Prints weigh"}[what]
    low, high = _percent(factor.spread_frac.low), _percent(factor.spread_frac.high)
    if factor.prints == 0:
        return (
            f"{what.capitalize()} of {feedstock} on {printer}: nothing is logged yet; the "
            f"estimator's own range counts until a print ends."
        )
    usual = _percent(factor.likely_frac)
    middle = "as predicted" if usual == "0 %" else f"{usual} against the prediction"
    return (
        f"{name} {middle} in {feedstock} on {printer} (8 in 10 between {low} and {high}), "
        f"{basis_words(factor, printer)}."
    )


def odds_words(learned: LearnedOdds, printer: str, feedstock: str) -> str:
    """Two or three sentences on starts and the hazard."""
    odds, start, hazard = learned.odds, learned.start_spread_frac, learned.hazard_spread_frac_h
    text = (
        f"A start on {printer} fails {_about(odds.start_fail_frac)} times in 100 "
        f"(8 in 10: {_share(start.low)} to {_share(start.high)}). After that {feedstock} fails "
        f"{_about(odds.hazard_frac_h)} times in 100 hours "
        f"({_share(hazard.low)} to {_share(hazard.high)})."
    )
    if learned.prints == 0:
        return text + " Nothing is logged yet: these are wide assumptions."
    if learned.own_prints == 0:
        return text + f" No print ended on {printer} yet: that is from other printers, and wide."
    seen = _count(learned.own_failures, "failure")
    text += (
        f" From your {_prints(learned.own_prints)} on {printer}: {seen} in "
        f"{learned.own_hours_h:.0f} h of {feedstock} after the start."
    )
    if learned.wide:
        text += f" With fewer than {FEW_PRINTS} prints this is mostly assumption."
    return text


def _percent(factor: float) -> str:
    """A factor as a change: 1.07 is "+7 %"."""
    change = round(100.0 * (factor - 1.0))
    return "0 %" if change == 0 else f"{'+' if change > 0 else '−'}{abs(change)} %"


def _about(part: float) -> str:
    words = _share(part)
    return words if words.startswith("under") else f"about {words}"


def _share(part: float) -> str:
    hundred = 100.0 * part
    if hundred < 0.095:
        return "under 0.1"
    return f"{hundred:.0f}" if hundred >= 9.5 else f"{hundred:.2g}"


def _prints(count: int) -> str:
    return _count(count, "print")


def _count(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
