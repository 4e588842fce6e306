"""The compiled loops under the reader, each against a plain way to the same answer."""

import math
import struct

import numpy as np
import pytest
import solids
from broken_files import ball, cube, joined
from hypothesis import given, settings
from hypothesis import strategies as st

from buildplan.kernels.edges import label_shells, measure_shells, turn_alike
from buildplan.kernels.facet_tree import build_facet_tree
from buildplan.kernels.halfedges import find_twins
from buildplan.kernels.intersect import boxes_meet, count_windings, mark_crossings
from buildplan.kernels.mesh_measure import bound_points, measure_mesh
from buildplan.kernels.patch import patch_least_area
from buildplan.kernels.text import READ_EXACT, read_number, scan_numbers
from buildplan.kernels.weld import weld_bits, weld_near


def bits(points):
    return np.ascontiguousarray(points).view(np.uint32)


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_welding_numbers_rows_by_first_appearance(kind):
    points = np.random.default_rng(0).integers(0, 9, (3000, 3)).astype(kind)
    index, first = weld_bits(bits(points))
    assert np.array_equal(points[first][index], points)
    assert len(first) == len(np.unique(points, axis=0))
    assert np.all(np.diff(first) > 0)


def test_near_points_join_the_first_one_and_crowds_stay_cheap():
    rng = np.random.default_rng(1)
    centres = rng.uniform(-1e4, 1e4, (500, 3))
    points = np.repeat(centres, 20, axis=0) + rng.normal(0.0, 1e-4, (10000, 3))
    joined_to = weld_near(points, 2e-3)
    assert np.array_equal(joined_to, np.repeat(np.arange(500) * 20, 20))
    crowd = np.zeros((200_000, 3))
    assert not weld_near(crowd, 1e-6).any()


def spell(number):
    data = np.frombuffer(number.encode(), np.uint8)
    return read_number(data, 0, len(data))


@settings(max_examples=300, deadline=None)
@given(
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(["{!r}", "{:.6f}", "{:.9g}", "{:e}", "{:+.3E}", "{:.0f}."]),
)
def test_a_number_read_here_is_the_number_python_reads(value, style):
    text = style.format(value)
    got, how = spell(text)
    if how == READ_EXACT:
        assert struct.pack("d", got) == struct.pack("d", float(text))


@pytest.mark.parametrize(
    "text", ["1", "-0", "+7.", ".5", "1e5", "1E-05", "123456789012345", "0.0000001", "-3.25e+2"]
)
def test_usual_spellings_are_read_at_once(text):
    got, how = spell(text)
    assert how == READ_EXACT
    assert got == float(text)


@pytest.mark.parametrize("text", ["", "-", ".", "e5", "1e", "1e+", "1.2.3", "1,5", "0x10", "1_0"])
def test_words_that_are_no_number_are_not_read(text):
    assert spell(text)[1] != READ_EXACT


def test_numbers_and_their_lines_are_scanned_past_comments():
    data = np.frombuffer(b"1 2 # 3\n\r\n4e0\t-5\rnan", np.uint8)
    values, line, later, end = scan_numbers(data, 0, 9, ord("#"))
    assert values[:4].tolist() == [1.0, 2.0, 4.0, -5.0]
    assert line.tolist() == [0, 0, 2, 2, 3]
    assert later[:, 0].tolist() == [4]
    assert end[0] == 0


def test_volume_area_and_moments_match_the_solid():
    vertices, facets = solids.arrays(solids.tub(segments=32))
    figures = measure_mesh(vertices, facets, np.array([5.0, -3.0, 2.0]))
    assert figures[0] == pytest.approx(solids.tub(segments=32).volume(), rel=1e-12)
    assert figures[1] == pytest.approx(solids.tub(segments=32).surface_area(), rel=1e-12)
    box = solids.arrays(solids.box(4.0, 6.0, 8.0, (1.0, 2.0, 3.0)))
    moments = measure_mesh(*box, np.zeros(3))
    assert moments[2:] / moments[0] == pytest.approx((3.0, 5.0, 7.0))


def test_a_box_around_points_shows_what_is_not_finite():
    points = np.array([[1.0, -2.0, 3.0], [0.0, 5.0, -6.0]])
    assert bound_points(points).tolist() == [[0.0, -2.0, -6.0], [1.0, 5.0, 3.0]]
    points[1, 1] = np.inf
    assert np.isnan(bound_points(points)).all()


def test_shells_are_labelled_and_measured_apart():
    vertices, facets = joined(cube(10.0), cube(20.0, (50.0, 0, 0)))
    shell, shells = label_shells(find_twins(facets, len(vertices))[0])
    assert shells == 2
    figures = measure_shells(vertices, facets, shell, shells, np.zeros(3))
    assert figures[:, 0] == pytest.approx((1000.0, 8000.0))
    assert figures[:, 1] == pytest.approx((600.0, 2400.0))
    assert figures[1, 2:].tolist() == [50.0, 0.0, 0.0, 70.0, 20.0, 20.0]


def test_a_one_sided_surface_is_told_by_its_contradictions():
    facets = np.array([[i, (i + 1) % 5, (i + 2) % 5] for i in range(5)])  # the five-vertex band
    from buildplan.part.surface import neighbours_either_way

    _, _, contradictions = turn_alike(*neighbours_either_way(facets, 5))
    assert contradictions > 0
    vertices, closed = ball()
    _, _, none = turn_alike(*neighbours_either_way(closed, len(vertices)))
    assert none == 0


def tree_of(vertices, facets):
    shell, _ = label_shells(find_twins(facets, len(vertices))[0])
    order, corners, boxes, leaves = build_facet_tree(vertices[facets])
    return order, corners, shell[order], boxes, leaves


def test_every_node_of_the_tree_holds_its_facets():
    vertices, facets = ball()
    order, corners, _, boxes, leaves = tree_of(vertices, facets)
    assert sorted(order.tolist()) == list(range(len(facets)))
    for facet in range(0, len(order), 7):
        node = leaves + facet // 4
        while node:
            assert (corners[facet].min(axis=0) >= boxes[node, :3]).all()
            assert (corners[facet].max(axis=0) <= boxes[node, 3:]).all()
            node //= 2


def test_rays_count_how_many_bodies_enclose_a_point():
    vertices, facets = joined(cube(30.0), cube(10.0, (10.0,) * 3))
    _, corners, shell, boxes, leaves = tree_of(vertices, facets)
    points = np.random.default_rng(2).uniform(-5.0, 35.0, (2000, 3))
    within = ((points > 0) & (points < 30)).all(axis=1).astype(int)
    within += ((points > 10) & (points < 20)).all(axis=1)
    none = np.full(len(points), -1, np.int32)
    ray = np.array([0.5773, 0.5774, 0.5771])
    got, finished = count_windings(corners, shell, boxes, leaves, points, none, -1, ray, 10**9)
    assert finished
    assert np.array_equal(got, within)
    assert not count_windings(corners, shell, boxes, leaves, points, none, -1, ray, 99)[1]


def test_boxes_that_share_room_are_found_pair_by_pair():
    low = np.random.default_rng(6).integers(0, 20, (40, 3)).astype(float)
    boxes = np.hstack([low, low + np.random.default_rng(7).integers(1, 6, (40, 3))])
    wanted = [
        any((b[:3] < a[3:]).all() and (b[3:] > a[:3]).all() for j, b in enumerate(boxes) if j != i)
        for i, a in enumerate(boxes)
    ]
    assert boxes_meet(boxes).tolist() == wanted
    assert 0 < sum(wanted) < 40


def crosses(a, b):
    """Whether two triangles cross, by solving each edge against each plane."""
    for p, q in ((a, b), (b, a)):
        for k in range(3):
            start, along = p[k], p[(k + 1) % 3] - p[k]
            system = np.column_stack([along, q[0] - q[1], q[0] - q[2]])
            if abs(np.linalg.det(system)) < 1e-12:
                continue
            t, u, v = np.linalg.solve(system, q[0] - start)
            if 1e-9 < t < 1 - 1e-9 and u > 1e-9 and v > 1e-9 and u + v < 1 - 1e-9:
                return True
    return False


def test_crossing_facets_are_the_ones_found_pair_by_pair():
    corners = np.random.default_rng(3).normal(0.0, 1.0, (120, 3, 3))
    corners += np.random.default_rng(4).uniform(-4.0, 4.0, (120, 1, 3))
    facets = np.arange(360).reshape(-1, 3)
    order, placed, boxes, leaves = build_facet_tree(corners)
    shell = np.zeros(120, np.int32)
    mark, finished = mark_crossings(placed, facets[order], shell, boxes, leaves, 10**9)
    wanted = [
        any(crosses(a, b) for j, b in enumerate(placed) if j != i) for i, a in enumerate(placed)
    ]
    assert finished
    assert (mark > 0).tolist() == wanted
    assert 20 < sum(wanted) < 120


def test_clean_bodies_have_no_crossing_facets_however_turned():
    vertices, facets = solids.arrays(solids.tub(segments=48))
    angle = np.random.default_rng(5).normal(size=4)
    w, x, y, z = angle / np.linalg.norm(angle)
    turn = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    for points in (vertices, vertices @ turn.T, vertices @ turn.T + 1e4):
        order, corners, shell, boxes, leaves = tree_of(np.ascontiguousarray(points), facets)
        mark, _ = mark_crossings(corners, facets[order], shell, boxes, leaves, 10**9)
        assert not mark.any()


def test_a_patch_of_least_area_over_a_flat_ring_has_the_rings_area():
    shape = np.array([(0, 0), (3, 0), (3, 3), (2, 3), (2, 1), (1, 1), (1, 3), (0, 3)], float)
    points = np.column_stack([shape, 0.3 * shape.sum(axis=1)])
    patch = patch_least_area(points)
    assert len(patch) == len(points) - 2
    a, b, c = (points[patch[:, k]] for k in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()
    assert area == pytest.approx(7.0 * math.sqrt(1 + 2 * 0.09))
