"""What must hold for gaps, holes and pins however a part is turned, moved and divided."""

from dataclasses import replace

import gap_solids as gs
import pytest
import rows
from hypothesis import given, settings
from hypothesis import strategies as st

from buildplan.checks.gaps import check_gaps

FEW = settings(max_examples=6, deadline=None, derandomize=True)
ANY_TURN = st.tuples(*[st.floats(-1.0, 1.0)] * 4).filter(lambda q: sum(v * v for v in q) > 0.01)
WIDE = replace(gs.RULES, gap_moving_mm=1.2)


def figures(part):
    """Sorted widths, areas and diameters, whatever the order in which they were found."""
    found = check_gaps(part, rows.recipe(), WIDE)
    gaps = sorted((gap.low_mm, gap.area_mm2) for gap in found.gaps)
    holes = sorted((hole.drawn_mm, hole.depth_mm) for hole in found.holes)
    pins = sorted((pin.diameter_mm, pin.length_mm) for pin in found.pins)
    return [value for pair in (*gaps, *holes, *pins) for value in pair]


@pytest.fixture(scope="module")
def plain():
    numbers = figures(gs.as_part(gs.board()))
    assert len(numbers) == 24
    return numbers


@FEW
@given(turn=ANY_TURN)
def test_a_rotation_changes_no_gap_hole_or_pin(plain, turn):
    assert figures(gs.turned(gs.board(), turn)) == pytest.approx(plain, rel=0.001)


def test_a_place_far_from_the_origin_changes_nothing(plain):
    far = gs.turned(gs.board(), (0.9, 0.1, -0.3, 0.2), shift=(1e5, -1e5, 1e5))
    assert figures(far) == pytest.approx(plain, rel=0.001)


@pytest.mark.parametrize("times", [2, 4])
def test_finer_facets_change_nothing(plain, times):
    assert figures(gs.as_part(gs.board().refine(times))) == pytest.approx(plain, rel=0.001)


@FEW
@given(
    diameter=st.floats(0.4, 5.9),
    sides=st.integers(8, 96),
    lean=st.floats(0.0, 60.0),
    turn=st.floats(0.0, 360.0),
)
def test_a_hole_of_any_sides_and_lean_has_the_diameter_of_its_corners(diameter, sides, lean, turn):
    body = gs.box(60, 60, 8, (-30, -30, -4))
    body -= gs.bar(diameter, 100, sides).rotate((0, lean, turn))
    (hole,) = gs.gaps_of(body).holes
    assert hole.drawn_mm == pytest.approx(diameter, rel=0.002)
    assert hole.through
    assert hole.upright is (lean < 30.0)


@FEW
@given(gap=st.floats(0.1, 0.39), deep=st.floats(2.0, 20.0), long=st.floats(3.0, 30.0))
def test_a_slot_of_any_size_has_its_exact_width_and_area(gap, deep, long):
    body = gs.box(40, 40, deep) - gs.box(gap, long, 60, (20, 4, -20))
    (found,) = gs.gaps_of(body).gaps
    assert found.low_mm == pytest.approx(gap, rel=1e-6)
    assert found.area_mm2 == pytest.approx(2.0 * deep * long, rel=1e-6)
    assert found.fused is (gap < gs.RULES.gap_fused_mm)
