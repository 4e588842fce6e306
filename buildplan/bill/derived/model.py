"""What a derived need is, before it becomes a line of the bill."""

import dataclasses
import hashlib
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal
from typing import Any

from buildplan.bill.lines import Kind

ZERO = Decimal(0)
STEP = {
    "piece": Decimal(1),
    "pair": Decimal(1),
    "m": Decimal("0.01"),
    "ml": Decimal("0.1"),
    "g": Decimal("0.1"),
}
"""Needs are counted in steps of these, never rounded down."""

MARK_LETTERS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What some tables or meshes ask for.

    Attributes:
        item: As it would stand on a shopping list ("screw M3 x 8").
        quantity: Likely need, in ``unit``; low and high are passed 1 time in 10 on either side.
        pack: Usual content of a pack, where no shop is known.
        least: Least that is sold at once.
        used_in: Where it goes.
        bought: The item of the shopping list that a table names for it, or empty.
        asked_by: Mark of the tables and meshes that ask for it.
        why: How it follows from them, in words.
        source: Whose rule or rate that is.
    """

    kind: Kind
    item: str
    quantity: Decimal
    low: Decimal
    high: Decimal
    unit: str
    pack: Decimal
    used_in: str
    asked_by: str
    why: str
    source: str
    least: Decimal = ZERO
    bought: str = ""


def mark_of_rows(rows: Iterable[Any]) -> str:
    """Mark of what asks: the first 8 hexadecimal digits of SHA-256 over its content.

    Rows in another order give the same mark; any number that changes gives another one.

    Args:
        rows: Dataclasses of tables, or plain values as JSON knows them.
    """
    texts = sorted(json.dumps(_plain(row), sort_keys=True, default=str) for row in rows)
    return hashlib.sha256("\0".join(texts).encode()).hexdigest()[:MARK_LETTERS]


def _plain(row: Any) -> Any:
    if dataclasses.is_dataclass(row) and not isinstance(row, type):
        return {"": type(row).__name__} | dataclasses.asdict(row)
    return row


def exact(value: float) -> Decimal:
    """A number as it is written."""
    return Decimal(repr(float(value)))


def stepped(value: float, unit: str) -> Decimal:
    """A quantity, not rounded down, in steps that its unit is counted in."""
    step = STEP.get(unit, Decimal("0.001"))
    eased = Decimal(repr(float(value))) - Decimal("1e-9")
    return max((eased / step).to_integral_value(ROUND_CEILING) * step, ZERO)


def spread_of(
    low: float, likely: float, high: float, unit: str
) -> tuple[Decimal, Decimal, Decimal]:
    """Low, likely and high need in steps of the unit, in order: low is rounded down."""
    step = STEP.get(unit, Decimal("0.001"))
    middle, most = stepped(likely, unit), stepped(high, unit)
    least = (Decimal(repr(float(low))) / step).to_integral_value(ROUND_FLOOR) * step
    return min(max(least, ZERO), middle), middle, max(most, middle)


def pack_for(quantity: Decimal, packs: Iterable[float]) -> Decimal:
    """The smallest usual pack that holds a quantity, or the largest there is."""
    known = sorted(exact(pack) for pack in packs)
    return next((pack for pack in known if pack >= quantity), known[-1])


def whole(value: float) -> str:
    """A length or count in words, at most two digits after the point."""
    shown = Decimal(repr(float(value))).quantize(Decimal("0.01"), ROUND_HALF_UP).normalize()
    return f"{shown:f}"


_NUMBERED = re.compile(r"(.*\D)\s(\d+)")


def stem_of(name: str) -> str:
    """A name without the number it ends in: "plate boss 3" is one of "plate boss"."""
    found = _NUMBERED.fullmatch(name)
    return found.group(1) if found else name


def listed(names: Iterable[str], most: int = 6) -> str:
    """Names, each once; those that only differ in their number together, of many the first few.

    >>> listed(["boss 2", "boss 1", "boss 3", "plate"])
    'boss 1 to 3, plate'
    """
    groups: dict[str, list[int]] = {}
    for name in names:
        found = _NUMBERED.fullmatch(name)
        stem, number = (found.group(1), int(found.group(2))) if found else (name, -1)
        if name:
            groups.setdefault(stem, []).append(number)
    each = [_numbered(stem, sorted(set(numbers))) for stem, numbers in groups.items()]
    extra = len(each) - most
    return ", ".join(each) if extra <= 0 else f"{', '.join(each[:most])} and {extra} more"


def _numbered(stem: str, numbers: list[int]) -> str:
    """A stem with its numbers: as one range where none is missing."""
    known = [number for number in numbers if number >= 0]
    if not known:
        return stem
    if len(known) > 2 and known[-1] - known[0] == len(known) - 1:
        return f"{stem} {known[0]} to {known[-1]}"
    return (
        f"{stem} {' and '.join(map(str, known)) if len(known) < 3 else ', '.join(map(str, known))}"
    )
