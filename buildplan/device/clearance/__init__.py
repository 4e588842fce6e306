"""Clearance: nothing meets through the motion, and everything can be reached and put together."""

from buildplan.device.clearance.access import reach_plugs, reach_screws
from buildplan.device.clearance.assembly import plan_assembly
from buildplan.device.clearance.model import (
    Assembly,
    Blocker,
    Clearance,
    PairClearance,
    Reached,
    Step,
    Violation,
    WayIn,
)
from buildplan.device.clearance.rod import pins_in_device, sweep_rod
from buildplan.device.clearance.shape import (
    ComponentPlace,
    PlugPlace,
    ScrewPlace,
    Swing,
    TouchZone,
)
from buildplan.device.clearance.sweep import sweep_hinge

__all__ = [
    "Assembly",
    "Blocker",
    "Clearance",
    "ComponentPlace",
    "PairClearance",
    "PlugPlace",
    "Reached",
    "ScrewPlace",
    "Step",
    "Swing",
    "TouchZone",
    "Violation",
    "WayIn",
    "pins_in_device",
    "plan_assembly",
    "reach_plugs",
    "reach_screws",
    "sweep_hinge",
    "sweep_rod",
]
