"""Motion against closed forms of constant-acceleration kinematics.

Source of every number: tests/published/reference_values.toml, area "motion": rest-to-rest moves
(trap_time, tri_time, trap_ramp, trap_min_distance, tri_peak), speed on an arc (circular_speed) and
in a corner within a tolerance (corner_speed_90).
"""

import math

import numpy as np
import pytest
from moves import paths_by_hand
from rows import printer, recipe

from buildplan.process.motion import estimate_time, rest_to_rest_s
from buildplan.process.roles import Role

FAST = 1e6


def machine(**changes):
    """A printer that nothing limits but what the test names."""
    usual = {"flow_limit_mm3_s": 1e9, "speed_limit_mm_s": 1e9, "travel_mm_s": FAST}
    return printer(**(usual | changes))


def moving_s(line, speed=50.0, accel=1000.0, deviation=0.05):
    """Time of one layer's polyline, by the whole stage."""
    paths = paths_by_hand([line], recipe=recipe(layer_time_least_s=0.0, first_layer_frac=1.0))
    times = estimate_time(
        paths,
        machine(print_accel_mm_s2=accel, corner_deviation_mm=deviation),
        recipe=recipe(layer_time_least_s=0.0, first_layer_frac=1.0, infill_mm_s=speed),
    )
    return float(times.layer_time_s[0])


def test_long_move_is_a_trapezoid(reference):
    """trap_time: d/v + v/a of 100 mm at 50 mm/s and 1000 mm/s2."""
    assert reference.agrees("motion", "trap_time", rest_to_rest_s(100.0, 50.0, 1000.0))
    assert reference.agrees("motion", "trap_time", moving_s([(0, 0), (100, 0)]))


def test_short_move_is_a_triangle(reference):
    """tri_time: 2 sqrt(d/a) of 1 mm at 1000 mm/s2."""
    assert reference.agrees("motion", "tri_time", rest_to_rest_s(1.0, 50.0, 1000.0))
    assert reference.agrees("motion", "tri_time", moving_s([(0, 0), (0.6, 0.8)]))


def test_ramps_take_their_published_length(reference):
    """trap_ramp and trap_min_distance: lengthening a move beyond v^2/a costs 1/v a millimetre."""
    shortest = reference["motion", "trap_min_distance"]["expected"]
    ramp = reference["motion", "trap_ramp"]["expected"]
    assert shortest == 2.0 * ramp
    assert moving_s([(0, 0), (shortest, 0)]) == pytest.approx(2.0 * 50.0 / 1000.0, rel=1e-12)
    longer = moving_s([(0, 0), (shortest + 7.0, 0)])
    assert longer - moving_s([(0, 0), (shortest, 0)]) == pytest.approx(7.0 / 50.0, rel=1e-12)


def test_triangle_peaks_at_its_published_speed(reference):
    """tri_peak: a limit just at sqrt(a d) changes nothing, a lower one does."""
    peak = reference["motion", "tri_peak"]["expected"]
    free = moving_s([(0, 0), (1, 0)], speed=1000.0)
    assert moving_s([(0, 0), (1, 0)], speed=peak) == pytest.approx(free, rel=1e-12)
    assert moving_s([(0, 0), (1, 0)], speed=0.99 * peak) > free


def test_square_corner_is_taken_at_its_published_speed(reference):
    """corner_speed_90: two 100 mm sides, tolerance 0.05 mm, 1000 mm/s2.

    From rest to the corner speed w and on: each side takes (2 v - w)/a + (d - (2 v^2 - w^2)/2a)/v.
    """
    corner = reference["motion", "corner_speed_90"]["expected"]
    speed, accel, side = 50.0, 1000.0, 100.0
    ramps = (2.0 * speed**2 - corner**2) / (2.0 * accel)
    expected = 2.0 * ((2.0 * speed - corner) / accel + (side - ramps) / speed)
    got = moving_s([(0, 0), (side, 0), (side, side)], speed, accel, 0.05)
    assert got == pytest.approx(expected, rel=1e-12)


def test_square_of_40_mm_is_exact():
    """A closed square: two end sides and two middle sides, by hand."""
    speed, accel, side, deviation = 50.0, 1000.0, 40.0, 0.02
    half = math.pi / 4.0
    corner_square = accel * deviation * math.cos(half) / (1.0 - math.cos(half))
    corner = math.sqrt(corner_square)
    ends = (2.0 * speed - corner) / accel
    ends += (side - (2.0 * speed**2 - corner_square) / (2.0 * accel)) / speed
    middles = 2.0 * (speed - corner) / accel
    middles += (side - (speed**2 - corner_square) / accel) / speed
    square = [(0, 0), (side, 0), (side, side), (0, side), (0, 0)]
    assert moving_s(square, speed, accel, deviation) == pytest.approx(
        2.0 * (ends + middles), rel=1e-13
    )


def test_arc_is_driven_at_its_published_speed(reference):
    """circular_speed: sqrt(a r) on a 2 mm arc at 1000 mm/s2, however finely it is drawn.

    One more turn costs 2 pi r / v, once the arc's speed is reached.
    """
    speed = reference["motion", "circular_speed"]["expected"]
    for chords in (64, 512, 4096):

        def turns(count, chords=chords):
            angle = np.linspace(0.0, 2.0 * math.pi * count, chords * count + 1)
            return moving_s(
                2.0 * np.column_stack([np.cos(angle), np.sin(angle)]), speed=500.0, deviation=0.02
            )

        assert turns(5) - turns(4) == pytest.approx(4.0 * math.pi / speed, rel=1e-3)


@pytest.mark.parametrize("chords", [64, 128, 256, 512, 1024, 2048, 4096])
def test_circle_takes_the_same_time_however_finely_it_is_drawn(chords):
    """R 10 mm at 150 mm/s and 1000 mm/s2: within 1.5 % of the smooth circle.

    Smooth circle: sqrt(a R) = 100 mm/s binds, with a ramp from and to rest. The coarsest polygon
    stands 0.012 mm off the circle, less than the allowed 0.02 mm.
    """
    radius, accel = 10.0, 1000.0
    smooth = rest_to_rest_s(2.0 * math.pi * radius, math.sqrt(accel * radius), accel)
    angle = np.linspace(0.0, 2.0 * math.pi, chords + 1)
    circle = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    assert moving_s(circle, 150.0, accel, 0.02) == pytest.approx(smooth, rel=0.015)


def test_polygon_coarser_than_the_deviation_is_slower():
    """24 chords on R 20 mm stand 0.17 mm off the circle: real corners, each slowed for."""
    radius, accel = 20.0, 1000.0
    smooth = rest_to_rest_s(2.0 * math.pi * radius, math.sqrt(accel * radius), accel)
    angle = np.linspace(0.0, 2.0 * math.pi, 25)
    circle = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    assert moving_s(circle, 150.0, accel, 0.02) > 1.3 * smooth


def test_layer_change_is_a_rest_to_rest_move():
    """Height 0.2 mm at 10 mm/s and 100 mm/s2 is a triangle: 2 sqrt(0.2/100) s."""
    paths = paths_by_hand([[(0, 0), (10, 0)]] * 3)
    times = estimate_time(paths, machine(layer_speed_mm_s=10.0, layer_accel_mm_s2=100.0))
    change = 2.0 * math.sqrt(0.2 / 100.0)
    assert times.layer_time_s[1] - times.role_time_s[1].sum() == pytest.approx(change, rel=1e-12)
    assert times.role_length_mm[1, Role.INFILL] == 10.0
