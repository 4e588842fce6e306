"""Cautions that a device's supply calls for, as data: each is printed once where it holds.

They defer to local codes and licensed practice. Nothing here says that a device is without danger;
numbers hold within the limits they were computed with.
"""

from buildplan.device.power.model import Caution
from buildplan.device.power.shape import Power
from buildplan.device.power.sizing import BatteryLife

TOUCH_LIMIT_V = 42.4
"""Above it a caution is given: 42.4 V peak, well below 60 V d.c. (IEC 60950-1, IEC 62368-1)."""

MAINS = (
    "Mains voltage kills. Buy a closed supply with an approval mark and leave it closed; fixed "
    "wiring, and everything before the supply's low-voltage lead, is work for a licensed "
    "electrician under the local code. Keep water away from it."
)
BATTERY = (
    "A battery gives far more current than a wire bears when it is shorted. Put a fuse at its "
    "terminal, charge it only with the charger made for it, and follow the local rules for waste."
)
LITHIUM = (
    "A damaged, shorted or overcharged lithium cell burns and cannot be put out. Use a pack with "
    "its own protection and its own charger, never charge it unwatched or near what burns, and "
    "follow the local rules for transport and waste."
)
HIGH_VOLTS = (
    "Direct voltage above 42.4 V can shock. This tool does not judge insulation, creepage or "
    "earthing: have it looked at by a qualified person under the local code."
)


def cautions_for_power(power: Power, battery: BatteryLife | None) -> tuple[Caution, ...]:
    """The cautions that hold for a device, with what calls for each."""
    source = power.source
    said = []
    if source.kind == "wall supply" and power.battery is None:
        said.append(Caution(key="mains", trigger=f"{source.name} hangs on the mains", text=MAINS))
    if battery is not None or source.kind == "battery":
        name = battery.name if battery else source.name
        said.append(Caution(key="battery", trigger=name, text=BATTERY))
    if battery is not None and battery.lithium:
        said.append(Caution(key="lithium", trigger=battery.name, text=LITHIUM))
    rails = [(source.name, source.supply_v), *((row.name, row.out_v) for row in power.converter)]
    for name, volts in rails:
        if volts > TOUCH_LIMIT_V:
            trigger = f"{name} has {volts:g} V"
            said.append(Caution(key="volts", trigger=trigger, text=HIGH_VOLTS))
            break
    return tuple(said)
