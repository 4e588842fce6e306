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
    """What one copy takes: the sum of its pieces where it is cut, joints included."""
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
