"""After the print: what was promised against what the scale, the caliper and the clock say."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from buildplan.journal.learn import Learned, factor_for
from buildplan.journal.model import Attempt

MASS_FRAC, TIME_FRAC = 0.06, 0.2
"""Before anything is logged: 6 % on grams (strand, density), 20 % on hours (ours)."""

FEW_G = 20.0
"""Grams below this are told to a tenth."""

SIZE_MM, SIZE_FRAC = 0.3, 0.004
"""Printed sizes: 0.3 mm or 0.4 %, whichever is larger (common practice, no source)."""

CAUSE_SOURCE = "common practice, no source"

Verdict = Literal["within", "look"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """One thing that was measured on a finished print.

    Attributes:
        what: "grams", "hours", "width", "depth" or "height".
        found: What was measured; expected, low and high are what was promised.
        cause: Likely cause where it lies outside; empty within (common practice, no source).
        text: The same in one sentence.
    """

    what: str
    found: float
    expected: float
    low: float
    high: float
    verdict: Verdict
    cause: str
    text: str


def accept_print(
    attempt: Attempt,
    *,
    learned: Learned | None = None,
    names: Callable[[str], str] = str,
    ran_h: float | None = None,
    mass_g: float | None = None,
    size_mm: tuple[float, float, float] | None = None,
    drawn_mm: tuple[float, float, float] | None = None,
) -> tuple[Accepted, ...]:
    """Hours, grams and sizes against the prediction of an attempt; what is not given is left out.

    Args:
        attempt: With its own prediction.
        learned: From the log; its ranges replace the usual ones where prints stand behind them.
        names: From a name in the log to the one that was learned under.
        ran_h: By the clock.
        mass_g: On the scale.
        size_mm: Measured width, depth and height.
        drawn_mm: The same of the mesh, as printed.
    """
    printer, feedstock = names(attempt.printer), names(attempt.feedstock)
    found = []
    if ran_h is not None:
        low, middle, high = 1.0 - TIME_FRAC, 1.0, 1.0 + TIME_FRAC
        if learned is not None:
            factor = factor_for(learned.time, printer, feedstock, attempt.walls_frac)
            if factor.prints:
                spread = factor.spread_frac
                low, middle, high = spread.low, spread.likely, spread.high
        found.append(_hours(ran_h, attempt.predicted_h, (low, middle, high)))
    if mass_g is not None and attempt.predicted_g is not None:
        low, middle, high = 1.0 - MASS_FRAC, 1.0, 1.0 + MASS_FRAC
        if learned is not None:
            factor = factor_for(learned.mass, printer, feedstock)
            if factor.prints:
                spread = factor.spread_frac
                low, middle, high = spread.low, spread.likely, spread.high
        found.append(_grams(mass_g, attempt.predicted_g, (low, middle, high)))
    if size_mm is not None and drawn_mm is not None:
        found += _sizes(size_mm, drawn_mm)
    return tuple(found)


def _hours(ran_h: float, predicted_h: float, range_frac: tuple[float, float, float]) -> Accepted:
    low, middle, high = (predicted_h * share for share in range_frac)
    cause = ""
    if ran_h > high:
        cause = "the machine slows down more than its row says, or it paused"
    elif ran_h < low:
        cause = "another recipe was printed, or the machine is quicker than its row says"
    return _made("hours", ran_h, (middle, low, high), "h", cause)


def _grams(mass_g: float, predicted_g: float, range_frac: tuple[float, float, float]) -> Accepted:
    low, middle, high = (predicted_g * share for share in range_frac)
    cause = ""
    if mass_g < low:
        cause = (
            "too little was laid down (a slipping drive, a worn nozzle, a thin strand), less "
            "infill was printed, or the feedstock is lighter than its row says"
        )
    elif mass_g > high:
        cause = (
            "too much was laid down (a thick strand, flow set high), supports were weighed with "
            "it, or more infill was printed"
        )
    return _made("grams", mass_g, (middle, low, high), "g", cause)


def _sizes(
    size_mm: tuple[float, float, float], drawn_mm: tuple[float, float, float]
) -> list[Accepted]:
    rows = []
    off = []
    for name, found, drawn in zip(("width", "depth", "height"), size_mm, drawn_mm, strict=True):
        room = max(SIZE_MM, SIZE_FRAC * drawn)
        off.append((found - drawn) / drawn if abs(found - drawn) > room else 0.0)
        rows.append((name, found, drawn, room))
    same = (
        off[0] != 0.0 and off[1] != 0.0 and math.copysign(1.0, off[0]) == math.copysign(1.0, off[1])
    )
    return [
        _made(
            name,
            found,
            (drawn, drawn - room, drawn + room),
            "mm",
            _size_cause(name, found - drawn, same) if abs(found - drawn) > room else "",
        )
        for name, found, drawn, room in rows
    ]


def _size_cause(name: str, off_mm: float, both: bool) -> str:
    """Why one size is off, from which of them are."""
    if name == "height":
        if off_mm < 0.0:
            return "the first layer was pressed too far into the platform, or layers are thinner"
        return "the first layer stood too high, or the platform was not flat"
    if both and off_mm < 0.0:
        return "it shrank while it cooled: set shrink_frac of the feedstock from this print"
    if both:
        return "beads are wider than planned: check the flow with a single-wall print"
    return "one axis moves too far or too short: check its belt and its steps with a ruler"


def _made(
    what: str, found: float, promised: tuple[float, float, float], unit: str, cause: str
) -> Accepted:
    digits = 1 if unit in ("h", "mm") or promised[0] < FEW_G else 0
    said = f"{what} {found:.{digits}f} {unit}, promised"
    return accepted_as(what, found, promised, f"{said} {_range(promised, digits)}", cause)


def accepted_as(
    what: str, found: float, promised: tuple[float, float, float], said: str, cause: str
) -> Accepted:
    """A measurement against what was expected, with its likely cause where it is off.

    Args:
        what: What was measured.
        found: What came out.
        promised: Expected, low and high.
        said: All of that in words.
        cause: Likely cause; empty where it lies within the range.
    """
    expected, low, high = promised
    return Accepted(
        what=what,
        found=found,
        expected=expected,
        low=low,
        high=high,
        verdict="look" if cause else "within",
        cause=cause,
        text=f"{said}: {cause} ({CAUSE_SOURCE})" if cause else said,
    )


def _range(promised: tuple[float, float, float], digits: int) -> str:
    expected, low, high = promised
    return f"{expected:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"
