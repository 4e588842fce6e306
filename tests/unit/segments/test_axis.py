"""Cuts along one axis: profiles are exact, and the best places are those of a full enumeration."""

import math
from itertools import combinations, pairwise

import numpy as np
import pytest
import solids
from hypothesis import given
from hypothesis import strategies as st
from manifold3d import Manifold

from buildplan.kernels.share_below import shares_below
from buildplan.segments.axis import best_cuts, piece_costs, profile_along
from buildplan.segments.planes import make_plane, split_solid

BODIES = {
    "tub": lambda: solids.tub(64),
    "sphere": lambda: solids.sphere(20.0, 48),
    "box": lambda: solids.box(20, 30, 40),
    "leaning": lambda: solids.tee().rotate((20, 30, 10)).translate((500.0, -300.0, 90.0)),
}
WAYS = [(1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.6, 0.64, 0.48), (-0.866, 0.5, 0.0)]


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", BODIES)
def test_volume_surface_section_and_extents_are_those_of_the_real_cut(name, way):
    body = BODIES[name]()
    vertices, facets = solids.arrays(body)
    unit = np.array(way) / np.linalg.norm(way)
    along = vertices @ unit
    places = np.linspace(along.min(), along.max(), 9)[1:-1] + 1e-3
    sums, low, high = shares_below(vertices, facets, unit, places)
    for k, place in enumerate(places):
        cut = split_solid(body, make_plane(way, float(place)))
        assert sums[k, 0] == pytest.approx(cut.below.volume(), rel=1e-10)
        own = cut.below.surface_area() - cut.face_mm2
        assert sums[k, 1] == pytest.approx(own, rel=1e-10)
        assert sums[k, 2] == pytest.approx(cut.face_mm2, rel=1e-8)
        box = np.array(cut.below.bounding_box())
        assert low[: k + 1].min(axis=0) == pytest.approx(box[:3], abs=1e-9)
        assert high[: k + 1].max(axis=0) == pytest.approx(box[3:], abs=1e-9)
        over = np.array(cut.above.bounding_box())
        assert low[k + 1 :].min(axis=0) == pytest.approx(over[:3], abs=1e-9)
        assert high[k + 1 :].max(axis=0) == pytest.approx(over[3:], abs=1e-9)


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_profile_ends_at_the_whole(axis):
    body = solids.tub(64)
    profile = profile_along(*solids.arrays(body), axis)
    assert profile.volume_mm3[-1] == pytest.approx(body.volume(), rel=1e-12)
    assert profile.surface_mm2[-1] == pytest.approx(body.surface_area(), rel=1e-12)
    assert profile.volume_mm3[0] == 0.0
    assert (np.diff(profile.volume_mm3) > 0.0).all()
    assert profile.face_mm2[[0, -1]].tolist() == [0.0, 0.0]


def test_a_profile_through_a_level_floor_is_exact_where_sampled_sections_are_not():
    """A pan with a 2 mm floor: Simpson's rule over sections is off by per cents here."""
    pan = solids.box(50, 50, 40) - solids.box(44, 44, 40, (3, 3, 2))
    profile = profile_along(*solids.arrays(pan), 2, positions=16)
    inside = np.clip(profile.at_mm - 2.0, 0.0, None)
    expected = 50.0 * 50.0 * profile.at_mm - 44.0 * 44.0 * inside
    assert profile.volume_mm3 == pytest.approx(expected, rel=1e-12)


def test_a_part_far_from_the_origin_has_the_same_profile():
    near = solids.tub(64)
    far = near.translate((3000.0, -2000.0, 1000.0))
    one, other = (profile_along(*solids.arrays(body), 0) for body in (near, far))
    assert other.volume_mm3 == pytest.approx(one.volume_mm3, rel=1e-9, abs=1e-5)


def enumerate_best(cost, closed, pieces):
    """Every combination of places, one after the other."""
    count = len(cost)
    free = [i for i in range(1, count - 1) if not closed[i]]
    best = math.inf
    for inner in combinations(free, pieces - 1):
        ends = (0, *inner, count - 1)
        total = sum(cost[a, b] for a, b in pairwise(ends))
        best = min(best, total)
    return best


@given(st.integers(0, 10_000), st.integers(3, 12))
def test_the_best_places_equal_those_of_every_combination(seed, count):
    rng = np.random.default_rng(seed)
    cost = np.full((count, count), np.inf)
    upper = np.triu_indices(count, 1)
    cost[upper] = rng.uniform(0.0, 10.0, len(upper[0]))
    cost[upper] = np.where(rng.uniform(size=len(upper[0])) < 0.2, np.inf, cost[upper])
    closed = rng.uniform(size=count) < 0.2
    found = best_cuts(cost, closed, 6)
    for pieces in range(1, 7):
        expected = enumerate_best(cost, closed, pieces)
        if math.isinf(expected):
            assert pieces not in found
            continue
        total, places = found[pieces]
        assert total == pytest.approx(expected, abs=1e-12)
        ends = (0, *places, count - 1)
        assert sum(cost[a, b] for a, b in pairwise(ends)) == total
        assert not closed[list(places)].any()


def test_the_best_places_on_a_real_profile_equal_every_combination():
    profile = profile_along(*solids.arrays(solids.tub(64)), 0, positions=20)

    def cost_of(volume, side, size, face):
        hours = volume / 3e4 + side / 1e4 + size[:, 2] / 100.0
        joints = np.where(face > 0.0, 1.0 / 3.0 + 5e-5 * face, 0.0)
        return np.expm1(0.05 * hours) / 0.05 + joints

    cost = piece_costs(profile, cost_of)
    closed = np.zeros(21, np.bool_)
    closed[10] = True
    for pieces, (total, places) in best_cuts(cost, closed, 5).items():
        assert total == pytest.approx(enumerate_best(cost, closed, pieces), abs=1e-12)
        assert 10 not in places


def test_the_piece_between_two_places_is_the_piece_that_is_cut_there():
    body = solids.tub(64)
    profile = profile_along(*solids.arrays(body), 2, positions=12)
    seen = {}

    def cost_of(volume, side, size, face):
        seen[len(volume)] = (volume.copy(), size.copy(), face.copy())
        return volume

    cost = piece_costs(profile, cost_of)
    lower = split_solid(body, make_plane("z", float(profile.at_mm[9]))).below
    piece = split_solid(lower, make_plane("z", float(profile.at_mm[4]))).above
    assert cost[4, 9] == pytest.approx(piece.volume(), rel=1e-10)
    box = np.array(piece.bounding_box())
    assert seen[8][1][4] == pytest.approx(box[3:] - box[:3], abs=1e-9)
    assert isinstance(piece, Manifold)
