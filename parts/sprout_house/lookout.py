"""What carries the camera and the distance sensor: mast, guard ring, cowl."""

import dimensions as d
import numpy as np
from linkage import camera_place
from manifold3d import CrossSection, Manifold
from numpy.typing import NDArray
from shapes import (
    ROUND,
    along_x,
    along_y,
    along_z,
    bar,
    box,
    disc,
    hole_pattern,
    join,
    polygon,
    round_rectangle,
)
from shell import camera_arm_bolts

NEAR_SIDE, NECK_WIDE, FOOT_WIDE = 82.0, 16.0, 42.0  # mast along y: start, neck, foot


def camera_arm() -> Manifold:
    """Curved mast astride the bay's ridge with a tray for the camera; printed on its side."""
    place = camera_place()[:3]
    roof = polygon(
        (0.0, 0.0),
        (400.0, 0.0),
        (400.0, d.CAP_END + d.RIDGE - 400),
        (d.CAP_END, d.RIDGE),
        (0.0, d.RIDGE),
    )
    neck = along_y(_neck(), (NEAR_SIDE, NEAR_SIDE + NECK_WIDE)) - along_y(roof, (0.0, 200.0))
    foot = along_y(_saddle(), (NEAR_SIDE, NEAR_SIDE + FOOT_WIDE))
    tray = along_z(round_rectangle((-18.0, 18.0), (-16.0, 16.0), 4.0), (0.0, 11.0))
    room = along_z(round_rectangle((-16.0, 16.0), (-14.0, 22.0), 2.0), (2.4, 12.0))
    corners = hole_pattern((0.0, 0.0), d.CAMERA_HOLES)
    posts = [along_z(disc(at, 2.6), (1.0, 5.0)).transform(place) for at in corners]
    holes = [along_z(disc(at, 0.8), (0.8, 6.0)) for at in corners]
    holes.append(along_z(disc((0.0, 0.0), 7.5), (-20.0, 12.0)))
    body = neck + foot + tray.transform(place) - room.transform(place)
    bored = join([body, *posts]) - join(holes).transform(place)
    return bored - join(camera_arm_bolts())


def _mast_line() -> NDArray[np.float64]:
    """Middle of the mast in (x, z): a cubic curve from the ridge to behind the camera."""
    place = camera_place()
    out = place[[0, 2], 0]
    head = d.CAMERA[[0, 2]] + 5.5 * place[[0, 2], 2]
    control = np.array([(229.0, d.RIDGE), (233.0, d.RIDGE + 52), head + 62 * out, head + 16 * out])
    t = np.linspace(0.0, 1.0, 33)[:, None]
    weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
    line: NDArray[np.float64] = sum(w * c for w, c in zip(weights, control, strict=True))
    return line


def _neck() -> CrossSection:
    """Mast with a flared root and three eyes for cable ties, in (x, z)."""
    line = _mast_line()
    half = np.linspace(7.8, 4.6, len(line))
    neck = CrossSection()
    for i in range(len(line) - 1):
        neck += bar(line[i], line[i + 1], half[i], half[i + 1])
    for step, joint in ((0, 3), (1, 6)):
        high = d.RIDGE + 5 * (1 + step)
        root = polygon(
            (214.0 + 2 * step, d.RIDGE),
            (d.CAP_END + 4, d.RIDGE - 4),
            (d.CAP_END, high),
            (216.0, high),
        )
        neck += CrossSection.batch_hull([disc(line[joint], half[joint]), root])
    for i in (8, 14, 20):
        neck -= disc(line[i], 2.0)
    return neck


def _saddle() -> CrossSection:
    """Foot that lies on the flat ridge and down the 45 deg roof, in (x, z)."""
    return polygon(
        (214.0, d.RIDGE),
        (d.CAP_END, d.RIDGE),
        (256.0, d.RIDGE - 18),
        (259.5, d.RIDGE - 14.5),
        (d.CAP_END + 2, d.RIDGE + 5),
        (214.0, d.RIDGE + 5),
    )


def camera_ring() -> Manifold:
    """Clear guard ring, pushed into the tray from the front: vat photopolymerization."""
    rim = along_z(disc((0.0, 0.0), 14.0), (-3.2, 0.0))
    collar = along_z(disc((0.0, 0.0), 7.5 - d.PLAY), (-1.0, 2.4))
    bore = along_z(disc((0.0, 0.0), 5.0), (-5.0, 5.0))
    flare = Manifold.cylinder(2.2, 9.5, 5.0, ROUND).translate((0.0, 0.0, -3.3))
    return (rim + collar - bore - flare).transform(camera_place()[:3])


def _hood(half: float, flare: float, low: float, high: float) -> Manifold:
    """Hood that widens downward around the sensor."""
    mid_x, y = d.PARTITION - d.COWL_OUT, d.COWL_Y
    wide = half + flare
    return Manifold.batch_hull(
        [
            box((mid_x - half, mid_x + half), (y - half, y + half), (d.COWL_TOP - 10, high)),
            box((mid_x - wide, mid_x + wide), (y - wide, y + wide), (low, low + 1)),
        ]
    )


def sensor_cowl() -> Manifold:
    """Shade over the distance sensor, held out over the bed; printed upside down."""
    y, top, wall, mid_x = d.COWL_Y, d.COWL_TOP, d.PARTITION, d.PARTITION - d.COWL_OUT
    plate = round_rectangle((y - 22, y + 22), (top - 18, top), 3.0)
    square_top = polygon((y - 22, top - 9), (y + 22, top - 9), (y + 22, top), (y - 22, top))
    flange = along_x(plate + square_top, (wall - 3, wall))
    neck_y = (y - 7, y + 7)
    brace = polygon((wall - 12, top - 3), (wall - 1, top - 15), (wall - 1, top - 3))
    neck = box((mid_x + 8, wall - 1), neck_y, (top - 6, top)) + along_y(brace, neck_y)
    hood = flange + _hood(14.0, 3.0, top - 24, top) + neck - _hood(12.0, 3.0, top - 25, top - 2.4)
    pegs = [
        along_z(disc((mid_x + side, y + side), 1.3), (top - 5, top - 2)) for side in (-8.0, 8.0)
    ]
    cable = box((mid_x, wall + 1), (y - 2, y + 2), (top - 4.6, top - 2.4))
    bores = [
        along_x(disc((y + side, top - 9), d.SCREW_HOLE / 2), (wall - 4, wall + 1))
        for side in d.COWL_SCREWS
    ]
    return join([hood, *pegs]) - join([*bores, cable])
