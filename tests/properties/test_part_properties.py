"""Moving, turning, scaling, mirroring and splitting a mesh change a Part only as they must."""

import numpy as np
import pytest
import solids
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from buildplan.part import part_from_mesh

BODIES = {
    "tee": solids.tee(),
    "tub": solids.tub(segments=24),
    "hollow": solids.box(30, 30, 30) - solids.sphere(9.0, 24).translate((15, 15, 5)),
    "two": solids.box() + solids.box(at=(40.0, 0.0, 0.0)),
}
MESHES = {name: solids.arrays(body) for name, body in BODIES.items()}
PARTS = {}


def part_of(name):
    if name not in PARTS:
        PARTS[name] = part_from_mesh(*MESHES[name])
    return PARTS[name]


def agree(part, wanted, factor=1.0, rel=1e-9):
    assert part.volume_mm3 == pytest.approx(wanted.volume_mm3 * factor**3, rel=rel)
    assert part.area_mm2 == pytest.approx(wanted.area_mm2 * factor**2, rel=rel)
    assert (part.closed, part.shells) == (wanted.closed, wanted.shells)
    assert part.health.grade == wanted.health.grade == "exact"
    assert part.health.self_intersections == part.health.overlapping_shells == 0


names = st.sampled_from(sorted(BODIES))
quick = settings(max_examples=25, deadline=None)


@quick
@given(names, st.integers(0, 2**32 - 1), st.tuples(*[st.floats(-1e4, 1e4)] * 3))
def test_turning_and_moving_leave_volume_area_and_shells(name, seed, shift):
    vertices, facets = MESHES[name]
    turn = Rotation.random(random_state=seed).as_matrix()
    wanted = part_of(name)
    part = part_from_mesh(vertices @ turn.T + shift, facets)
    agree(part, wanted, rel=1e-8)
    moved = turn @ np.array(wanted.centre_of_mass_mm) + shift
    assert part.centre_of_mass_mm == pytest.approx(tuple(moved), abs=1e-6)


@quick
@given(names, st.floats(1e-3, 1e3))
def test_scaling_scales_by_the_second_and_third_power(name, factor):
    vertices, facets = MESHES[name]
    agree(part_from_mesh(vertices * factor, facets), part_of(name), factor)


@quick
@given(names, st.integers(0, 2))
def test_mirroring_gives_the_same_body_turned_over(name, axis):
    vertices, facets = MESHES[name]
    mirrored = vertices.copy()
    mirrored[:, axis] *= -1.0
    agree(part_from_mesh(mirrored, facets[:, ::-1]), part_of(name))
    inside_out = part_from_mesh(mirrored, facets)
    assert inside_out.health.grade == "repaired"
    assert inside_out.volume_mm3 == pytest.approx(part_of(name).volume_mm3)
    assert inside_out.shells == part_of(name).shells


@pytest.mark.parametrize("name", sorted(BODIES))
def test_splitting_every_facet_in_four_changes_nothing_but_their_number(name):
    vertices, facets = MESHES[name]
    a, b, c = (vertices[facets[:, k]] for k in range(3))
    ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
    soup = np.stack([a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca], axis=1).reshape(-1, 3)
    part = part_from_mesh(soup, np.arange(len(soup)).reshape(-1, 3))
    agree(part, part_of(name))
    assert len(part.facets) == 4 * len(facets)


@quick
@given(names, st.randoms(use_true_random=False))
def test_the_order_of_facets_and_corners_does_not_matter(name, chance):
    vertices, facets = MESHES[name]
    rng = np.random.default_rng(chance.getrandbits(32))
    order = rng.permutation(len(facets))
    rolled = np.array([np.roll(f, rng.integers(3)) for f in facets[order]])
    agree(part_from_mesh(vertices, rolled), part_of(name))


@quick
@given(names, st.integers(0, 2**32 - 1), st.integers(1, 6))
def test_a_few_missing_facets_come_back_or_are_owned_up_to(name, seed, count):
    vertices, facets = MESHES[name]
    rng = np.random.default_rng(seed)
    keep = np.ones(len(facets), bool)
    keep[rng.choice(len(facets), count, replace=False)] = False
    part = part_from_mesh(vertices, facets[keep], fill_holes_mm=1e3)
    assert part.health.grade == "repaired"
    assert part.closed
    assert [f for f in part.findings if f.check == "repair"]


@quick
@given(names, st.integers(0, 2**32 - 1), st.floats(0.05, 0.95))
def test_any_share_of_turned_facets_is_turned_back(name, seed, share):
    vertices, facets = MESHES[name]
    turned = np.random.default_rng(seed).random(len(facets)) < share
    mixed = facets.copy()
    mixed[turned] = mixed[turned][:, ::-1]
    part = part_from_mesh(vertices, mixed)
    assert part.volume_mm3 == pytest.approx(part_of(name).volume_mm3, rel=1e-9)
    assert part.closed
    assert part.shells == part_of(name).shells


@quick
@given(names)
def test_the_same_arrays_give_the_same_part_to_the_byte(name):
    again = part_from_mesh(*MESHES[name])
    assert again.key == part_of(name).key
    assert again.vertices_mm.tobytes() == part_of(name).vertices_mm.tobytes()
    assert again.facets.tobytes() == part_of(name).facets.tobytes()
    assert again.volume_mm3 == part_of(name).volume_mm3
