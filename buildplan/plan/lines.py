"""Lines of the bill that follow from a plan."""

from collections.abc import Iterable
from decimal import Decimal

from buildplan.bill import BillLine, Wanted, bill_line
from buildplan.bill.lines import cents
from buildplan.build import BoughtItem
from buildplan.plan.model import PartPlan, SplitAnswer
from buildplan.plan.takes import pieces_of, takes_of
from buildplan.segments.assembly import bought_for
from buildplan.tables.feedstock import VatFeedstock
from buildplan.tables.wording import normal_key


def feedstock_lines(
    planned: tuple[PartPlan, ...], splits: tuple[SplitAnswer, ...]
) -> Iterable[BillLine]:
    """Feedstock of all parts by whole packs, one line a feedstock."""
    by_feedstock: dict[str, list[PartPlan]] = {}
    for item in planned:
        by_feedstock.setdefault(item.feedstock.key, []).append(item)
    for items in by_feedstock.values():
        feedstock = items[0].feedstock
        if isinstance(feedstock, VatFeedstock):
            need = sum(p.quantity * takes_of(p, splits).volume_ml for p in items)
            unit, pack, pack_cost = "ml", feedstock.pack_ml, feedstock.price_cost_l / 1000
        else:
            need = sum(p.quantity * takes_of(p, splits).mass_g.likely for p in items)
            unit, pack, pack_cost = "g", feedstock.pack_g, feedstock.price_cost_kg / 1000
        yield bill_line(
            Wanted(
                kind="feedstock",
                item=feedstock.name,
                need=Decimal(repr(round(float(need), 1))),
                unit=unit,
                pack=Decimal(repr(float(pack))),
                pack_cost=cents(pack * pack_cost),
                supplier="",
                lead_d=0.0,
                used_in=", ".join(p.name for p in items),
            )
        )


def bought_lines(items: tuple[BoughtItem, ...]) -> Iterable[BillLine]:
    """The bought items that are needed, by whole packs."""
    for item in items:
        if not item.needed:
            continue
        yield bill_line(
            Wanted(
                kind="bought",
                item=item.name,
                need=Decimal(repr(float(item.quantity))),
                unit=item.unit,
                pack=Decimal(repr(float(item.pack))),
                pack_cost=cents(item.price_cost),
                supplier=item.supplier,
                lead_d=item.lead_d,
                used_in=item.used_in,
            )
        )


def joint_lines(
    planned: tuple[PartPlan, ...], splits: tuple[SplitAnswer, ...], bought: tuple[BoughtItem, ...]
) -> Iterable[BillLine]:
    """Pins, screws, inserts and glue of the joints; the price is that of a bought item so named.

    Where the build file prices none of that name, the line costs nothing and says so.
    """
    prices = {normal_key(item.name): item for item in bought}
    for item in planned:
        pieces = pieces_of(item, splits)
        if pieces is None:
            continue
        for piece in bought_for(pieces.joints):
            known = prices.get(normal_key(piece.item))
            need = Decimal(repr(round(item.quantity * piece.quantity, 3)))
            yield bill_line(
                Wanted(
                    kind="joint",
                    item=piece.item if known else f"{piece.item} (not priced in the build file)",
                    need=need,
                    unit=piece.unit,
                    pack=Decimal(repr(float(known.pack))) if known else need,
                    pack_cost=cents(known.price_cost) if known else Decimal("0.00"),
                    supplier=known.supplier if known else "",
                    lead_d=known.lead_d if known else 0.0,
                    used_in=item.name,
                )
            )
