"""Small solids for tests, as (vertices_mm (n, 3), facets (m, 3)) made by manifold3d."""

import numpy as np
from manifold3d import CrossSection, Manifold, OpType


def arrays(solid):
    """Vertices and facets of a manifold3d solid."""
    mesh = solid.to_mesh64()
    return np.array(mesh.vert_properties[:, :3]), np.array(mesh.tri_verts, dtype=np.int64)


def box(x=20.0, y=20.0, z=20.0, at=(0.0, 0.0, 0.0)):
    return Manifold.cube((x, y, z)).translate(at)


def sphere(radius=20.0, segments=256):
    return Manifold.sphere(radius, segments).translate((0.0, 0.0, radius))


def tube(outer=30.0, inner=27.0, height=10.0, segments=256):
    ring = CrossSection.circle(outer, segments) - CrossSection.circle(inner, segments)
    return ring.extrude(height)


def tee(foot=6.0, foot_height=20.0, top=30.0, top_height=4.0):
    """A square top on a square foot: the classic overhang, T-shaped from every side."""
    return box(foot, foot, foot_height, (-foot / 2, -foot / 2, 0.0)) + box(
        top, top, top_height, (-top / 2, -top / 2, foot_height)
    )


def tub(segments=320):
    """The benchmark's shell: curved tub of 280 x 120 mm, 3 mm wall, with bosses, rim, vents, slots.

    segments 320 gives about 25 000 triangles, 1024 about 200 000, 2300 about 1 000 000.
    """
    profile, small = max(9, segments * 46 // 1024), max(24, segments // 12)
    body = _bowl(profile, segments)
    rim = Manifold.cylinder(6.0, 140.0, 140.0, segments) - Manifold.cylinder(
        8.0, 131.0, 131.0, segments
    ).translate((0.0, 0.0, -1.0))
    adds = [body, rim.translate((0.0, 0.0, 114.0))]
    cuts = [
        Manifold.cylinder(80.0, 12.0, 12.0, 2 * small).rotate((0, 90, 0)).translate((90, 0, 95))
    ]
    for turn in range(6):
        boss = Manifold.cylinder(20.0, 4.0, 4.0, small).translate((50.0, 0.0, 2.0))
        pilot = Manifold.cylinder(18.0, 1.4, 1.4, small).translate((50.0, 0.0, 5.0))
        adds.append(boss.rotate((0, 0, 60.0 * turn)))
        cuts.append(pilot.rotate((0, 0, 60.0 * turn)))
    for turn in range(8):
        hole = Manifold.cylinder(10.0, 1.5, 1.5, small).translate((135.0, 0.0, 112.0))
        cuts.append(hole.rotate((0, 0, 45.0 * turn + 11.5)))
    for turn in range(24):
        cuts += [
            Manifold.cube((60.0, 3.0, 12.0), True)
            .translate((118, 0, z))
            .rotate((0, 0, 15.0 * turn))
            for z in (55, 75)
        ]
    for turn in range(12):
        slot = Manifold.cube((20.0, 2.5, 10.0), True).translate((22.0, 0.0, 0.0))
        cuts.append(slot.rotate((0, 0, 30.0 * turn)))
    whole = Manifold.batch_boolean(adds, OpType.Add)
    return Manifold.batch_boolean([whole, *cuts], OpType.Subtract)


def _bowl(profile, segments):
    turn = np.linspace(0.0, np.pi / 2, profile)
    radius = 70.0 + 70.0 * np.sin(turn) ** 0.8
    rise = (1.0 - np.cos(turn)) ** 0.9
    outer = np.column_stack((radius, 120.0 * rise))
    inner = np.column_stack((radius - 3.0, 3.0 + 117.0 * rise))
    outline = np.vstack(([[0.0, 0.0]], outer, inner[::-1], [[0.0, 3.0]]))
    return Manifold.revolve(CrossSection([outline]), segments)
