"""Cutting, searching and coupons against the bare library and against doing it the plain way."""

from itertools import combinations, pairwise
from statistics import median

import numpy as np
import pytest
import solids
from benchmarks.ratio import ratio, record, seconds
from manifold3d import Manifold, Mesh64

from buildplan.part import part_from_mesh
from buildplan.segments.axis import best_cuts, profile_along
from buildplan.segments.coupon import cut_coupon
from buildplan.segments.joints import JointSpec
from buildplan.segments.model import SplitLimits
from buildplan.segments.planes import make_plane, split_solid
from buildplan.segments.search import SearchTask, search_cuts
from buildplan.segments.solid import solid_of


@pytest.fixture(scope="module")
def large():
    return part_from_mesh(*solids.arrays(solids.tub(1024)), name="tub", health="quick")


@pytest.mark.slow
def test_split_and_verify_take_little_longer_than_the_bare_split(large):
    solid = solid_of(large)
    plane = make_plane((0.3, -0.5, 0.8), 33.0)

    def ours():
        cut = split_solid(solid, plane)
        assert cut.above.volume() + cut.below.volume() == pytest.approx(solid.volume(), rel=1e-9)

    def bare():
        for half in solid.split_by_plane(plane.normal, plane.offset_mm):
            assert half.num_tri()

    record(
        f"split and verify, {solid.num_tri()} triangles",
        "manifold3d's bare split_by_plane",
        ratio(ours, bare, rounds=5),
        0.5,
    )


def cost_of(volume, side, size):
    need = np.ceil(size / np.array([220.0, 220.0, 250.0]) - 1e-9).prod(axis=1)
    hours = 20.0 * volume / 5.5e5 + 1e-5 * side
    return need * np.expm1(0.0144 * hours / need) / 0.0144 + need - 1.0, need


@pytest.mark.slow
def test_the_cheap_look_is_many_times_faster_at_equal_cost():
    body = solids.tub(160)
    task = SearchTask(
        cost_of=cost_of,
        cut_cost=lambda face: 1.0 / 3.0 + 5e-5 * face,
        limits=SplitLimits(most_h=np.inf, least_frac=0.04, keep=np.zeros((0, 6)), keep_names=()),
        spec=JointSpec(kind="pins", size_mm=1.0, depth_mm=6.0, clearance_mm=0.1),
        most=4,
    )
    quick, _ = search_cuts(body, task)
    full, _ = search_cuts(body, task, full=True)
    for pieces in (2, 3, 4):
        assert quick[pieces][0].cost <= 1.005 * full[pieces][0].cost
        assert quick[pieces][0].is_done == full[pieces][0].is_done
    measured = ratio(
        lambda: search_cuts(body, task), lambda: search_cuts(body, task, full=True), rounds=1
    )
    record("beam search, judged before it cuts", "making every cut, equal cost", measured, 4.0)


@pytest.mark.slow
def test_a_profile_is_many_times_faster_than_real_cuts():
    body = solids.tub(320)
    vertices, facets = solids.arrays(body)
    profile = profile_along(vertices, facets, 0)

    def cuts():
        volumes = [
            body.trim_by_plane((-1.0, 0.0, 0.0), -float(at)).volume() for at in profile.at_mm[1:-1]
        ]
        assert volumes == pytest.approx(profile.volume_mm3[1:-1].tolist(), rel=1e-9)

    measured = ratio(lambda: profile_along(vertices, facets, 0), cuts, rounds=2)
    record("profile of 96 places, 25k triangles", "manifold3d's trims, equal volumes", measured, 50)


def test_places_by_dynamic_programming_against_every_combination():
    rng = np.random.default_rng(3)
    cost = np.triu(rng.uniform(1.0, 9.0, (25, 25)), 1)
    cost[cost == 0.0] = np.inf
    closed = np.zeros(25, np.bool_)

    def plain():
        found = {}
        for pieces in range(1, 5):
            ends = ((0, *inner, 24) for inner in combinations(range(1, 24), pieces - 1))
            found[pieces] = min(sum(cost[a, b] for a, b in pairwise(end)) for end in ends)
        return found

    totals = {pieces: total for pieces, (total, _) in best_cuts(cost, closed, 4).items()}
    assert totals == pytest.approx(plain(), abs=1e-12)
    measured = ratio(lambda: best_cuts(cost, closed, 4), plain, rounds=3)
    record("best places of up to 4 pieces", "every combination of 25 places", measured, 20)


@pytest.mark.slow
def test_a_coupon_takes_little_longer_than_a_bare_boolean(large):
    low, high = large.vertices_mm.min(axis=0), large.vertices_mm.max(axis=0)
    box = (high[0] - 20.0, -15.0, high[2] - 30.0, high[0], 15.0, high[2])
    block = Manifold.cube((24.0, 34.0, 34.0)).translate((high[0] - 22.0, -17.0, high[2] - 32.0))
    assert (low < high).all()

    def bare():
        solid = Manifold(
            Mesh64(
                np.array(large.vertices_mm, order="C"),
                np.array(large.facets, dtype=np.uint64, order="C"),
            )
        )
        assert (solid ^ block).num_tri()

    own, other = [], []
    for _ in range(5):
        own.append(seconds(lambda: cut_coupon(large, box)))
        other.append(seconds(bare))
    record(
        f"coupon, {len(large.facets)} triangles",
        "manifold3d's bare import and boolean",
        median(other) / median(own),
        0.5,
    )
