"""Layers of closed meshes: planes, rings, islands, numbers that are refused."""

import dataclasses

import numpy as np
import pytest
import shapely
import solids
from bare_parts import bare_part, heap_part, solid_part
from manifold3d import Manifold

from buildplan.errors import InputError
from buildplan.process.layers import Layers, cut_layers
from buildplan.process.layers import cut as cut_module
from buildplan.process.layers import trace as trace_module


def rings_of(layers, k):
    """Rings of a layer, island by island: a list of lists."""
    islands = []
    for i in range(layers.layer_off[k], layers.layer_off[k + 1]):
        rings = range(layers.island_off[i], layers.island_off[i + 1])
        islands.append([layers.xy_mm[layers.ring_off[r] : layers.ring_off[r + 1]] for r in rings])
    return islands


def same_bytes(a, b):
    for field in dataclasses.fields(Layers):
        x, y = getattr(a, field.name), getattr(b, field.name)
        if isinstance(x, np.ndarray):
            assert x.dtype == y.dtype, field.name
            assert x.tobytes() == y.tobytes(), field.name
        else:
            assert x == y, field.name


def test_a_box_gives_one_square_in_every_layer():
    layers = cut_layers(solid_part(solids.box(20, 30, 10, (100.0, -50.0, 7.0))), 0.25)
    assert len(layers.z_mm) == 40
    np.testing.assert_allclose(layers.z_mm, 0.125 + 0.25 * np.arange(40), rtol=1e-13)
    np.testing.assert_allclose(layers.thickness_mm, 0.25, rtol=1e-12)
    np.testing.assert_allclose(layers.area_mm2, 600.0, rtol=1e-13)
    np.testing.assert_allclose(layers.perimeter_mm, 100.0, rtol=1e-13)
    np.testing.assert_array_equal(np.diff(layers.layer_off), 1)
    np.testing.assert_array_equal(np.diff(layers.island_off), 1)
    assert layers.origin_mm == (110.0, -35.0, 7.0)
    np.testing.assert_allclose(layers.ring_box_mm[3], [-10, 10, -15, 15])


def test_the_last_layer_takes_what_is_left():
    for height, count, last in ((10.1, 50, 0.3), (10.09, 50, 0.29), (9.93, 50, 0.13)):
        layers = cut_layers(solid_part(solids.box(20, 20, height)), 0.2)
        assert len(layers.z_mm) == count
        assert layers.thickness_mm[-1] == pytest.approx(last, abs=1e-9)
        assert layers.thickness_mm.sum() == pytest.approx(height, rel=1e-12)
        volume = layers.area_mm2 @ layers.thickness_mm
        assert volume == pytest.approx(400.0 * height, rel=1e-12)


def test_a_part_thinner_than_half_a_layer_still_has_one_layer():
    layers = cut_layers(solid_part(solids.box(20, 20, 0.05)), 0.2)
    assert len(layers.z_mm) == 1
    assert layers.area_mm2[0] == pytest.approx(400.0)
    assert layers.thickness_mm[0] == pytest.approx(0.05)


def test_faces_on_the_planes_belong_to_the_body_below():
    # steps at 0.5, 1.5 mm: planes of 1 mm layers lie exactly on them
    body = solids.box(10, 10, 0.5) + solids.box(5, 10, 1.5) + solids.box(2, 10, 4.0)
    layers = cut_layers(solid_part(body), 1.0)
    np.testing.assert_allclose(layers.area_mm2, [100.0, 50.0, 20.0, 20.0])


def test_outer_rings_run_counter_clockwise_and_holes_clockwise():
    layers = cut_layers(solid_part(solids.tube()), 0.5)
    for k in range(len(layers.z_mm)):
        ((outer, hole),) = rings_of(layers, k)
        assert shapely.LinearRing(outer).is_ccw
        assert not shapely.LinearRing(hole).is_ccw
    assert (layers.ring_area_mm2[::2] > 0).all()
    assert (layers.ring_area_mm2[1::2] < 0).all()


def test_a_nested_island_is_an_island_of_its_own_and_holes_go_to_the_smallest_ring_around():
    body = (
        (solids.box(60, 60, 4) - solids.box(40, 40, 6, (10, 10, -1)))
        + (solids.box(20, 20, 4, (20, 20, 0)) - solids.box(4, 4, 6, (22, 22, -1)))
        - solids.box(4, 4, 6, (2, 2, -1))
        + solids.box(6, 6, 4, (80, 0, 0))
    )
    layers = cut_layers(solid_part(body), 0.5)
    islands = sorted(rings_of(layers, 3), key=lambda rings: -len(rings[0]) - 10 * len(rings))
    sizes = sorted((len(rings), shapely.Polygon(rings[0]).area) for rings in islands)
    assert [n for n, _ in sizes] == [1, 2, 3]
    assert sizes[0][1] == pytest.approx(36.0)
    assert sizes[1][1] == pytest.approx(400.0)
    assert sizes[2][1] == pytest.approx(3600.0)
    two = next(rings for rings in islands if len(rings) == 2)
    assert shapely.Polygon(two[0]).contains(shapely.Polygon(two[1]))


def test_ring_areas_and_boxes_are_those_of_the_stored_rings():
    layers = cut_layers(solid_part(solids.tub(segments=96)), 1.0)
    for r in range(len(layers.ring_off) - 1):
        xy = layers.xy_mm[layers.ring_off[r] : layers.ring_off[r + 1]]
        polygon = shapely.Polygon(xy)
        assert polygon.is_valid
        assert abs(layers.ring_area_mm2[r]) == pytest.approx(polygon.area, rel=1e-9)
        x0, y0, x1, y1 = polygon.bounds
        np.testing.assert_array_equal(layers.ring_box_mm[r], [x0, x1, y0, y1])


def test_simplified_rings_stay_within_the_deviation():
    part = solid_part(solids.sphere(20.0, 512))
    raw = cut_layers(part, 2.0, simplify_mm=0.0)
    for deviation in (0.002, 0.02, 0.2):
        layers = cut_layers(part, 2.0, simplify_mm=deviation)
        np.testing.assert_array_equal(layers.area_mm2, raw.area_mm2)
        assert len(layers.xy_mm) < len(raw.xy_mm)
        for k in range(len(layers.z_mm)):
            fine = shapely.LinearRing(rings_of(raw, k)[0][0])
            coarse = shapely.LinearRing(rings_of(layers, k)[0][0])
            assert shapely.hausdorff_distance(fine, coarse) <= deviation * 1.02


def test_slivers_are_dropped_but_counted_in_the_area():
    body = solids.box(20, 20, 4) + solids.box(0.003, 30, 4, (40, 0, 0))
    layers = cut_layers(solid_part(body), 0.5)
    np.testing.assert_array_equal(np.diff(layers.layer_off), 1)
    np.testing.assert_allclose(layers.area_mm2, 400.09, rtol=1e-12)


def test_the_result_is_the_same_bytes_whatever_the_threads():
    part = solid_part(solids.tub(segments=160))
    one = cut_layers(part, 0.4)
    for workers in (2, 3, 7):
        same_bytes(one, cut_layers(part, 0.4, workers=workers))
    same_bytes(one, cut_layers(part, 0.4))


def test_more_threads_than_layers_are_no_harm():
    part = solid_part(solids.box(5, 5, 0.4))
    same_bytes(cut_layers(part, 0.2), cut_layers(part, 0.2, workers=16))


def test_arrays_are_closed_to_writing_and_the_part_is_left_alone():
    part = solid_part(solids.tube())
    before = part.vertices_mm.tobytes(), part.facets.tobytes()
    layers = cut_layers(part, 0.5)
    for field in dataclasses.fields(Layers):
        value = getattr(layers, field.name)
        if isinstance(value, np.ndarray):
            assert not value.flags.writeable, field.name
    assert before == (part.vertices_mm.tobytes(), part.facets.tobytes())


def test_the_key_tells_parts_and_settings_apart():
    a, b = solid_part(solids.box()), solid_part(solids.box(20, 20, 21))
    keys = {
        cut_layers(a, 0.2).key,
        cut_layers(b, 0.2).key,
        cut_layers(a, 0.1).key,
        cut_layers(a, 0.2, simplify_mm=0.0).key,
    }
    assert len(keys) == 4
    assert cut_layers(a, 0.2).key == cut_layers(solid_part(solids.box()), 0.2, workers=2).key


@pytest.mark.parametrize("layer_mm", [0.0, -0.2, 0.009, 2.1, float("nan"), float("inf")])
def test_layer_thickness_out_of_range_is_refused_with_the_range(layer_mm):
    with pytest.raises(InputError, match=r"layer_mm .*'bare'.* 0\.01 to 2 mm") as caught:
        cut_layers(solid_part(solids.box()), layer_mm)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("simplify_mm", [-0.001, 0.3, float("nan")])
def test_simplification_out_of_range_is_refused(simplify_mm):
    with pytest.raises(InputError, match="simplify_mm"):
        cut_layers(solid_part(solids.box()), 0.2, simplify_mm=simplify_mm)


def test_no_workers_are_refused():
    with pytest.raises(InputError, match="workers"):
        cut_layers(solid_part(solids.box()), 0.2, workers=0)


def test_too_many_layers_are_refused_with_their_number():
    with pytest.raises(InputError, match=r"200000 layers of 0\.01 mm, allowed are 100000"):
        cut_layers(solid_part(solids.box(1, 1, 2000.0)), 0.01)


def test_too_many_points_are_refused_with_their_number(monkeypatch):
    monkeypatch.setattr(trace_module, "POINTS_MAX", 1000)
    with pytest.raises(InputError, match="points, allowed are 1000"):
        cut_layers(solid_part(solids.sphere()), 0.2)


def test_limits_hold_a_metre_of_the_thinnest_layer():
    assert cut_module.LAYERS_MAX * cut_module.LAYER_MIN_MM >= 1000.0


def test_a_fan_of_many_facets_at_one_vertex_is_no_trap():
    # a cone tip shared by 20 000 facets: the twins are found in sorted lists, not pair by pair
    part = solid_part(Manifold.cylinder(10.0, 20.0, 0.0, 20_000))
    layers = cut_layers(part, 1.0)
    radius = 20.0 * (1.0 - layers.z_mm / 10.0)
    np.testing.assert_allclose(layers.area_mm2, np.pi * radius**2, rtol=1e-6)


def test_islands_far_apart_keep_their_area_to_the_last_digits():
    part = heap_part(solids.box(1, 1, 1), solids.box(1, 1, 1, (900.0, 900.0, 0.0)))
    layers = cut_layers(part, 0.1)
    np.testing.assert_allclose(layers.area_mm2, 2.0, rtol=1e-12)
    np.testing.assert_array_equal(np.diff(layers.layer_off), 2)


def test_two_bodies_welded_along_an_edge_keep_their_area_and_perimeter():
    a, b = solids.arrays(solids.box(10, 10, 4)), solids.arrays(solids.box(10, 10, 4, (10, 10, 0)))
    corners = np.vstack([a[0][a[1].reshape(-1)], b[0][b[1].reshape(-1)]])
    vertices, number = np.unique(corners, axis=0, return_inverse=True)
    assert len(vertices) == 14
    layers = cut_layers(bare_part(vertices, number.reshape(-1, 3)), 0.5)
    np.testing.assert_allclose(layers.area_mm2, 200.0)
    np.testing.assert_allclose(layers.perimeter_mm, 80.0)


def test_layers_between_two_bodies_are_empty():
    part = heap_part(solids.box(10, 10, 2), solids.box(10, 10, 2, (0, 0, 6)))
    layers = cut_layers(part, 0.5)
    full = np.array([1] * 4 + [0] * 8 + [1] * 4)
    np.testing.assert_allclose(layers.area_mm2, 100.0 * full)
    np.testing.assert_array_equal(np.diff(layers.layer_off), full)


def test_hundreds_of_holes_and_islands_find_their_places():
    body = solids.box(100, 100, 1)
    cells = [(x, y) for x in range(3, 97, 6) for y in range(3, 97, 6)]
    body -= Manifold.compose([solids.box(4, 4, 3, (x, y, -1)) for x, y in cells])
    body += Manifold.compose([solids.box(2, 2, 1, (x + 1, y + 1, 0)) for x, y in cells])
    layers = cut_layers(solid_part(body), 0.5)
    np.testing.assert_array_equal(np.diff(layers.layer_off), 1 + len(cells))
    np.testing.assert_allclose(layers.area_mm2, 1e4 - 12.0 * len(cells))
    rings = np.diff(layers.island_off)
    assert sorted(rings[: 1 + len(cells)]) == [1] * len(cells) + [1 + len(cells)]
