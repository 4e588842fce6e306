"""Bodies, cameras and brute-force rays for the tests of views."""

import bare_parts
import numpy as np
import solids
from manifold3d import Manifold

from buildplan.device.view.scene import Body, build_scene
from buildplan.device.view.shape import Camera, DistanceSensor

SQUARE = ((-100.0, -100.0, 0.0), (100.0, -100.0, 0.0), (100.0, 100.0, 0.0), (-100.0, 100.0, 0.0))
DOWN = (0.0, 0.0, -1.0)


def body(solid, name="body", **fields):
    return Body(name=name, part=bare_parts.bare_part(*solids.arrays(solid), name=name), **fields)


def plate(wide, deep, middle, name="plate", thick=1e-4, **fields):
    """A thin level plate round a middle."""
    solid = Manifold.cube((wide, deep, thick), True).translate(middle)
    return body(solid, name, **fields)


def disc(radius, height, name="disc", segments=2048):
    """A thin level disc on the z axis; its area is that of the circle to 2e-6."""
    return body(Manifold.cylinder(1e-4, radius, radius, segments).translate((0, 0, height)), name)


def scene(*bodies):
    return build_scene(bodies)


def camera(**changes):
    fields = {
        "point_mm": (0.0, 0.0, 100.0),
        "look": DOWN,
        "wide_deg": 120.0,
        "high_deg": 120.0,
        "target_mm": SQUARE,
        **changes,
    }
    return Camera(**fields)


def sensor(**changes):
    fields = {
        "point_mm": (0.0, 0.0, 100.0),
        "look": DOWN,
        "cone_deg": 40.0,
        "far_mm": 1000.0,
        "soil_z_mm": 0.0,
        **changes,
    }
    return DistanceSensor(**fields)


def random_turn(seed):
    """A rotation, evenly spread, and a shift: (3, 3) and (3,)."""
    rng = np.random.default_rng(seed)
    turn, upper = np.linalg.qr(rng.normal(size=(3, 3)))
    turn *= np.sign(np.diag(upper))
    if np.linalg.det(turn) < 0:
        turn[:, 0] *= -1
    return turn, rng.uniform(-300, 300, 3)


def turned(body_, turn, shift):
    """The same body, rotated and shifted."""
    part = bare_parts.bare_part(
        body_.part.vertices_mm @ turn.T + shift, body_.part.facets, name=body_.name
    )
    return Body(name=body_.name, part=part, moves_with=body_.moves_with, clear=body_.clear)


def brute_first(bodies, point, rays):
    """Distance to the first facet of all, and whose it is, by trying every facet for every ray."""
    distance, which = np.full(len(rays), np.inf), np.full(len(rays), -1)
    for number, one in enumerate(bodies):
        a, b, c = (one.part.vertices_mm[one.part.facets[:, i]] for i in range(3))
        u, v, s = b - a, c - a, point - a
        q = np.cross(s, u)
        for i, ray in enumerate(rays):
            p = np.cross(ray, v)
            det = (u * p).sum(axis=1)
            with np.errstate(divide="ignore", invalid="ignore"):
                along = (s * p).sum(axis=1) / det
                across = (q @ ray) / det
                far = (v * q).sum(axis=1) / det
            hit = (det != 0) & (along >= 0) & (across >= 0) & (along + across <= 1) & (far >= 0)
            if hit.any() and far[hit].min() < distance[i]:
                distance[i], which[i] = far[hit].min(), number
    return distance, which
