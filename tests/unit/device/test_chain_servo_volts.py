"""The servo's current lowers its volts, and they its current: both must agree at the end."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from buildplan.device.chain.servo_volts import servo_volts
from buildplan.device.mechanism import (
    DirectDrive,
    Hinge,
    Servo,
    at_voltage,
    drive_lid,
    hinge_load,
    lid_from_ruler,
    open_lid,
)
from buildplan.device.power import Converter, Load, Mode, Power, Source, copper_ohm, volts_at
from buildplan.errors import InputError

LID = lid_from_ruler(mass_g=350.0, balance_mm=112.0, length_mm=225.0, width_mm=190.0)
SERVO = Servo(
    name="standard",
    supply_v=5.0,
    stall_n_mm=961.0,
    no_load_deg_s=330.0,
    stall_a=2.0,
    moving_a=0.2,
    hold_a=0.01,
    sweep_deg=180.0,
)


@pytest.fixture(scope="module")
def drive():
    load = hinge_load(LID, Hinge(from_deg=0.0, to_deg=65.0, friction_n_mm=25.0))
    return drive_lid(load, DirectDrive())


def supply(wire_mm=500.0, awg=26):
    """A stiff 5 V source with one servo at the end of a wire, no plugs and no tolerance."""
    return Power(
        source=Source(
            name="bench",
            supply_v=5.0,
            limit_a=5.0,
            inner_ohm=0.0,
            tolerance_frac=0.0,
            wire_mm=0.0,
            plugs=0,
        ),
        load=(
            Load(
                name="servo",
                feed="source",
                mode_a={"move": 0.5},
                peak_a=2.0,
                least_v=3.0,
                wire_mm=wire_mm,
                wire_awg=awg,
                plugs=0,
            ),
        ),
        mode=(Mode(name="move", share_frac=1.0),),
        wire_c=20.0,
    )


def test_volts_and_amps_agree_with_the_quadratic_of_one_wire(drive):
    found = servo_volts(supply(), "servo", "move", drive, SERVO, LID)
    ohm = 2.0 * copper_ohm(math.pi * (0.127 * 92 ** ((36 - 26) / 39) / 2) ** 2, 500.0)
    # with u = V / 5 and t = torque / stall at 5 V: amps = moving + (stall u - moving) t / u
    torque = float(np.abs(drive.servo_n_mm).max()) / SERVO.stall_n_mm

    def off(volts):
        u = volts / 5.0
        amps = SERVO.moving_a + (SERVO.stall_a * u - SERVO.moving_a) * torque / u
        return volts - (5.0 - ohm * amps)

    low, high = 1.0, 5.0
    for _ in range(200):
        middle = (low + high) / 2.0
        low, high = (middle, high) if off(middle) < 0.0 else (low, middle)
    assert found.volts_v == pytest.approx(low, abs=2e-5)
    assert found.volts_v < 5.0


def test_what_is_returned_is_a_fixed_point_of_both_rooms(drive):
    power = supply()
    found = servo_volts(power, "servo", "move", drive, SERVO, LID)
    opening = open_lid(drive, at_voltage(SERVO, found.volts_v), LID)
    assert opening.peak_a == pytest.approx(found.amps_a, abs=1e-5)
    again = volts_at(power, "servo", found.amps_a, mode="move")
    assert again == pytest.approx(found.volts_v, abs=1e-5)
    assert found.servo.stall_n_mm == pytest.approx(961.0 * found.volts_v / 5.0)


def test_a_longer_or_thinner_wire_never_gives_more_volts(drive):
    volts = [
        servo_volts(supply(wire_mm=mm, awg=awg), "servo", "move", drive, SERVO, LID).volts_v
        for mm, awg in ((0.0, 26), (200.0, 26), (500.0, 26), (500.0, 30))
    ]
    assert volts[0] == pytest.approx(5.0)
    assert all(a > b for a, b in itertools.pairwise(volts))


def test_a_servo_that_stalls_is_met_with_its_stall_current(drive):
    weak = replace(SERVO, stall_n_mm=100.0)
    found = servo_volts(supply(), "servo", "move", drive, weak, LID)
    assert found.amps_a == pytest.approx(found.servo.stall_a, abs=1e-5)


def test_a_supply_that_cannot_carry_the_current_has_no_volts(drive):
    thin = supply()
    rail = Converter(name="rail", feed="source", out_v=5.0, limit_a=3.0, wire_mm=10e3, wire_awg=30)
    through = replace(thin, converter=(rail,), load=(replace(thin.load[0], feed="rail"),))
    found = servo_volts(through, "servo", "move", drive, SERVO, LID)
    assert math.isnan(found.volts_v)
    assert found.servo == SERVO


def test_an_unknown_load_is_named(drive):
    with pytest.raises(InputError, match='load "motor" is not known'):
        servo_volts(supply(), "motor", "move", drive, SERVO, LID)
