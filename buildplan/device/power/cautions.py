"""Cautions that a device's supply calls for: each once, with what calls for it."""

from buildplan.device.power.shape import Power
from buildplan.device.power.sizing import BatteryLife
from buildplan.tables.cautions import Caution, caution

TOUCH_LIMIT_V = 42.4
"""Above it a caution is given: 42.4 V peak, well below 60 V d.c. (IEC 60950-1, IEC 62368-1)."""


def cautions_for_power(power: Power, battery: BatteryLife | None) -> tuple[Caution, ...]:
    """The cautions that hold for a device, with what calls for each."""
    source = power.source
    said = []
    if source.kind == "wall supply" and power.battery is None:
        said.append(caution("mains", f"{source.name} hangs on the mains"))
    if battery is not None or source.kind == "battery":
        name = battery.name if battery else source.name
        said.append(caution("battery", name))
    if battery is not None and battery.lithium:
        said.append(caution("lithium", battery.name))
    rails = [(source.name, source.supply_v), *((row.name, row.out_v) for row in power.converter)]
    for name, volts in rails:
        if volts > TOUCH_LIMIT_V:
            said.append(caution("volts", f"{name} has {volts:g} V"))
            break
    return tuple(said)
