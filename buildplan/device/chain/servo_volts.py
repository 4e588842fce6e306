"""The volts that the servo gets while it moves the lid: its current lowers them, and they it."""

import math
from dataclasses import dataclass

from buildplan.device.mechanism.drives import Drive
from buildplan.device.mechanism.lid import Lid
from buildplan.device.mechanism.servo import Servo, at_voltage, open_lid
from buildplan.device.power.cases import volts_at
from buildplan.device.power.shape import Power
from buildplan.device.power.shelf import Shelf

SETTLED_V = 1e-6
MOST_ROUNDS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class ServoVolts:
    """A servo at the volts that its wire leaves it.

    Attributes:
        label_v: Of its rail, by its label.
        volts_v: While it takes ``amps_a``; NaN where no steady voltage exists.
        amps_a: Greatest current on the way; the stall current where it stalls.
        servo: At these volts; as given where there are none.
        rounds: How often volts and amps were computed in turn.
    """

    label_v: float
    volts_v: float
    amps_a: float
    servo: Servo
    rounds: int


def servo_volts(
    power: Power,
    load: str,
    mode: str,
    drive: Drive,
    servo: Servo,
    lid: Lid,
    *,
    shelf: Shelf | None = None,
) -> ServoVolts:
    """The volts at which a servo's current and its supply agree, at the low end of every voltage.

    Each round takes the greatest current of the opening at the volts so far (a motor's straight
    speed-torque line), then the volts at that current. More volts never ask for more torque, so
    the rounds close in from above and below; half steps keep them from swinging.

    Args:
        power: The supply.
        load: The servo's row in it.
        mode: What all other loads do.
        drive: Over the travel.
        servo: By its label.
        lid: For its edge.
        shelf: Wires to choose from; the built-in ones where left out.

    Raises:
        InputError: There is no such load or mode.
    """
    volts = servo.supply_v
    for turn in range(1, MOST_ROUNDS + 1):
        amps = _peak_a(drive, at_voltage(servo, volts), lid)
        found = volts_at(power, load, amps, mode=mode, shelf=shelf)
        if not math.isfinite(found) or found <= 0.0:
            return ServoVolts(
                label_v=servo.supply_v, volts_v=math.nan, amps_a=amps, servo=servo, rounds=turn
            )
        if abs(found - volts) < SETTLED_V:
            break
        volts = found if turn < MOST_ROUNDS // 4 else (volts + found) / 2.0
    return ServoVolts(
        label_v=servo.supply_v,
        volts_v=found,
        amps_a=amps,
        servo=at_voltage(servo, found),
        rounds=turn,
    )


def _peak_a(drive: Drive, servo: Servo, lid: Lid) -> float:
    opening = open_lid(drive, servo, lid)
    return servo.stall_a if opening.stalls else opening.peak_a
