"""Layers of meshes that are not whole: gaps closed within the layer, overlaps united."""

import numpy as np
import pytest
import solids
from bare_parts import bare_part, heap_part, solid_part

from buildplan.errors import MeshError
from buildplan.process.layers import cut_layers
from buildplan.process.layers import trace as trace_module

BOX = solids.box


def volume(layers):
    return float(layers.area_mm2 @ layers.thickness_mm)


def without(solid, drop):
    """A solid with some facets deleted."""
    vertices, facets = solids.arrays(solid)
    keep = np.ones(len(facets), bool)
    keep[drop] = False
    return bare_part(vertices, facets[keep], closed=False)


def test_a_missing_top_leaves_every_ring_closed():
    vertices, facets = solids.arrays(BOX(10, 10, 10))
    top = np.flatnonzero((vertices[facets, 2] == 10.0).all(axis=1))
    layers = cut_layers(without(BOX(10, 10, 10), top), 0.5)
    np.testing.assert_allclose(layers.area_mm2, 100.0)
    np.testing.assert_array_equal(layers.gap_mm, 0.0)
    assert layers.grade == "estimate"


def test_a_missing_side_is_bridged_and_its_width_reported():
    vertices, facets = solids.arrays(BOX(10, 10, 10))
    side = np.flatnonzero((vertices[facets, 0] == 10.0).all(axis=1))
    assert len(side) == 2
    layers = cut_layers(without(BOX(10, 10, 10), side), 0.5)
    np.testing.assert_allclose(layers.area_mm2, 100.0)
    np.testing.assert_allclose(layers.gap_mm, 10.0)


@pytest.mark.parametrize(
    ("share", "worst_volume", "worst_layer"),
    [(1e-4, 1e-9, 1e-8), (1e-3, 1e-9, 1e-8), (1e-2, 1e-5, 1e-4)],
)
def test_lost_facets_of_a_fine_shell_hardly_matter(share, worst_volume, worst_layer):
    vertices, facets = solids.arrays(solids.tub(segments=320))
    whole = cut_layers(bare_part(vertices, facets), 0.4)
    lost = np.random.default_rng(7).random(len(facets)) < share
    layers = cut_layers(bare_part(vertices, facets[~lost], closed=False), 0.4)
    assert lost.any()
    assert abs(volume(layers) / volume(whole) - 1) < worst_volume
    assert np.abs(layers.area_mm2 / whole.area_mm2 - 1).max() < worst_layer
    assert 0 < layers.gap_mm.max() < 30.0
    again = cut_layers(bare_part(vertices, facets[~lost], closed=False), 0.4, workers=3)
    assert again.xy_mm.tobytes() == layers.xy_mm.tobytes()
    assert again.gap_mm.tobytes() == layers.gap_mm.tobytes()


def test_a_soup_of_facets_that_share_no_vertex_is_refused(monkeypatch):
    vertices, facets = solids.arrays(solids.sphere(20.0, 64))
    soup = vertices[facets.reshape(-1)]
    loose = bare_part(soup, np.arange(len(soup)).reshape(-1, 3), closed=False)
    monkeypatch.setattr(trace_module, "LOOSE_PIECES_MAX", 50)
    with pytest.raises(MeshError, match=r"loose pieces .* mm above its lowest point, allowed are"):
        cut_layers(loose, 0.5)


def test_a_soup_of_facets_still_gives_the_right_rings_below_the_limit():
    vertices, facets = solids.arrays(solids.sphere(20.0, 64))
    soup = vertices[facets.reshape(-1)]
    loose = bare_part(soup, np.arange(len(soup)).reshape(-1, 3), closed=False)
    whole = cut_layers(bare_part(vertices, facets), 0.5)
    layers = cut_layers(loose, 0.5)
    np.testing.assert_allclose(layers.area_mm2, whole.area_mm2, rtol=1e-9)
    assert layers.gap_mm.max() < 1e-9


@pytest.mark.parametrize(
    ("second", "area", "united", "islands"),
    [
        # findings: two overlapping cubes, true 175; nested solids of the same turn, true 100
        ((10, 10, 10, (5, 5, 0)), 175.0, True, 1),
        ((10, 10, 10, (5, 0, 0)), 150.0, True, 1),
        ((4, 4, 10, (3, 3, 0)), 100.0, True, 1),
        ((10, 10, 10, (0, 0, 0)), 100.0, True, 1),
        ((10, 10, 10, (15, 0, 0)), 200.0, False, 2),
    ],
)
def test_overlapping_solids_count_once(second, area, united, islands):
    layers = cut_layers(heap_part(BOX(10, 10, 10), BOX(*second)), 0.5)
    np.testing.assert_allclose(layers.area_mm2, area, rtol=1e-12)
    assert layers.united.all() == united
    assert layers.united.any() == united
    np.testing.assert_array_equal(np.diff(layers.layer_off), islands)
    assert layers.ring_area_mm2.sum() == pytest.approx(area * len(layers.z_mm))


def test_only_the_layers_that_overlap_are_united():
    heap = heap_part(BOX(10, 10, 10), BOX(4, 4, 10, (3, 3, 6)))
    layers = cut_layers(heap, 0.5)
    np.testing.assert_array_equal(layers.united, (layers.z_mm > 6) & (layers.z_mm < 10))
    np.testing.assert_allclose(layers.area_mm2, np.where(layers.z_mm < 10, 100.0, 16.0))


def test_a_cavity_is_not_an_overlap():
    layers = cut_layers(solid_part(BOX(10, 10, 10) - BOX(4, 4, 4, (3, 3, 3)), shells=2), 0.5)
    assert not layers.united.any()
    inside = (layers.z_mm > 3) & (layers.z_mm < 7)
    np.testing.assert_allclose(layers.area_mm2, np.where(inside, 84.0, 100.0))


def test_a_known_self_intersection_is_united_in_a_single_shell():
    # one prism whose outline is a pentagram-like bow: its core is wound twice
    turn = 4.0 * np.pi * np.arange(5) / 5.0
    ring = np.column_stack([10.0 * np.cos(turn), 10.0 * np.sin(turn)])
    vertices = np.vstack(
        [np.column_stack([ring, np.zeros(5)]), np.column_stack([ring, np.ones(5)])]
    )
    facets = []
    for i in range(5):
        j = (i + 1) % 5
        facets += [[i, j, j + 5], [i, j + 5, i + 5]]
    for i in range(1, 4):
        facets += [[0, i + 1, i], [5, 5 + i, 6 + i]]
    layers = cut_layers(bare_part(vertices, facets, self_intersections=5), 0.25)
    # area of the pentagram {5/2} of circumradius R: 10 tan(pi/10) / (3 - tan^2(pi/10)) R^2
    t = np.tan(np.pi / 10.0)
    assert layers.united.all()
    np.testing.assert_allclose(layers.area_mm2, 100.0 * 10.0 * t / (3.0 - t * t), rtol=1e-6)


def test_a_full_search_that_found_nothing_is_believed():
    heap = heap_part(BOX(10, 10, 10), BOX(10, 10, 10, (15, 0, 0)), searched="full")
    layers = cut_layers(heap, 0.5)
    assert not layers.united.any()


def test_united_rings_are_simplified_like_the_others():
    a, b = solids.sphere(10.0, 256), solids.sphere(10.0, 256).translate((7.0, 0.0, 0.0))
    raw = cut_layers(heap_part(a, b), 1.0, simplify_mm=0.0)
    layers = cut_layers(heap_part(a, b), 1.0)
    assert layers.united.any()
    np.testing.assert_allclose(layers.area_mm2, raw.area_mm2, rtol=1e-9)
    assert len(layers.xy_mm) < len(raw.xy_mm)
    true = cut_layers(solid_part(a + b), 1.0)
    np.testing.assert_allclose(layers.area_mm2, true.area_mm2, rtol=1e-6)
    two = cut_layers(heap_part(a, b), 1.0, workers=2)
    assert two.xy_mm.tobytes() == layers.xy_mm.tobytes()
