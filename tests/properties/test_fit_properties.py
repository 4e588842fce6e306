"""What must hold for the fit of any part: found again when tilted, never lost in more room."""

import numpy as np
import rows
import solids
from bare_parts import bare_part
from hypothesis import given, settings
from hypothesis import strategies as st

from buildplan.checks.fit import check_fit

FEW = settings(max_examples=25, deadline=None, derandomize=True)
LENGTH = st.floats(20.0, 100.0)
ANY_TURN = st.tuples(*[st.floats(-1.0, 1.0)] * 4).filter(lambda q: sum(v * v for v in q) > 0.01)


def room(x, y, z, **changes):
    changes.setdefault("platform_margin_mm", 0.0)
    return rows.printer(width_mm=x, depth_mm=y, height_mm=z, **changes)


def turned(body, quaternion):
    """Vertices of a body under a rotation; facets as they are."""
    w, x, y, z = np.array(quaternion) / np.linalg.norm(quaternion)
    turn = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    vertices, facets = solids.arrays(body)
    return bare_part(vertices @ turn.T, facets)


@FEW
@given(st.tuples(LENGTH, LENGTH, LENGTH), st.permutations([0, 1, 2]), ANY_TURN)
def test_a_tilted_box_is_found_to_fit_a_room_a_third_of_a_percent_larger(size, order, turn):
    part = turned(solids.box(*size), turn)
    fit = check_fit(part, room(*(1.003 * size[i] for i in order)))
    assert fit.fits
    matrix = np.array(fit.matrix).reshape(4, 4)
    points = part.vertices_mm @ matrix[:3, :3].T + matrix[:3, 3]
    limit = [1.003 * size[i] for i in order]
    assert (points >= -1e-5).all()
    assert (points <= np.array(limit) + 1e-5).all()


@FEW
@given(st.tuples(LENGTH, LENGTH, LENGTH), ANY_TURN, st.floats(0.0, 40.0))
def test_more_room_never_turns_a_yes_into_a_no(size, turn, more):
    part = turned(solids.box(*size), turn)
    if check_fit(part, room(90.0, 80.0, 70.0)).fits:
        assert check_fit(part, room(90.0 + more, 80.0 + more, 70.0 + more)).fits


@FEW
@given(st.tuples(LENGTH, LENGTH, LENGTH), st.floats(0.0, 20.0))
def test_a_margin_counts_like_a_smaller_platform(size, margin):
    part = turned(solids.box(*size), (1.0, 0.0, 0.0, 0.0))
    wide = check_fit(part, room(120.0, 110.0, 105.0, platform_margin_mm=margin))
    narrow = check_fit(part, room(120.0 - 2 * margin, 110.0 - 2 * margin, 105.0))
    assert wide.how == narrow.how
    np.testing.assert_allclose(wide.slack_mm, narrow.slack_mm, atol=1e-9)


@FEW
@given(st.tuples(LENGTH, LENGTH, LENGTH), ANY_TURN)
def test_what_is_left_of_the_room_and_the_excess_agree(size, turn):
    fit = check_fit(turned(solids.box(*size), turn), room(75.0, 75.0, 60.0))
    if fit.fits:
        assert min(fit.slack_mm) >= -1e-6
        assert fit.excess_mm == 0.0
    else:
        assert fit.excess_mm == -min(fit.slack_mm) > 0


@FEW
@given(st.floats(10.0, 60.0), st.floats(5.0, 90.0), ANY_TURN)
def test_a_tilted_rod_stands_up_again_on_a_round_platform(radius, height, turn):
    body = solids.Manifold.cylinder(height, radius, radius, 90)
    part = turned(body, turn)
    fit = check_fit(part, room(2.01 * radius, 2.01 * radius, 1.01 * height, platform="round"))
    assert fit.fits
