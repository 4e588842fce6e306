"""Where two tables of the device speak of the same thing: they must agree, or it is said."""

import math

from buildplan.device.chain.servo_volts import ServoVolts
from buildplan.device.chain.shape import DeviceTables
from buildplan.device.mechanism import MechanismStudy
from buildplan.findings import Finding, Place

AMPS_FRAC = 0.10
"""A current in the supply's table may differ so much from the computed one (ours)."""

SOURCE = "computed from the mechanism and the supply together"


def agreement_findings(
    tables: DeviceTables, built: MechanismStudy | None, servo: ServoVolts | None
) -> tuple[Finding, ...]:
    """What the servo's row of the supply says against what the mechanism asks of it."""
    if tables.power is None or built is None:
        return ()
    if servo is None:
        return (_unnamed(tables),) if tables.power.load else ()
    load = next(one for one in tables.power.load if one.name == tables.device.servo_load)
    found = []
    if math.isnan(servo.volts_v):
        found.append(_collapse(load.name, servo))
    elif load.least_v > 0.0 and servo.volts_v < load.least_v:
        found.append(_low(load.name, load.least_v, servo))
    stall = built.servo.stall_a
    if load.peak_a < stall * (1.0 - AMPS_FRAC):
        found.append(_peak(load.name, load.peak_a, stall))
    return tuple(found)


def _unnamed(tables: DeviceTables) -> Finding:
    names = ", ".join(load.name for load in tables.power.load) if tables.power else ""
    return Finding(
        check="chain",
        severity="note",
        what="No load of the supply is named as the servo, so its label's volts are taken",
        where=Place(text="[device], servo_load"),
        measured="servo_load is empty",
        required="the name of the servo's load",
        remedy=f"Write servo_load in [device]; one of: {names}.",
        source=SOURCE,
    )


def _collapse(name: str, servo: ServoVolts) -> Finding:
    return Finding(
        check="chain",
        severity="stop",
        what=f"The supply cannot feed the {name} while it moves the lid: its voltage collapses",
        where=Place(text=f"{name}, while it moves the lid"),
        measured=f"no steady voltage at {servo.amps_a:.2f} A",
        required=f"{servo.label_v:g} V",
        remedy="Give it a rail of its own, a thicker wire or a supply of more amps.",
        source=SOURCE,
    )


def _low(name: str, least_v: float, servo: ServoVolts) -> Finding:
    return Finding(
        check="chain",
        severity="stop",
        what=f"The {name} gets {servo.volts_v:.2f} V while it moves the lid",
        where=Place(text=f"{name}, at {servo.amps_a:.2f} A"),
        measured=f"{servo.volts_v:.2f} V",
        required=f"at least {least_v:g} V",
        remedy="Shorten or thicken its wire, or give it a rail of its own.",
        source=SOURCE,
    )


def _peak(name: str, peak_a: float, stall_a: float) -> Finding:
    return Finding(
        check="chain",
        severity="caution",
        what=f"The supply's table gives the {name} {peak_a:g} A at its peak, its servo stalls at "
        f"{stall_a:g} A",
        where=Place(text=f"power.load {name}, peak_a"),
        measured=f"{peak_a:g} A",
        required=f"{stall_a:g} A, as on the servo's label",
        remedy=f"Write peak_a = {stall_a:g}, so that a stall is looked at with its real current.",
        source=SOURCE,
    )
