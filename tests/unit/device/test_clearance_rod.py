"""A rod between two moving pins: the kernel's distance, closed forms, bad input."""

import math

import numpy as np
import pytest
import solids
import swings
from manifold3d import Manifold

from buildplan.device.clearance import sweep_rod
from buildplan.errors import InputError
from buildplan.kernels.facet_tree import build_facet_tree
from buildplan.kernels.segment_gap import segment_gap


def only(clearance):
    (pair,) = clearance.pairs
    return pair


def crank(turns_deg, radius=20.0, x=0.0):
    """A pin on a circle about the x axis, from the top to the side."""
    angle = np.radians(turns_deg)
    return np.column_stack([np.full_like(angle, x), radius * np.sin(angle), radius * np.cos(angle)])


@pytest.mark.parametrize("seed", range(20))
def test_the_distance_of_a_segment_is_that_of_its_points(seed):
    rng = np.random.default_rng(seed)
    body = Manifold.cube(tuple(rng.uniform(2.0, 20.0, 3)), True).rotate(
        tuple(rng.uniform(0, 90, 3))
    )
    body = body + Manifold.sphere(4.0, 24).translate(tuple(rng.uniform(-9.0, 9.0, 3)))
    vertices, facets = solids.arrays(body)
    _, corners, boxes, leaves = build_facet_tree(vertices[facets])
    start, end = rng.uniform(-30.0, 30.0, (2, 3))
    measured = segment_gap(corners, boxes, leaves, start, end)
    points = [start + share * (end - start) for share in np.linspace(0.0, 1.0, 400)]
    scan = min(segment_gap(corners, boxes, leaves, p, p)[0] for p in points)
    half = np.linalg.norm(end - start) / 399 / 2.0
    assert measured[0] <= scan + 1e-9
    assert scan <= measured[0] + half
    assert np.linalg.norm(measured[1:4] - measured[4:7]) == pytest.approx(measured[0], abs=1e-9)
    # and points have the gap that the other library gives a tiny ball there
    ball = Manifold.sphere(1e-3, 8).translate(tuple(start))
    outside = (ball ^ body).volume() == 0.0
    if outside:
        assert segment_gap(corners, boxes, leaves, start, start)[0] == pytest.approx(
            ball.min_gap(body, 200.0), abs=2e-3
        )


def test_a_rod_that_swings_down_past_an_edge_has_its_closed_form_gap():
    # both pins on a circle of 20 mm about x; a shelf's edge at 45 degrees, 26 mm out
    turns = np.linspace(0.0, 90.0, 181)
    edge = 26.0 / math.sqrt(2.0)
    shelf = swings.as_part(solids.box(40, 30, 30, (-20.0, edge, edge)), "shelf")
    pair = only(
        sweep_rod(
            [shelf],
            angle_deg=turns,
            start_mm=crank(turns, x=-15.0),
            end_mm=crank(turns, x=15.0),
            radius_mm=3.0,
        )
    )
    assert pair.least_mm == pytest.approx(26.0 - 20.0 - 3.0, abs=1e-6)
    assert pair.at_deg == pytest.approx(45.0, abs=0.01)
    assert 2.9 <= pair.proven_mm <= pair.least_mm
    assert pair.place_mm[1:] == pytest.approx((24.5 / math.sqrt(2.0),) * 2, abs=1e-3)
    assert not pair.violated


def test_a_rod_that_hits_is_stopped_in_a_stated_interval():
    # it comes down on a floor whose top lies 10 mm above the axis: 20 cos a = 10 + 3 + 0.3
    turns = np.linspace(0.0, 90.0, 361)
    floor = swings.as_part(solids.box(60, 80, 30, (-30.0, -40.0, -20.0)), "floor")
    clearance = sweep_rod(
        [floor],
        angle_deg=turns,
        start_mm=crank(turns, x=-15.0),
        end_mm=crank(turns, x=15.0),
        radius_mm=3.0,
    )
    pair = only(clearance)
    (violation,) = pair.violated
    assert violation.from_deg == pytest.approx(math.degrees(math.acos(13.3 / 20.0)), abs=0.1)
    assert violation.to_deg == 90.0
    assert violation.overlap_mm3 > 500.0
    assert clearance.findings[0].severity == "stop"
    assert "push rod runs into floor from 48" in clearance.findings[0].what


def test_a_rod_inside_a_block_is_told():
    turns = np.linspace(0.0, 20.0, 41)
    block = swings.as_part(solids.box(200, 200, 200, (-100.0, -100.0, -100.0)), "block")
    pair = only(
        sweep_rod(
            [block],
            angle_deg=turns,
            start_mm=crank(turns, x=-15.0),
            end_mm=crank(turns, x=15.0),
            radius_mm=3.0,
        )
    )
    assert pair.contained
    assert pair.least_mm == 0.0


def test_what_a_bent_path_adds_is_held_back():
    # coarse angles: chords of the circle, whose rise is 20 (1 - cos 7.5) = 0.171 mm
    turns = np.linspace(0.0, 90.0, 7)
    edge = 26.0 / math.sqrt(2.0)
    shelf = swings.as_part(solids.box(40, 30, 30, (-20.0, edge, edge)), "shelf")
    pair = only(
        sweep_rod(
            [shelf],
            angle_deg=turns,
            start_mm=crank(turns, x=-15.0),
            end_mm=crank(turns, x=15.0),
            radius_mm=3.0,
        )
    )
    assert pair.proven_mm < 3.0 <= pair.least_mm + 1e-9
    assert pair.proven_mm > 3.0 - 0.171 - 0.1


def test_pins_given_too_coarsely_leave_a_stretch_open_and_ask_for_more_angles():
    edge = 26.0 / math.sqrt(2.0)
    shelf = swings.as_part(solids.box(40, 30, 30, (-20.0, edge, edge)), "shelf")

    def swept(count):
        turns = np.linspace(0.0, 90.0, count)
        return sweep_rod(
            [shelf],
            angle_deg=turns,
            start_mm=crank(turns, x=-15.0),
            end_mm=crank(turns, x=15.0),
            radius_mm=3.0,
            required_mm=2.9,
        )

    coarse, fine = swept(7), swept(91)
    assert only(coarse).violated == ()
    ((start, end),) = only(coarse).unproven_deg
    assert start < 45.0 < end
    assert coarse.findings[0].severity == "caution"
    assert "more angles" in coarse.findings[0].remedy
    assert only(fine).unproven_deg == only(fine).violated == ()
    assert only(fine).proven_mm >= 2.89


def test_impossible_rods_are_refused_with_their_numbers():
    shelf = swings.as_part(solids.box(5, 5, 5, (50.0, 0.0, 0.0)), "shelf")
    turns = np.linspace(0.0, 90.0, 5)
    good = {"angle_deg": turns, "start_mm": crank(turns), "end_mm": crank(turns), "radius_mm": 2.0}

    def sweep(**changes):
        return sweep_rod([shelf], **{**good, **changes})

    with pytest.raises(InputError, match=r"angles \(5,\), start \(4, 3\)"):
        sweep(start_mm=crank(turns)[1:])
    with pytest.raises(InputError, match="from 90 to 0 degrees do not rise"):
        sweep(angle_deg=turns[::-1])
    with pytest.raises(InputError, match="does not close"):
        sweep(end_mm=crank(turns) * np.nan)
    with pytest.raises(InputError, match="radius of 0 mm"):
        sweep(radius_mm=0.0)
    with pytest.raises(InputError, match="wall is named as sliding"):
        sweep(sliding=["wall"])
    assert sweep(sliding=["shelf"]).pairs == ()
