"""The small moving parts: push rod, servo arm, hinge pin."""

import dimensions as d
import numpy as np
from linkage import crank_and_pins, from_hinge
from manifold3d import CrossSection, Manifold
from shapes import along_x, bar, box, disc


def push_rod() -> Manifold:
    """Coupler between servo arm and roof: two eyes and a slotted bar."""
    _, crank_pin, roof_pin = crank_and_pins(0.0)
    low, high = from_hinge(crank_pin), from_hinge(roof_pin)
    way = (high - low) / np.linalg.norm(high - low)
    flat = disc(low, 5.5) + disc(high, 5.5) + bar(low, high, 4.2)
    slot = bar(low + 14 * way, high - 14 * way, 1.6)
    bores = disc(low, d.SCREW_HOLE / 2) + disc(high, d.SCREW_HOLE / 2)
    return along_x(flat - slot - bores, d.ROD_X)


def servo_arm() -> Manifold:
    """Crank on the servo's round horn: centre bore, four horn screws, crank pin."""
    _, crank_pin, _ = crank_and_pins(0.0)
    end = from_hinge(crank_pin)
    way = (end - d.SERVO) / d.CRANK
    side = np.array([-way[1], way[0]])
    hub = CrossSection.batch_hull([disc(d.SERVO, 12.5), disc(d.SERVO + 20 * way, 7.0)])
    flat = hub + bar(d.SERVO + 10 * way, end, 6.5, 5.5)
    holes = disc(d.SERVO, 3.5) + disc(end, d.SCREW_HOLE / 2)
    for direction in (way, -way, side, -side):
        holes += disc(d.SERVO + 8 * direction, 1.0)
    return along_x(flat - holes, d.CRANK_X)


def hinge_pin(station: int = 0) -> Manifold:
    """Headed pin of one hinge station, with a flat to print on."""
    half = d.MIDDLE_KNUCKLE / 2 + d.KNUCKLE_GAP + d.OUTER_KNUCKLE
    start = d.STATIONS[station] - half - 0.3
    long = 2 * half + 3
    shank = along_x(disc(d.AXIS, d.PIN / 2), (start - 1, start + long))
    head = along_x(disc(d.AXIS, 4.2), (start - 2.8, start))
    above_flat = box(
        (start - 9, start + long + 9),
        (d.AXIS[0] - 9, d.AXIS[0] + 9),
        (d.AXIS[1] - 1.75, d.AXIS[1] + 9),
    )
    return (shank + head) ^ above_flat
