"""Lines of the bill that follow from a plan."""

from collections.abc import Iterable
from decimal import Decimal

from buildplan.bill import BillLine, Wanted, bill_line
from buildplan.bill.lines import cents
from buildplan.build import BoughtItem
from buildplan.plan.model import PartPlan, chosen_option
from buildplan.tables.feedstock import VatFeedstock


def feedstock_lines(planned: tuple[PartPlan, ...]) -> Iterable[BillLine]:
    """Feedstock of all parts by whole packs, one line a feedstock."""
    by_feedstock: dict[str, list[PartPlan]] = {}
    for item in planned:
        by_feedstock.setdefault(item.feedstock.key, []).append(item)
    for items in by_feedstock.values():
        feedstock = items[0].feedstock
        if isinstance(feedstock, VatFeedstock):
            need = sum(p.quantity * chosen_option(p).estimate.volume_ml for p in items)
            unit, pack, pack_cost = "ml", feedstock.pack_ml, feedstock.price_cost_l / 1000
        else:
            need = sum(p.quantity * chosen_option(p).estimate.mass_g for p in items)
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
