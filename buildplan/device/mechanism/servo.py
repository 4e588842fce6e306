"""The servo: its speed-torque line, opening time, holding share, play, jump and inertia."""

import math
from dataclasses import dataclass, fields, replace

import numpy as np

from buildplan.device.mechanism.drives import Drive
from buildplan.device.mechanism.lid import Lid
from buildplan.device.mechanism.load import HingeLoad, closed
from buildplan.device.mechanism.rod import Floats
from buildplan.errors import InputError
from buildplan.tables.hardware import ServoClass

POWER_UP_DEG = 30.0
"""How far a servo may jump before its first command: 20 to 30 degrees (makers' reports)."""

PEAK_OF_SMOOTH = 10.0 / math.sqrt(3.0)
"""Peak acceleration of the smoothest move, in travels per time squared.

Source: Flash and Hogan (1985), J. Neurosci. 5, 1688-1703 (minimum jerk: 10 t^3 - 15 t^4 + 6 t^5).
"""

LONGEST_MOVE_S = 3600.0
"""Where no programmed time up to an hour is slow enough, none is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Servo:
    """A servo at a voltage, as its label says.

    Attributes:
        supply_v: Voltage that the other numbers hold for.
        stall_n_mm: Torque at which it stops; kg cm on the label times 98.0665.
        no_load_deg_s: 60 over the label's seconds for 60 degrees.
        stall_a: Current while it is held fast.
        moving_a: Current while it turns without load.
        hold_a: Current while it stands still without load.
        sweep_deg: Turn from end to end.
        hold_frac: Share of stall that it holds for minutes.
        play_deg: Of its gears, at the horn.
    """

    name: str
    supply_v: float
    stall_n_mm: float
    no_load_deg_s: float
    stall_a: float
    moving_a: float
    hold_a: float = 0.0
    sweep_deg: float = 180.0
    hold_frac: float = 0.25
    play_deg: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """Opening a lid at the best a servo can do, without inertia.

    Attributes:
        share_frac: (n,) torque over stall torque; 0 where the load helps.
        peak_frac: Its greatest.
        peak_deg: Angle of the lid at that.
        holding_frac: Greatest torque to hold still, over stall torque.
        holding_deg: Angle of the lid at that.
        stalls: Whether it stops on the way.
        time_s: To open; inf where it stalls.
        peak_a: Greatest current.
        energy_j: From the supply; inf where it stalls.
        sweep_deg: Turn that the servo makes.
        edge_play_mm: How far the free edge moves in the servo's play.
    """

    share_frac: Floats
    peak_frac: float
    peak_deg: float
    holding_frac: float
    holding_deg: float
    stalls: bool
    time_s: float
    peak_a: float
    energy_j: float
    sweep_deg: float
    edge_play_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammedMove:
    """Opening a lid smoothly in a programmed time.

    Attributes:
        move_s: Programmed.
        inertia_n_mm: Greatest torque at the hinge that only speeds the lid up.
        servo_n_mm: Greatest torque at the servo, with inertia.
        torque_frac: The same over stall torque.
        speed_frac: Greatest speed asked for, over what the speed-torque line leaves; at 1 or more
            the servo falls behind; inf where it stalls.
        least_s: Shortest time at which it keeps up; inf where it stalls even at rest.
    """

    move_s: float
    inertia_n_mm: float
    servo_n_mm: float
    torque_frac: float
    speed_frac: float
    least_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerUpJump:
    """What a servo does before its first command: it may run at full speed.

    Attributes:
        lid_deg: How far the lid may move, at the most.
        edge_m_s: Speed of the free edge where the drive is quickest.
        energy_j: Of the lid at that speed.
    """

    lid_deg: float
    edge_m_s: float
    energy_j: float


def servo_of(row: ServoClass) -> Servo:
    """A servo with the typical figures of a class."""
    return Servo(**{field.name: getattr(row, field.name) for field in fields(Servo)})


def at_voltage(servo: Servo, supply_v: float) -> Servo:
    """The servo at another voltage: stall torque, speed and stall current go with the volts.

    Raises:
        InputError: The voltage is not above 0.

    Source: permanent-magnet direct-current motor (torque by current, back voltage by speed).
    """
    if not (math.isfinite(supply_v) and supply_v > 0.0):
        raise InputError(f"servo {servo.name!r} at {supply_v:g} V; more than 0 is needed")
    share = supply_v / servo.supply_v
    return replace(
        servo,
        supply_v=supply_v,
        stall_n_mm=servo.stall_n_mm * share,
        no_load_deg_s=servo.no_load_deg_s * share,
        stall_a=servo.stall_a * share,
    )


def check_servo(servo: Servo) -> None:
    """Refuse a servo whose numbers cannot be.

    Raises:
        InputError: With the number.
    """
    for name in ("supply_v", "stall_n_mm", "no_load_deg_s", "stall_a", "sweep_deg", "hold_frac"):
        value = getattr(servo, name)
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f"servo {servo.name!r}: {name} is {value:g}, more than 0 is needed")
    for name in ("moving_a", "hold_a", "play_deg"):
        value = getattr(servo, name)
        if not (math.isfinite(value) and value >= 0.0):
            raise InputError(f"servo {servo.name!r}: {name} is {value:g}, 0 or more is needed")
    if servo.moving_a > servo.stall_a:
        raise InputError(
            f"servo {servo.name!r}: moving_a {servo.moving_a:g} is above stall_a "
            f"{servo.stall_a:g}; the two are exchanged"
        )


def open_lid(drive: Drive, servo: Servo, lid: Lid) -> Opening:
    """Opening along the speed-torque line of a servo.

    speed = no-load (1 - T/stall); current = moving + (stall - moving) T/stall;
    time = integral of |ratio| / speed over the lid's angle. Where the load helps, no torque is
    asked. Valid where the move takes much longer than the lid's own swing (no inertia: see
    programmed_move).

    Raises:
        InputError: The servo's numbers cannot be.

    Source: permanent-magnet direct-current motor (straight speed-torque line).
    """
    check_servo(servo)
    share = np.where(drive.servo_n_mm * drive.ratio < 0.0, 0.0, np.abs(drive.servo_n_mm))
    share = share / servo.stall_n_mm
    hold = drive.holding_servo_n_mm / servo.stall_n_mm
    amps = servo.moving_a + (servo.stall_a - servo.moving_a) * np.minimum(share, 1.0)
    stalls = bool((share >= 1.0).any())
    time_s = charge_as = math.inf
    if not stalls:
        step = np.abs(drive.ratio) / (servo.no_load_deg_s * (1.0 - share))
        time_s = float(np.trapezoid(step, drive.angle_deg))
        charge_as = float(np.trapezoid(amps * step, drive.angle_deg))
    worst, held = int(share.argmax()), int(hold.argmax())
    return Opening(
        share_frac=closed(share),
        peak_frac=float(share[worst]),
        peak_deg=float(drive.angle_deg[worst]),
        holding_frac=float(hold[held]),
        holding_deg=float(drive.angle_deg[held]),
        stalls=stalls,
        time_s=time_s,
        peak_a=float(amps.max()),
        energy_j=charge_as * servo.supply_v,
        sweep_deg=float(np.ptp(drive.servo_deg)),
        edge_play_mm=edge_play_mm(drive, servo, lid),
    )


def edge_play_mm(drive: Drive, servo: Servo, lid: Lid) -> float:
    """How far the free edge moves within the play of the servo's gears, where it is worst."""
    return math.radians(servo.play_deg) * lid.edge_mm / float(np.abs(drive.ratio).min())


def power_up_jump(
    drive: Drive, servo: Servo, lid: Lid, *, jump_deg: float = POWER_UP_DEG
) -> PowerUpJump:
    """How far and how fast the lid may move when a servo wakes up before its first command.

    Args:
        drive: Over the travel.
        servo: At full speed without load: the worst case.
        lid: For the speed of its edge.
        jump_deg: Turn of the servo.
    """
    turned = np.abs(drive.servo_deg)
    start = np.interp(np.maximum(turned - jump_deg, 0.0), turned, drive.angle_deg)
    deg_s = servo.no_load_deg_s / float(np.abs(drive.ratio).min())
    rad_s = math.radians(deg_s)
    return PowerUpJump(
        lid_deg=float((drive.angle_deg - start).max()),
        edge_m_s=rad_s * lid.edge_mm * 1e-3,
        energy_j=0.5 * lid.inertia_g_mm2 * 1e-9 * rad_s**2,
    )


def inertia_n_mm(lid: Lid, *, move_deg: float, move_s: float) -> float:
    """Greatest torque at the hinge that speeds a lid up in the smoothest move: J 10/sqrt(3) A/t^2.

    Raises:
        InputError: The time is not above 0.
    """
    if not move_s > 0.0:
        raise InputError(f"a move in {move_s:g} s; more than 0 is needed")
    rad_s2 = PEAK_OF_SMOOTH * math.radians(move_deg) / move_s**2
    return lid.inertia_g_mm2 * rad_s2 * 1e-6


def programmed_move(
    drive: Drive, load: HingeLoad, servo: Servo, lid: Lid, *, move_s: float
) -> ProgrammedMove:
    """Opening in a programmed time along the smoothest path: torque with inertia, and speed.

    angle = A (10 t^3 - 15 t^4 + 6 t^5); servo torque = (load + J acceleration) / ratio. The
    shortest time is found by halving: a longer move always asks for less.

    Raises:
        InputError: The time is not above 0.

    Source: Flash and Hogan (1985) for the path.
    """
    travel = float(drive.angle_deg[-1] - drive.angle_deg[0])
    peak = inertia_n_mm(lid, move_deg=travel, move_s=move_s)
    torque, speed = _smooth(drive, load, servo, lid, move_s)
    low, high = 0.0, LONGEST_MOVE_S
    if _lags(_smooth(drive, load, servo, lid, high)):
        low = high = math.inf
    while high - low > 1e-3 * high:
        middle = 0.5 * (low + high)
        if _lags(_smooth(drive, load, servo, lid, middle)):
            low = middle
        else:
            high = middle
    return ProgrammedMove(
        move_s=move_s,
        inertia_n_mm=peak,
        servo_n_mm=torque * servo.stall_n_mm,
        torque_frac=torque,
        speed_frac=speed,
        least_s=high,
    )


def _lags(shares: tuple[float, float]) -> bool:
    return shares[0] >= 1.0 or shares[1] >= 1.0


def _smooth(
    drive: Drive, load: HingeLoad, servo: Servo, lid: Lid, move_s: float
) -> tuple[float, float]:
    """Greatest share of stall torque, and of the speed left, along the smoothest move."""
    t = np.linspace(0.0, 1.0, 201)
    travel = float(drive.angle_deg[-1] - drive.angle_deg[0])
    at = drive.angle_deg[0] + travel * t**3 * (10.0 - 15.0 * t + 6.0 * t * t)
    deg_s = travel * 30.0 * (t * (1.0 - t)) ** 2 / move_s
    rad_s2 = math.radians(travel) * t * (60.0 - 180.0 * t + 120.0 * t * t) / move_s**2
    ratio = np.interp(at, drive.angle_deg, np.abs(drive.ratio))
    need = np.interp(at, drive.angle_deg, load.opening_n_mm) + lid.inertia_g_mm2 * rad_s2 * 1e-6
    share = np.abs(need) / ratio / servo.stall_n_mm
    driving = np.where(need > 0.0, share, 0.0)  # a load that pulls along does not slow the motor
    if not float(driving.max()) < 1.0:
        return float(share.max()), math.inf
    left = servo.no_load_deg_s * (1.0 - driving)
    return float(share.max()), float((deg_s * ratio / left).max())
