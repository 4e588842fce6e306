"""Lines of the bill: what is needed, in which packs it is bought, what that costs."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

from buildplan.errors import InputError

Kind = Literal[
    "feedstock", "coupon", "sent", "joint", "bought", "wire", "consumable", "tool", "spare", "share"
]
State = Literal["to order", "ordered", "arrived", "have"]
STATES: tuple[State, ...] = ("to order", "ordered", "arrived", "have")
ZERO = Decimal(0)
CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceBreak:
    """A lower price from some quantity on.

    Attributes:
        from_quantity: Least quantity of one order, in the unit of the need.
        pack_cost: Price of one pack then.
    """

    from_quantity: Decimal
    pack_cost: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What the build asks for, before packs.

    Attributes:
        need: Quantity needed, in ``unit``; likewise the content of one pack, what is on hand and
            the least that is sold at once.
        need_low, need_high: 1 time in 10 below and above; 0 where the need is known.
        pack_cost: Price of one pack, in ``currency``.
        pack_low_cost, pack_high_cost: 1 time in 10 below and above; 0 where the price is known.
        breaks: Lower prices from some quantity on, rising.
        spare_frac: Share bought on top, for what is lost or breaks.
        lead_d: Days from order to door.
        tax_frac: Of the country; ``with_tax`` says whether the price holds it already.
        state: "to order", "ordered", "arrived" or "have"; what you have costs nothing more.
        used_in: Where it is used.
        asked_by: Mark of the revision that asked for it.
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
    need_low: Decimal = ZERO
    need_high: Decimal = ZERO
    pack_low_cost: Decimal = ZERO
    pack_high_cost: Decimal = ZERO
    breaks: tuple[PriceBreak, ...] = ()
    spare_frac: Decimal = ZERO
    on_hand: Decimal = ZERO
    least: Decimal = ZERO
    shipping_cost: Decimal = ZERO
    currency: str = ""
    tax_frac: Decimal = ZERO
    with_tax: bool = True
    state: State = "to order"
    asked_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BillLine:
    """One line of the bill: whole packs, in exact cents.

    Attributes:
        packs: Whole packs to buy.
        spare: What is left over, in the unit of the need.
        to_next_pack: How much more may be used before one more pack is needed; the same unit.
        cost: Price of all packs, in the line's currency.
    """

    wanted: Wanted
    packs: int
    spare: Decimal
    to_next_pack: Decimal
    cost: Decimal


def cents(amount: float | Decimal) -> Decimal:
    """An amount rounded half up to whole cents."""
    exact = amount if isinstance(amount, Decimal) else Decimal(repr(float(amount)))
    return exact.quantize(CENT, ROUND_HALF_UP)


def bill_line(wanted: Wanted) -> BillLine:
    """Whole packs for a need, the cheapest quantity that covers it.

    to buy = need (1 + spare) - on hand; packs = ceil(to buy / pack), not fewer than are sold at
    once; of that quantity and each quantity from which a lower price holds, the cheapest.

    Raises:
        InputError: a quantity or price is negative, the pack is not over 0, or low and high do
            not stand on their sides of the likely value.
    """
    check_wanted(wanted)
    open_need = to_buy(wanted)
    packs, cost = cheapest(wanted, open_need)
    left = wanted.pack * packs - open_need
    return BillLine(wanted=wanted, packs=packs, spare=left, to_next_pack=left, cost=cost)


def to_buy(wanted: Wanted) -> Decimal:
    """What must be bought: the need with its spare, less what is on hand; 0 where you have it."""
    if wanted.state == "have":
        return ZERO
    return max(wanted.need * (1 + wanted.spare_frac) - wanted.on_hand, ZERO)


def cheapest(wanted: Wanted, open_need: Decimal) -> tuple[int, Decimal]:
    """Packs and their price for a quantity: it, or more of it where that costs less."""
    if open_need <= 0:
        return 0, Decimal("0.00")
    first = max(packs_of(open_need, wanted.pack), packs_of(wanted.least, wanted.pack))
    counts = [first]
    counts += [max(first, packs_of(one.from_quantity, wanted.pack)) for one in wanted.breaks]
    priced = [(cents(pack_cost(wanted, count) * count), count) for count in counts]
    cost, packs = min(priced)
    return packs, cost


def packs_of(quantity: Decimal, pack: Decimal) -> int:
    """Whole packs that hold a quantity."""
    return math.ceil(quantity / pack)


def pack_cost(wanted: Wanted, packs: int) -> Decimal:
    """Price of one pack in an order of so many."""
    price = wanted.pack_cost
    for one in wanted.breaks:
        if wanted.pack * packs >= one.from_quantity:
            price = one.pack_cost
    return price


def check_wanted(wanted: Wanted) -> None:
    """Refuse what cannot be bought.

    Raises:
        InputError: With the numbers.
    """
    if wanted.need < 0 or wanted.pack <= 0 or wanted.pack_cost < 0:
        raise InputError(
            f'bill line "{wanted.item}": needs {wanted.need} {wanted.unit} in packs of '
            f"{wanted.pack} at {wanted.pack_cost}; need and price are at least 0, a pack is over 0"
        )
    for name in ("spare_frac", "on_hand", "least", "shipping_cost", "tax_frac"):
        if getattr(wanted, name) < 0:
            raise InputError(
                f'bill line "{wanted.item}": {name} is {getattr(wanted, name)}; 0 or more is needed'
            )
    ranges = (
        ("need", wanted.need_low, wanted.need, wanted.need_high),
        ("price", wanted.pack_low_cost, wanted.pack_cost, wanted.pack_high_cost),
    )
    for name, low, likely, high in ranges:
        if (low and low > likely) or (high and high < likely):
            raise InputError(
                f'bill line "{wanted.item}": its {name} runs from {low} over {likely} to {high}; '
                "low <= likely <= high is needed"
            )
    steps = [one.from_quantity for one in wanted.breaks]
    if steps != sorted(set(steps)) or any(one.pack_cost < 0 for one in wanted.breaks):
        raise InputError(
            f'bill line "{wanted.item}": price breaks from {", ".join(map(str, steps))}; give '
            "rising quantities with prices of 0 or more"
        )


def total_cost(lines: Iterable[BillLine]) -> Decimal:
    """Sum of the lines' costs, exact."""
    return sum((line.cost for line in lines), Decimal("0.00"))
