"""The kernels under the layers: twins, simplification, windings, against plain slow versions."""

from collections import Counter

import numpy as np
import pytest
import shapely
import solids

from buildplan.kernels.halfedges import find_twins
from buildplan.kernels.rings import measure_ring, point_in_ring, simplify_ring
from buildplan.kernels.windings import edges_meet_in_layer, winding_number


def directed_edges(facets):
    return [(int(f[i]), int(f[(i + 1) % 3])) for f in facets for i in range(3)]


def test_twins_of_a_solid_run_the_other_way_and_are_mutual():
    vertices, facets = solids.arrays(solids.tub(segments=96))
    twin, n_open, over_used = find_twins(facets, len(vertices))
    edges = np.array(directed_edges(facets))
    assert (n_open, over_used) == (0, 0)
    np.testing.assert_array_equal(twin[twin], np.arange(len(twin)))
    np.testing.assert_array_equal(edges[twin], edges[:, ::-1])


def test_open_and_over_used_edges_are_counted_as_a_plain_count_does():
    rng = np.random.default_rng(3)
    vertices, facets = solids.arrays(solids.sphere(10.0, 48))
    for _ in range(5):
        some = facets[rng.random(len(facets)) < 0.9]
        some = np.vstack([some, some[rng.integers(0, len(some), 7)]])
        flip = rng.random(len(some)) < 0.05
        some[flip] = some[flip][:, ::-1]
        twin, n_open, over_used = find_twins(some, len(vertices))
        count = Counter(directed_edges(some))
        pairs = {tuple(sorted(edge)) for edge in count}
        assert n_open == sum(count[a, b] != count[b, a] for a, b in pairs)
        assert over_used == sum(count[a, b] + count[b, a] > 2 for a, b in pairs)
        lone = sum(abs(count[a, b] - count[b, a]) for a, b in pairs)
        assert (twin < 0).sum() == lone


def test_facets_with_a_corner_twice_count_as_no_open_edge():
    facets = np.array([[0, 1, 2], [0, 2, 1], [0, 0, 1]])
    twin, n_open, _ = find_twins(facets, 3)
    # half-edge 6 goes from 0 to 0; 7 and 8 are the two ways along 0-1
    assert twin[6] == -1
    assert n_open == 0


def test_a_vertex_of_very_many_facets_takes_the_sorted_way_with_the_same_answer():
    n = 400
    rim = np.arange(1, n + 1)
    fan = np.column_stack([np.zeros(n, int), rim, np.roll(rim, -1)])
    lid = np.column_stack([np.full(n, n + 1), np.roll(rim, -1), rim])
    facets = np.vstack([fan, lid])
    twin, n_open, over_used = find_twins(facets, n + 2)
    assert (n_open, over_used) == (0, 0)
    edges = np.array(directed_edges(facets))
    np.testing.assert_array_equal(edges[twin], edges[:, ::-1])


def test_a_fan_in_any_order_of_its_facets_is_matched_in_short_time():
    # its lists of edges are too long for the plain search, which hands over to sorted lists
    n = 20_000
    rim = np.arange(1, n + 1)
    fan = np.column_stack([np.zeros(n, int), rim, np.roll(rim, -1)])
    lid = np.column_stack([np.full(n, n + 1), np.roll(rim, -1), rim])
    facets = np.random.default_rng(0).permutation(np.vstack([fan, lid]))
    twin, n_open, over_used = find_twins(facets, n + 2)
    assert (n_open, over_used) == (0, 0)
    a, b = facets.reshape(-1), np.roll(facets, -1, axis=1).reshape(-1)
    np.testing.assert_array_equal(a[twin], b)
    np.testing.assert_array_equal(b[twin], a)


def test_twins_take_read_only_facets_of_any_integer_type():
    facets = np.array([[0, 1, 2], [0, 2, 1]])
    facets.setflags(write=False)
    for kind in (np.int32, np.int64, np.uint32):
        twin, n_open, _ = find_twins(facets.astype(kind), 3)
        np.testing.assert_array_equal(twin, [5, 4, 3, 2, 1, 0])
        assert n_open == 0


def wavy_ring(rng, n):
    turn = np.sort(rng.random(n)) * 2 * np.pi
    radius = 20.0 + 3.0 * np.sin(5 * turn) + rng.normal(0.0, 0.004, n)
    return np.column_stack([radius * np.cos(turn), radius * np.sin(turn)])


@pytest.mark.parametrize("deviation", [0.001, 0.01, 0.1])
def test_simplified_rings_stay_near_every_dropped_point(deviation):
    rng = np.random.default_rng(11)
    for _ in range(20):
        ring = wavy_ring(rng, 600)
        kept = ring.copy()
        end = simplify_ring(kept, 0, len(kept), deviation)
        line = shapely.LinearRing(kept[:end])
        distance = shapely.distance(shapely.points(ring), line)
        assert distance.max() <= deviation * 1.001
        assert {tuple(p) for p in kept[:end]} <= {tuple(p) for p in ring}


def test_simplification_drops_points_on_a_line_and_keeps_corners():
    side = np.linspace(0.0, 10.0, 50, endpoint=False)
    zero, ten = np.zeros(50), np.full(50, 10.0)
    ring = np.concatenate(
        [
            np.column_stack([side, zero]),
            np.column_stack([ten, side]),
            np.column_stack([10 - side, ten]),
            np.column_stack([zero, 10 - side]),
        ]
    )
    end = simplify_ring(ring, 0, len(ring), 0.005)
    np.testing.assert_array_equal(ring[:end], [[0, 0], [10, 0], [10, 10], [0, 10]])


def test_a_ring_smaller_than_the_deviation_vanishes():
    ring = 1e-3 * np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    assert simplify_ring(ring, 0, 4, 0.005) == 0


def test_area_and_length_of_a_ring_agree_with_shapely():
    ring = wavy_ring(np.random.default_rng(2), 300) + 500.0
    area, length = measure_ring(ring, 0, len(ring))
    polygon = shapely.Polygon(ring)
    assert area == pytest.approx(polygon.area, rel=1e-10)
    assert length == pytest.approx(polygon.length, rel=1e-12)
    area, _ = measure_ring(ring[::-1].copy(), 0, len(ring))
    assert area == pytest.approx(-polygon.area, rel=1e-10)


def test_points_in_a_ring_agree_with_shapely():
    rng = np.random.default_rng(5)
    ring = wavy_ring(rng, 200)
    polygon = shapely.Polygon(ring)
    for x, y in rng.uniform(-25.0, 25.0, (400, 2)):
        assert point_in_ring(ring, 0, len(ring), x, y) == polygon.contains(shapely.Point(x, y))


def one_layer(*rings):
    xy = np.vstack(rings).astype(float)
    ends = np.cumsum([len(ring) for ring in rings])
    begins = ends - [len(ring) for ring in rings]
    box = np.array([[*r.min(0), *r.max(0)] for r in map(np.asarray, rings)])[:, [0, 2, 1, 3]]
    return xy, begins.astype(np.int64), ends.astype(np.int64), box.astype(float)


def square(x, y, size):
    return np.array([[x, y], [x + size, y], [x + size, y + size], [x, y + size]])


def test_windings_add_up_over_rings():
    xy, begin, end, box = one_layer(square(0, 0, 10), square(5, 5, 10), square(6, 6, 2)[::-1])
    for (x, y), turns in {(1, 1): 1, (5.5, 5.5): 2, (7, 7): 1, (12, 12): 1, (20, 7): 0}.items():
        assert winding_number(xy, begin, end, box, 0, 3, float(x), float(y)) == turns


@pytest.mark.parametrize(
    ("rings", "meet"),
    [
        ((square(0, 0, 10), square(20, 0, 10)), False),
        ((square(0, 0, 10), square(2, 2, 3)), False),
        ((square(0, 0, 10), square(5, 5, 10)), True),
        ((square(0, 0, 10), square(10, 0, 10)), True),
        ((square(0, 0, 10), square(10, 10, 10)), True),
        ((np.array([[0, 0], [10, 10], [10, 0], [0, 10]]),), True),
    ],
)
def test_edges_that_meet_are_found(rings, meet):
    xy, begin, end, _ = one_layer(*rings)
    assert edges_meet_in_layer(xy, begin, end, 0, len(rings)) == meet


def test_edges_that_meet_are_found_in_random_heaps_as_shapely_finds_them():
    rng = np.random.default_rng(9)
    seen = Counter()
    for _ in range(60):
        rings = [square(*rng.uniform(0, 60, 2), rng.uniform(2, 14)) for _ in range(4)]
        xy, begin, end, _ = one_layer(*rings)
        lines = [shapely.LinearRing(r) for r in rings]
        true = any(a.intersects(b) for i, a in enumerate(lines) for b in lines[:i])
        assert edges_meet_in_layer(xy, begin, end, 0, len(rings)) == true
        seen[true] += 1
    assert min(seen.values()) > 5
