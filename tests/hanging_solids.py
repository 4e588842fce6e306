"""Solids that hang, with recipes that give closed forms, for the support tests."""

import numpy as np
import rows
import solids
from manifold3d import CrossSection, Manifold

from buildplan.part import part_from_mesh
from buildplan.process.layers import cut_layers
from buildplan.process.supports import plan_supports

PLAIN = {
    "layer_mm": 0.2,
    "bead_mm": 0.5,
    "supports": True,
    "overhang_limit_deg": 45.0,
    "bridge_limit_mm": 0.0,
    "support_frac": 0.15,
    "support_gap_layers": 0,
    "support_clearance_mm": 0.0,
    "support_face_layers": 0,
    "support_least_mm2": 0.0,
}
USUAL = PLAIN | {
    "bead_mm": 0.45,
    "bridge_limit_mm": 10.0,
    "support_gap_layers": 1,
    "support_clearance_mm": 0.8,
    "support_face_layers": 3,
    "support_least_mm2": 2.0,
}


def as_part(solid, name="part"):
    return part_from_mesh(*solids.arrays(solid), name=name, health="quick")


def block(x0, y0, z0, x1, y1, z1):
    return solids.box(x1 - x0, y1 - y0, z1 - z0, (x0, y0, z0))


def plan(solid, settings=PLAIN, *, workers=1, **changes):
    """Layers and supports of a solid by the plain settings, with changes."""
    recipe = rows.recipe(**(settings | changes))
    layers = cut_layers(as_part(solid), recipe.layer_mm)
    return layers, plan_supports(layers, recipe, workers=workers)


def volume(solid, settings=PLAIN, **changes):
    return plan(solid, settings, **changes)[1].column_volume_mm3


def table():
    """A top of 40 x 40 mm on four legs of 4 x 4 x 20 mm."""
    body = block(-20, -20, 20, 20, 20, 23)
    for x in (-20, 16):
        for y in (-20, 16):
            body += block(x, y, 0, x + 4, y + 4, 20)
    return body


def beam():
    """A beam 10 mm wide that spans 8 mm along x between two blocks 10 mm high."""
    return block(-14, -5, 0, -4, 5, 10) + block(4, -5, 0, 14, 5, 10) + block(-14, -5, 10, 14, 5, 13)


def arm():
    """An arm 24 mm long, 6 wide, 12 mm above its own foot of 30 x 30 mm."""
    return (
        block(-15, -15, 0, 15, 15, 4) + block(-15, -3, 4, -9, 3, 16) + block(-15, -3, 16, 15, 3, 18)
    )


def wedge(lean_deg):
    """A block 30 mm deep whose right side leans out along x, 10 mm high."""
    out = 10.0 * np.tan(np.radians(lean_deg))
    corners = np.array([[0.0, 0.0], [10.0, 0.0], [10.0 + out, 10.0], [0.0, 10.0]])
    return CrossSection([corners]).extrude(30.0).rotate((90, 0, 0))


def cone(lean_deg, segments=128):
    """A cone that widens upwards from 5 mm radius over 10 mm of height."""
    return Manifold.cylinder(10.0, 5.0, 5.0 + 10.0 * np.tan(np.radians(lean_deg)), segments)


def ball():
    return solids.sphere(segments=96)


def small_tub():
    return solids.tub(segments=160).scale((0.3, 0.3, 0.2))
