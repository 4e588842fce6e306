"""The best aim against brute force and against what must be so."""

import math
from dataclasses import replace

import numpy as np
import pytest
import view_scenes as vs

from buildplan.device.view.best import best_aim, mount_table
from buildplan.device.view.sights import view_target
from buildplan.device.view.target import cut_target

FAR_AWAY = vs.plate(1.0, 1.0, (0, 0, 9000.0), "far away")


def test_a_camera_beside_its_target_is_turned_to_see_all_of_it():
    camera = vs.camera(point_mm=(220, 0, 200), look=(1, 0, 0), wide_deg=66.0, high_deg=60.0)
    target = cut_target(vs.SQUARE)
    aim = best_aim(camera, vs.scene(FAR_AWAY), target)
    assert aim.now_frac == 0.0
    assert aim.seen_frac == 1.0
    assert view_target(replace(camera, look=aim.look), vs.scene(FAR_AWAY), target).seen_frac == 1.0
    assert aim.pan_deg == pytest.approx(180.0, abs=1.0)
    assert aim.turn_deg == pytest.approx(90 + aim.tilt_deg, abs=0.5)


def test_above_the_middle_the_best_look_is_straight_down():
    camera = vs.camera(look=(0.3, 0.1, -1), wide_deg=95.0, high_deg=95.0)
    aim = best_aim(camera, vs.scene(FAR_AWAY), cut_target(vs.SQUARE))
    assert aim.seen_frac == 1.0
    assert aim.tilt_deg == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize("seed", range(4))
def test_no_random_aim_beats_the_search_by_more_than_its_last_step(seed):
    rng = np.random.default_rng(seed)
    point = tuple(rng.uniform((-150, -150, 60), (150, 150, 200)))
    camera = vs.camera(point_mm=point, look=(1, 0, 0), wide_deg=50.0, high_deg=38.0)
    scene = vs.scene(
        *(vs.plate(30, 30, rng.uniform((-80, -80, 10), (80, 80, 50)), f"p{i}") for i in range(4))
    )
    target = cut_target(vs.SQUARE, cells=30)
    aim = best_aim(camera, scene, target)
    toward = rng.uniform((-100, -100, 0), (100, 100, 0), (300, 3)) - point
    shares = [
        view_target(replace(camera, look=tuple(look)), scene, target).seen_frac for look in toward
    ]
    assert aim.seen_frac >= max(shares) - 0.01
    assert aim.seen_frac <= aim.clear_frac
    again = view_target(replace(camera, look=aim.look), scene, target)
    assert again.seen_frac == pytest.approx(aim.seen_frac, abs=1 / len(target.points_mm))


def test_the_search_never_ends_below_the_look_now():
    for tilt in np.linspace(0.3, 40, 9):
        turn = math.radians(tilt)
        look = (math.sin(turn), 0.1, -math.cos(turn))
        camera = vs.camera(look=look, wide_deg=12.0, high_deg=9.0)
        aim = best_aim(camera, vs.scene(FAR_AWAY), cut_target(vs.SQUARE, cells=80))
        assert aim.seen_frac >= aim.now_frac


def test_where_nothing_is_free_the_share_is_zero_and_the_look_is_kept():
    lid = vs.plate(900, 900, (0, 0, 90))
    aim = best_aim(vs.camera(), vs.scene(lid), cut_target(vs.SQUARE))
    assert (aim.seen_frac, aim.clear_frac, aim.turn_deg) == (0.0, 0.0, 0.0)


def test_a_narrow_camera_sees_more_the_higher_it_is_mounted():
    camera = vs.camera(wide_deg=40.0, high_deg=40.0)
    mast = vs.plate(50, 50, (0, 0, 150), "mast")
    target = cut_target(vs.SQUARE)
    rows = mount_table(
        camera, vs.scene(mast), target, shifts_mm=(0, 50, 100, 250), carried=("mast",)
    )
    for row in rows:
        side = min(1.0, (100 + row.shift_mm) * math.tan(math.radians(20)) / 100)
        assert row.point_mm == (0.0, 0.0, 100.0 + row.shift_mm)
        assert row.clear_frac == 1.0
        assert row.seen_frac >= side * side - 0.01  # looking aslant shows more of a plane
    assert [row.seen_frac for row in rows] == sorted(row.seen_frac for row in rows)
    assert rows[-1].seen_frac == 1.0
    held = mount_table(camera, vs.scene(mast), target, shifts_mm=(100,))
    assert held[0].seen_frac < rows[2].seen_frac
