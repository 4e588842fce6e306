"""Length units of part files: their size in millimetres, and doubt about a file without one."""

import difflib

from buildplan.errors import InputError
from buildplan.findings import Finding, Place

MM_PER_UNIT = {
    "micron": 0.001,
    "mm": 1.0,
    "cm": 10.0,
    "inch": 25.4,
    "foot": 304.8,
    "m": 1000.0,
}
"""Millimetres in one unit. Source: international yard and pound agreement, 1959; SI."""

LIKELY_MM = (5.0, 2000.0)
"""Largest size of a printed part that is believed without asking (common practice, no source)."""


def check_unit(unit: str) -> str:
    """The unit, if it is one of MM_PER_UNIT.

    Raises:
        InputError: when it is not.
    """
    if unit in MM_PER_UNIT:
        return unit
    near = difflib.get_close_matches(str(unit), MM_PER_UNIT, n=1)
    hint = f"; did you mean {near[0]!r}?" if near else ""
    raise InputError(f"unit {unit!r} is not known; allowed: {', '.join(MM_PER_UNIT)}{hint}")


def doubt_size(size_mm: tuple[float, float, float]) -> Finding | None:
    """A caution where a size read as millimetres is unlikely, with what else it could be."""
    largest = max(size_mm)
    low, high = LIKELY_MM
    if low <= largest <= high:
        return None
    units = [
        unit
        for unit, factor in MM_PER_UNIT.items()
        if unit != "mm" and low <= largest * factor <= high
    ]
    candidates = [f'unit="{unit}" makes it {_spell(size_mm, MM_PER_UNIT[unit])}' for unit in units]
    return Finding(
        check="units",
        severity="caution",
        what=f"the file carries no unit; read as mm the part is {_spell(size_mm, 1.0)}",
        where=Place(text="the whole part"),
        measured=f"largest size {largest:.4g} mm",
        required=f"{low:g} to {high:g} mm",
        remedy=(
            f"Say the unit, on the command line as --unit {units[0]}, in Python as here: "
            + "; ".join(candidates)
            + "."
            if candidates
            else "No usual unit makes this a likely part; look at the export."
        ),
        source="common practice, no source",
    )


def unit_overruled(stated: str, used: str) -> Finding:
    """A note that the caller's unit was taken instead of the file's."""
    return Finding(
        check="units",
        severity="note",
        what=f"the file states {stated}, it was read as {used} because you said so",
        where=Place(text="the whole part"),
        measured=stated,
        required=used,
        remedy="Leave the unit out to take the file's own.",
        source="the file's unit",
    )


def _spell(size: tuple[float, float, float], factor: float) -> str:
    return " x ".join(f"{edge * factor:.4g}" for edge in size) + " mm"
