"""The raw outward offset, read with winding > 0, against a polygon library."""

import numpy as np
import pytest
import shapely
from shapely.geometry.polygon import orient

from buildplan.kernels.dilate import dilate_rings
from buildplan.kernels.scan import scan_lines_wound

PITCH = 0.05


def star(rng, points=14, low=4.0, high=10.0, at=(0.0, 0.0)):
    """A closed curve around a point with random radii: sharp corners of both kinds."""
    turn = np.sort(rng.uniform(0, 2 * np.pi, points))
    radius = rng.uniform(low, high, points)
    xy = np.column_stack((radius * np.cos(turn), radius * np.sin(turn))) + at
    return shapely.make_valid(shapely.Polygon(xy))


def shapes(seed):
    """A few random polygons with holes that do not overlap."""
    rng = np.random.default_rng(seed)
    body = star(rng).union(star(rng, at=(14.0, 3.0)))
    body = body.difference(star(rng, low=1.0, high=3.5))
    body = body.difference(shapely.box(12.0, 2.0, 12.3, 5.0))
    return [orient(p) for p in shapely.get_parts(body) if p.geom_type == "Polygon"]


def grown(polygons, distance):
    rings = [np.array(r.coords)[:-1] for p in polygons for r in (p.exterior, *p.interiors)]
    xy = np.concatenate(rings)
    off = np.concatenate([[0], np.cumsum([len(r) for r in rings])]).astype(np.int64)
    xy.flags.writeable = False
    off.flags.writeable = False
    return dilate_rings(
        xy,
        off,
        np.array([0]),
        np.array([len(rings)]),
        np.array([distance]),
        np.ones(len(rings), np.uint8),
    )


def lines(xy, ring_off, rows):
    """Length on every line, and the spans as shapely lines."""
    xy.flags.writeable = False
    ring_off.flags.writeable = False
    off, cross = scan_lines_wound(xy, ring_off, rows, np.arange(1), 1.0, 0.0, PITCH, -600.0, 1200)
    y = (np.arange(1200) - 599.5) * PITCH
    return off, cross, y


@pytest.mark.parametrize("distance", [0.05, 0.2, 0.8, 2.5])
@pytest.mark.parametrize("seed", range(6))
def test_the_grown_region_lies_between_the_round_and_the_sharp_offset(seed, distance):
    polygons = shapes(seed)
    whole = shapely.union_all(polygons)
    low = whole.buffer(distance - 1e-6, quad_segs=32)
    high = whole.buffer(distance + 1e-6, join_style="mitre", mitre_limit=2.0)
    off, cross, y = lines(*grown(polygons, distance))
    spans = [
        [(a, y[j]), (b, y[j])]
        for j in range(1200)
        for a, b in cross[off[j] : off[j + 1]].reshape(-1, 2)
    ]
    laid = shapely.MultiLineString(spans)
    # what lies outside the sharp offset, and what of the round one is left out
    assert laid.difference(high).length <= 1e-6 * laid.length
    every = shapely.MultiLineString([[(-60.0, v), (60.0, v)] for v in y])
    needed = every.intersection(low)
    assert needed.difference(laid.buffer(1e-7, cap_style="square")).length <= 1e-6 * laid.length


@pytest.mark.parametrize("distance", [0.0, 0.3, 5.0])
def test_a_square_grows_to_a_square(distance):
    off, cross, _ = lines(*grown([shapely.box(-4.0, -4.0, 4.0, 4.0)], distance))
    area = (cross[1::2] - cross[::2]).sum() * PITCH
    assert area == pytest.approx((8 + 2 * distance) ** 2, rel=1e-9)
    assert len(off) == 1201


def test_a_hole_that_vanishes_leaves_no_trace():
    frame = orient(shapely.box(-6, -6, 6, 6).difference(shapely.box(-1, -2, 1, 2)))
    _, cross, _ = lines(*grown([frame], 1.5))
    assert (cross[1::2] - cross[::2]).sum() * PITCH == pytest.approx(15.0**2, rel=1e-9)


def test_points_given_twice_change_nothing():
    plain = shapely.Polygon([(0, 0), (6, 0), (6, 3), (0, 3)])
    doubled = shapely.Polygon([(0, 0), (0, 0), (6, 0), (6, 0), (6, 3), (0, 3), (0, 3)])
    _, one, _ = lines(*grown([plain], 0.4))
    _, two, _ = lines(*grown([doubled], 0.4))
    assert np.allclose(one, two)
