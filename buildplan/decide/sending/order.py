"""What one order at a service costs, line by line, in whole cents."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from buildplan.decide.sending.shape import ServiceTable
from buildplan.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderItem:
    """Copies of a part in an order.

    Attributes:
        cents: For one copy.
    """

    part: str
    cents: int
    quantity: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCost:
    """One order, its lines adding up to the total, all in cents.

    Attributes:
        goods: Of all items.
        top_up: What the least order adds to them.
        shipping: Once an order; 0 where the goods reach what makes it free.
        duty: On the goods as charged; handling: of the order at the border.
        tax: Where the prices are without it, on goods, shipping and duty.
        shares: What of the total falls to each item, in their order; they add up to it.
        to_free: How much more of goods would make the shipping free; 0 where it is, or never is.
    """

    service: str
    goods: int
    top_up: int
    shipping: int
    duty: int
    handling: int
    tax: int
    total: int
    shares: tuple[int, ...]
    to_free: int


def order_cost(
    service: ServiceTable, items: Sequence[OrderItem], *, untaxed_frac: float = 0.0
) -> OrderCost:
    """What an order costs: least order, one shipping, duty and tax.

    total = max(goods, least) + shipping + duty + handling + tax. Tax at import falls on the goods
    with their duty and their shipping.

    Args:
        service: Its terms.
        items: What is ordered there.
        untaxed_frac: Tax that comes on top of prices without it; 0 where they hold it, as all
            prices of a build file do.

    Raises:
        InputError: Nothing is ordered, a price is negative or no whole number, a quantity is below
            1, or the tax is not from 0 to 1.

    Source: Council Directive 2006/112/EC, articles 85 and 86, for what import tax falls on.
    """
    _check(service, items, untaxed_frac)
    each = [item.cents * item.quantity for item in items]
    goods, least = sum(each), cents_of(service.least_order_cost)
    free = cents_of(service.free_from_cost)
    charged = max(goods, least)
    shipping = 0 if free and goods >= free else cents_of(service.shipping_cost)
    duty = _share(charged, service.import_frac)
    tax = _share(charged + shipping + duty, untaxed_frac)
    handling = cents_of(service.import_cost)
    total = charged + shipping + duty + handling + tax
    return OrderCost(
        service=service.name,
        goods=goods,
        top_up=charged - goods,
        shipping=shipping,
        duty=duty,
        handling=handling,
        tax=tax,
        total=total,
        shares=share_cents(total, each),
        to_free=max(free - goods, 0) if shipping else 0,
    )


def cents_of(cost: float) -> int:
    """An amount of money in whole cents, half a cent up."""
    return int((Decimal(repr(cost)) * 100).quantize(Decimal(1), ROUND_HALF_UP))


def share_cents(total: int, weights: Sequence[int]) -> tuple[int, ...]:
    """A sum of cents shared out by weights, evenly where all are 0; the shares add up to it.

    Source: largest remainder (Hamilton's rule of apportionment).
    """
    used = list(weights) if any(weights) else [1] * len(weights)
    whole = sum(used)
    shares = [total * weight // whole for weight in used]
    rest = sorted(range(len(used)), key=lambda i: (-(total * used[i] % whole), i))
    for place in rest[: total - sum(shares)]:
        shares[place] += 1
    return tuple(shares)


def _share(cents: int, share_frac: float) -> int:
    return int((cents * Decimal(repr(share_frac))).quantize(Decimal(1), ROUND_HALF_UP))


def _check(service: ServiceTable, items: Sequence[OrderItem], tax: float) -> None:
    if not items:
        raise InputError(f"order at {service.name}: nothing is in it; give one item or more")
    for item in items:
        if item.cents < 0 or item.quantity < 1 or item.cents != int(item.cents):
            raise InputError(
                f"order at {service.name}: {item.quantity} of {item.part} at {item.cents} cents "
                "found; whole cents of 0 or more and a quantity of 1 or more are needed"
            )
    if not 0.0 <= tax <= 1.0:
        raise InputError(f"order at {service.name}: tax {tax} found; 0 to 1 allowed")
