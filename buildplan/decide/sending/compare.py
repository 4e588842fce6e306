"""Every part at every service: price, days, own time, and what its own limits say."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from buildplan.decide.sending.order import OrderItem, cents_of, order_cost
from buildplan.decide.sending.preflight import SentFacts, preflight
from buildplan.decide.sending.price import LEAST_QUOTES, PriceModel, fit_prices, predict_price
from buildplan.decide.sending.quotes import is_old
from buildplan.decide.sending.shape import QuoteTable, ServiceTable
from buildplan.errors import InputError
from buildplan.findings import Finding, Spread


@dataclass(frozen=True, slots=True, kw_only=True)
class SentPart:
    """A part that may be sent out.

    Attributes:
        volume_cm3: Solid, of one copy.
    """

    facts: SentFacts
    volume_cm3: float
    quantity: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SendRow:
    """One part at one service, alone in an order.

    Attributes:
        goods_cost: Of all copies; None where nothing tells what it would ask.
        order_cost: With least order, shipping, duty and handling; None likewise.
        lead_d: Days from order to door.
        own_h: Own hours to inspect and finish all copies; finish_cost: their worth.
        quoted: Whether the price is a quote, not a guess from others.
        basis: What the price rests on, in words.
        terms: Of the service, that bite.
        findings: Of its own limits.
    """

    part: str
    service: str
    quantity: int
    goods_cost: Spread | None
    order_cost: Spread | None
    lead_d: Spread
    own_h: float
    finish_cost: float
    quoted: bool
    basis: str
    terms: str
    findings: tuple[Finding, ...]

    @property
    def stops(self) -> tuple[str, ...]:
        """Why the service would not take it, in words; empty where it would."""
        return tuple(f.what for f in self.findings if f.severity == "stop")


def fit_services(
    parts: Sequence[SentPart], quotes: Sequence[QuoteTable]
) -> dict[str, PriceModel | None]:
    """A price model for each service that quoted; None where its quotes are too few for one.

    Only quotes of a part's own feedstock count; quotes of parts that are not given are left out.
    """
    volumes = {part.facts.name: part.volume_cm3 for part in parts}
    points: dict[str, list[tuple[float, float]]] = {}
    for quote in quotes:
        here = points.setdefault(quote.service, [])
        if quote.part in volumes and not quote.feedstock and quote.cost > 0.0:
            here.append((volumes[quote.part], quote.cost))
    return {
        service: fit_prices(*zip(*here, strict=True)) if len(here) >= LEAST_QUOTES else None
        for service, here in points.items()
    }


def send_rows(
    parts: Sequence[SentPart],
    services: Sequence[ServiceTable],
    quotes: Sequence[QuoteTable],
    *,
    today: date,
    own_cost_h: float,
) -> tuple[SendRow, ...]:
    """Every part at every service, part by part in the order given.

    Args:
        parts: That may be sent out.
        services: Who makes parts.
        quotes: What they asked for one copy.
        today: Day on which the plan is made, for the age of quotes.
        own_cost_h: What an own hour is worth.

    Raises:
        InputError: A quantity is below 1, or a volume is not above 0.
    """
    for part in parts:
        if part.quantity < 1 or not part.volume_cm3 > 0.0:
            raise InputError(
                f"sending out {part.facts.name}: {part.quantity} copies of {part.volume_cm3} cm3 "
                "found; 1 or more and a volume above 0 are needed"
            )
    models = fit_services(parts, quotes)
    return tuple(
        _row(part, service, quotes, models.get(service.name), today, own_cost_h)
        for part in parts
        for service in services
    )


def _row(
    part: SentPart,
    service: ServiceTable,
    quotes: Sequence[QuoteTable],
    model: PriceModel | None,
    today: date,
    own_cost_h: float,
) -> SendRow:
    mine = [quote for quote in quotes if quote.service == service.name]
    quote = next((one for one in mine if one.part == part.facts.name), None)
    one, basis = _price(part, quote, model, len(mine), today)
    goods = None if one is None else _each(one, lambda cost: cost * part.quantity)
    own_h = service.finish_h * part.quantity

    def whole(cost: float) -> float:
        item = OrderItem(part=part.facts.name, cents=cents_of(cost))
        return order_cost(service, [item]).total / 100.0

    return SendRow(
        part=part.facts.name,
        service=service.name,
        quantity=part.quantity,
        goods_cost=goods,
        order_cost=None if goods is None else _each(goods, whole),
        lead_d=Spread(
            low=service.lead_d,
            likely=service.lead_d,
            high=max(service.lead_d, service.lead_high_d),
        ),
        own_h=own_h,
        finish_cost=own_h * own_cost_h,
        quoted=quote is not None,
        basis=basis,
        terms=service.terms,
        findings=preflight(part.facts, service),
    )


def _price(
    part: SentPart, quote: QuoteTable | None, model: PriceModel | None, count: int, today: date
) -> tuple[Spread | None, str]:
    if quote is not None:
        said = f"quote of {quote.said_on}" if quote.said_on else "its quote bears no date"
        if is_old(quote, today):
            said += ", ask again"
        return Spread(low=quote.cost, likely=quote.cost, high=quote.cost), said
    if model is None:
        few = "no quote" if count == 0 else "only 1 quote" if count == 1 else f"only {count} quotes"
        return None, f"{few} there: {LEAST_QUOTES} are needed to guess, ask for this part"
    said = f"guessed from {model.quotes} quotes for other parts there"
    if not model.least_cm3 <= part.volume_cm3 <= model.most_cm3:
        said += (
            f", of {model.least_cm3:.0f} to {model.most_cm3:.0f} cm3, and this one has "
            f"{part.volume_cm3:.0f}: ask"
        )
    return predict_price(model, part.volume_cm3), said


def _each(spread: Spread, change: Callable[[float], float]) -> Spread:
    """A spread with a rising function put on its three numbers."""
    low, likely, high = (change(cost) for cost in (spread.low, spread.likely, spread.high))
    return Spread(low=low, likely=likely, high=high)
