"""estimate_print: the one entry for both processes."""

from buildplan.errors import InputError
from buildplan.part.model import Part
from buildplan.process.estimate.extrude import estimate_extrusion
from buildplan.process.estimate.model import Prices, PrintEstimate
from buildplan.process.estimate.vat_print import estimate_vat_print
from buildplan.tables.feedstock import ExtrusionFeedstock, Feedstock, VatFeedstock
from buildplan.tables.printer import ExtrusionPrinter, Printer, VatPrinter
from buildplan.tables.recipe import ExtrusionRecipe, Recipe, VatRecipe

DEFAULT_PRICES = Prices()


def estimate_print(
    part: Part,
    printer: Printer,
    feedstock: Feedstock,
    recipe: Recipe,
    *,
    prices: Prices = DEFAULT_PRICES,
    workers: int = 1,
) -> PrintEstimate:
    """Hours, feedstock, energy and money of one copy of a part.

    Slow stages are kept in the cache (process/cache.py), so that a changed speed or price answers
    at once. The numbers do not depend on the cache or on ``workers``.

    Args:
        part: The part as read; it is printed as its file places it.
        printer: The machine.
        feedstock: What the part is made of.
        recipe: Process settings.
        prices: Energy and own time.
        workers: Threads for the geometry.

    Raises:
        InputError: Printer, feedstock and recipe are not for the same process, or a number of
            theirs is impossible.
    """
    _check_prices(prices)
    if (
        isinstance(printer, ExtrusionPrinter)
        and isinstance(feedstock, ExtrusionFeedstock)
        and isinstance(recipe, ExtrusionRecipe)
    ):
        return estimate_extrusion(part, printer, feedstock, recipe, prices, workers=workers)
    if (
        isinstance(printer, VatPrinter)
        and isinstance(feedstock, VatFeedstock)
        and isinstance(recipe, VatRecipe)
    ):
        return estimate_vat_print(part, printer, feedstock, recipe, prices, workers=workers)
    raise InputError(
        f"part {part.name!r}: printer {printer.key!r} is for {printer.process}, "
        f"feedstock {feedstock.key!r} for {feedstock.process}, "
        f"recipe {recipe.key!r} for {recipe.process}; all three must be for one process"
    )


def _check_prices(prices: Prices) -> None:
    for name in ("energy_cost_kwh", "own_time_cost_h"):
        value = getattr(prices, name)
        if not 0.0 <= value < float("inf"):
            raise InputError(f"prices: {name} is {value:g}, allowed is 0 or more; set it")
