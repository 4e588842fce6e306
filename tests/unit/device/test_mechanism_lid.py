"""Mass, centre, inertia and load of a lid: against trimesh, closed forms and refusals."""

import math

import linkages
import numpy as np
import pytest
import solids
from manifold3d import Manifold

from buildplan.device.mechanism import (
    Hinge,
    down_in_frame,
    hinge_frame,
    hinge_load,
    lid_from_mesh,
    lid_from_ruler,
    with_sheet,
)
from buildplan.errors import InputError

FRAME = hinge_frame(point_mm=(0, 0, 0), axis=(0, -1, 0), forward=(1, 0, 0), up=(0, 0, 1))


def vent():
    """A pane with a rim, two knuckles and two arms, hinged along y at the origin."""
    pane = Manifold.cube((180, 160, 2.4)).translate((4, 0, 0))
    rim = Manifold.cube((180, 160, 8)).translate((4, 0, -5.6))
    rim -= Manifold.cube((174, 154, 20)).translate((7, 3, -10))
    knuckle = Manifold.cylinder(20, 4, 4, 32).rotate((90, 0, 0))
    arm = Manifold.cube((10, 20, 2.4))
    body = pane + rim
    for y in (30, 150):
        body += knuckle.translate((0, y, 0)) + arm.translate((0, y - 20, 0))
    return solids.arrays(body)


def test_mass_centre_and_inertia_are_those_of_trimesh():
    import trimesh

    vertices, facets = vent()
    lid = lid_from_mesh(vertices, facets, FRAME, density_g_cm3=1.27)
    mesh = trimesh.Trimesh(vertices, facets, process=False)
    mesh.density = 1.27e-3
    x, _, z = mesh.center_mass
    inertia = mesh.moment_inertia[1, 1] + mesh.mass * (x * x + z * z)
    assert lid.mass_g == pytest.approx(mesh.mass, rel=1e-6)
    assert (lid.centre_forward_mm, lid.centre_up_mm) == pytest.approx((x, z), rel=1e-6)
    assert lid.inertia_g_mm2 == pytest.approx(inertia, rel=1e-6)


def test_a_turned_and_moved_lid_keeps_its_numbers():
    vertices, facets = vent()
    here = lid_from_mesh(vertices, facets, FRAME, density_g_cm3=1.0)
    turn = np.linalg.qr(np.random.default_rng(2).normal(size=(3, 3)))[0]
    turn *= np.linalg.det(turn)
    move = np.array([50.0, -20.0, 7.0])
    frame = hinge_frame(
        point_mm=move, axis=turn @ np.array(FRAME.axis), forward=turn @ np.array(FRAME.forward)
    )
    there = lid_from_mesh(vertices @ turn.T + move, facets, frame, density_g_cm3=1.0)
    for name in here.__slots__:
        assert getattr(there, name) == pytest.approx(getattr(here, name), rel=1e-9)


def test_the_wind_face_is_the_outline_seen_square_to_the_lid():
    vertices, facets = solids.arrays(solids.box(100, 80, 4, at=(10, 0, 0)))
    lid = lid_from_mesh(vertices, facets, FRAME, mass_g=50.0)
    assert lid.mass_g == pytest.approx(50.0, rel=1e-12)
    assert lid.face_mm2 == pytest.approx(8000.0)
    assert lid.face_forward_mm == pytest.approx(60.0)
    assert lid.edge_mm == pytest.approx(110.0)


def test_infill_makes_a_lid_lighter_in_proportion():
    vertices, facets = vent()
    full = lid_from_mesh(vertices, facets, FRAME, density_g_cm3=1.2)
    half = lid_from_mesh(vertices, facets, FRAME, density_g_cm3=1.2, solid_frac=0.5)
    assert half.mass_g == pytest.approx(full.mass_g / 2)
    assert half.centre_forward_mm == pytest.approx(full.centre_forward_mm)


def test_scale_and_ruler_agree_with_the_mesh_of_a_sheet():
    vertices, facets = solids.arrays(solids.box(200, 150, 0.01))
    mesh = lid_from_mesh(vertices, facets, FRAME, mass_g=300.0)
    ruler = lid_from_ruler(mass_g=300.0, balance_mm=100.0, length_mm=200.0, width_mm=150.0)
    for name in ("mass_g", "centre_forward_mm", "edge_mm", "inertia_g_mm2", "face_mm2"):
        assert getattr(ruler, name) == pytest.approx(getattr(mesh, name), rel=1e-6)


def test_a_sheet_glued_on_is_a_sum_of_moments():
    bare = lid_from_ruler(mass_g=100.0, balance_mm=60.0, length_mm=120.0, width_mm=80.0)
    both = with_sheet(bare, mass_g=300.0, forward_mm=80.0, up_mm=-2.0, length_mm=60.0)
    assert both.mass_g == 400.0
    assert both.centre_forward_mm == pytest.approx(75.0)
    assert both.centre_up_mm == pytest.approx(-1.5)
    added = 300.0 * (80.0**2 + 2.0**2 + 60.0**2 / 12)
    assert both.inertia_g_mm2 == pytest.approx(bare.inertia_g_mm2 + added)


def test_a_gust_presses_with_the_stagnation_pressure():
    """0.5 1.2 10^2 1.2 = 72 Pa on 0.03 m2 at 100 mm: 216 N mm."""
    load = linkages.load_of(linkages.plain_lid(), gust_m_s=10.0)
    assert load.gust_n == pytest.approx(2.16)
    assert load.gust_n_mm == pytest.approx(216.0)
    assert load.opening_n_mm - load.closing_n_mm == pytest.approx(432.0)


def test_a_lid_on_a_wall_weighs_nothing_when_it_hangs_straight_down():
    lid = linkages.plain_lid(up_mm=0.0)
    load = hinge_load(lid, Hinge(to_deg=90.0, down=(1.0, 0.0)))
    assert load.weight_n_mm[0] == pytest.approx(0.0, abs=1e-12)
    assert load.weight_n_mm[-1] == pytest.approx(0.2 * 9.80665 * 90.0)


def test_gravity_is_taken_along_a_hinge_that_is_not_level():
    steep = hinge_frame(point_mm=(0, 0, 0), axis=(0, 0, 1), forward=(1, 0, 0))
    assert down_in_frame(steep) == (0.0, 0.0)
    assert down_in_frame(FRAME) == pytest.approx((0.0, -1.0))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"forward": (1, 0.5, 0)}, r"axis and forward are \d+.\d degrees apart"),
        ({"up": (0, 0, -1)}, r"up is 180.0 degrees off axis x forward"),
        ({"axis": (0, 0, 0)}, "axis .* has the length 0"),
    ],
)
def test_directions_that_are_not_square_are_refused_with_their_angle(change, said):
    given = {"point_mm": (0, 0, 0), "axis": (0, -1, 0), "forward": (1, 0, 0)}
    with pytest.raises(InputError, match=said):
        hinge_frame(**(given | change))


def test_bad_lids_are_refused_with_their_numbers():
    vertices, facets = vent()
    with pytest.raises(InputError, match="encloses -"):
        lid_from_mesh(vertices, facets[:, ::-1], FRAME, density_g_cm3=1.0)
    with pytest.raises(InputError, match="give a density or weigh it"):
        lid_from_mesh(vertices, facets, FRAME)
    with pytest.raises(InputError, match="balances 130 mm from the hinge but is 120 mm long"):
        lid_from_ruler(mass_g=1.0, balance_mm=130.0, length_mm=120.0, width_mm=10.0)
    with pytest.raises(InputError, match="mass_g is 0"):
        lid_from_ruler(mass_g=0.0, balance_mm=1.0, length_mm=120.0, width_mm=10.0)


def test_bad_travels_and_loads_are_refused_with_their_numbers():
    lid = linkages.plain_lid()
    with pytest.raises(InputError, match="from 60 to 10 degrees"):
        hinge_load(lid, Hinge(from_deg=60.0, to_deg=10.0))
    with pytest.raises(InputError, match="friction_n_mm is -1"):
        hinge_load(lid, Hinge(to_deg=60.0, friction_n_mm=-1.0))
    with pytest.raises(InputError, match="one rising row"):
        hinge_load(lid, Hinge(to_deg=60.0), angle_deg=[0.0, 10.0, 5.0])
    assert math.isclose(float(hinge_load(lid, Hinge(to_deg=60.0)).angle_deg[-1]), 60.0)
