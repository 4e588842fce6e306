"""What must hold for any set of parts: nothing overlaps, nothing is lost, order does not matter."""

import numpy as np
import pytest
import rows
import solids
from hypothesis import given, settings
from hypothesis import strategies as st
from packing_samples import angle_piece, ask, bare, block, disc, held

from buildplan.checks.packing import pack_cycles, silhouette
from buildplan.part import part_from_mesh

FEW = settings(max_examples=12, deadline=None, derandomize=True)
LENGTH = st.floats(8.0, 70.0)
SHAPE = st.one_of(
    st.tuples(st.just("block"), LENGTH, LENGTH),
    st.tuples(st.just("angle"), st.floats(30.0, 70.0), st.floats(5.0, 12.0)),
    st.tuples(st.just("disc"), st.floats(5.0, 30.0), st.just(0.0)),
)


def request(number, shape, quantity):
    kind, a, b = shape
    name = f"{kind} {number}"
    if kind == "block":
        return ask(block(name, a, b), quantity)
    if kind == "angle":
        return ask(angle_piece(name, a, b), quantity)
    return ask(disc(name, a, segments=24), quantity)


@FEW
@given(
    shapes=st.lists(st.tuples(SHAPE, st.integers(1, 3)), min_size=1, max_size=4),
    gap=st.sampled_from([0.0, 2.0, 7.5]),
    is_round=st.booleans(),
    margin=st.sampled_from([0.0, 6.0]),
)
def test_every_copy_stands_on_the_platform_with_its_gap(shapes, gap, is_round, margin):
    printer = rows.printer(
        platform="round" if is_round else "rectangle",
        width_mm=140.0,
        depth_mm=140.0 if is_round else 110.0,
        platform_margin_mm=margin,
    )
    requests = [request(k, shape, count) for k, (shape, count) in enumerate(shapes)]
    # angle pieces are named by their own function; names must differ
    requests = [ask(r.part, r.quantity) for r in requests]
    plan = pack_cycles(unlike(requests), printer, gap_mm=gap)
    held(unlike(requests), plan, gap)


def unlike(requests):
    """Requests with a name each."""
    from dataclasses import replace

    return [replace(r, name=f"{r.name} {k}") for k, r in enumerate(requests)]


@FEW
@given(shapes=st.lists(SHAPE, min_size=2, max_size=5))
def test_a_larger_platform_or_a_smaller_gap_never_needs_more_cycles_than_one_for_each(shapes):
    requests = unlike([request(k, shape, 1) for k, shape in enumerate(shapes)])
    tight = pack_cycles(requests, bare(width_mm=120.0, depth_mm=120.0), gap_mm=8.0)
    wide = pack_cycles(requests, bare(width_mm=400.0, depth_mm=400.0), gap_mm=0.5)
    assert len(wide.cycles) == 1
    assert 1 <= len(tight.cycles) <= len(requests)
    area = sum(silhouette(r.part).area for r in requests)
    assert area <= len(tight.cycles) * 120.0**2
    covered = sum(cycle.used_frac for cycle in tight.cycles) * 120.0**2
    assert covered == pytest.approx(area, rel=1e-9)


@FEW
@given(
    turn=st.floats(0.0, 360.0),
    move=st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4), st.floats(-1e3, 1e3)),
)
def test_the_silhouette_turns_and_moves_with_the_part(turn, move):
    vertices, facets = solids.arrays(solids.tee())
    before = silhouette(part_from_mesh(vertices, facets, name="tee"))
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    turned = vertices @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]).T + np.array(move)
    after = silhouette(part_from_mesh(turned, facets, name="tee"))
    assert after.area == pytest.approx(before.area, rel=1e-6)
    assert after.length == pytest.approx(before.length, rel=1e-6)
    expected = np.array([[c, -s], [s, c]]) @ np.array(before.centroid.coords[0]) + move[:2]
    assert after.centroid.coords[0] == pytest.approx(tuple(expected), abs=1e-3)
