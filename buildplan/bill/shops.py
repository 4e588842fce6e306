"""Orders: one a supplier, with one shipping, tax and currency; all cents add up."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal

from buildplan.bill.lines import CENT, BillLine, cents
from buildplan.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """A supplier and its terms, in its own currency.

    Attributes:
        shipping_cost: Of one order, with tax.
        free_from_cost: Value of an order from which shipping is free; 0 for never.
        least_order_cost: Value below which it takes no order; 0 for none.
        lead_d: Days from order to door, for its items that do not say their own.
        import_frac: Duty on the value of the goods; 0 inside the customs area.
        import_cost: Handling at the border of one order.
    """

    name: str
    shipping_cost: Decimal = Decimal("0.00")
    free_from_cost: Decimal = Decimal("0.00")
    least_order_cost: Decimal = Decimal("0.00")
    lead_d: float = 0.0
    currency: str = ""
    import_frac: Decimal = Decimal(0)
    import_cost: Decimal = Decimal("0.00")


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """Everything that is bought from one supplier, in the build's currency.

    Attributes:
        supplier: Its name; of an item without one, the item's own.
        items: Names of the lines.
        goods_cost: With tax.
        shipping_cost: With tax; 0 where the order reaches what makes it free.
        import_cost: Duty and handling at the border.
        short_cost: How much the order lacks of what the supplier takes at least; 0 where it is met.
        lead_d: Days to the last of its items that has not arrived.
    """

    supplier: str
    items: tuple[str, ...]
    goods_cost: Decimal
    shipping_cost: Decimal
    import_cost: Decimal
    short_cost: Decimal
    lead_d: float

    @property
    def total_cost(self) -> Decimal:
        """Goods, shipping, duty and handling."""
        return self.goods_cost + self.shipping_cost + self.import_cost


@dataclass(frozen=True, slots=True, kw_only=True)
class RollUp:
    """The whole bill in the build's currency, exact to the cent.

    Attributes:
        line_costs: With tax, of each line; they and the orders' extras add up to the total.
        line_net_costs: Without tax; they add up to ``net_cost``.
        orders: By supplier, in the order of the lines.
        goods_cost, net_cost, tax_cost: All lines with tax, without tax, and the tax in them.
        shipping_cost, import_cost: Of all orders.
    """

    line_costs: tuple[Decimal, ...]
    line_net_costs: tuple[Decimal, ...]
    orders: tuple[Order, ...]
    goods_cost: Decimal
    net_cost: Decimal
    tax_cost: Decimal
    shipping_cost: Decimal
    import_cost: Decimal

    @property
    def total_cost(self) -> Decimal:
        """What leaves the purse."""
        return self.goods_cost + self.shipping_cost + self.import_cost


def roll_up(
    lines: Sequence[BillLine],
    *,
    shops: Mapping[str, Shop] | None = None,
    currency: str = "",
    rates: Mapping[str, Decimal] | None = None,
) -> RollUp:
    """The bill by orders: whole packs, shipping once an order, duty, tax; every cent accounted for.

    Each line is converted and taxed without rounding; then all are rounded together, so that the
    rounded lines add up to the rounded sum (largest remainder). Lines in state "ordered" or
    "arrived" count; what you "have" is bought no more.

    Args:
        lines: Of the bill.
        shops: Terms by supplier; a supplier that is not there ships with what its lines say, once.
        currency: Of the build.
        rates: What one unit of another currency costs in the build's.

    Raises:
        InputError: A currency has no rate, or a rate is not over 0.
    """
    shops, rates = shops or {}, rates or {}
    gross = [_gross(line) * _rate(_currency(line, shops), currency, rates) for line in lines]
    net = [value / (1 + line.wanted.tax_frac) for value, line in zip(gross, lines, strict=True)]
    line_costs, line_net = share_cents(gross), share_cents(net)
    orders = []
    for supplier, places in _by_order(lines).items():
        shop = shops.get(supplier, Shop(name=supplier))
        rate = _rate(shop.currency, currency, rates)
        chosen = [lines[i] for i in places]
        orders.append(_order(shop, rate, chosen, [line_costs[i] for i in places]))
    goods, net_cost = sum(line_costs, Decimal("0.00")), sum(line_net, Decimal("0.00"))
    return RollUp(
        line_costs=tuple(line_costs),
        line_net_costs=tuple(line_net),
        orders=tuple(orders),
        goods_cost=goods,
        net_cost=net_cost,
        tax_cost=goods - net_cost,
        shipping_cost=sum((order.shipping_cost for order in orders), Decimal("0.00")),
        import_cost=sum((order.import_cost for order in orders), Decimal("0.00")),
    )


def share_cents(amounts: Sequence[Decimal]) -> list[Decimal]:
    """Amounts rounded to cents so that they add up to the rounded sum; none moves by a whole cent.

    Source: largest remainder (Hamilton's rule of apportionment).
    """
    down = [amount.quantize(CENT, ROUND_FLOOR) for amount in amounts]
    missing = int((cents(sum(amounts, Decimal(0))) - sum(down, Decimal(0))) / CENT)
    order = sorted(range(len(amounts)), key=lambda i: (down[i] - amounts[i], i))
    for place in order[:missing]:
        down[place] += CENT
    return down


def _gross(line: BillLine) -> Decimal:
    wanted = line.wanted
    return line.cost if wanted.with_tax else line.cost * (1 + wanted.tax_frac)


def _currency(line: BillLine, shops: Mapping[str, Shop]) -> str:
    shop = shops.get(line.wanted.supplier)
    return line.wanted.currency or (shop.currency if shop else "")


def _rate(currency: str, home: str, rates: Mapping[str, Decimal]) -> Decimal:
    if not currency or currency == home:
        return Decimal(1)
    rate = rates.get(currency)
    if rate is None or rate <= 0:
        known = ", ".join(sorted(rates)) or "none"
        raise InputError(
            f"currency {currency} has no rate over 0 into {home}; rates are there for: {known}. "
            "Write what one unit costs into the build file"
        )
    return rate


def _by_order(lines: Sequence[BillLine]) -> dict[str, list[int]]:
    """Places of the lines by supplier; an item without one is an order of its own."""
    orders: dict[str, list[int]] = {}
    for place, line in enumerate(lines):
        if line.packs:
            name = line.wanted.supplier or line.wanted.item
            orders.setdefault(name, []).append(place)
    return orders


def _order(shop: Shop, rate: Decimal, lines: Sequence[BillLine], costs: Sequence[Decimal]) -> Order:
    goods = sum(costs, Decimal("0.00"))
    own = max((line.wanted.shipping_cost for line in lines), default=Decimal(0))
    shipping = cents((shop.shipping_cost or own) * rate)
    if shop.free_from_cost and goods >= shop.free_from_cost * rate:
        shipping = Decimal("0.00")
    duty = goods * shop.import_frac + shop.import_cost * rate
    return Order(
        supplier=shop.name,
        items=tuple(line.wanted.item for line in lines),
        goods_cost=goods,
        shipping_cost=shipping,
        import_cost=cents(duty),
        short_cost=max(cents(shop.least_order_cost * rate) - goods, Decimal("0.00")),
        lead_d=max((_lead_d(line, shop) for line in lines), default=0.0),
    )


def _lead_d(line: BillLine, shop: Shop) -> float:
    return 0.0 if line.wanted.state == "arrived" else line.wanted.lead_d or shop.lead_d
