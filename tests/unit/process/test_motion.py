"""What estimate_time does besides moving: retractions, least layer time, limits, refusals."""

from dataclasses import replace

import numpy as np
import pytest
from moves import BEAD_MM, layers_by_hand, paths_by_hand
from rows import printer, recipe

from buildplan.errors import InputError
from buildplan.process.motion import (
    estimate_time,
    layer_change_s,
    rest_to_rest_s,
    role_accels_mm_s2,
    role_speeds_mm_s,
)
from buildplan.process.roles import Role

EVEN = recipe(layer_time_least_s=0.0, first_layer_frac=1.0)
LONG = [(0.0, 0.0), (100.0, 0.0)]


def test_a_print_without_layers_takes_the_warm_up():
    times = estimate_time(paths_by_hand([]), printer(warm_up_s=360.0))
    assert times.time_h == times.warm_up_h == 0.1
    assert times.layer_time_s.shape == (0,)


def test_empty_layers_and_single_points_cost_only_the_layer_change():
    paths = paths_by_hand([LONG, [], [(3.0, 4.0)], LONG], recipe=EVEN)
    times = estimate_time(paths, printer())
    change = rest_to_rest_s(0.2, 10.0, 100.0)
    assert times.layer_time_s[1] == pytest.approx(change, rel=1e-12)
    assert times.layer_time_s[2] == pytest.approx(change, rel=1e-12)
    assert times.layer_time_s[3] - times.layer_time_s[0] == pytest.approx(change, rel=1e-9)


def test_hours_are_the_warm_up_and_all_layers():
    times = estimate_time(paths_by_hand([LONG] * 5), printer())
    assert times.time_h == pytest.approx(times.warm_up_h + times.layer_time_s.sum() / 3600.0)


def test_a_layer_may_be_thicker_than_the_others():
    layers = layers_by_hand(3, thickness_mm=[0.2, 0.2, 0.28])
    paths = paths_by_hand([LONG] * 3, recipe=EVEN, layers=layers)
    usual = estimate_time(paths, printer(flow_limit_mm3_s=1e9))
    assert usual.layer_time_s[2] > usual.layer_time_s[1]
    flow_at_80 = 80.0 * BEAD_MM * 0.2
    capped = estimate_time(paths, printer(flow_limit_mm3_s=flow_at_80 * 1.1))
    assert capped.role_time_s[1].sum() == usual.role_time_s[1].sum()
    assert capped.role_time_s[2].sum() > usual.role_time_s[2].sum()


def test_flow_is_capped_by_each_moves_own_bead():
    paths = paths_by_hand([LONG, LONG], beads=[[0.4, 0.4], [0.8, 0.8]], recipe=EVEN)
    times = estimate_time(paths, printer(flow_limit_mm3_s=4.0))
    for layer, bead in enumerate((0.4, 0.8)):
        top = min(80.0, 4.0 / (float(np.float32(bead)) * 0.2))
        expected = rest_to_rest_s(100.0, top, 1500.0)
        assert times.role_time_s[layer].sum() == pytest.approx(expected, rel=1e-12)


def test_the_lower_of_printer_and_feedstock_flow_counts():
    paths = paths_by_hand([LONG], recipe=EVEN)
    low = estimate_time(paths, printer(flow_limit_mm3_s=3.0)).time_h
    assert estimate_time(paths, printer(), flow_limit_mm3_s=3.0).time_h == low
    assert estimate_time(paths, printer(flow_limit_mm3_s=3.0), flow_limit_mm3_s=9.0).time_h == low
    assert estimate_time(paths, printer()).time_h < low


def test_travel_has_no_flow_and_its_own_speed_and_acceleration():
    paths = paths_by_hand([LONG], roles=Role.TRAVEL, recipe=EVEN)
    times = estimate_time(paths, printer(flow_limit_mm3_s=0.01))
    assert times.layer_time_s[0] == pytest.approx(rest_to_rest_s(100.0, 150.0, 2000.0))


@pytest.mark.parametrize(
    ("role", "field"),
    [
        (Role.OUTLINE, "outline_mm_s"),
        (Role.WALL, "wall_mm_s"),
        (Role.INFILL, "infill_mm_s"),
        (Role.FLOOR_ROOF, "floor_roof_mm_s"),
        (Role.SUPPORT, "support_mm_s"),
        (Role.SUPPORT_FACE, "support_face_mm_s"),
        (Role.CENTRE, "centre_mm_s"),
        (Role.MARGIN, "margin_mm_s"),
    ],
)
def test_every_role_moves_at_its_own_speed(role, field):
    paths = paths_by_hand([LONG], roles=role, recipe=EVEN)
    times = estimate_time(paths, printer(), recipe=replace(EVEN, **{field: 23.0}))
    accel = 1000.0 if role is Role.OUTLINE else 1500.0
    assert times.role_time_s[0, role] == pytest.approx(rest_to_rest_s(100.0, 23.0, accel))
    assert times.role_time_s.sum() == times.role_time_s[0, role]


def test_no_speed_exceeds_the_printers_limit():
    speeds = role_speeds_mm_s(recipe(infill_mm_s=500.0), printer(speed_limit_mm_s=120.0))
    assert speeds.max() == 120.0
    assert speeds[Role.OUTLINE] == 40.0
    assert role_accels_mm_s2(printer())[Role.TRAVEL] == 2000.0


def test_only_the_first_layers_beads_are_slowed():
    slow = recipe(layer_time_least_s=0.0, first_layer_frac=0.25)
    paths = paths_by_hand([LONG, LONG], recipe=slow)
    times = estimate_time(paths, printer())
    assert times.role_time_s[0].sum() == pytest.approx(rest_to_rest_s(100.0, 20.0, 1500.0))
    assert times.role_time_s[1].sum() == pytest.approx(rest_to_rest_s(100.0, 80.0, 1500.0))
    travel = estimate_time(paths_by_hand([LONG], roles=Role.TRAVEL, recipe=slow), printer())
    assert travel.layer_time_s[0] == pytest.approx(rest_to_rest_s(100.0, 150.0, 2000.0))


def test_a_retraction_stops_and_takes_its_time():
    line = [(0.0, 0.0), (50.0, 0.0), (100.0, 0.0), (150.0, 0.0)]
    roles = [[Role.INFILL, Role.INFILL, Role.TRAVEL, Role.INFILL]]
    through = estimate_time(paths_by_hand([line], roles=roles, recipe=EVEN), printer())
    stopped = estimate_time(
        paths_by_hand([line], roles=roles, retracts=[[0, 0, 1, 0]], recipe=EVEN), printer()
    )
    assert stopped.retractions.tolist() == [1]
    assert through.retractions.tolist() == [0]
    expected = 2.0 * rest_to_rest_s(50.0, 80.0, 1500.0) + rest_to_rest_s(50.0, 150.0, 2000.0) + 0.2
    assert stopped.layer_time_s[0] == pytest.approx(expected, rel=1e-12)
    assert through.layer_time_s[0] < expected - 0.2


def test_a_retraction_without_a_move_still_stops_and_counts():
    line = [(0.0, 0.0), (50.0, 0.0), (50.0, 0.0), (100.0, 0.0)]
    times = estimate_time(paths_by_hand([line], retracts=[[0, 0, 1, 0]], recipe=EVEN), printer())
    assert times.retractions.tolist() == [1]
    expected = 2.0 * rest_to_rest_s(50.0, 80.0, 1500.0) + 0.2
    assert times.layer_time_s[0] == pytest.approx(expected, rel=1e-12)


def test_a_doubled_point_changes_nothing():
    once = paths_by_hand([[(0, 0), (20, 0), (20, 20), (0, 30)]], recipe=EVEN)
    twice = paths_by_hand([[(0, 0), (20, 0), (20, 0), (20, 20), (0, 30), (0, 30)]], recipe=EVEN)
    assert estimate_time(twice, printer()).time_h == estimate_time(once, printer()).time_h


def test_a_short_layer_is_slowed_to_the_least_time():
    paths = paths_by_hand([[(0, 0), (100, 0)]], recipe=replace(EVEN, layer_time_least_s=8.0))
    times = estimate_time(paths, printer())
    assert times.layer_time_s[0] == pytest.approx(8.0, rel=1e-12)
    assert times.slowed_s[0] == pytest.approx(8.0 - times.role_time_s[0].sum(), rel=1e-12)


def test_slowing_stops_at_the_least_speed():
    paths = paths_by_hand([[(0, 0), (20, 0)]], recipe=replace(EVEN, layer_time_least_s=8.0))
    times = estimate_time(paths, printer())
    assert times.layer_time_s[0] == pytest.approx(20.0 / 10.0, rel=1e-12)


def test_travel_alone_is_never_slowed():
    paths = paths_by_hand(
        [[(0, 0), (100, 0)]], roles=Role.TRAVEL, recipe=replace(EVEN, layer_time_least_s=60.0)
    )
    times = estimate_time(paths, printer())
    assert times.slowed_s.tolist() == [0.0]
    assert times.layer_time_s[0] < 2.0


def test_a_slow_layer_is_not_sped_up_by_the_least_speed():
    slow = replace(EVEN, infill_mm_s=2.0, speed_least_mm_s=10.0, layer_time_least_s=1000.0)
    times = estimate_time(paths_by_hand([[(0, 0), (20, 0)]], recipe=slow), printer())
    assert times.slowed_s[0] == 0.0
    assert times.layer_time_s[0] == pytest.approx(rest_to_rest_s(20.0, 2.0, 1500.0))


def test_other_speeds_reuse_the_same_paths():
    paths = paths_by_hand([LONG], recipe=EVEN)
    faster = replace(EVEN, key="other", name="other", infill_mm_s=160.0, layer_time_least_s=3.0)
    times = estimate_time(paths, printer(), recipe=faster)
    planned = estimate_time(paths_by_hand([LONG], recipe=faster), printer())
    assert times.time_h == planned.time_h


@pytest.mark.parametrize(
    ("field", "value"), [("infill_frac", 0.3), ("bead_mm", 0.6), ("retract_over_mm", 9.0)]
)
def test_a_recipe_with_other_geometry_is_refused_by_field(field, value):
    paths = paths_by_hand([LONG], recipe=EVEN)
    with pytest.raises(InputError, match=rf"{field} is {value}.*plan the paths again"):
        estimate_time(paths, printer(), recipe=replace(EVEN, **{field: value}))


@pytest.mark.parametrize(
    "bad",
    [
        {"print_accel_mm_s2": 0.0},
        {"travel_mm_s": -1.0},
        {"speed_limit_mm_s": 0.0},
        {"flow_limit_mm3_s": 0.0},
        {"layer_accel_mm_s2": 0.0},
        {"corner_deviation_mm": -0.1},
        {"print_accel_mm_s2": float("nan")},
    ],
)
def test_limits_that_cannot_be_are_refused(bad):
    with pytest.raises(InputError, match="found"):
        estimate_time(paths_by_hand([LONG]), printer(**bad))


def test_flow_and_workers_must_be_above_zero():
    paths = paths_by_hand([LONG])
    with pytest.raises(InputError, match="flow_limit_mm3_s must be above 0, found 0"):
        estimate_time(paths, printer(), flow_limit_mm3_s=0.0)
    with pytest.raises(InputError, match="workers must be above 0, found 0"):
        estimate_time(paths, printer(), workers=0)


def test_results_cannot_be_written_and_inputs_stay_as_they_were():
    paths = paths_by_hand([LONG, LONG])
    before = [a.tobytes() for a in (paths.x_mm, paths.y_mm, paths.role, paths.bead_mm)]
    times = estimate_time(paths, printer())
    assert [a.tobytes() for a in (paths.x_mm, paths.y_mm, paths.role, paths.bead_mm)] == before
    for name in ("layer_time_s", "role_time_s", "role_length_mm", "retractions", "slowed_s"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(times, name)[0] = 1


def test_a_zero_corner_deviation_stops_at_every_corner():
    line = [(0, 0), (40, 0), (40, 40)]
    times = estimate_time(paths_by_hand([line], recipe=EVEN), printer(corner_deviation_mm=0.0))
    assert times.layer_time_s[0] == pytest.approx(2.0 * rest_to_rest_s(40.0, 80.0, 1500.0))


def test_layer_change_is_nothing_before_the_first_layer():
    change = layer_change_s(np.array([0.2, 0.2, 40.0]), printer())
    assert change[0] == 0.0
    assert change[1] == rest_to_rest_s(0.2, 10.0, 100.0)
    assert change[2] == 40.0 / 10.0 + 10.0 / 100.0
    assert layer_change_s(np.zeros(0), printer()).shape == (0,)


def test_a_short_move_between_two_retractions_takes_a_finite_time():
    """Rest at both ends of a move that two small turns would round off: no arc is driven there."""
    turn = np.cumsum(np.radians([0.0, 8.0, 8.0, 8.0, 8.0]))
    steps = 0.05 * np.column_stack((np.cos(turn), np.sin(turn)))
    line = np.vstack(([[0.0, 0.0]], np.cumsum(steps, axis=0)))
    rests = np.array([0, 0, 1, 1, 0, 0])
    paths = paths_by_hand([line], roles=[np.full(6, Role.TRAVEL)], retracts=[rests])
    times = estimate_time(paths, printer())
    assert np.isfinite(times.time_h)
    alone = [estimate_time(paths_by_hand([line[i : i + 2]]), printer()) for i in (2,)]
    assert times.role_time_s.sum() > alone[0].role_time_s.sum() > 0.0
