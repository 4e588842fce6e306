"""Money and own time of one print."""

from dataclasses import dataclass

from buildplan.errors import InputError
from buildplan.process.estimate.model import Prices
from buildplan.tables.printer import Printer


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """The four parts of what one copy costs, and their sum."""

    feedstock_cost: float
    energy_cost: float
    machine_cost: float
    own_time_cost: float
    total_cost: float


def machine_cost_h(printer: Printer) -> float:
    """What an hour of the machine costs: its price over its life, and upkeep.

    Raises:
        InputError: The life is not above 0.
    """
    if not printer.life_h > 0.0:
        raise InputError(
            f"printer {printer.key!r}: life_h must be above 0, found {printer.life_h:g}; "
            "give the hours that its price is spread over"
        )
    return printer.price_cost / printer.life_h + printer.upkeep_cost_h


def add_costs(
    printer: Printer,
    prices: Prices,
    *,
    feedstock_cost: float,
    energy_kwh: float,
    time_h: float,
    own_time_h: float,
) -> Costs:
    """Costs of one copy from what it takes."""
    energy_cost = energy_kwh * prices.energy_cost_kwh
    machine_cost = time_h * machine_cost_h(printer)
    own_time_cost = own_time_h * prices.own_time_cost_h
    return Costs(
        feedstock_cost=feedstock_cost,
        energy_cost=energy_cost,
        machine_cost=machine_cost,
        own_time_cost=own_time_cost,
        total_cost=feedstock_cost + energy_cost + machine_cost + own_time_cost,
    )
