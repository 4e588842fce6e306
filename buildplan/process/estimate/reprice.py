"""The same print at other prices: hours, grams and energy stay, only money is worked out again."""

from dataclasses import replace

from buildplan.process.estimate.costs import add_costs
from buildplan.process.estimate.model import Prices, PrintEstimate
from buildplan.tables.feedstock import ExtrusionFeedstock, Feedstock
from buildplan.tables.printer import Printer


def price_again(
    estimate: PrintEstimate, printer: Printer, feedstock: Feedstock, prices: Prices
) -> PrintEstimate:
    """An estimate with money at other prices, as ``estimate_print`` would give it.

    Args:
        estimate: As ``estimate_print`` gave it, without what the log taught.
        printer: The machine it was made for.
        feedstock: What it was made for, at the price that holds now.
        prices: Of energy and own time, as they are now.
    """
    costs = add_costs(
        printer,
        prices,
        feedstock_cost=(
            estimate.mass_g / 1000.0 * feedstock.price_cost_kg
            if isinstance(feedstock, ExtrusionFeedstock)
            else estimate.volume_ml / 1000.0 * feedstock.price_cost_l
        ),
        energy_kwh=estimate.energy_kwh,
        time_h=estimate.time_h,
        own_time_h=estimate.own_time_h,
    )
    return replace(
        estimate,
        feedstock_cost=costs.feedstock_cost,
        energy_cost=costs.energy_cost,
        machine_cost=costs.machine_cost,
        own_time_cost=costs.own_time_cost,
        total_cost=costs.total_cost,
    )
