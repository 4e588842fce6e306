"""What a maker says for clearance and assembly: one dataclass a table of the build file.

Every place and direction is in the device's frame. The hinge's own table, `[mechanism.hinge]`,
holds the fields of a Swing besides others.
"""

from dataclasses import dataclass
from typing import Annotated

from buildplan.tables.limits import Within

Vector = tuple[float, float, float]
Box = tuple[float, float, float, float, float, float]

Angle = Annotated[float, Within(-720.0, 720.0)]
Reach = Annotated[float, Within(0.0, 2000.0)]
Width = Annotated[float, Within(0.05, 2000.0)]
Play = Annotated[float, Within(0.0, 20.0)]

BLADE_MM = 80.0
"""Free length of a screwdriver's blade: 60 to 100 mm (common practice, no source)."""

HANDLE_MM = 25.0
"""Diameter of a screwdriver's handle: 20 to 30 mm (common practice, no source)."""

HANDLE_LENGTH_MM = 90.0
"""Length of a screwdriver's handle (common practice, no source)."""

GRIP_MM = 15.0
"""How far a plug is drawn off before it is free (common practice, no source)."""

SLACK_MM = 0.2
"""How much a component's box is drawn in on each side, so that its seat does not count."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """The hinge that the moving parts turn about, and how far: from `[mechanism.hinge]`.

    Attributes:
        point_mm: A point on the axis.
        axis: Any length; a right-hand turn about it is positive.
        from_deg: Start of the travel.
        to_deg: End of the travel, above its start.
        posed_deg: The angle that the parts' poses show.
    """

    point_mm: Vector
    axis: Vector
    from_deg: Angle = 0.0
    to_deg: Angle
    posed_deg: Angle = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchZone:
    """`[[device.touch_zone]]`: a small cylinder in which contact is meant, as round a hinge pin.

    What of a moving part lies in it, at the pose given, is left out of the sweep.

    Attributes:
        point_mm: Middle of one end.
        end_mm: Middle of the other end.
        radius_mm: Of the cylinder.
    """

    name: str
    point_mm: Vector
    end_mm: Vector
    radius_mm: Width


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewPlace:
    """`[[device.screw]]`: a screw that a driver has to reach.

    Attributes:
        screw: Row of the table of screws ("M3").
        seat_mm: Middle of the face that the head sits on.
        axis: From the head to the tip, any length; the driver stands on the other side.
        head_mm: Diameter of the head, where it is not the row's.
        head_height_mm: Likewise.
        driver_mm: Diameter of the blade; 0 takes the key across its corners.
        blade_mm: Free length of the blade.
        handle_mm: Diameter of the handle; 0 for a bent key without one.
        handle_length_mm: Length of the handle.
        not_yet: Parts that are not there yet when it is driven.
    """

    name: str
    screw: str
    seat_mm: Vector
    axis: Vector
    head_mm: Reach = 0.0
    head_height_mm: Reach = 0.0
    driver_mm: Reach = 0.0
    blade_mm: Width = BLADE_MM
    handle_mm: Reach = HANDLE_MM
    handle_length_mm: Width = HANDLE_LENGTH_MM
    not_yet: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlugPlace:
    """`[[device.plug]]`: a connector whose plug must go in and come off.

    Attributes:
        face_mm: Middle of the face that the plug's body ends at when it is in.
        out: Direction in which the plug comes off, any length.
        high: Direction of its height, any length, square to ``out``.
        wide_mm: Width of the plug's body with its latch.
        high_mm: Height of the plug's body.
        length_mm: Length of the plug's body with the stiff part of its cable.
        travel_mm: How far it must be drawn to be free.
        not_yet: Parts that are not there yet when it is plugged in.
    """

    name: str
    face_mm: Vector
    out: Vector
    high: Vector
    wide_mm: Width
    high_mm: Width
    length_mm: Width
    travel_mm: Reach = GRIP_MM
    not_yet: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ComponentPlace:
    """`[[device.component]]`: a bought component as a box where it sits.

    Attributes:
        box_mm: (x0, y0, z0, x1, y1, z1).
        ways_in: Directions of motion while it goes in, best first; empty tries the six axes.
        slack_mm: How much the box is drawn in on each side, so that its seat does not count.
    """

    name: str
    box_mm: Box
    ways_in: tuple[Vector, ...] = ()
    slack_mm: Play = SLACK_MM
