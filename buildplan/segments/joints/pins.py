"""Pins: bought dowels or wire in round holes on both sides of a cut."""

import math
from typing import TYPE_CHECKING

from buildplan.errors import NoPlanError
from buildplan.segments.joints.draft import Draft, Halves, one_of
from buildplan.segments.joints.model import LEAK_MM3, BoughtPiece, JointSpec
from buildplan.segments.joints.region import place_points
from buildplan.segments.joints.strips import glue_for
from buildplan.segments.solid import checked

if TYPE_CHECKING:
    from manifold3d import Manifold

SIDES = 48
END_MM = 0.5
"""Free room at the end of each hole, for glue and trapped air (ours)."""

PLACE_SLACK_MM = 0.02
"""Holes are placed this much further inside than the wall asks (offsets are polygons)."""

WIRE_BELOW_MM = 2.0
"""Thinner pins are cut from spring-steel wire."""


def draft_pins(halves: Halves, spec: JointSpec) -> Draft:
    """Holes square to the plane, each keeping its wall over the whole depth on both sides.

    A pin keeps the wall w over its length exactly where a disc of radius r + w lies in the safe
    region of that depth.

    Raises:
        NoPlanError: No place is wide enough; the message names the thickest pin that would fit.
    """
    radius = hole_radius(spec)
    reach = spec.depth_mm + END_MM + spec.wall_mm
    outline = halves.safe(reach, reach)
    keep = radius + spec.wall_mm + PLACE_SLACK_MM
    points = place_points(outline, keep, spec.count, spec.spacing_mm)
    if not len(points):
        widest = halves.inscribed(reach, reach)
        thickest = 2.0 * (widest - spec.wall_mm - spec.clearance_mm - PLACE_SLACK_MM)
        thickest -= spec.hole_extra_mm
        advice = (
            f"a pin of {thickest:.1f} mm would fit"
            if thickest >= 0.5
            else "no pin fits; glue the faces or bolt inner tabs"
        )
        raise NoPlanError(
            f"{halves.name}: largest inscribed radius {widest:.2f} mm, this pin needs "
            f"{keep:.2f} mm ({spec.size_mm:g} mm, {spec.clearance_mm:g} mm of gap, "
            f"{spec.wall_mm:g} mm of wall); {advice}"
        )
    length = 2.0 * (spec.depth_mm + END_MM)
    places = [(float(x), float(y)) for x, y in points]
    holes = one_of([_rod(length, radius, place) for place in places], halves.name)
    pins = tuple(_rod(2.0 * spec.depth_mm, spec.size_mm / 2.0, place, 96) for place in places)
    guards = tuple(
        _rod(length + 2.0 * spec.wall_mm, radius + spec.wall_mm, place) for place in places
    )
    return Draft(
        above=checked(halves.above - holes, halves.name),
        below=checked(halves.below - holes, halves.name),
        put_in=pins,
        guards=guards,
        material=halves.near,
        leak_limit_mm3=LEAK_MM3,
        removed_mm3=checked(holes ^ halves.near, halves.name).volume(),
        added_mm3=0.0,
        clearance_mm=spec.clearance_mm,
        points=tuple(places),
        loose=(),
        bought=(_bought(spec, len(places)), glue_for(halves)),
        added=None,
    )


def hole_radius(spec: JointSpec) -> float:
    """Radius to draw: half the pin, the gap, and half of what printed holes lose."""
    return spec.size_mm / 2.0 + spec.clearance_mm + spec.hole_extra_mm / 2.0


def _rod(
    length: float, radius: float, place: tuple[float, float], sides: int = SIDES
) -> "Manifold":
    """A rod across the plane; holes and guards are drawn around the circle, so never too small."""
    from manifold3d import Manifold

    drawn = radius / math.cos(math.pi / sides) if sides == SIDES else radius
    return Manifold.cylinder(length, drawn, drawn, sides, True).translate((*place, 0.0))


def _bought(spec: JointSpec, count: int) -> BoughtPiece:
    length = 2.0 * spec.depth_mm
    if spec.size_mm < WIRE_BELOW_MM:
        return BoughtPiece(
            item=f"spring-steel wire {spec.size_mm:g} mm",
            quantity=round(count * length / 1000.0, 3),
            unit="m",
        )
    return BoughtPiece(item=f"dowel pin {spec.size_mm:g} x {length:g} mm", quantity=float(count))
