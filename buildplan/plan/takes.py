"""What one copy of a part takes: whole, or in pieces where it is cut."""

from collections.abc import Iterable
from dataclasses import dataclass

from buildplan.findings import Spread
from buildplan.plan.model import PartPlan, SplitAnswer, chosen_option
from buildplan.segments.model import SegmentPlan
from buildplan.tables.feedstock import Feedstock, VatFeedstock


@dataclass(frozen=True, slots=True, kw_only=True)
class Takes:
    """Hours, feedstock, own time and money of one copy.

    Attributes:
        volume_ml: Feedstock volume, liquid for vat.
    """

    time_h: Spread
    mass_g: Spread
    volume_ml: float
    own_time_h: float
    cost: float


def takes_of(item: PartPlan, splits: Iterable[SplitAnswer]) -> Takes:
    """What one copy takes: the sum of its pieces where it is cut, joints included.

    A part that is sent out takes own time to look at it; its price is a line of the bill.
    """
    if item.sent is not None:
        nothing = Spread(low=0.0, likely=0.0, high=0.0)
        return Takes(
            time_h=nothing,
            mass_g=nothing,
            volume_ml=0.0,
            own_time_h=item.sent.own_h / item.quantity,
            cost=0.0,
        )
    pieces = pieces_of(item, splits)
    if pieces is None:
        estimate = chosen_option(item).estimate
        return Takes(
            time_h=estimate.time_spread_h,
            mass_g=estimate.mass_spread_g,
            volume_ml=estimate.volume_ml,
            own_time_h=estimate.own_time_h,
            cost=estimate.total_cost,
        )
    row = pieces.table[pieces.chosen]
    estimates = [piece.estimate for piece in (*pieces.pieces, *pieces.loose)]
    return Takes(
        time_h=add_spreads((1, e.time_spread_h) for e in estimates),
        mass_g=add_spreads((1, e.mass_spread_g) for e in estimates),
        volume_ml=sum(e.volume_ml for e in estimates),
        own_time_h=row.own_min / 60.0,
        cost=row.print_cost,
    )


def pieces_of(item: PartPlan, splits: Iterable[SplitAnswer]) -> SegmentPlan | None:
    """The pieces of a part, or None where it is printed whole."""
    answer = next((a for a in splits if a.part == item.name), None)
    plan = answer.plan if answer is not None else None
    return plan if plan is not None and plan.joints else None


def longest_print_h(item: PartPlan, splits: Iterable[SplitAnswer]) -> float:
    """Hours of the longest single print of a part at home; 0 where a service makes it."""
    if item.sent is not None:
        return 0.0
    pieces = pieces_of(item, splits)
    if pieces is None:
        return chosen_option(item).estimate.time_h
    return max(piece.estimate.time_h for piece in (*pieces.pieces, *pieces.loose))


def where_got(item: PartPlan, splits: Iterable[SplitAnswer]) -> str:
    """Who makes a part, in words: a printer, with the number of pieces, or a service."""
    if item.sent is not None:
        return item.sent.service
    option = chosen_option(item)
    pieces = pieces_of(item, splits)
    printer = option.printer.replace("_", " ")
    if pieces is not None:
        return f"{printer}, {len(pieces.pieces)} pieces"
    return printer if option.fit.fits else "fits none"


def add_spreads(spreads: Iterable[tuple[int, Spread]]) -> Spread:
    """Sum of (count, spread): all are taken to be off together."""
    pairs = list(spreads)
    return Spread(
        low=sum(n * s.low for n, s in pairs),
        likely=sum(n * s.likely for n, s in pairs),
        high=sum(n * s.high for n, s in pairs),
    )


def pack_g_of(feedstock: Feedstock) -> float:
    """Grams in a reel or a bottle as sold."""
    if isinstance(feedstock, VatFeedstock):
        return feedstock.pack_ml * feedstock.liquid_density_g_cm3
    return feedstock.pack_g
