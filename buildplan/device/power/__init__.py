"""Power: will the supply carry it, do all parts get their volts, and will it reboot?"""

from buildplan.device.power.budget import power_budget
from buildplan.device.power.cases import heat_sources_w, low_end, volts_at
from buildplan.device.power.event import events_of, will_it_reboot
from buildplan.device.power.fixes import FixPrices
from buildplan.device.power.model import (
    EnergyDay,
    EventReport,
    Failure,
    Fix,
    GroundShift,
    PartVolts,
    Phase,
    PowerBudget,
    RailLoad,
    WireLoad,
)
from buildplan.device.power.shape import Battery, Converter, Event, Load, Mode, Power, Source
from buildplan.device.power.shelf import Shelf
from buildplan.device.power.sizing import (
    capacitance_uf,
    choose_capacitor,
    choose_fuse,
    peukert_h,
)
from buildplan.device.power.solve import Solution, solve
from buildplan.device.power.tree import Network, copper_ohm, make_network, with_mode_amps

__all__ = [
    "Battery",
    "Converter",
    "EnergyDay",
    "Event",
    "EventReport",
    "Failure",
    "Fix",
    "FixPrices",
    "GroundShift",
    "Load",
    "Mode",
    "Network",
    "PartVolts",
    "Phase",
    "Power",
    "PowerBudget",
    "RailLoad",
    "Shelf",
    "Solution",
    "Source",
    "WireLoad",
    "capacitance_uf",
    "choose_capacitor",
    "choose_fuse",
    "copper_ohm",
    "events_of",
    "heat_sources_w",
    "low_end",
    "make_network",
    "peukert_h",
    "power_budget",
    "solve",
    "volts_at",
    "will_it_reboot",
    "with_mode_amps",
]
