"""Parts on a hinge along z whose least gaps are closed forms, and random ones."""

import math

import numpy as np
import solids
from manifold3d import Manifold

from buildplan.device.clearance import Swing
from buildplan.part import part_from_mesh

ABOUT_Z = (0.0, 0.0, 1.0)


def as_part(solid, name):
    return part_from_mesh(*solids.arrays(solid), name=name, health="quick")


def swing(to_deg, from_deg=0.0, axis=ABOUT_Z, point=(0.0, 0.0, 0.0), posed_deg=0.0):
    return Swing(
        point_mm=tuple(float(x) for x in point),
        axis=tuple(float(x) for x in axis),
        from_deg=from_deg,
        to_deg=to_deg,
        posed_deg=posed_deg,
    )


def bar_past_corner(radius=31.0, at_deg=40.0):
    """A bar of 30 x 10 mm whose corner passes the corner of a block, and both closed forms."""
    bar = Manifold.cube((30.0, 10.0, 8.0)).translate((0.0, -5.0, 0.0))
    x, y = radius * math.cos(math.radians(at_deg)), radius * math.sin(math.radians(at_deg))
    block = Manifold.cube((20.0, 20.0, 8.0)).translate((x, y, 1.0))
    least = radius - math.hypot(30.0, 5.0)
    return as_part(block, "block"), as_part(bar, "bar"), least, at_deg - 9.462322208025617


def random_scene(seed):
    """A turned box somewhere near the path of another turned box."""
    rng = np.random.default_rng(seed)

    def turned(low, high):
        size, turn = rng.uniform(low, high, 3), rng.uniform(0.0, 360.0, 3)
        return Manifold.cube(tuple(size), True).rotate(tuple(turn))

    mover = turned(4.0, 30.0).translate(tuple(rng.uniform(-30.0, 30.0, 3)))
    way = rng.uniform(0.0, 2.0 * math.pi)
    away = rng.uniform(15.0, 50.0)
    block = turned(4.0, 30.0).translate(
        (away * math.cos(way), away * math.sin(way), rng.uniform(-15.0, 15.0))
    )
    axis = rng.normal(0.0, 0.3, 3) + np.array(ABOUT_Z)
    return block, mover, swing(float(rng.uniform(40.0, 200.0)), axis=axis)
