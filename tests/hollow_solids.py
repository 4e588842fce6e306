"""Hollow solids of known inside, as manifold3d bodies; z points away from the platform."""

import math

import solids
from manifold3d import Manifold

BOX_MM3 = 36.0**3
CUP_MM3 = 24.0 * 24.0 * 17.0


def drill(diameter, start, direction, length, segments=32):
    """A round bore from a point along an axis or any direction."""
    x, y, z = direction
    flat = (x * x + y * y) ** 0.5
    bore = Manifold.cylinder(length, diameter / 2, diameter / 2, segments)
    bore = bore.rotate((0.0, math.degrees(math.atan2(flat, z)), 0.0))
    bore = bore.rotate((0.0, 0.0, math.degrees(math.atan2(y, x))))
    return bore.translate(tuple(start))


def hollow_box():
    """A 40 mm cube with 2 mm walls: a closed cavity of 36 mm."""
    return solids.box(40, 40, 40) - solids.box(36, 36, 36, (2, 2, 2))


def bottom_drain(diameter=3.0):
    return hollow_box() - drill(diameter, (20, 20, -4), (0, 0, 1), 10)


def top_drain(diameter=3.0):
    return hollow_box() - drill(diameter, (20, 20, 34), (0, 0, 1), 10)


def side_drain(diameter=3.0):
    return hollow_box() - drill(diameter, (-4, 20, 20), (1, 0, 0), 10)


def cup_up():
    """A cup that opens away from the platform, toward the film."""
    return solids.box(30, 30, 20) - solids.box(24, 24, 17, (3, 3, 3))


def cup_down():
    """A cup whose mouth stands on the platform."""
    return solids.box(30, 30, 20) - solids.box(24, 24, 17, (3, 3, 0))


def chambers(join):
    """A box of two chambers, 16 x 16 x 16 and 17 x 16 x 16, joined by a hole or not."""
    both = solids.box(40, 20, 20) - solids.box(16, 16, 16, (2, 2, 2))
    both -= solids.box(17, 16, 16, (21, 2, 2))
    return both - drill(4.0, (16, 10, 10), (1, 0, 0), 6) if join else both


def labyrinth():
    """A closed box with two baffles: 56 x 16 x 16 less 2 of 2 x 16 x 12."""
    body = solids.box(60, 20, 20) - solids.box(56, 16, 16, (2, 2, 2))
    return body + solids.box(2, 16, 12, (20, 2, 2)) + solids.box(2, 16, 12, (40, 2, 6))


def fins():
    """A base with seven upright fins."""
    body = solids.box(40, 20, 3)
    for turn in range(7):
        body += solids.box(1, 20, 10, (1.5 + 6 * turn, 0, 3))
    return body


def upside_down(solid):
    return solid.rotate((180, 0, 0))
