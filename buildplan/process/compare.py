"""One part in every feedstock that a printer can run, side by side."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from buildplan.errors import InputError
from buildplan.findings import Spread
from buildplan.part.model import Part
from buildplan.process import extrusion
from buildplan.process.estimate import Prices, PrintEstimate, estimate_print
from buildplan.tables.feedstock import ExtrusionFeedstock, Feedstock, VatFeedstock
from buildplan.tables.printer import ExtrusionPrinter, Printer
from buildplan.tables.recipe import Recipe

DEFAULT_PRICES = Prices()

_NOTHING = Spread(low=0.0, likely=0.0, high=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedstockComparison:
    """What a part takes in one feedstock, and what that feedstock is like.

    Attributes:
        feedstock: Key of its row.
        name: Its name in words.
        runs: Whether the printer can run it.
        reason: Why it cannot, in words; empty where it runs. Then the numbers below are 0.
        time_h, mass_g, volume_ml, length_m: Of one copy (length_m is 0 for vat).
        feedstock_cost, total_cost: Of one copy.
        service_c: Long-time temperature that a loaded part should stay under.
        stiffness_mpa: Tensile modulus.
        dry_h: Drying time before use, 0 for vat.
    """

    feedstock: str
    name: str
    runs: bool
    reason: str
    time_h: float
    time_spread_h: Spread
    mass_g: float
    mass_spread_g: Spread
    volume_ml: float
    length_m: float
    feedstock_cost: float
    total_cost: float
    service_c: float
    heat_deflection_c: float
    stiffness_mpa: float
    dry_h: float
    good_for: str
    bad_for: str
    moisture: str
    hazards: str


def compare_feedstocks(
    part: Part,
    printer: Printer,
    feedstocks: Iterable[Feedstock],
    recipe: Recipe,
    *,
    prices: Prices = DEFAULT_PRICES,
    workers: int = 1,
) -> tuple[FeedstockComparison, ...]:
    """Hours, grams or millilitres and cost of one part in several feedstocks.

    The geometry is planned once: between feedstocks only melt flow, exposure, density and price
    change. The order is the one given; what cannot run says why.

    Args:
        part: The part as read.
        printer: The machine.
        feedstocks: Rows to compare.
        recipe: Process settings, of the printer's process.
        prices: Energy and own time.
        workers: Threads for the geometry.

    Raises:
        InputError: The recipe is not for the printer's process.
    """
    if recipe.process != printer.process:
        raise InputError(
            f"part {part.name!r}: printer {printer.key!r} is for {printer.process}, recipe "
            f"{recipe.key!r} for {recipe.process}; both must be for one process"
        )
    rows = []
    for feedstock in feedstocks:
        reason = why_not(printer, feedstock)
        estimate = (
            None
            if reason
            else estimate_print(part, printer, feedstock, recipe, prices=prices, workers=workers)
        )
        rows.append(_row(feedstock, reason, estimate))
    return tuple(rows)


def why_not(printer: Printer, feedstock: Feedstock) -> str:
    """Why a printer cannot run a feedstock, in words; empty where it can."""
    if feedstock.process != printer.process:
        kinds = {"extrusion": "material extrusion", "vat": "vat photopolymerization"}
        return f"is for {kinds[feedstock.process]}, this printer for {kinds[printer.process]}"
    if isinstance(printer, ExtrusionPrinter) and isinstance(feedstock, ExtrusionFeedstock):
        return extrusion.why_not(printer, feedstock)
    return ""


def _row(feedstock: Feedstock, reason: str, estimate: PrintEstimate | None) -> FeedstockComparison:
    row = FeedstockComparison(
        feedstock=feedstock.key,
        name=feedstock.name,
        runs=not reason,
        reason=reason,
        time_h=0.0,
        time_spread_h=_NOTHING,
        mass_g=0.0,
        mass_spread_g=_NOTHING,
        volume_ml=0.0,
        length_m=0.0,
        feedstock_cost=0.0,
        total_cost=0.0,
        service_c=feedstock.service_c,
        heat_deflection_c=feedstock.heat_deflection_c,
        stiffness_mpa=feedstock.modulus_mpa,
        dry_h=0.0 if isinstance(feedstock, VatFeedstock) else feedstock.dry_h,
        good_for=feedstock.good_for,
        bad_for=feedstock.bad_for,
        moisture=feedstock.moisture,
        hazards=feedstock.hazards,
    )
    if estimate is None:
        return row
    return replace(
        row,
        time_h=estimate.time_h,
        time_spread_h=estimate.time_spread_h,
        mass_g=estimate.mass_g,
        mass_spread_g=estimate.mass_spread_g,
        volume_ml=estimate.volume_ml,
        length_m=estimate.length_m,
        feedstock_cost=estimate.feedstock_cost,
        total_cost=estimate.total_cost,
    )
