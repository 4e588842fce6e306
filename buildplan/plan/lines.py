"""Lines of the bill that follow from a plan."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal

from buildplan.bill import BillLine, PriceBreak, Wanted, bill_line, cents
from buildplan.build import BoughtItem, Build
from buildplan.plan.model import PartPlan, ReadyPrint, SplitAnswer
from buildplan.plan.takes import add_spreads, pieces_of, takes_of
from buildplan.segments.assembly import bought_for
from buildplan.tables.feedstock import VatFeedstock
from buildplan.tables.wording import normal_key


def feedstock_lines(
    planned: tuple[PartPlan, ...],
    splits: tuple[SplitAnswer, ...],
    build: Build,
    coupons_g: Mapping[str, float],
) -> Iterable[BillLine]:
    """Feedstock of all parts by whole packs, one line a feedstock, with that of the coupons."""
    by_feedstock: dict[str, list[PartPlan]] = {}
    for item in planned:
        if item.sent is not None:
            continue
        by_feedstock.setdefault(item.feedstock.key, []).append(item)
    for items in by_feedstock.values():
        feedstock = items[0].feedstock
        names = [p.name for p in items]
        if isinstance(feedstock, VatFeedstock):
            need = sum(p.quantity * takes_of(p, splits).volume_ml for p in items)
            low = high = need
            unit, pack, pack_cost = "ml", feedstock.pack_ml, feedstock.price_cost_l / 1000
        else:
            mass = add_spreads((p.quantity, takes_of(p, splits).mass_g) for p in items)
            extra = coupons_g.get(feedstock.key, 0.0)
            low, need, high = mass.low + extra, mass.likely + extra, mass.high + extra
            names += ["coupons"] if extra else []
            unit, pack, pack_cost = "g", feedstock.pack_g, feedstock.price_cost_kg / 1000
        yield bill_line(
            Wanted(
                kind="feedstock",
                item=feedstock.name,
                need=_tenths(need),
                need_low=_tenths(low),
                need_high=_tenths(high),
                unit=unit,
                pack=Decimal(repr(float(pack))),
                pack_cost=cents(pack * pack_cost),
                supplier="",
                lead_d=0.0,
                used_in=", ".join(names),
                tax_frac=_exact(build.tax_frac),
                asked_by=build.sha256[:8],
            )
        )


def coupon_grams(planned: Iterable[PartPlan], ready: Iterable[ReadyPrint]) -> dict[str, float]:
    """Grams of the coupons that are to be printed before long prints, by feedstock."""
    feedstocks = {item.name: item.feedstock.key for item in planned}
    found: dict[str, float] = {}
    for one in ready:
        grams = sum(line.claim.test.mass_g for line in one.readiness.lines if line.band != "skip")
        if grams > 0.0:
            key = feedstocks[one.part]
            found[key] = found.get(key, 0.0) + grams
    return found


def bought_lines(build: Build) -> Iterable[BillLine]:
    """The bought items that are needed, by whole packs."""
    for item in build.bought:
        if item.needed:
            yield bill_line(bought_want(item, _exact(item.quantity), build))


def bought_want(item: BoughtItem, need: Decimal, build: Build) -> Wanted:
    """What the build asks for of a bought item, with its price, breaks and terms."""
    return Wanted(
        kind="bought",
        item=item.name,
        need=need,
        unit=item.unit,
        pack=_exact(item.pack),
        pack_cost=cents(item.price_cost) if not item.price_break else _exact(item.price_cost),
        pack_low_cost=_exact(item.price_low_cost),
        pack_high_cost=_exact(item.price_high_cost),
        breaks=tuple(
            PriceBreak(from_quantity=_exact(quantity), pack_cost=_exact(cost))
            for quantity, cost in item.price_break
        ),
        supplier=item.supplier,
        lead_d=item.lead_d,
        used_in=item.used_in,
        spare_frac=_exact(item.spare_frac),
        on_hand=_exact(item.on_hand),
        least=_exact(item.least_quantity),
        shipping_cost=_exact(item.shipping_cost),
        currency=item.currency,
        tax_frac=_exact(build.tax_frac),
        with_tax=item.with_tax,
        state=item.state,
        asked_by=build.sha256[:8],
    )


def _tenths(value: float) -> Decimal:
    return Decimal(repr(round(float(value), 1)))


def _exact(value: float) -> Decimal:
    return Decimal(repr(float(value)))


def joint_lines(
    planned: tuple[PartPlan, ...], splits: tuple[SplitAnswer, ...], build: Build
) -> Iterable[BillLine]:
    """Pins, screws, inserts and glue of the joints; the price is that of a bought item so named.

    Where the build file prices none of that name, the line costs nothing and says so.
    """
    prices = {normal_key(item.name): item for item in build.bought}
    for item in planned:
        pieces = pieces_of(item, splits)
        if pieces is None:
            continue
        for piece in bought_for(pieces.joints):
            known = prices.get(normal_key(piece.item))
            need = Decimal(repr(round(item.quantity * piece.quantity, 3)))
            if known is not None:
                want = replace(bought_want(known, need, build), kind="joint", used_in=item.name)
            else:
                want = _unpriced(piece.item, need, piece.unit, item.name)
            yield bill_line(want)


def _unpriced(item: str, need: Decimal, unit: str, used_in: str) -> Wanted:
    return Wanted(
        kind="joint",
        item=f"{item} (not priced in the build file)",
        need=need,
        unit=unit,
        pack=need,
        pack_cost=Decimal("0.00"),
        supplier="",
        lead_d=0.0,
        used_in=used_in,
    )
