"""Seen, hidden and outside shares against closed forms."""

import math

import numpy as np
import pytest
import view_scenes as vs

from buildplan.device.view.scene import hinge_pose
from buildplan.device.view.shape import Camera
from buildplan.device.view.sights import (
    NO_TARGET,
    OUTSIDE,
    SEEN,
    look_through,
    view_target,
    view_travel,
)
from buildplan.device.view.target import cut_target
from buildplan.errors import InputError

FAR_AWAY = vs.plate(1.0, 1.0, (0, 0, 9000.0), "far away")


def rectangle(wide, deep, z=0.0):
    return ((-wide, -deep, z), (wide, -deep, z), (wide, deep, z), (-wide, deep, z))


@pytest.mark.parametrize("height", [60.0, 100.0, 150.0])
def test_an_unhidden_target_is_seen_as_far_as_the_picture_reaches(height):
    camera = vs.camera(
        point_mm=(0, 0, height), wide_deg=66.0, high_deg=41.0, target_mm=rectangle(140, 90)
    )
    target = cut_target(camera.target_mm, cells=400)
    # looking straight down, the picture's width runs along y
    wide = min(height * math.tan(math.radians(33)), 90) / 90
    high = min(height * math.tan(math.radians(20.5)), 140) / 140
    view = view_target(camera, vs.scene(FAR_AWAY), target)
    assert view.seen_frac == pytest.approx(wide * high, abs=0.004)
    assert view.outside_frac == pytest.approx(1 - wide * high, abs=0.004)
    assert view.hidden_frac == 0.0
    assert view.clear_frac == 1.0


def test_a_plate_half_way_hides_four_times_its_own_area():
    target = cut_target(vs.SQUARE, cells=400)
    scene = vs.scene(vs.plate(40, 40, (0, 0, 50)))
    view = view_target(vs.camera(), scene, target)
    assert view.hidden_frac == pytest.approx(80 * 80 / 200**2, abs=0.001)
    assert view.hidden_by[0].name == "plate"
    shadow = view.codes == 1
    assert shadow[200, 200]
    assert not shadow[0, 0]


def test_a_tilted_plate_throws_the_shadow_of_its_projected_corners():
    from manifold3d import Manifold
    from shapely import Polygon

    solid = Manifold.cube((50.0, 30.0, 1e-4), True).rotate((25, 40, 15)).translate((10, -8, 45))
    plate = vs.body(solid, "plate")
    eye = np.array([20.0, 10.0, 100.0])
    corners = plate.part.vertices_mm
    shadow = eye + (corners - eye) * (eye[2] / (eye[2] - corners[:, 2]))[:, None]
    area = Polygon(shadow[:, :2]).convex_hull.area
    for cells in (200, 400):
        target = cut_target(vs.SQUARE, cells=cells)
        view = view_target(vs.camera(point_mm=tuple(eye)), vs.scene(plate), target)
        assert view.clear_frac == pytest.approx(1 - area / 200**2, abs=0.4 / cells)


@pytest.mark.parametrize("cells", [10, 30, 100, 300])
def test_finer_cells_err_by_no_more_than_the_rim_of_the_shadow(cells):
    # a shadow's rim of length L crosses cells of 200 / n mm: the area errs by L times half a cell
    scene = vs.scene(vs.plate(37, 29, (11, -7, 43)))
    share = 37 * 29 / (0.57 * 200) ** 2
    view = view_target(vs.camera(), scene, cut_target(vs.SQUARE, cells=cells))
    rim = 2 * (37 + 29) / 0.57
    assert abs(1 - view.clear_frac - share) <= rim * (100 / cells) / 200**2


def test_each_hidden_cell_names_the_part_in_front():
    near = vs.plate(20, 20, (0, 0, 80), "near")
    low = vs.plate(60, 60, (0, 0, 20), "low")
    view = view_target(vs.camera(), vs.scene(low, near), cut_target(vs.SQUARE, cells=400))
    shares = {hidden.name: hidden.share_frac for hidden in view.hidden_by}
    assert shares["near"] == pytest.approx(100**2 / 200**2, abs=0.002)
    assert "low" not in shares  # its shadow of 75 mm lies inside the other's of 100 mm
    copies = vs.scene(
        vs.plate(10, 10, (-30, 0, 50), "pin"),
        vs.plate(10, 10, (30, 0, 50), "pin"),
        vs.plate(10, 10, (0, 30, 50), "peg"),
    )
    view = view_target(vs.camera(), copies, cut_target(vs.SQUARE, cells=200))
    assert [hidden.name for hidden in view.hidden_by] == ["pin", "peg"]
    assert view.hidden_by[0].share_frac == pytest.approx(0.02, abs=1e-3)


def test_the_map_holds_every_share_and_cannot_be_written():
    camera = vs.camera(wide_deg=60.0, high_deg=60.0)
    view = view_target(camera, vs.scene(vs.plate(20, 20, (0, 0, 50))), cut_target(vs.SQUARE))
    assert view.seen_frac == (view.codes == SEEN).mean()
    assert view.outside_frac == (view.codes == OUTSIDE).mean()
    assert view.hidden_frac == (view.codes == 1).mean()
    assert view.seen_frac + view.outside_frac + view.hidden_frac == pytest.approx(1.0, abs=1e-12)
    with pytest.raises(ValueError, match="read-only"):
        view.codes[0, 0] = 3


def test_a_clear_part_hides_nothing_but_is_counted():
    pane = vs.plate(40, 40, (0, 0, 50), "pane", clear=True)
    view = view_target(vs.camera(), vs.scene(pane), cut_target(vs.SQUARE, cells=200))
    assert view.hidden_frac == 0.0
    assert view.through_clear_frac == pytest.approx(0.16, abs=0.002)


def test_a_triangle_is_half_of_its_rectangle_and_a_part_on_the_target_hides_none():
    target = cut_target(((0, 0, 0), (80, 0, 0), (0, 60, 0)), cells=300)
    assert target.inside.mean() == pytest.approx(0.5, abs=0.005)
    camera = vs.camera(target_mm=((0, 0, 0), (80, 0, 0), (0, 60, 0)))
    floor = vs.plate(200, 200, (0, 0, -5e-5), "floor")  # its top is the target's plane
    view = view_target(camera, vs.scene(floor), target)
    assert view.seen_frac == 1.0
    assert (view.codes[~target.inside] == NO_TARGET).all()


def test_a_picture_shows_a_plate_in_its_share_of_the_pixels():
    camera = vs.camera(wide_deg=90.0, high_deg=60.0)
    scene = vs.scene(vs.plate(20, 30, (0, 0, 60)), FAR_AWAY)
    picture = look_through(camera, scene, columns=400)
    half_high = 40 * math.tan(math.radians(30))
    assert picture.names == ("plate", "far away")
    assert picture.bodies.shape == (round(400 * half_high / 40), 400)
    share = (20 * 30) / (80 * 2 * half_high)
    assert picture.shares[0].share_frac == pytest.approx(share, rel=0.01)
    assert picture.distance_mm.min() == pytest.approx(40.0, abs=0.01)


def test_the_top_of_the_picture_is_the_side_that_up_points_to():
    camera = vs.camera(look=(1, 0, 0), point_mm=(0, 0, 0), wide_deg=60.0, high_deg=60.0)
    high = vs.plate(20, 20, (60, 0, 20), "high")
    left = vs.plate(20, 2, (60, 20, 0), "left", thick=20.0)
    picture = look_through(camera, vs.scene(high, left), columns=60)
    rows, _ = np.nonzero(picture.bodies == 0)
    _, columns = np.nonzero(picture.bodies == 1)
    assert rows.max() < 30  # the upper half
    assert columns.max() < 30  # +y is on the left of one who looks along +x


@pytest.mark.parametrize(("lean", "reach"), [(60.0, 200.0), (40.0, 300.0), (25.0, 450.0)])
def test_an_opening_lid_uncovers_the_target_as_its_tip_moves_across_the_sights(lean, reach):
    # hinge line at x = 0, lid and target 100 mm long, camera ``lean`` above the target's side
    lid = vs.plate(100, 4000, (50, 0, 0), "lid", moves_with="hinge")
    eye = (reach * math.cos(math.radians(lean)), 0.0, reach * math.sin(math.radians(lean)))
    corners = ((0, -5, -10), (100, -5, -10), (100, 5, -10), (0, 5, -10))
    camera = vs.camera(point_mm=eye, look=tuple(-x for x in eye), target_mm=corners)
    angles = np.linspace(0, lean, 13)
    poses = {"hinge": np.stack([hinge_pose((0, 0, 0), (0, -1, 0), a) for a in angles])}
    target = cut_target(corners, cells=2000)
    travel = view_travel(camera, vs.scene(lid), target, angles_deg=angles, poses=poses)
    for angle, view in zip(angles, travel.views, strict=True):
        turn = math.radians(angle)
        tip = (100 * math.cos(turn), 100 * math.sin(turn))
        ends = [eye[0] + (x - eye[0]) * (eye[2] + 10) / (eye[2] - z) for x, z in ((0.0, 0.0), tip)]
        low, high = np.clip(sorted(ends), 0, 100)
        assert 1 - view.clear_frac == pytest.approx((high - low) / 100, abs=1.5e-3)
    assert (np.diff([view.clear_frac for view in travel.views]) >= 0).all()


def test_poses_for_another_number_of_angles_are_refused_with_both_numbers():
    lid = vs.plate(20, 20, (0, 0, 50), moves_with="hinge")
    with pytest.raises(InputError, match=r"group hinge: 3 angles .* found \(2, 4, 4\)"):
        view_travel(
            vs.camera(),
            vs.scene(lid),
            cut_target(vs.SQUARE),
            angles_deg=(0, 1, 2),
            poses={"hinge": np.zeros((2, 4, 4))},
        )


def test_poses_of_a_group_that_nothing_moves_with_are_refused_with_the_groups():
    lid = vs.plate(20, 20, (0, 0, 50), moves_with="hinge")
    with pytest.raises(InputError, match=r"group hnige: no part moves with it.* hinge;"):
        view_travel(
            vs.camera(),
            vs.scene(lid),
            cut_target(vs.SQUARE),
            angles_deg=(0,),
            poses={"hnige": np.eye(4)[None]},
        )


def test_no_sight_slips_through_an_edge_that_two_facets_share():
    lid = vs.plate(900, 900, (0, 0, 90))  # its diagonals lie right below the camera
    for cells in (30, 60, 200):
        view = view_target(vs.camera(), vs.scene(lid), cut_target(vs.SQUARE, cells=cells))
        assert view.clear_frac == 0.0
    assert (look_through(vs.camera(), vs.scene(lid), columns=80).bodies == 0).all()


def see(**changes):
    camera: Camera = vs.camera(**changes)
    return view_target(camera, vs.scene(FAR_AWAY), cut_target(camera.target_mm))


def test_impossible_cameras_and_targets_are_refused_with_their_numbers():
    with pytest.raises(InputError, match=r"look must point .* length 0"):
        see(look=(0.0, 0.0, 0.0))
    with pytest.raises(InputError, match=r"up must point .* length 0"):
        see(up=(0.0, 0.0, 0.0))
    with pytest.raises(InputError, match=r"wide_deg: .* up to 170 deg, found 180 deg"):
        see(wide_deg=180.0)
    with pytest.raises(InputError, match=r"high_deg: .* above 0 .* found 0 deg"):
        see(high_deg=0.0)
    with pytest.raises(InputError, match=r"look must point somewhere: found \[nan"):
        see(look=(math.nan, 0.0, 1.0))
    with pytest.raises(InputError, match="found 2 corners"):
        see(target_mm=vs.SQUARE[:2])
    with pytest.raises(InputError, match="span 0 mm2"):
        see(target_mm=((0, 0, 0), (1, 0, 0), (2, 0, 0)))
    with pytest.raises(InputError, match=r"corner lies 1.\d* mm off the plane .* at most 0.1"):
        see(target_mm=(*vs.SQUARE[:3], (-100.0, 100.0, 6.0)))
    one = cut_target(vs.SQUARE, cells=1)
    with pytest.raises(InputError, match=r"a cell lies 0 mm from the camera's point"):
        view_target(vs.camera(point_mm=tuple(one.points_mm[0])), vs.scene(FAR_AWAY), one)
