"""Which spare pays: the chance that a part fails, times what the wait for another one costs."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from buildplan.bill.derived.cover import words_of
from buildplan.errors import InputError

FAIL_FRAC: tuple[tuple[str, float], ...] = (
    ("servo", 0.05),
    ("sensor", 0.05),
    ("camera", 0.04),
    ("converter", 0.03),
    ("computer", 0.02),
    ("microcontroller", 0.03),
    ("board", 0.02),
    ("card", 0.03),
    ("supply", 0.02),
    ("fan", 0.03),
    ("fuse", 0.30),
)
"""Chance that one arrives broken or is broken while the device is built, by a word of its name.

Assumed, no source: handling, wrong wiring, dead on arrival. Type in your own.
"""

FAIL_SOURCE = "spare pays when chance x (wait x value of a day + shipping) > price; chance assumed"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareCase:
    """An item of which one more may be bought.

    Attributes:
        fail_frac: Chance that it is broken before the device runs.
        count: How many the device has.
        lead_d: Days until another one is there.
        price_cost: Of one more pack.
        shipping_cost: Of an order that holds only this.
        left: Pieces left over in the packs that are bought anyway.
    """

    item: str
    fail_frac: float
    count: int
    lead_d: float
    price_cost: float
    shipping_cost: float
    left: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareAnswer:
    """Whether a spare pays.

    Attributes:
        chance_frac: Chance that at least one of them fails.
        delay_cost: What the wait and the second order cost then.
        worth_cost: chance x delay; the spare pays where that is above its price.
        pays: Whether it does, and none is left over anyway.
    """

    item: str
    chance_frac: float
    delay_cost: float
    worth_cost: float
    price_cost: float
    pays: bool


def judge_spare(case: SpareCase, day_cost: float) -> SpareAnswer:
    """Whether one more pays: (1 - (1 - p)^n) (d v + s) > c.

    Args:
        case: p, n, d, s and c of an item.
        day_cost: v, what a day's delay of the device costs.

    Raises:
        InputError: A chance outside 0 to 1, or a negative number.

    Source: expected cost of the delay; the newsvendor's rule for one piece.
    """
    if not 0.0 <= case.fail_frac <= 1.0:
        raise InputError(f"spare of {case.item}: fail_frac is {case.fail_frac:g}; 0 to 1 is needed")
    least = min(case.lead_d, case.price_cost, case.shipping_cost, day_cost, float(case.count))
    if not least >= 0.0:
        raise InputError(f"spare of {case.item}: found {least:g}; all numbers must be 0 or more")
    chance = 1.0 - (1.0 - case.fail_frac) ** case.count
    delay = case.lead_d * day_cost + case.shipping_cost
    worth = chance * delay
    return SpareAnswer(
        item=case.item,
        chance_frac=chance,
        delay_cost=delay,
        worth_cost=worth,
        price_cost=case.price_cost,
        pays=worth > case.price_cost and case.left < 1.0,
    )


def fail_frac_of(name: str) -> float:
    """Assumed chance of failure of an item by the words of its name; 0 where none is known."""
    words = words_of(name)
    return next((chance for word, chance in FAIL_FRAC if word in words), 0.0)


def paying(cases: Iterable[SpareCase], day_cost: float) -> tuple[SpareAnswer, ...]:
    """The spares that pay, the most worth first."""
    answers = [judge_spare(case, day_cost) for case in cases]
    return tuple(sorted((a for a in answers if a.pays), key=lambda a: -a.worth_cost))


def as_cost(value: float) -> Decimal:
    """Money as it is written."""
    return Decimal(repr(round(value, 2)))
