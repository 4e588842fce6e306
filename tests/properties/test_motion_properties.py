"""Motion: an independent oracle, and what must not change or may only go one way.

Oracle: with one acceleration a, the fastest squared speed at path length s is the envelope
v2(s) = min_j (v2_j + 2 a |s - s_j|) over all points j, cut off at every move's own top. Its time is
the integral of ds / v, taken densely here; the corner limits are written anew from angles.
"""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from moves import BEAD_MM, paths_by_hand
from rows import printer, recipe

from buildplan.process.motion import estimate_time
from buildplan.process.roles import Role

ROLES = (Role.OUTLINE, Role.WALL, Role.INFILL, Role.FLOOR_ROOF, Role.CENTRE)
FREE = recipe(layer_time_least_s=0.0, first_layer_frac=1.0)


def corner(before, after, accel, deviation):
    """(squared speed, length of the arc on each side in a small turn) of a corner, from angles."""
    turn = abs(
        math.atan2(
            before[0] * after[1] - before[1] * after[0], before[0] * after[0] + before[1] * after[1]
        )
    )
    if turn == 0.0:
        return math.inf, 0.0
    half = turn / 2.0
    shorter = min(math.hypot(*before), math.hypot(*after))
    radius = min(
        deviation * math.cos(half) / (1.0 - math.cos(half)), shorter / 2.0 / math.tan(half)
    )
    return accel * radius, radius * math.tan(half) if math.sin(half) <= 0.35 else 0.0


def oracle_s(points, tops, accel, deviation, samples):
    """Time of a polyline by the envelope, integrated with ``samples`` steps a move."""
    steps = np.diff(points, axis=0)
    lengths = np.hypot(*steps.T)
    count = len(steps)
    square = np.zeros(count + 1)
    arc = np.zeros(count + 1)
    for j in range(1, count):
        slower = min(tops[j - 1], tops[j]) ** 2
        square[j], arc[j] = corner(steps[j - 1], steps[j], accel, deviation)
        if square[j] >= slower:
            square[j], arc[j] = slower, 0.0
    caps = np.array(
        [
            min(
                tops[i] ** 2,
                max(
                    square[i],
                    square[i + 1],
                    accel * (lengths[i] - arc[i] - arc[i + 1]) + (square[i] + square[i + 1]) / 2.0,
                ),
            )
            for i in range(count)
        ]
    )
    station = np.concatenate([[0.0], np.cumsum(lengths)])
    total = 0.0
    for i in range(count):
        s = station[i] + lengths[i] * np.linspace(0.0, 1.0, samples + 1)
        reach = square[:, None] + 2.0 * accel * np.abs(s[None, :] - station[:, None])
        v = np.sqrt(np.minimum(reach.min(axis=0), caps[i]))
        total += float((2.0 * np.diff(s) / (v[:-1] + v[1:])).sum())
    return total


def random_line(rng, count):
    """A polyline that mixes straight runs, fine curves, zigzags and reversals."""
    angle = np.cumsum(
        np.where(rng.random(count) < 0.5, rng.normal(0.0, 0.1, count), rng.normal(0.0, 1.5, count))
    )
    length = 10.0 ** rng.uniform(-2.0, 1.5, count)
    steps = length[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    return np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])


def hours_of(paths, machine=None, **speeds):
    return estimate_time(paths, machine or printer(), recipe=replace(paths.recipe, **speeds)).time_h


@pytest.mark.parametrize("seed", range(6))
def test_random_polylines_agree_with_the_dense_envelope(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(40, 160))
    line = random_line(rng, count)
    roles = rng.choice(ROLES, count + 1)
    accel = 1300.0
    machine = printer(print_accel_mm_s2=accel, outline_accel_mm_s2=accel, flow_limit_mm3_s=5.0)
    speeds = {
        Role.OUTLINE: FREE.outline_mm_s,
        Role.WALL: FREE.wall_mm_s,
        Role.INFILL: FREE.infill_mm_s,
        Role.FLOOR_ROOF: FREE.floor_roof_mm_s,
        Role.CENTRE: FREE.centre_mm_s,
    }
    flow_top = 5.0 / (float(np.float32(BEAD_MM)) * FREE.layer_mm)
    tops = [min(speeds[Role(role)], flow_top) for role in roles[1:]]
    times = estimate_time(paths_by_hand([line], roles=[roles], recipe=FREE), machine)
    got = float(times.layer_time_s[0])
    coarse = oracle_s(line, tops, accel, machine.corner_deviation_mm, 50)
    dense = oracle_s(line, tops, accel, machine.corner_deviation_mm, 800)
    assert got == pytest.approx(dense, rel=1e-5)
    assert abs(got - dense) <= 0.2 * abs(got - coarse) + 1e-9 * got


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), factor=st.floats(1.01, 5.0))
def test_hours_fall_with_speed_acceleration_flow_and_deviation(seed, factor):
    rng = np.random.default_rng(seed)
    line = random_line(rng, 60)
    paths = paths_by_hand([line], roles=[rng.choice(ROLES, 61)], recipe=FREE)
    slack = 1.0 + 1e-12
    machine = printer(flow_limit_mm3_s=4.0)
    usual = hours_of(paths, machine)
    faster = {name: factor * getattr(FREE, name) for name in ("outline_mm_s", "infill_mm_s")}
    assert hours_of(paths, machine, **faster) <= usual * slack
    for name in (
        "print_accel_mm_s2",
        "outline_accel_mm_s2",
        "flow_limit_mm3_s",
        "corner_deviation_mm",
    ):
        quicker = replace(machine, **{name: factor * getattr(machine, name)})
        assert hours_of(paths, quicker) <= usual * slack, name


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), turn=st.floats(0.0, 6.28), shift=st.floats(-100.0, 100.0))
def test_turning_moving_and_reversing_a_path_keep_its_time(seed, turn, shift):
    rng = np.random.default_rng(seed)
    line = random_line(rng, 50)
    rotation = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    usual = hours_of(paths_by_hand([line], recipe=FREE))
    assert hours_of(paths_by_hand([line @ rotation.T + shift], recipe=FREE)) == pytest.approx(
        usual, rel=1e-6
    )
    assert hours_of(paths_by_hand([line[::-1]], recipe=FREE)) == pytest.approx(usual, rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), parts=st.integers(2, 6))
def test_cutting_a_straight_move_into_pieces_keeps_its_time(seed, parts):
    rng = np.random.default_rng(seed)
    # long moves: half a piece is longer than the arc of any corner
    line = 300.0 * random_line(rng, 20)
    share = np.linspace(0.0, 1.0, parts + 1)[1:]
    pieces = [line[:1]] + [a + share[:, None] * (b - a) for a, b in pairwise(line)]
    cut = np.concatenate(pieces)
    assert hours_of(paths_by_hand([cut], recipe=FREE)) == pytest.approx(
        hours_of(paths_by_hand([line], recipe=FREE)), rel=2e-3
    )


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10_000), workers=st.integers(2, 7))
def test_every_number_is_the_same_for_any_workers(seed, workers):
    rng = np.random.default_rng(seed)
    lines = [random_line(rng, int(rng.integers(1, 40))) for _ in range(9)] + [np.zeros((0, 2))]
    retracts = [(rng.random(len(line)) < 0.1).astype(np.uint8) for line in lines]
    roles = [rng.choice((Role.TRAVEL, *ROLES), len(line)) for line in lines]
    paths = paths_by_hand(lines, roles=roles, retracts=retracts, recipe=FREE)
    alone = estimate_time(paths, printer())
    together = estimate_time(paths, printer(), workers=workers)
    assert together.time_h == alone.time_h
    for name in ("layer_time_s", "role_time_s", "role_length_mm", "retractions", "slowed_s"):
        assert getattr(together, name).tobytes() == getattr(alone, name).tobytes(), name


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_no_layer_is_faster_than_its_length_at_full_speed(seed):
    rng = np.random.default_rng(seed)
    line = random_line(rng, 50)
    times = estimate_time(paths_by_hand([line], recipe=FREE), printer())
    length = np.hypot(*np.diff(line, axis=0).T)
    assert times.role_length_mm[0, Role.INFILL] == pytest.approx(length.sum(), rel=1e-12)
    at_full_speed = length.sum() / FREE.infill_mm_s
    stop_and_go = sum(
        n / FREE.infill_mm_s + FREE.infill_mm_s / 1500.0
        if n >= FREE.infill_mm_s**2 / 1500.0
        else 2.0 * math.sqrt(n / 1500.0)
        for n in length
    )
    assert at_full_speed < times.layer_time_s[0] <= stop_and_go * (1.0 + 1e-9)
