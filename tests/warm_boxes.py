"""Boxes with warm parts in them, for the tests of heat."""

from buildplan.device.heat.box import Box, Openings, Wall, WarmPart, square_length_mm

DEMO_WALLS = (
    Wall(face="up", area_mm2=22280.0, length_mm=square_length_mm(22280.0)),
    Wall(face="side", area_mm2=30130.0, length_mm=110.0),
    Wall(face="down", area_mm2=17250.0, length_mm=square_length_mm(17250.0)),
)
DEMO_PARTS = (
    WarmPart(name="computer", area_mm2=19200.0, limit_c=85.0),
    WarmPart(name="converters", area_mm2=3660.0, limit_c=85.0),
    WarmPart(name="small boards", area_mm2=2600.0, limit_c=85.0),
    WarmPart(name="servo", area_mm2=6000.0, limit_c=65.0),
)
DEMO_W = {"computer": 7.5, "converters": 0.95, "small boards": 0.3, "servo": 0.06}
VENTS = Openings(low_mm2=2604.0, high_mm2=1275.0, rise_mm=68.0)


SHUT = Openings()


def demo_box(conductivity=0.2, openings=SHUT):
    return Box(
        walls=DEMO_WALLS,
        wall_mm=3.0,
        conductivity_w_mk=conductivity,
        openings=openings,
        air_mm3=1.48e6,
    )


def plain_box(wide=150.0, deep=100.0, high=60.0, **more):
    """A box of six walls by its outer sizes, all of them in free air."""
    level, edge = wide * deep, 2.0 * (wide + deep)
    walls = (
        Wall(face="up", area_mm2=level, length_mm=level / edge),
        Wall(face="side", area_mm2=edge * high, length_mm=high),
        Wall(face="down", area_mm2=level, length_mm=level / edge),
    )
    usual = {"walls": walls, "wall_mm": 3.0, "conductivity_w_mk": 0.2}
    return Box(**(usual | more))
