"""The findings on a lid's drive, in words; numbers in remedies are rounded so that they hold."""

import math

from buildplan.device.mechanism.drives import CableDrive
from buildplan.device.mechanism.lid import Point2
from buildplan.device.mechanism.load import N_MM_OF_KG_CM
from buildplan.device.mechanism.pinch_words import pinch_findings
from buildplan.device.mechanism.remedies import (
    LOCK_MARGIN_DEG,
    drum_for,
    edge_mass_g,
    horn_for,
    pin_for,
    servo_class_for,
    spring_for,
)
from buildplan.device.mechanism.rod import RodLinkage
from buildplan.device.mechanism.study import MechanismStudy
from buildplan.findings import SEVERITIES, Finding, Place, Severity

LOCK_NEAR_DEG = 3.0
"""A lock nearer to the end of the travel than this is a stop: play alone carries the lid there."""

TRANSMISSION_STOP_DEG = 30.0
"""Below this a rod mostly loads its pins, even in light duty (general machine design)."""

PIN_WEIGHTS = 5.0
"""A hinge pin that carries so many times the lid's weight is worth a word (ours)."""

CHECK = "mechanism"


def findings_of(study: MechanismStudy) -> tuple[Finding, ...]:
    """What to look at on a lid's drive, gravest first.

    Args:
        study: Complete but for its findings.
    """
    better = _better_pin(study)
    rows = (
        *_lock(study, better),
        *_servo(study),
        *_transmission(study, better),
        *_sweep(study),
        *_holding(study),
        *_programmed(study),
        *_slack(study),
        *_hinge_pin(study),
        *pinch_findings(study),
        *_jump(study),
    )
    return tuple(sorted(rows, key=lambda row: SEVERITIES.index(row.severity)))


def torque_text(torque_n_mm: float) -> str:
    """A torque in N mm and in the unit of servo labels."""
    return f"{torque_n_mm:.0f} N mm ({torque_n_mm / N_MM_OF_KG_CM:.2g} kg cm)"


def at(study: MechanismStudy, angle_deg: float | None = None) -> Place:
    """The drive, and the angle of the lid where there is one."""
    angle = "" if angle_deg is None else f", lid at {angle_deg:.0f} degrees"
    return Place(text=f"drive {study.name}{angle}")


def _better_pin(study: MechanismStudy) -> tuple[Point2, float] | None:
    """A better place for the lid pin, looked for where a lock or an angle asks for one."""
    if not isinstance(study.linkage, RodLinkage):
        return None
    least = float(study.drive.lid_transmission_deg.min())
    if study.lock is None and least >= study.needs.least_transmission_deg:
        return None
    return pin_for(
        study.linkage,
        study.asked_load,
        study.lid,
        study.servo,
        study.needs.least_transmission_deg,
    )


def _pin_text(study: MechanismStudy, better: tuple[Point2, float] | None) -> str:
    if better is None:
        return "Move servo and lid pin (best_rod looks for places)"
    (forward, up), peak = better
    return (
        f"Move the lid pin to {forward:.1f} mm forward and {up:.1f} mm up and cut the rod anew: "
        f"every angle is then {study.needs.least_transmission_deg:g} degrees or more, the peak "
        f"torque {torque_text(peak)}"
    )


def _lock(study: MechanismStudy, better: tuple[Point2, float] | None) -> tuple[Finding, ...]:
    low, high = study.hinge.from_deg, study.hinge.to_deg
    if study.lock is not None:
        angle = study.lock.at_deg
        remedy = f"End the travel at {max(angle - LOCK_MARGIN_DEG, low):.0f} degrees"
        if isinstance(study.linkage, RodLinkage):
            remedy += f", or: {_pin_text(study, better)[0].lower()}{_pin_text(study, better)[1:]}"
        return (
            Finding(
                check=CHECK,
                severity="stop",
                what=f"The drive locks at {angle:.1f} degrees, inside the travel "
                f"({study.lock.kind})",
                where=at(study, angle),
                measured=f"lock at {angle:.1f} degrees",
                required=f"no lock from {low:g} to {high + LOCK_MARGIN_DEG:g} degrees",
                remedy=f"{remedy}.",
                source="cosine law",
            ),
        )
    beyond = [
        (lock.at_deg - high if lock.at_deg > high else low - lock.at_deg, lock)
        for lock in study.drive.locks
    ]
    if not beyond:
        return ()
    room, lock = min(beyond, key=lambda pair: pair[0])
    if room >= LOCK_MARGIN_DEG:
        return ()
    stop_deg = lock.at_deg - LOCK_NEAR_DEG if lock.at_deg > high else lock.at_deg + LOCK_NEAR_DEG
    return (
        Finding(
            check=CHECK,
            severity="stop" if room < LOCK_NEAR_DEG else "caution",
            what=f"The drive locks {room:.1f} degrees past the travel ({lock.kind})",
            where=at(study, lock.at_deg),
            measured=f"{room:.1f} degrees of room",
            required=f"at least {LOCK_MARGIN_DEG:g} degrees",
            remedy=f"Fit a hard stop for the lid at {stop_deg:.0f} degrees or before, so that no "
            "push by hand and no jump carries it there.",
            source="common practice, no source",
        ),
    )


def _servo(study: MechanismStudy) -> tuple[Finding, ...]:
    opening, servo = study.opening, study.servo
    allowed = 1.0 / study.needs.safety_factor
    if opening.peak_frac <= allowed:
        return ()
    needed = math.ceil(opening.peak_frac * servo.stall_n_mm * study.needs.safety_factor)
    row = servo_class_for(needed, servo.supply_v, opening.sweep_deg)
    kind = f" (class: {row.name})" if row else " (no hobby class does)"
    remedy = f"Take a servo that stalls at {torque_text(needed)} or more{kind}"
    helped = spring_for(study.lid, study.hinge, study.drive)
    if helped and helped[1] < opening.peak_frac * servo.stall_n_mm:
        spring, peak = helped
        remedy += (
            f", or add a spring of {spring.shut_n_mm:.0f} N mm with the lid shut that loses "
            f"{spring.rate_n_mm_deg:.2g} N mm a degree: the peak falls to {torque_text(peak)}"
        )
    what = "The servo stalls" if opening.stalls else "The servo works too near to its stall"
    return (
        Finding(
            check=CHECK,
            severity="stop" if opening.stalls else "caution",
            what=f"{what}: {torque_text(opening.peak_frac * servo.stall_n_mm)} of "
            f"{torque_text(servo.stall_n_mm)}",
            where=at(study, opening.peak_deg),
            measured=f"{100.0 * opening.peak_frac:.0f} % of stall",
            required=f"at most {100.0 * allowed:.0f} % of stall",
            remedy=f"{remedy}.",
            source=f"safety factor {study.needs.safety_factor:g}: common practice, no source",
        ),
    )


def _holding(study: MechanismStudy) -> tuple[Finding, ...]:
    opening, servo = study.opening, study.servo
    if opening.holding_frac <= servo.hold_frac:
        return ()
    needed = math.ceil(opening.holding_frac * servo.stall_n_mm / servo.hold_frac)
    return (
        Finding(
            check=CHECK,
            severity="caution",
            what=f"Holding the lid asks for {100.0 * opening.holding_frac:.0f} % of stall for as "
            "long as it stands there",
            where=at(study, opening.holding_deg),
            measured=f"{100.0 * opening.holding_frac:.0f} % of stall",
            required=f"at most {100.0 * servo.hold_frac:.0f} % of stall",
            remedy="Cut the servo's power once a latch or a spring holds the lid, or take a servo "
            f"that stalls at {torque_text(needed)} or more.",
            source="20 to 30 % of stall held for minutes: common practice",
        ),
    )


def _transmission(
    study: MechanismStudy, better: tuple[Point2, float] | None
) -> tuple[Finding, ...]:
    angles = study.drive.lid_transmission_deg
    least = float(angles.min())
    if study.drive.kind == "direct" or least >= study.needs.least_transmission_deg:
        return ()
    severity: Severity = "stop" if least < TRANSMISSION_STOP_DEG else "caution"
    if isinstance(study.linkage, CableDrive):
        severity = "caution"  # a cable has no joint to jam; its lever is in the torque already
        remedy = "Move the guide farther from the hinge, square to the cable"
    else:
        remedy = _pin_text(study, better)
    return (
        Finding(
            check=CHECK,
            severity=severity,
            what=f"The link stands {least:.0f} degrees to the lid's lever: it loads the hinge more "
            "than it lifts",
            where=at(study, float(study.drive.angle_deg[int(angles.argmin())])),
            measured=f"{least:.1f} degrees",
            required=f"at least {study.needs.least_transmission_deg:g} degrees",
            remedy=f"{remedy}.",
            source="least transmission angle 40 degrees, 30 in light duty: general machine design",
        ),
    )


def _sweep(study: MechanismStudy) -> tuple[Finding, ...]:
    turned, allowed = study.opening.sweep_deg, study.servo.sweep_deg
    if turned <= allowed:
        return ()
    if isinstance(study.linkage, CableDrive):
        radius = math.ceil(10.0 * drum_for(study.linkage, turned, allowed)) / 10.0
        remedy = f"Take a drum of {radius:.1f} mm radius or more"
    elif isinstance(study.linkage, RodLinkage):
        horn = horn_for(study.linkage, study.load, allowed)
        remedy = "Move the lid pin nearer to the hinge"
        if horn is not None:
            remedy = f"Take a horn of {horn:g} mm and cut the rod to fit"
    else:
        remedy = f"End the travel {math.ceil(turned - allowed)} degrees earlier"
    return (
        Finding(
            check=CHECK,
            severity="stop",
            what=f"The servo would have to turn {turned:.0f} degrees and turns {allowed:.0f}",
            where=at(study),
            measured=f"{turned:.0f} degrees",
            required=f"at most {allowed:.0f} degrees",
            remedy=f"{remedy}.",
            source="the servo's own sweep",
        ),
    )


def _programmed(study: MechanismStudy) -> tuple[Finding, ...]:
    move = study.move
    if study.opening.stalls or (move.speed_frac < 1.0 and move.torque_frac < 1.0):
        return ()
    return (
        Finding(
            check=CHECK,
            severity="caution",
            what=f"The servo falls behind a smooth move of {move.move_s:g} s; speeding the lid up "
            f"takes {torque_text(move.inertia_n_mm)} at the hinge",
            where=at(study),
            measured=f"{100.0 * max(move.speed_frac, move.torque_frac):.0f} % of what it can",
            required="less than 100 %",
            remedy=f"Program the move to take {1.1 * move.least_s:.1f} s or more.",
            source="straight speed-torque line; smoothest move (Flash and Hogan 1985)",
        ),
    )


def _slack(study: MechanismStudy) -> tuple[Finding, ...]:
    if not isinstance(study.linkage, CableDrive):
        return ()
    slack = study.load.closing_n_mm < 0.0
    if not slack.any():
        return ()
    angle = float(study.load.angle_deg[int(slack.argmax())])
    lacking = float(-study.load.closing_n_mm.min())
    mass = edge_mass_g(study.lid, study.hinge, study.load.angle_deg, -study.load.closing_n_mm)
    weight = f"{math.ceil(mass)} g at the free edge, or " if mass > 0.0 else ""
    return (
        Finding(
            check=CHECK,
            severity="caution",
            what=f"The lid does not fall shut by itself from {angle:.0f} degrees: the cable goes "
            "slack and the lid stays up",
            where=at(study, angle),
            measured=f"{-lacking:.0f} N mm",
            required="more than 0 N mm towards shut",
            remedy=f"Add {weight}a closing spring of {lacking:.0f} N mm, end the travel before "
            f"{angle:.0f} degrees, or use a push rod.",
            source="statics",
        ),
    )


def _hinge_pin(study: MechanismStudy) -> tuple[Finding, ...]:
    force = study.drive.hinge_pin_n
    weight = float((study.load.weight_n[0] ** 2 + study.load.weight_n[1] ** 2) ** 0.5)
    worst, allowed = int(force.argmax()), PIN_WEIGHTS * weight
    if study.drive.kind == "direct" or force[worst] <= allowed:
        return ()
    need = abs(float(study.load.opening_n_mm[worst]))
    lever = math.ceil(need / max(allowed - weight, 1e-9))
    return (
        Finding(
            check=CHECK,
            severity="caution",
            what=f"The hinge pin carries {force[worst]:.0f} N, {force[worst] / weight:.0f} times "
            "the weight of the lid: printed ears tear along their layers",
            where=at(study, float(study.drive.angle_deg[worst])),
            measured=f"{force[worst]:.1f} N",
            required=f"at most {allowed:.1f} N ({PIN_WEIGHTS:g} times the weight)",
            remedy=f"Give the link a lever of {lever} mm or more about the hinge (now "
            f"{study.drive.lid_arm_mm[worst]:.0f} mm), or print the ears lying down.",
            source="ours, no standard",
        ),
    )


def _jump(study: MechanismStudy) -> tuple[Finding, ...]:
    jump = study.jump
    return (
        Finding(
            check=CHECK,
            severity="note",
            what=f"At power-up the lid may jump {jump.lid_deg:.0f} degrees, its edge at "
            f"{jump.edge_m_s:.1f} m/s",
            where=at(study),
            measured=f"{jump.edge_m_s:.2f} m/s, {1e3 * jump.energy_j:.0f} mJ",
            required="no limit; keep hands and heads away",
            remedy="Send the command for the lid's place before the servo gets its power, with a "
            "switch in its supply lead.",
            source="20 to 30 degrees at full speed: makers' reports",
        ),
    )
