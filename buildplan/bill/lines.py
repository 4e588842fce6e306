"""Lines of the bill: what is needed, in which packs it is bought, what that costs."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

from buildplan.errors import InputError

Kind = Literal["feedstock", "joint", "bought"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What the build asks for, before packs.

    Attributes:
        need: Quantity needed, in ``unit``; likewise the content of one pack.
        pack_cost: Price of one pack.
        lead_d: Days from order to door.
        used_in: Where it is used.
    """

    kind: Kind
    item: str
    need: Decimal
    unit: str
    pack: Decimal
    pack_cost: Decimal
    supplier: str
    lead_d: float
    used_in: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BillLine:
    """One line of the bill: whole packs, in exact cents.

    Attributes:
        packs: Whole packs to buy.
        spare: What is left over, in the unit of the need.
        cost: Price of all packs.
    """

    wanted: Wanted
    packs: int
    spare: Decimal
    cost: Decimal


def cents(amount: float | Decimal) -> Decimal:
    """An amount rounded half up to whole cents."""
    exact = amount if isinstance(amount, Decimal) else Decimal(repr(float(amount)))
    return exact.quantize(Decimal("0.01"), ROUND_HALF_UP)


def bill_line(wanted: Wanted) -> BillLine:
    """Whole packs for a need: packs = ceil(need / pack), cost = packs * pack_cost.

    Raises:
        InputError: the need is negative, the pack is not over 0 or the price is negative.
    """
    if wanted.need < 0 or wanted.pack <= 0 or wanted.pack_cost < 0:
        raise InputError(
            f'bill line "{wanted.item}": needs {wanted.need} {wanted.unit} in packs of '
            f"{wanted.pack} at {wanted.pack_cost}; need and price are at least 0, a pack is over 0"
        )
    packs = math.ceil(wanted.need / wanted.pack)
    return BillLine(
        wanted=wanted,
        packs=packs,
        spare=wanted.pack * packs - wanted.need,
        cost=cents(wanted.pack_cost) * packs,
    )


def total_cost(lines: Iterable[BillLine]) -> Decimal:
    """Sum of the lines' costs, exact."""
    return sum((line.cost for line in lines), Decimal("0.00"))
