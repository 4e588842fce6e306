"""The beam search: known best cuts are found, keep-outs hold, and the cheap look loses nothing."""

import math

import numpy as np
import pytest
import solids
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from buildplan.segments.bodies import bodies_of, keep_in_the_way
from buildplan.segments.joints import JointSpec
from buildplan.segments.model import SplitLimits
from buildplan.segments.planes import make_plane
from buildplan.segments.search import (
    SearchTask,
    directions,
    search_cuts,
)

AXES = directions()[:3]


def task(room=(100.0, 100.0, 100.0), most=4, keep=(), least=0.04, joint=0.5):
    """Cost: volume to the power 1.2, so that equal parts are best, and joint for each cut."""

    def cost_of(volume, side, size):
        need = np.ceil(size / np.array(room) - 1e-9).prod(axis=1)
        return need * (volume / 1e4 / need) ** 1.2, need

    return SearchTask(
        cost_of=cost_of,
        cut_cost=lambda face: joint + 1e-6 * face,
        limits=SplitLimits(
            most_h=math.inf,
            least_frac=least,
            keep=np.array(keep, dtype=float).reshape(-1, 6),
            keep_names=tuple(f"box {number}" for number in range(len(keep))),
        ),
        spec=JointSpec(kind="pins", size_mm=2.0, depth_mm=4.0, clearance_mm=0.1),
        most=most,
    )


def made(solid, plan):
    """The bodies that a plan cuts, by really cutting."""
    pieces = [solid]
    for index, plane in plan.cuts:
        above, below = pieces[index].split_by_plane(plane.normal, plane.offset_mm)
        pieces = [*pieces[:index], *bodies_of(above), *bodies_of(below), *pieces[index + 1 :]]
    return pieces


def test_a_bar_is_cut_in_its_middle():
    plans, _ = search_cuts(solids.box(160, 40, 30), task(most=2))
    best = plans[2][0]
    assert best.is_done
    assert best.cuts[0][1] == make_plane("x", 80.0)


def test_a_slab_that_is_too_wide_both_ways_is_quartered():
    plans, _ = search_cuts(solids.box(180, 180, 20), task(most=4))
    best = plans[4][0]
    assert best.is_done
    volumes = [piece.volume() for piece in made(solids.box(180, 180, 20), best)]
    assert volumes == pytest.approx([180 * 180 * 20 / 4] * 4, rel=1e-9)
    assert not plans[2][0].is_done
    assert not plans[3][0].is_done


def test_every_plan_has_as_many_bodies_as_it_says_and_none_is_a_crumb():
    body = solids.tub(96)
    plans, _ = search_cuts(body, task(room=(220.0, 220.0, 250.0), most=5))
    assert sorted(plans) == [1, 2, 3, 4, 5]
    for pieces, group in plans.items():
        for plan in group:
            bodies = made(body, plan)
            assert len(bodies) == pieces == plan.pieces
            assert min(b.volume() for b in bodies) >= 0.04 * body.volume() - 1e-6
            assert sum(b.volume() for b in bodies) == pytest.approx(body.volume(), rel=1e-9)


def test_a_box_to_be_left_whole_moves_the_cut_and_says_so():
    keep = [(70.0, 0.0, 0.0, 90.0, 40.0, 30.0)]
    plans, refused = search_cuts(solids.box(160, 40, 30), task(most=2, keep=keep), normals=AXES)
    plane = plans[2][0].cuts[0][1]
    assert plane.normal != (1.0, 0.0, 0.0) or not 70.0 < plane.offset_mm < 90.0
    assert any(r.reason == "would cut box 0" and r.plane.offset_mm == 80.0 for r in refused)


def test_keep_outs_are_clipped_to_the_piece():
    """A box that lies in one half does not forbid a plane through the other half."""
    limits = task(keep=[(60.0, 0.0, 0.0, 100.0, 50.0, 50.0)]).limits
    plane = make_plane("y", 25.0)
    assert keep_in_the_way(plane, (0.0, 0.0, 0.0, 100.0, 50.0, 50.0), limits) == "box 0"
    assert keep_in_the_way(plane, (0.0, 0.0, 0.0, 60.0, 50.0, 50.0), limits) == ""
    assert keep_in_the_way(make_plane("y", 50.0), (0.0, 0.0, 0.0, 100.0, 50.0, 50.0), limits) == ""


def test_small_pieces_are_refused_with_their_share():
    comb = solids.box(100, 20, 5) + solids.box(2, 20, 30, (49, 0, 0))
    _, refused = search_cuts(comb, task(most=3, least=0.3), normals=[(0.0, 0.0, 1.0)])
    assert any("% allowed" in r.reason and "leaves a piece of" in r.reason for r in refused)


@settings(max_examples=8, deadline=None, phases=[Phase.generate])
@given(st.tuples(*(st.floats(40.0, 190.0) for _ in range(3))), st.integers(0, 100))
def test_the_cheap_look_is_as_good_as_making_every_cut(size, seed):
    rng = np.random.default_rng(seed)
    body = solids.box(*size)
    for _ in range(3):
        low = rng.uniform(0.0, 0.7, 3) * size
        body = body - solids.box(*(0.3 * np.array(size)), tuple(low))
    body = max(body.decompose(), key=lambda piece: piece.volume())
    asked = task(most=4)
    quick, _ = search_cuts(body, asked, normals=AXES)
    full, _ = search_cuts(body, asked, normals=AXES, full=True)
    for pieces in sorted(full):
        if pieces in quick:
            best, every = quick[pieces][0], full[pieces][0]
            assert best.is_done or not every.is_done
            if best.is_done and every.is_done:
                assert best.cost <= 1.03 * every.cost + 1e-9


@pytest.mark.slow
def test_on_the_tub_the_cheap_look_finds_the_same_cost():
    body = solids.tub(24)
    asked = task(room=(220.0, 220.0, 250.0), most=3)
    quick, _ = search_cuts(body, asked)
    full, _ = search_cuts(body, asked, full=True)
    for pieces in (2, 3):
        assert quick[pieces][0].cost <= 1.005 * full[pieces][0].cost


def test_a_part_turned_by_a_quarter_gets_its_plan_turned():
    body = solids.box(170, 60, 30) + solids.box(20, 60, 70, (10, 0, 0))
    turned = body.rotate((0.0, 0.0, 90.0))
    one, _ = search_cuts(body, task())
    other, _ = search_cuts(turned, task())
    assert sorted(one) == sorted(other)
    for pieces in one:
        assert other[pieces][0].cost == pytest.approx(one[pieces][0].cost, rel=1e-6)
        volumes = sorted(p.volume() for p in made(body, one[pieces][0]))
        again = sorted(p.volume() for p in made(turned, other[pieces][0]))
        assert again == pytest.approx(volumes, rel=1e-6)


def test_the_same_search_twice_finds_the_same_planes():
    body = solids.tub(48)
    asked = task(room=(220.0, 220.0, 250.0), most=4)
    assert search_cuts(body, asked) == search_cuts(body, asked)
