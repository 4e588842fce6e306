"""The opening rule against rays from a whole pupil through real holes in a real wall."""

import numpy as np
import pytest
import view_scenes as vs
from manifold3d import Manifold

from buildplan.device.view.optics import diagonal_deg, opening_mm, size_opening
from buildplan.device.view.pupil import pupil_shares
from buildplan.device.view.sights import view_target
from buildplan.device.view.target import cut_target
from buildplan.errors import InputError

CAMERA = vs.camera(wide_deg=66.0, high_deg=52.0, pupil_mm=2.0)
DIAGONAL = diagonal_deg(66.0, 52.0)
GAP, WALL = 1.5, 3.0
WHOLE = opening_mm(2.0, GAP + WALL, DIAGONAL)
TARGET = cut_target(vs.SQUARE, cells=81)


def wall(hole, chamfer=0.0):
    """A wall below the camera with a straight hole, chamfered at the view's angle from below."""
    top, low = 100.0 - GAP, 100.0 - GAP - WALL
    solid = Manifold.cube((80.0, 80.0, WALL), True).translate((0, 0, (top + low) / 2))
    solid -= Manifold.cylinder(10.0, hole / 2, hole / 2, 720).translate((0, 0, low - 3))
    if chamfer:
        wide = hole / 2 + chamfer * np.tan(np.radians(DIAGONAL / 2))
        solid -= Manifold.cylinder(chamfer, wide, hole / 2, 720).translate((0, 0, low))
    return vs.scene(vs.body(solid, "wall"))


def test_a_hole_by_the_rule_clips_nothing_and_a_smaller_one_clips_the_corners():
    whole = pupil_shares(CAMERA, wall(WHOLE * 1.002), TARGET)
    assert np.nanmin(whole) == 1.0
    clipped = pupil_shares(CAMERA, wall(WHOLE * 0.95), TARGET)
    assert np.nanmin(clipped) < 1.0
    assert clipped[40, 40] == 1.0
    # no cell is dark, so that sights from the pupil's middle alone would not have told
    assert view_target(CAMERA, wall(WHOLE * 0.95), TARGET).hidden_frac == 0.0


def test_a_hole_as_wide_as_the_lens_alone_darkens_most_of_the_picture():
    lens = pupil_shares(CAMERA, wall(2.2), TARGET)
    assert np.nanmean(lens) < 0.3
    assert lens[40, 40] == 1.0


def test_the_chamfer_by_the_rule_clips_nothing_and_half_of_it_does():
    hole = opening_mm(2.0, GAP, DIAGONAL) + 1.0
    sizes = size_opening(pupil_mm=2.0, gap_mm=GAP, wall_mm=WALL, view_deg=DIAGONAL, hole_mm=hole)
    assert 0.0 < sizes.chamfer_mm < WALL
    cut = pupil_shares(CAMERA, wall(hole * 1.003, sizes.chamfer_mm + 0.01), TARGET)
    assert np.nanmin(cut) == 1.0
    assert np.nanmin(pupil_shares(CAMERA, wall(hole, sizes.chamfer_mm / 2), TARGET)) < 1.0


def test_cells_outside_the_picture_have_no_share():
    shares = pupil_shares(CAMERA, wall(WHOLE), TARGET)
    outside = view_target(CAMERA, wall(WHOLE), TARGET).outside_frac
    assert np.isnan(shares).mean() == pytest.approx(outside)


def test_a_pupil_of_two_points_is_refused():
    with pytest.raises(InputError, match="at least 3, found 2"):
        pupil_shares(CAMERA, wall(WHOLE), TARGET, rim_points=2)
