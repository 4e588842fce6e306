"""Solids whose thin area is known in closed form, for the checks of walls, and their parts."""

import math

import numpy as np
import solids
from manifold3d import CrossSection, Manifold

from buildplan.part import part_from_mesh


def as_part(solid, name="part", health="quick"):
    return part_from_mesh(*solids.arrays(solid), name=name, health=health)


def hollow_box(wall_mm, side_mm=40.0):
    inner = side_mm - 2.0 * wall_mm
    return solids.box(side_mm, side_mm, side_mm) - solids.box(
        inner, inner, inner, (wall_mm, wall_mm, wall_mm)
    )


def hollow_box_area(wall_mm, limit_mm, side_mm=40.0):
    """Area of both sides whose ball is below a limit that is at least the wall.

    All of the cavity; outside, the cavity's square grown by x with x^2 = wall (limit - wall): there
    the ball touches the cavity's edge.
    """
    inner = side_mm - 2.0 * wall_mm
    x = math.sqrt(wall_mm * (limit_mm - wall_mm))
    return 6.0 * (2.0 * inner**2 + 4.0 * inner * x + math.pi * x * x)


def prism(corners, length_mm):
    """An outline in x and z, drawn out along y."""
    return CrossSection([np.array(corners)]).extrude(length_mm).rotate((90, 0, 0))


def taper(thin_mm=0.3, thick_mm=3.0, long_mm=60.0, high_mm=30.0):
    """A wall that gets thicker along x, flat below."""
    return prism([[0, 0], [long_mm, 0], [long_mm, thick_mm], [0, thin_mm]], high_mm)


def taper_area(limit_mm, thin_mm=0.3, thick_mm=3.0, long_mm=60.0, high_mm=30.0):
    """Area of both faces below a limit: the ball's diameter is 2 s tan(half the angle), with s the
    distance from the line in which the faces would meet."""
    slope = (thick_mm - thin_mm) / long_mm
    to_line = thin_mm / slope
    reach = limit_mm / (2.0 * math.tan(0.5 * math.atan(slope)))
    leaning_start = math.hypot(to_line, thin_mm)
    return high_mm * ((reach - to_line) + (reach - leaning_start))


def knife(angle_deg, long_mm=20.0, wide_mm=20.0):
    rise = wide_mm * math.tan(math.radians(angle_deg))
    return prism([[0, 0], [wide_mm, 0], [wide_mm, rise]], long_mm)


def knife_area(angle_deg, limit_mm, long_mm=20.0):
    """Area of both faces of an edge where the ball is below a limit."""
    return 2.0 * long_mm * 0.5 * limit_mm / math.tan(math.radians(0.5 * angle_deg))


FINS_MM = (0.3, 0.4, 0.6, 0.8, 1.0, 1.2, 2.0)


def fins(long_mm=20.0, high_mm=15.0, gap_mm=3.0):
    """Upright fins of FINS_MM along x on a base 3 mm thick."""
    wide = sum(FINS_MM) + gap_mm * (len(FINS_MM) - 1) + 4.0
    body, x = solids.box(wide, long_mm, 3.0, (0.0, 0.0, -3.0)), 2.0
    for fin in FINS_MM:
        body += solids.box(fin, long_mm, high_mm + 1.0, (x, 0.0, -1.0))
        x += fin + gap_mm
    return body


def fins_area(limit_mm, long_mm=20.0, high_mm=15.0):
    return 2.0 * long_mm * high_mm * sum(1 for fin in FINS_MM if fin < limit_mm)


def pin(diameter_mm=1.0, high_mm=10.0, segments=64):
    """A pin on a block."""
    return solids.box(12, 12, 3, (-6, -6, -3)) + Manifold.cylinder(
        high_mm + 1.0, 0.5 * diameter_mm, 0.5 * diameter_mm, segments
    ).translate((0, 0, -1))


def hollow_sphere(radius_mm=30.0, wall_mm=1.0, segments=256):
    return Manifold.sphere(radius_mm, segments) - Manifold.sphere(radius_mm - wall_mm, segments)


def slotted(slots_mm=(0.15, 0.2, 0.3, 0.4, 0.6, 1.0)):
    """A block 80 x 40 x 6 mm with slots 12 mm long, holes of 0.5, 1, 2, 3 mm and as many pins."""
    body = Manifold.cube((80, 40, 6), True)
    for i, slot in enumerate(slots_mm):
        body -= Manifold.cube((slot, 12, 20), True).translate((-35 + i * 6, 10, 0))
    for i, d in enumerate((0.5, 1.0, 2.0, 3.0)):
        body -= Manifold.cylinder(20, d / 2, d / 2, 48, True).translate((5 + i * 8, 10, 0))
    for i, d in enumerate((0.6, 1.0, 2.0, 4.0)):
        body += Manifold.cylinder(10, d / 2, d / 2, 48, True).translate((-30 + i * 10, -10, 7))
    return body
