"""What would help, each computed: a servo class, a spring, a pin that moves, a longer horn."""

from dataclasses import replace

import numpy as np

from buildplan.device.mechanism.drives import CableDrive, Drive
from buildplan.device.mechanism.judge import RodLimits, nearby_pins
from buildplan.device.mechanism.lid import Lid, Point2
from buildplan.device.mechanism.load import (
    Hinge,
    HingeLoad,
    hinge_load,
    weight_torque_n_mm,
)
from buildplan.device.mechanism.locks import lock_within, rod_locks
from buildplan.device.mechanism.rod import Floats, RodLinkage
from buildplan.device.mechanism.servo import Servo, at_voltage, servo_of
from buildplan.device.spring import HelpSpring, balance_spring
from buildplan.errors import InputError, NoPlanError
from buildplan.tables import servos
from buildplan.tables.hardware import ServoClass

KEPT_SHUT_FRAC = 0.1
"""Share of its weight that keeps a lid shut against a spring (ours)."""

REACH_MM, STEP_MM = 40.0, 1.0
"""How far and how finely pins are moved in the search for a better place."""

LOCK_MARGIN_DEG = 10.0
"""A lock should lie so far beyond the travel (common practice, no source)."""

HIGHEST_FRAC = 1.25
"""Most over-voltage at which a class is still offered: labels give 4.8 and 6 V."""


def servo_class_for(torque_n_mm: float, supply_v: float, sweep_deg: float) -> ServoClass | None:
    """The lightest class that stalls above a torque at a voltage and turns far enough."""
    able = []
    for row in servos().values():
        volts = min(supply_v, HIGHEST_FRAC * row.supply_v)
        stall = at_voltage(servo_of(row), volts).stall_n_mm
        if stall >= torque_n_mm and row.sweep_deg >= sweep_deg:
            able.append(row)
    return min(able, key=lambda row: row.mass_g, default=None)


def spring_for(lid: Lid, hinge: Hinge, drive: Drive) -> tuple[HelpSpring, float] | None:
    """The spring that takes most off a drive, and the servo's peak torque with it."""
    bare = hinge_load(lid, hinge, angle_deg=drive.angle_deg)
    keep = KEPT_SHUT_FRAC * float(bare.weight_n_mm[0])
    try:
        found = balance_spring(
            bare.angle_deg,
            bare.weight_n_mm,
            keep_shut_n_mm=max(keep, bare.friction_n_mm),
            weighting=1.0 / drive.ratio,
        )
    except NoPlanError:
        return None
    load = hinge_load(lid, hinge, angle_deg=drive.angle_deg, spring=found.spring)
    needed = np.maximum(np.abs(load.opening_n_mm), np.abs(load.closing_n_mm))
    return found.spring, float((needed / np.abs(drive.ratio)).max())


def pin_for(
    linkage: RodLinkage,
    load: HingeLoad,
    lid: Lid,
    servo: Servo,
    least_transmission_deg: float,
) -> tuple[Point2, float] | None:
    """The nearest place for the lid pin that keeps angles, sweep and locks; peak torque there."""
    steps = np.arange(-REACH_MM, REACH_MM + STEP_MM, STEP_MM)
    shifts = np.stack(np.meshgrid(steps, steps[::2], indexing="ij"), axis=-1).reshape(-1, 2)
    forward = shifts[:, 0] + linkage.lid_pin_mm[0]
    shifts = shifts[(forward > 1.0) & (forward < lid.edge_mm)]
    shifts = shifts[np.argsort(np.hypot(shifts[:, 0], shifts[:, 1]), kind="stable")]
    limits = RodLimits(
        servo_forward_mm=(0.0, 0.0),
        servo_up_mm=(0.0, 0.0),
        horn_mm=(linkage.horn_mm, linkage.horn_mm),
        lid_forward_mm=(0.0, 0.0),
        lid_up_mm=(0.0, 0.0),
        rod_mm=(5.0, 1e4),
        least_transmission_deg=least_transmission_deg,
        sweep_deg=servo.sweep_deg,
    )
    kept, peaks = nearby_pins(linkage, load, limits, shifts)
    for number in np.flatnonzero(kept):
        pin = (float(shifts[number, 0]), float(shifts[number, 1]))
        pin = (pin[0] + linkage.lid_pin_mm[0], pin[1] + linkage.lid_pin_mm[1])
        locks = rod_locks(_with_pin(linkage, pin))
        low, high = float(load.angle_deg[0]), float(load.angle_deg[-1])
        if lock_within(locks, low, high, LOCK_MARGIN_DEG) is None:
            return pin, float(peaks[number])
    return None


def horn_for(linkage: RodLinkage, load: HingeLoad, sweep_deg: float) -> float | None:
    """The shortest horn, in steps of 1 mm, that opens the lid within a sweep; None where none."""
    from buildplan.device.mechanism.drives import rod_drive
    from buildplan.device.mechanism.rod import rod_linkage

    for longer_mm in range(1, int(3.0 * linkage.horn_mm)):
        horn_mm = round(linkage.horn_mm) + float(longer_mm)
        try:
            longer = rod_linkage(
                servo_mm=linkage.servo_mm,
                horn_mm=horn_mm,
                horn_shut_deg=linkage.horn_shut_deg,
                lid_pin_mm=linkage.lid_pin_mm,
            )
            drive = rod_drive(load, longer)
        except InputError:
            continue
        if float(np.ptp(drive.servo_deg)) <= sweep_deg:
            return horn_mm
    return None


def drum_for(cable: CableDrive, turned_deg: float, sweep_deg: float) -> float:
    """The drum that winds the same cable within a sweep."""
    return cable.drum_mm * turned_deg / sweep_deg


def edge_mass_g(lid: Lid, hinge: Hinge, angle_deg: Floats, lacking_n_mm: Floats) -> float:
    """Mass at the free edge that pulls a lid shut at every angle; 0 where no mass does."""
    one = weight_torque_n_mm(1.0, (lid.edge_mm, 0.0), hinge.down, angle_deg)
    short = lacking_n_mm > 0.0
    if not short.any():
        return 0.0
    if (one[short] <= 0.0).any():
        return 0.0
    return float((lacking_n_mm[short] / one[short]).max())


def _with_pin(linkage: RodLinkage, pin_mm: Point2) -> RodLinkage:
    from buildplan.device.mechanism.rod import rod_linkage

    moved = replace(linkage, lid_pin_mm=pin_mm)
    return rod_linkage(
        servo_mm=moved.servo_mm,
        horn_mm=moved.horn_mm,
        horn_shut_deg=moved.horn_shut_deg,
        lid_pin_mm=pin_mm,
    )
