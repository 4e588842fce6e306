"""What must hold for the layers of any body: moved, turned, mirrored, subdivided, scaled."""

import numpy as np
import pytest
import solids
from bare_parts import bare_part, heap_part, solid_part
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buildplan.process.layers import cut_layers

FEW = settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
LAYER_MM = 0.7


@st.composite
def bodies(draw):
    """A few boxes, balls and cylinders at odd places and angles, united, one taken away."""
    number = st.floats(-12.0, 12.0).map(lambda v: round(v, 3))
    size = st.floats(3.0, 15.0).map(lambda v: round(v, 3))

    def piece():
        kind = draw(st.sampled_from(["box", "ball", "cylinder"]))
        if kind == "box":
            body = solids.Manifold.cube((draw(size), draw(size), draw(size)), True)
        elif kind == "ball":
            body = solids.Manifold.sphere(draw(size) / 2, 24)
        else:
            body = solids.Manifold.cylinder(draw(size), draw(size) / 2, draw(size) / 3, 17, True)
        turn = (draw(number) * 15, draw(number) * 15, draw(number) * 15)
        return body.rotate(turn).translate((draw(number), draw(number), draw(number)))

    body = piece()
    for _ in range(draw(st.integers(0, 3))):
        body += piece()
    cut = body - piece()
    return cut if cut.volume() > 1.0 else body


def cut(vertices, facets, layer_mm=LAYER_MM, **options):
    # several loose bodies may come out of the cut; they do not overlap
    return cut_layers(bare_part(vertices, facets, searched="full"), layer_mm, **options)


def assert_alike(a, b, rtol=1e-9):
    scale = a.area_mm2.max()
    np.testing.assert_allclose(b.area_mm2, a.area_mm2, rtol=rtol, atol=rtol * scale)
    np.testing.assert_allclose(
        b.perimeter_mm, a.perimeter_mm, rtol=rtol, atol=rtol * a.perimeter_mm.max()
    )


@FEW
@given(bodies(), st.floats(0, 360), st.floats(-500, 500), st.floats(-500, 500))
def test_turning_about_z_and_moving_leave_area_and_perimeter(body, turn, x, y):
    vertices, facets = solids.arrays(body)
    c, s = np.cos(turn), np.sin(turn)
    moved = vertices @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]).T + [x, y, 0]
    assert_alike(cut(vertices, facets), cut(moved, facets))


@FEW
@given(bodies(), st.integers(-300, 300))
def test_lifting_leaves_everything(body, z):
    vertices, facets = solids.arrays(body)
    # a grid of 2^-20 mm keeps every height exact under the move
    vertices = np.round(vertices * 2**20) / 2**20
    a, b = cut(vertices, facets), cut(vertices + np.array([0, 0, z]), facets)
    assert a.xy_mm.tobytes() == b.xy_mm.tobytes()
    assert b.origin_mm[2] == a.origin_mm[2] + z


@FEW
@given(bodies())
def test_a_mirrored_body_has_the_same_areas_and_perimeters(body):
    vertices, facets = solids.arrays(body)
    assert_alike(cut(vertices, facets), cut(vertices * [-1, 1, 1], facets[:, ::-1]))


@FEW
@given(bodies(), st.integers(2, 4))
def test_subdividing_the_mesh_changes_nothing(body, pieces):
    a = cut(*solids.arrays(body), simplify_mm=0.0)
    b = cut(*solids.arrays(body.refine(pieces)), simplify_mm=0.0)
    assert_alike(a, b, rtol=1e-8)


@FEW
@given(bodies(), st.floats(0.3, 2.5))
def test_scaling_scales_areas_and_perimeters(body, scale):
    vertices, facets = solids.arrays(body)
    a = cut(vertices, facets, simplify_mm=0.0)
    b = cut(scale * vertices, facets, layer_mm=scale * LAYER_MM, simplify_mm=0.0)
    np.testing.assert_allclose(b.area_mm2, scale**2 * a.area_mm2, rtol=1e-8, atol=1e-8)
    np.testing.assert_allclose(b.perimeter_mm, scale * a.perimeter_mm, rtol=1e-8, atol=1e-8)


@FEW
@given(bodies(), st.randoms(use_true_random=False))
def test_the_order_of_facets_and_vertices_does_not_matter(body, random):
    vertices, facets = solids.arrays(body)
    vertex_order = np.array(random.sample(range(len(vertices)), len(vertices)))
    facet_order = np.array(random.sample(range(len(facets)), len(facets)))
    new_number = np.argsort(vertex_order)
    turned = np.roll(new_number[facets[facet_order]], 1, axis=1)
    assert_alike(cut(vertices, facets), cut(vertices[vertex_order], turned))


@FEW
@given(bodies())
def test_areas_agree_with_sections_by_manifold3d(body):
    vertices, facets = solids.arrays(body)
    layers = cut(vertices, facets)
    bottom = vertices[:, 2].min()
    # manifold3d works within a tolerance of its own
    other = np.array([body.slice(bottom + z).area() for z in layers.z_mm])
    np.testing.assert_allclose(layers.area_mm2, other, rtol=1e-6, atol=1e-4)


@FEW
@given(bodies())
def test_rings_add_up_to_the_layers_and_islands_hold_their_holes(body):
    layers = cut(*solids.arrays(body), simplify_mm=0.0)
    for k in range(len(layers.z_mm)):
        first, last = layers.layer_off[k], layers.layer_off[k + 1]
        rings = slice(layers.island_off[first], layers.island_off[last])
        total = layers.ring_area_mm2[rings].sum()
        assert total == pytest.approx(layers.area_mm2[k], rel=1e-9, abs=1e-6)
        for island in range(first, last):
            outer, end = layers.island_off[island], layers.island_off[island + 1]
            assert layers.ring_area_mm2[outer] > 0
            assert (layers.ring_area_mm2[outer + 1 : end] < 0).all()
            x0, x1, y0, y1 = layers.ring_box_mm[outer]
            holes = layers.ring_box_mm[outer + 1 : end]
            assert (holes[:, [0, 2]] >= [x0, y0]).all()
            assert (holes[:, [1, 3]] <= [x1, y1]).all()


@FEW
@given(bodies(), st.integers(2, 5))
def test_threads_change_no_byte_and_the_part_is_left_alone(body, workers):
    part = solid_part(body)
    before = part.vertices_mm.tobytes(), part.facets.tobytes()
    a, b = cut_layers(part, LAYER_MM), cut_layers(part, LAYER_MM, workers=workers)
    assert a.xy_mm.tobytes() == b.xy_mm.tobytes()
    assert a.ring_off.tobytes() == b.ring_off.tobytes()
    assert a.area_mm2.tobytes() == b.area_mm2.tobytes()
    assert before == (part.vertices_mm.tobytes(), part.facets.tobytes())


@FEW
@given(st.lists(bodies(), min_size=2, max_size=3))
def test_overlapping_bodies_in_one_mesh_have_the_sections_of_their_union(several):
    heap = heap_part(*several)
    union = several[0]
    for body in several[1:]:
        union += body
    layers = cut_layers(heap, LAYER_MM)
    whole = cut(*solids.arrays(union))
    np.testing.assert_allclose(layers.z_mm, whole.z_mm, rtol=1e-9)
    # manifold3d unites within a tolerance of its own
    np.testing.assert_allclose(layers.area_mm2, whole.area_mm2, rtol=1e-6, atol=1e-3)
    assert (layers.ring_area_mm2.sum() > 0) == (layers.area_mm2.sum() > 0)


@pytest.mark.slow
@settings(FEW, max_examples=400)
@given(st.lists(bodies(), min_size=2, max_size=5))
def test_many_heaps_of_overlapping_bodies_have_the_sections_of_their_union(several):
    union = several[0]
    for body in several[1:]:
        union += body
    layers = cut_layers(heap_part(*several), 0.31)
    whole = cut(*solids.arrays(union), layer_mm=0.31)
    np.testing.assert_allclose(layers.area_mm2, whole.area_mm2, rtol=1e-6, atol=1e-3)


@FEW
@given(bodies())
def test_a_body_that_stands_in_the_mesh_twice_counts_once(body):
    layers = cut_layers(heap_part(body, body), LAYER_MM)
    assert_alike(cut(*solids.arrays(body)), layers, rtol=1e-6)


def test_the_volume_of_a_sphere_converges_with_the_square_of_the_layer():
    part = solid_part(solids.sphere(20.0, 400))
    errors = []
    for layer_mm in (2.0, 1.0, 0.5):
        layers = cut_layers(part, layer_mm, simplify_mm=0.0)
        volume = layers.area_mm2 @ layers.thickness_mm
        errors.append(abs(volume - part.volume_mm3))
    order = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    np.testing.assert_allclose(order, 2.0, atol=0.15)
    # closed form of the middle rule on a ball: pi h^2 r / 6
    assert errors[0] == pytest.approx(np.pi * 4.0 * 20.0 / 6.0, rel=0.02)


def test_a_crumb_inside_another_body_is_counted_once():
    # a blunt needle whose section is too small to keep stands inside a block
    block = solids.box(2.0, 2.0, 2.0)
    needle = solids.box(0.004, 0.004, 1.0, (1.0, 1.0, 0.5))
    layers = cut_layers(heap_part(block, needle), 0.25)
    np.testing.assert_allclose(layers.area_mm2, 4.0, rtol=1e-9)
