"""What must hold for the gap of any two boxes through any swing."""

from dataclasses import replace

import pytest
import swings
from hypothesis import given, settings
from hypothesis import strategies as st

from buildplan.device.clearance import sweep_hinge

SEEDS = st.integers(1000, 1_000_000)
FEW = settings(max_examples=20, deadline=None, derandomize=True)


def swept(block, mover, swing, **more):
    fixed, moving = swings.as_part(block, "block"), swings.as_part(mover, "mover")
    return sweep_hinge([fixed], [moving], swing, **more).pairs[0]


def angle_in(spans, angle):
    return any(span.from_deg - 1e-9 <= angle <= span.to_deg + 1e-9 for span in spans)


@FEW
@given(SEEDS)
def test_the_way_back_has_the_gaps_of_the_way_there(seed):
    block, mover, swing = swings.random_scene(seed)
    back = replace(
        swing, axis=tuple(-x for x in swing.axis), from_deg=-swing.to_deg, to_deg=-swing.from_deg
    )
    there, again = swept(block, mover, swing), swept(block, mover, back)
    assert again.least_mm == pytest.approx(there.least_mm, abs=1e-6)
    assert len(again.violated) == len(there.violated)


@FEW
@given(SEEDS)
def test_a_scene_twice_as_large_has_twice_the_gap(seed):
    block, mover, swing = swings.random_scene(seed)
    small = swept(block, mover, swing, required_mm=0.4, reach_mm=20.0)
    double = (2.0, 2.0, 2.0)
    large = swept(block.scale(double), mover.scale(double), swing, required_mm=0.8, reach_mm=40.0)
    # the least gap is known to 2 % of itself or 0.01 mm
    slack = 2.0 * max(0.01, 0.02 * small.least_mm)
    assert large.least_mm == pytest.approx(2.0 * small.least_mm, abs=slack)


@FEW
@given(SEEDS)
def test_asking_for_more_never_shortens_what_is_violated(seed):
    block, mover, swing = swings.random_scene(seed)
    less = swept(block, mover, swing, required_mm=0.5)
    more = swept(block, mover, swing, required_mm=2.0)
    for violation in less.violated:
        assert angle_in(more.violated, violation.from_deg)
        assert angle_in(more.violated, violation.to_deg)
        assert angle_in(more.violated, violation.at_deg)


@FEW
@given(SEEDS)
def test_the_fixed_and_the_moving_part_change_places_when_the_turn_is_reversed(seed):
    block, mover, swing = swings.random_scene(seed)
    one = swept(block, mover, swing)
    other = swept(
        mover,
        block,
        replace(swing, axis=tuple(-x for x in swing.axis)),
    )
    slack = max(0.02, 0.04 * one.least_mm)
    assert other.least_mm == pytest.approx(one.least_mm, abs=slack)
    assert other.beyond == one.beyond
    assert bool(other.violated) == bool(one.violated)
