"""How the lid, the horn and the rod stand at every angle of the travel, as poses in the device."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from buildplan.device.chain.shape import COUPLER, HINGE, SERVO
from buildplan.device.clearance.rod import pins_in_device
from buildplan.device.mechanism.lid import HingeFrame
from buildplan.device.mechanism.rod import Floats, RodLinkage, poses_of
from buildplan.device.mechanism.study import MechanismStudy
from buildplan.device.view.scene import hinge_pose

STEPS = 13
"""Angles of the travel at which poses are made for views and pictures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """The moving groups of a device over the travel of its lid.

    Attributes:
        angle_deg: (n,) of the lid.
        poses: (n, 4, 4) from rest for each moving group.
        horn_deg: (n,) turn of the horn from rest; empty without a rod.
        rod_deg: (n,) turn of the rod from rest; likewise.
        tip_mm: (n, 2) pin in the horn, in the plane of the hinge; likewise.
        pin_mm: (n, 2) pin in the lid; likewise.
    """

    angle_deg: Floats
    poses: Mapping[str, Floats]
    horn_deg: Floats
    rod_deg: Floats
    tip_mm: Floats
    pin_mm: Floats


def motion_of(frame: HingeFrame, study: MechanismStudy, *, steps: int = STEPS) -> Motion:
    """Poses over the travel that a drive reaches.

    A right-hand turn about the hinge's axis turns forward to up, so every angle in the plane of
    the hinge is a right-hand turn about that axis too.

    Args:
        frame: Of the hinge.
        study: Of the drive.
        steps: How many angles.
    """
    reached = study.drive.angle_deg
    angle = np.linspace(float(reached[0]), float(reached[-1]), steps)
    lid = np.stack([hinge_pose(frame.point_mm, frame.axis, value) for value in angle])
    none = np.empty(0)
    if not isinstance(study.linkage, RodLinkage):
        return Motion(
            angle_deg=angle,
            poses={HINGE: lid},
            horn_deg=none,
            rod_deg=none,
            tip_mm=np.empty((0, 2)),
            pin_mm=np.empty((0, 2)),
        )
    linkage = study.linkage
    rest, now = poses_of(linkage, np.zeros(1)), poses_of(linkage, angle)
    horn = np.degrees(now.horn_rad - rest.horn_rad[0])
    horn -= 360.0 * np.round(horn[0] / 360.0)
    rod = turn_of(now.pin_mm - now.tip_mm, rest.pin_mm[0] - rest.tip_mm[0])
    servo = _device(frame, np.array([linkage.servo_mm]))[0]
    return Motion(
        angle_deg=angle,
        poses={
            HINGE: lid,
            SERVO: np.stack([hinge_pose(servo, frame.axis, value) for value in horn]),
            COUPLER: _rod_poses(frame, rod, rest.pin_mm[0], now.pin_mm),
        },
        horn_deg=horn,
        rod_deg=rod,
        tip_mm=now.tip_mm,
        pin_mm=now.pin_mm,
    )


def turn_of(vectors: Floats, rest: Floats) -> Floats:
    """Degrees by which each of (n, 2) vectors is turned from another, without jumps."""
    angle = np.arctan2(vectors[:, 1], vectors[:, 0]) - math.atan2(rest[1], rest[0])
    found = np.degrees(np.unwrap(angle))
    return np.asarray(found - 360.0 * np.round(found[0] / 360.0), dtype=np.float64)


def _device(frame: HingeFrame, points: Floats) -> Floats:
    return pins_in_device(frame, points, along_mm=0.0)


def _rod_poses(frame: HingeFrame, turn_deg: Floats, rest_pin: Floats, pins: Floats) -> Floats:
    """The rod turned about its pin at rest, then carried to where the pin is."""
    start, places = _device(frame, rest_pin[None])[0], _device(frame, pins)
    stack = []
    for turn, place in zip(turn_deg, places, strict=True):
        pose = hinge_pose(start, frame.axis, float(turn))
        pose[:3, 3] += place - start
        stack.append(pose)
    return np.stack(stack)
