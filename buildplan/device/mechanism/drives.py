"""Direct drive, cable and push rod: torque at the servo, force in the link, at every angle."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.device.mechanism.lid import Point2
from buildplan.device.mechanism.load import HingeLoad, closed
from buildplan.device.mechanism.locks import Lock, cable_locks, lock_within, rod_locks
from buildplan.device.mechanism.rod import Floats, RodLinkage, poses_of
from buildplan.errors import InputError

DriveKind = Literal["direct", "cable", "rod"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectDrive:
    """The servo's shaft is the hinge pin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CableDrive:
    """A cable from a point of the lid over a guide to a drum on the servo.

    Attributes:
        lid_point_mm: (forward, up) with the lid shut.
        guide_mm: (forward, up) of the guide or pulley, fixed to the body.
        drum_mm: Radius that the cable winds on.
        guide_loss_frac: Tension behind the guide over tension before it: e^(mu wrap) for a plain
            guide (capstan formula); 1 without friction.
    """

    lid_point_mm: Point2
    guide_mm: Point2
    drum_mm: float
    guide_loss_frac: float = 1.0


Linkage = DirectDrive | CableDrive | RodLinkage


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """A lid's drive at every angle of its travel; (n,) arrays.

    Attributes:
        servo_deg: Turn of the servo since the start of the travel.
        ratio: d servo / d lid; its sign is the servo's sense of turn.
        servo_n_mm: Torque of the servo while it opens, plus with the turn of servo_deg's axis.
        closing_servo_n_mm: The same while it closes.
        holding_servo_n_mm: What it takes to hold still, without sign.
        link_n: Force of rod (plus pushes) or cable (plus pulls) while it opens; 0 without a link.
        closing_link_n: The same while it closes; below 0 a cable is slack.
        lid_arm_mm: Lever of the link about the hinge; nan without a link.
        lid_transmission_deg: Angle between link and the lid's lever; 90 is best.
        horn_transmission_deg: Angle between rod and horn.
        hinge_pin_n: Force on the hinge pin from weight, gust and link while it opens.
        pin_mm: (n, 2) of the link's pin in the lid; tip_mm of its other end.
        locks: Of the drive, nearest to shut first.
    """

    kind: DriveKind
    angle_deg: Floats
    servo_deg: Floats
    ratio: Floats
    servo_n_mm: Floats
    closing_servo_n_mm: Floats
    holding_servo_n_mm: Floats
    link_n: Floats
    closing_link_n: Floats
    lid_arm_mm: Floats
    lid_transmission_deg: Floats
    horn_transmission_deg: Floats
    hinge_pin_n: Floats
    pin_mm: Floats
    tip_mm: Floats
    locks: tuple[Lock, ...]


def locks_of(linkage: Linkage) -> tuple[Lock, ...]:
    """Locks of any drive, nearest to shut first."""
    if isinstance(linkage, RodLinkage):
        return rod_locks(linkage)
    if isinstance(linkage, CableDrive):
        return cable_locks(linkage.lid_point_mm, linkage.guide_mm)
    return ()


def drive_lid(load: HingeLoad, linkage: Linkage) -> Drive:
    """The drive of a lid, whatever its kind.

    Raises:
        InputError: As cable_drive and rod_drive.
    """
    if isinstance(linkage, RodLinkage):
        return rod_drive(load, linkage)
    if isinstance(linkage, CableDrive):
        return cable_drive(load, linkage)
    return direct_drive(load)


def direct_drive(load: HingeLoad) -> Drive:
    """The servo turns the lid itself: every torque is its own."""
    angle = load.angle_deg
    one, none = np.ones_like(angle), np.zeros_like(angle)
    return _drive(
        "direct",
        load,
        servo_deg=angle - angle[0],
        ratio=one,
        link_n=none,
        closing_link_n=none.copy(),
        lid_arm_mm=np.full_like(angle, np.nan),
        lid_transmission_deg=one * 90.0,
        horn_transmission_deg=one * 90.0,
        ends=(np.zeros((len(angle), 2)), np.zeros((len(angle), 2))),
        push=np.zeros((len(angle), 2)),
        locks=(),
    )


def cable_drive(load: HingeLoad, cable: CableDrive) -> Drive:
    """A cable pulls the lid open; its own weight must close it.

    lever = b g sin(lock - angle) / length <= min(b, g): a lid point far from the hinge is of no
    use where the guide sits close to it. tension = torque / lever; ratio = lever / drum.

    Raises:
        InputError: A length is not above 0, or the cable has no lever somewhere in the travel.

    Source: plane statics; tension over a guide by the capstan formula (Euler 1775, Eytelwein
    1808).
    """
    if not (cable.drum_mm > 0.0 and cable.guide_loss_frac >= 1.0):
        raise InputError(
            f"cable: drum {cable.drum_mm:g} mm and loss {cable.guide_loss_frac:g}; the drum must "
            "be more than 0 and the loss 1 or more"
        )
    for name, point in (("lid_point_mm", cable.lid_point_mm), ("guide_mm", cable.guide_mm)):
        if not math.hypot(*point) > 0.0:
            raise InputError(f"cable: {name} is 0 mm from the hinge axis; move it away")
    locks = cable_locks(cable.lid_point_mm, cable.guide_mm)
    _refuse_lock("cable", load, locks)
    angle = np.radians(load.angle_deg)
    cos, sin = np.cos(angle), np.sin(angle)
    (x, y), (gx, gy) = cable.lid_point_mm, cable.guide_mm
    pin_x, pin_y = cos * x - sin * y, sin * x + cos * y
    dx, dy = gx - pin_x, gy - pin_y
    length = np.hypot(dx, dy)
    arm = (pin_x * dy - pin_y * dx) / length
    if not arm.min() > 0.0:
        worst = int(arm.argmin())
        raise InputError(
            f"cable: its lever is {arm[worst]:.2f} mm at {load.angle_deg[worst]:g} degrees, more "
            f"than 0 is needed to pull the lid open; raise the guide from {gy:g} mm up"
        )
    tension, slack = load.opening_n_mm / arm, load.closing_n_mm / arm
    along = np.column_stack((dx, dy)) / length[:, None]
    transmission = np.degrees(np.arcsin(np.clip(arm / math.hypot(x, y), -1.0, 1.0)))
    drive_losses = (cable.guide_loss_frac, 1.0 / cable.guide_loss_frac)
    return _drive(
        "cable",
        load,
        servo_deg=np.degrees((length[0] - length) / cable.drum_mm),
        ratio=arm / cable.drum_mm,
        link_n=tension,
        closing_link_n=slack,
        lid_arm_mm=arm,
        lid_transmission_deg=transmission,
        horn_transmission_deg=np.full_like(angle, 90.0),
        ends=(np.column_stack((pin_x, pin_y)), np.tile([gx, gy], (len(angle), 1))),
        push=tension[:, None] * along,
        locks=locks,
        losses=drive_losses,
    )


def rod_drive(load: HingeLoad, linkage: RodLinkage) -> Drive:
    """A push rod from a servo's horn: exact at every angle.

    force = torque / lid lever; ratio = lid lever / horn lever; servo torque = torque / ratio.

    Raises:
        InputError: The travel runs to or past a lock, with the angle.

    Source: virtual work (servo torque d servo = lid torque d lid).
    """
    locks = rod_locks(linkage)
    _refuse_lock("push rod", load, locks)
    poses = poses_of(linkage, load.angle_deg)
    arm, horn_arm = poses.lid_arm_mm, poses.horn_arm_mm
    force = load.opening_n_mm / arm
    along = (poses.pin_mm - poses.tip_mm) / linkage.rod_mm
    reach = math.hypot(*linkage.lid_pin_mm)
    turned = np.degrees(poses.horn_rad)
    return _drive(
        "rod",
        load,
        servo_deg=turned - turned[0],
        ratio=arm / horn_arm,
        link_n=force,
        closing_link_n=load.closing_n_mm / arm,
        lid_arm_mm=arm,
        lid_transmission_deg=_lever_deg(arm, reach),
        horn_transmission_deg=_lever_deg(horn_arm, linkage.horn_mm),
        ends=(poses.pin_mm, poses.tip_mm),
        push=force[:, None] * along,
        locks=locks,
    )


def travel_before_lock(
    linkage: Linkage, from_deg: float, to_deg: float, margin_deg: float
) -> tuple[float, float]:
    """The travel, ended a margin before the first lock inside it.

    Raises:
        InputError: The lock leaves nothing of it.
    """
    lock = lock_within(locks_of(linkage), min(from_deg, 0.0), to_deg)
    if lock is None:
        return from_deg, to_deg
    if not lock.at_deg - margin_deg > from_deg:
        raise InputError(
            f"drive: it locks at {lock.at_deg:.2f} degrees ({lock.kind}), at or before the start "
            f"of its travel ({from_deg:g}); move the lid pin or turn the horn"
        )
    return from_deg, lock.at_deg - margin_deg


def _lever_deg(arm_mm: Floats, most_mm: float) -> Floats:
    """Angle between a link and a lever, 0 to 90, from the arm that it leaves."""
    return np.degrees(np.arcsin(np.clip(np.abs(arm_mm) / most_mm, 0.0, 1.0)))


def _refuse_lock(name: str, load: HingeLoad, locks: tuple[Lock, ...]) -> None:
    """Raise where a travel runs to or past a lock."""
    start, end = float(load.angle_deg[0]), float(load.angle_deg[-1])
    lock = lock_within(locks, min(start, 0.0), max(end, 0.0))
    if lock is not None:
        raise InputError(
            f"{name}: it locks at {lock.at_deg:.2f} degrees ({lock.kind}), inside the travel of "
            f"{start:g} to {end:g} degrees; end the travel before, or move a pin"
        )


def _drive(  # noqa: PLR0913 - one argument an array of the result
    kind: DriveKind,
    load: HingeLoad,
    *,
    servo_deg: Floats,
    ratio: Floats,
    link_n: Floats,
    closing_link_n: Floats,
    lid_arm_mm: Floats,
    lid_transmission_deg: Floats,
    horn_transmission_deg: Floats,
    ends: tuple[Floats, Floats],
    push: NDArray[np.float64],
    locks: tuple[Lock, ...],
    losses: tuple[float, float] = (1.0, 1.0),
) -> Drive:
    """The result, with what follows from the ratio and the push on the lid."""
    angle = np.radians(load.angle_deg)
    wind = load.gust_n * np.column_stack((np.sin(angle), -np.cos(angle)))
    pin = np.linalg.norm(push + wind + np.array(load.weight_n), axis=1)
    return Drive(
        kind=kind,
        angle_deg=load.angle_deg,
        servo_deg=closed(servo_deg),
        ratio=closed(ratio),
        servo_n_mm=closed(load.opening_n_mm / ratio * losses[0]),
        closing_servo_n_mm=closed(load.closing_n_mm / ratio * losses[1]),
        holding_servo_n_mm=closed(load.holding_n_mm / np.abs(ratio) * losses[1]),
        link_n=closed(link_n),
        closing_link_n=closed(closing_link_n),
        lid_arm_mm=closed(lid_arm_mm),
        lid_transmission_deg=closed(lid_transmission_deg),
        horn_transmission_deg=closed(horn_transmission_deg),
        hinge_pin_n=closed(pin),
        pin_mm=closed(ends[0]),
        tip_mm=closed(ends[1]),
        locks=locks,
    )
