"""Solids with slots, holes, pins and thin fins whose figures are closed forms."""

import numpy as np
import rows
import solids
from manifold3d import CrossSection, Manifold
from solids import box

from buildplan.checks.beads import check_beads
from buildplan.checks.gaps import check_gaps
from buildplan.part import part_from_mesh
from buildplan.process.layers import cut_layers
from buildplan.tables import rules_for

SLOTS = (0.15, 0.2, 0.3, 0.4, 0.6, 1.0)
HOLES = (0.5, 1.0, 2.0)
PINS = (0.6, 1.0, 2.0)
FINS = (0.3, 0.4, 0.6, 0.8, 1.0, 1.2, 2.0)
RULES = rules_for(rows.feedstock())


def as_part(solid, name="part"):
    return part_from_mesh(*solids.arrays(solid), name=name, health="quick")


def gaps_of(solid, rules=RULES, **changes):
    return check_gaps(as_part(solid), rows.recipe(**changes), rules)


def beads_of(solid, bead_mm=0.45, layer_mm=0.2, **more):
    recipe = rows.recipe(bead_mm=bead_mm, layer_mm=layer_mm)
    return check_beads(cut_layers(as_part(solid), layer_mm), recipe, RULES, **more)


def bar(diameter, height, segments=48):
    return Manifold.cylinder(height, diameter / 2, diameter / 2, segments, True)


def peg(diameter, height, at, segments=48):
    """A bar that stands on a point, sunk in by 1 mm."""
    return Manifold.cylinder(height + 1.0, diameter / 2, diameter / 2, segments).translate(
        (at[0], at[1], at[2] - 1.0)
    )


def board():
    """A board of 80 x 40 x 6 mm with slots 12 mm long, round holes and pins of 48 sides."""
    body = box(80, 40, 6, (-40, -20, -3))
    for i, gap in enumerate(SLOTS):
        body -= box(gap, 12, 20, (-35 + 6 * i, 4, -10))
    for i, diameter in enumerate(HOLES):
        body -= bar(diameter, 20).translate((5 + 8 * i, 10, 0))
    for i, diameter in enumerate(PINS):
        body += bar(diameter, 10).translate((-30 + 10 * i, -10, 7))
    return body


def fins(thick=FINS, length=20.0, height=15.0):
    """Fins on a base 3 mm thick, 3 mm apart, 2 mm from its ends."""
    width = sum(thick) + 3.0 * (len(thick) - 1) + 4.0
    body, x = box(width, length, 3, (0, 0, -3)), 2.0
    for t in thick:
        body += box(t, length, height + 0.5, (x, 0, -0.5))
        x += t + 3.0
    return body


def wedge(length=60.0, thin=0.3, thick=3.0, height=30.0):
    """A wall whose thickness along y grows along x."""
    return CrossSection([[(0, 0), (length, 0), (length, thick), (0, thin)]]).extrude(height)


def ring_groove(radius, wide, deep, top):
    """What a round stroke of an engraving takes away."""
    ring = CrossSection.circle(radius, 64) - CrossSection.circle(radius - wide, 64)
    return ring.extrude(2.0 * deep).translate((0, 0, top - deep))


def engraved(wide=0.8, deep=0.6):
    """A board 4 mm thick with O, o, I and C in it."""
    o, c = ring_groove(2.5, wide, deep, 4.0), ring_groove(2.5, wide, deep, 4.0)
    letters = [
        o.translate((10, 10, 0)),
        ring_groove(4.0, wide, deep, 4.0).translate((20, 10, 0)),
        box(wide, 8, 2 * deep, (30, 6, 4 - deep)),
        (c - box(4, 2, 9, (0.5, -1, 0))).translate((35, 10, 0)),
    ]
    body = box(40, 20, 4)
    for letter in letters:
        body -= letter
    return body


def louvred():
    """A wall with straight slots and with slots whose ends are round."""
    body = box(80, 3, 40)
    for i in range(3):
        body -= box(70, 10, 2.5, (5, -2, 4 + 6 * i))
        ends = bar(2.5, 10, 32).rotate((90, 0, 0))
        slot = (ends + ends.translate((60, 0, 0))).hull()
        body -= slot.translate((10, 1, 24 + 6 * i))
    return body


def ribbed():
    body = box(60, 40, 3)
    for i in range(10):
        body += box(1.2, 40, 12, (2 + 6 * i, 0, 2.5))
    return body


def pivot(play, segments=64):
    """A pin of 4 mm in a block's hole, both in one file, not joined."""
    block = box(12, 12, 10, (-6, -6, -5)) - bar(4 + 2 * play, 30, segments)
    return bar(4, 20, segments) + block


def screw_plate():
    """Through, counterbored, blind with a drill's cone, blind flat, octagonal; and a hex socket."""
    body = box(40, 20, 10)
    body -= bar(3.4, 40).translate((6, 10, 0))
    body -= bar(3.4, 40).translate((14, 10, 0)) + bar(6.5, 8).translate((14, 10, 10))
    cone = Manifold.cylinder(0.9, 0.0, 1.5, 48).translate((22, 10, 3.1))
    body -= bar(3.0, 12).translate((22, 10, 10)) + cone
    body -= bar(3.0, 12).translate((28, 10, 10))
    body -= bar(2.5, 40, 8).translate((33, 10, 0))
    return body - bar(2.5, 40, 6).translate((37, 10, 0))


def turned(solid, quaternion, shift=(0.0, 0.0, 0.0)):
    """A part made of a solid's mesh, turned and moved as numbers (not by the solid library)."""
    w, x, y, z = np.array(quaternion) / np.linalg.norm(quaternion)
    turn = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    vertices, facets = solids.arrays(solid)
    return part_from_mesh(vertices @ turn.T + shift, facets, name="turned", health="quick")
