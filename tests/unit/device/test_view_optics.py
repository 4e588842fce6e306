"""Openings, chamfers, pixels and panes against closed forms and handbook values."""

import math

import numpy as np
import pytest
import view_scenes as vs

from buildplan.device.view.aims import camera_frame
from buildplan.device.view.optics import (
    camera_opening,
    diagonal_deg,
    opening_mm,
    pixel_mm,
    pixel_sizes,
    size_opening,
    view_through,
)
from buildplan.device.view.shape import Window
from buildplan.device.view.target import cut_target
from buildplan.device.view.window import reflected_share, window_cross_talk
from buildplan.errors import InputError


@pytest.mark.parametrize(
    ("half_deg", "sizes"),
    [(31, (4.4, 6.8, 9.2)), (51, (6.9, 11.9, 16.8)), (60, (8.9, 15.9, 22.8))],
)
def test_openings_before_a_pupil_of_2_mm_are_those_of_the_edge_ray(half_deg, sizes):
    got = [opening_mm(2.0, depth, 2.0 * half_deg) for depth in (2.0, 4.0, 6.0)]
    assert [round(size, 1) for size in got] == list(sizes)
    for depth, size in zip((2.0, 4.0, 6.0), got, strict=True):
        assert view_through(size, 2.0, depth) == pytest.approx(2 * half_deg, rel=1e-12)


def test_a_narrow_hole_is_cured_by_a_chamfer_that_just_clears_the_edge_ray():
    got = size_opening(pupil_mm=2.0, gap_mm=1.0, wall_mm=3.0, view_deg=62.0, hole_mm=5.0)
    slope = math.tan(math.radians(31))
    assert not got.passes
    assert got.near_mm == pytest.approx(2 + 2 * slope)
    assert got.far_mm == pytest.approx(2 + 8 * slope)
    # where the chamfer begins, the hole is as wide as the edge ray
    begins = 4.0 - got.chamfer_mm
    assert 2 + 2 * begins * slope == pytest.approx(5.0, rel=1e-12)
    assert got.thin_to_mm == pytest.approx(begins - 1.0)
    thinned = size_opening(
        pupil_mm=2.0, gap_mm=1.0, wall_mm=got.thin_to_mm, view_deg=62.0, hole_mm=5.0
    )
    assert thinned.passes
    assert thinned.chamfer_mm == pytest.approx(0.0, abs=1e-12)


def test_a_hole_too_small_at_its_near_face_has_no_chamfer():
    got = size_opening(pupil_mm=2.0, gap_mm=3.0, wall_mm=3.0, view_deg=62.0, hole_mm=5.0)
    assert math.isnan(got.chamfer_mm)
    assert math.isnan(got.thin_to_mm)
    assert not got.passes


def test_a_wide_hole_passes_and_corners_need_the_diagonal():
    camera = vs.camera(wide_deg=66.0, high_deg=52.0, opening_mm=10.2, opening_depth_mm=5.0)
    assert diagonal_deg(66.0, 52.0) == pytest.approx(78.1646, abs=1e-4)
    assert diagonal_deg(90.0, 90.0) == pytest.approx(2 * math.degrees(math.atan(math.sqrt(2))))
    assert camera_opening(camera).passes
    assert opening_mm(2.0, 5.0, 66.0) < 10.0 < opening_mm(2.0, 5.0, diagonal_deg(66.0, 52.0))


def test_one_pixel_covers_its_share_of_the_picture_on_a_plane_square_to_the_look():
    assert pixel_mm(200.0, 66.0, 3280) == pytest.approx(2 * 200 * math.tan(math.radians(33)) / 3280)
    camera = vs.camera(wide_deg=66.0, high_deg=52.0, pixels_wide=3280)
    sizes = pixel_sizes(camera, cut_target(vs.SQUARE))
    for size in (sizes.finest_mm, sizes.middle_mm, sizes.coarsest_mm):
        assert size == pytest.approx(pixel_mm(100.0, 66.0, 3280), rel=1e-9)


def test_on_a_slanted_plane_a_pixel_is_stretched_by_one_over_the_cosine():
    lean = math.radians(50.0)
    camera = vs.camera(
        point_mm=(-100 * math.sin(lean), 0, 100 * math.cos(lean)),
        look=(math.sin(lean), 0, -math.cos(lean)),
        pixels_wide=1000,
        wide_deg=60.0,
        target_mm=((-0.01, -0.01, 0), (0.01, -0.01, 0), (0.01, 0.01, 0), (-0.01, 0.01, 0)),
    )
    sizes = pixel_sizes(camera, cut_target(camera.target_mm, cells=3))
    assert sizes.finest_mm == pytest.approx(pixel_mm(100.0, 60.0, 1000), rel=1e-3)
    assert sizes.coarsest_mm == pytest.approx(sizes.finest_mm / math.cos(lean), rel=1e-3)


def test_pixel_sizes_are_those_of_projecting_neighbours():
    camera = vs.camera(point_mm=(150, -40, 120), look=(-1, 0.3, -0.9), pixels_wide=2000)
    target = cut_target(vs.SQUARE, cells=12)
    focal = 1000 / math.tan(math.radians(60))
    frame, step, sizes = camera_frame(camera), 1e-4, []
    for point in target.points_mm:
        for turn in np.linspace(0, math.pi, 181)[:-1]:
            ends = np.array([0.5, -0.5])[:, None] * step * (math.cos(turn), math.sin(turn), 0)
            place = (point + ends - camera.point_mm) @ frame.T
            pixels = focal * place[:, :2] / place[:, 2:]
            sizes.append(step / np.linalg.norm(pixels[0] - pixels[1]))
    got = pixel_sizes(camera, target)
    assert got.finest_mm == pytest.approx(min(sizes), rel=1e-3)
    assert got.coarsest_mm == pytest.approx(max(sizes), rel=1e-3)


def test_light_square_to_glass_is_thrown_back_by_4_percent_a_face():
    # ((n - 1) / (n + 1))^2: 4.26 % at 1.52, 3.87 % at 1.49; Hecht, Optics, section 4.6
    assert reflected_share(0.0, 1.5) == pytest.approx(0.04, rel=1e-12)
    assert reflected_share(1e-5, 1.5) == pytest.approx(0.04, rel=1e-6)
    # at Brewster's angle only the square part is left: ((n2 - 1) / (n2 + 1))^2 / 2
    assert reflected_share(math.atan(1.5), 1.5) == pytest.approx((1.25 / 3.25) ** 2 / 2, rel=1e-9)


def window(**changes):
    return Window(**{"gap_mm": 1.0, "thick_mm": 1.0, "apart_mm": 3.0, **changes})


def test_a_bounce_lands_on_the_receiver_by_snells_law():
    talk = window_cross_talk(window(), 90.0)
    angle = math.radians(talk.far_deg)
    inner = math.asin(math.sin(angle) / 1.49)
    assert 2 * math.tan(angle) + 2 * math.tan(inner) == pytest.approx(2.5, rel=1e-9)
    assert math.radians(talk.near_deg) == pytest.approx(math.atan(2.5 / 2))
    assert talk.far_reaches
    assert not talk.near_reaches
    assert talk.false_mm == pytest.approx(1 / math.cos(angle) + 1.49 / math.cos(inner), rel=1e-9)


def test_the_gap_and_the_thickness_allowed_are_the_last_without_a_bounce():
    for cone in (25.0, 60.0, 90.0, 140.0):
        talk = window_cross_talk(window(thick_mm=0.3), cone)
        for share, reaches in ((0.999, False), (1.001, True)):
            gap = share * talk.gap_allowed_mm
            assert window_cross_talk(window(gap_mm=gap, thick_mm=0.3), cone).reaches is reaches
        talk = window_cross_talk(window(gap_mm=0.3), cone)
        for share, reaches in ((0.999, False), (1.001, True)):
            thick = share * talk.thick_allowed_mm
            assert window_cross_talk(window(gap_mm=0.3, thick_mm=thick), cone).reaches is reaches


def test_a_narrow_emitter_bounces_less_far_than_a_wide_receiver():
    assert window_cross_talk(window(gap_mm=2.0), 90.0).reaches
    assert not window_cross_talk(window(gap_mm=2.0, emit_deg=20.0), 90.0).reaches


def test_impossible_openings_pixels_and_panes_are_refused_with_their_numbers():
    with pytest.raises(InputError, match=r"pupil -2 mm and depth 4 mm must be at least 0"):
        opening_mm(-2.0, 4.0, 60.0)
    with pytest.raises(InputError, match=r"view_deg: .* found 180 deg"):
        opening_mm(2.0, 4.0, 180.0)
    with pytest.raises(InputError, match="pixels must be at least 1, found 0"):
        pixel_sizes(vs.camera(), cut_target(vs.SQUARE))
    with pytest.raises(InputError, match=r"no cell of the target lies in front"):
        pixel_sizes(vs.camera(look=(0, 0, 1), pixels_wide=100), cut_target(vs.SQUARE))
    with pytest.raises(InputError, match=r"0.4 mm apart with apertures of 0.5 mm"):
        window_cross_talk(window(apart_mm=0.4), 25.0)
