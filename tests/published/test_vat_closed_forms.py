"""Vat estimates against closed forms worked out by hand.

Sources: motion under constant acceleration (any text on elementary kinematics); volume and side
surface of the cone frustum and the cylinder (any handbook of solid geometry); mass = volume times
density. Every formula is written out where it is used.
"""

import math

import numpy as np
import pytest
import rows
import solids

from buildplan.part import part_from_mesh
from buildplan.process.layers import cut_layers
from buildplan.process.vat import estimate_vat
from buildplan.process.vat.columns import column_volume
from buildplan.process.vat.motion import exposure_times, hop_time

RECIPE = rows.vat_recipe(
    layer_mm=0.05,
    exposure_s=2.5,
    first_exposure_s=30.0,
    first_layers=5,
    ramp_layers=5,
    lift_mm=6.0,
    lift_mm_s=2.0,
    lower_mm_s=4.0,
    slow_area_mm2=1e9,
    slow_lift_mm_s=1.0,
    rest_before_s=0.5,
    rest_after_s=0.5,
    supports=True,
    overhang_limit_deg=60.0,
    tip_pitch_mm=1.5,
    tip_mm=0.4,
    tip_length_mm=2.0,
    column_mm=1.2,
    hollow_wall_mm=0.0,
)
PRINTER = rows.vat_printer(lift_accel_mm_s2=50.0, warm_up_s=0.0)
FEEDSTOCK = rows.vat_feedstock(
    density_g_cm3=1.12, liquid_density_g_cm3=1.12, film_mm=0.05, exposure_factor_frac=1.0
)


def estimate(solid, feedstock=FEEDSTOCK, printer=PRINTER, **changes):
    recipe = rows.replace(RECIPE, **changes)
    part = part_from_mesh(*solids.arrays(solid), name="part", health="quick")
    return estimate_vat(part, cut_layers(part, recipe.layer_mm), recipe, printer, feedstock)


def test_a_cube_takes_the_sum_of_exposures_hops_and_rests():
    # 20 mm / 0.05 mm = 400 layers: 5 first, 5 on the ramp, 390 usual; 399 hops between them
    # ramp from 30 to 2.5 in 6 steps: 5 layers, mean (30 + 2.5) / 2 = 16.25
    exposure = 5 * 30 + 5 * 16.25 + 390 * 2.5
    # t = d / v + v / a: up 6 mm at 2 mm/s, down 5.95 mm at 4 mm/s, both at 50 mm/s2
    up = 6 / 2 + 2 / 50
    down = 5.95 / 4 + 4 / 50
    got = estimate(solids.box())
    assert got.layers == 400
    assert got.exposure_s == pytest.approx(exposure, rel=1e-12)
    assert got.lift_s == pytest.approx(399 * (up + down), rel=1e-12)
    assert got.rest_s == pytest.approx(399 * 1.0, rel=1e-12)
    assert got.time_s == pytest.approx(3443.6425, abs=1e-6)
    assert got.layer_time_s.sum() == pytest.approx(got.time_s, rel=1e-12)


def test_a_cube_weighs_its_volume_and_the_film_on_its_faces():
    # 20^3 mm3 and 0.05 mm on 6 * 20^2 mm2, at 1.12e-3 g/mm3
    got = estimate(solids.box())
    assert got.mass_g == pytest.approx((8000 + 0.05 * 2400) * 1.12e-3, rel=1e-9)
    assert got.part_ml == pytest.approx(8.0, rel=1e-9)
    assert got.film_ml == pytest.approx(0.12, rel=1e-9)
    assert got.liquid_ml == pytest.approx(8.12, rel=1e-9)
    assert got.layer_mass_g.sum() == pytest.approx(got.mass_g, rel=1e-9)


def test_liquid_counts_by_mass_because_curing_shrinks():
    # m = 8000 mm3 * 1.2e-3 + 120 mm3 * 1.0e-3 g; the bottle gives m / 1.0e-3
    denser = rows.replace(FEEDSTOCK, density_g_cm3=1.2, liquid_density_g_cm3=1.0)
    got = estimate(solids.box(), denser)
    assert got.mass_g == pytest.approx(8.0 * 1.2 + 0.12, rel=1e-9)
    assert got.liquid_ml == pytest.approx(8.0 * 1.2 + 0.12, rel=1e-9)


def test_a_t_stands_on_tips_cones_and_columns():
    # 30^2 - 6^2 = 864 mm2 hang 20 mm up; one tip in 1.5^2 mm2
    tips = 864 / 1.5**2
    # a cylinder pi D^2 L / 4 with L = 18 and a frustum pi L (D^2 + D d + d^2) / 12 with L = 2
    each = math.pi / 4 * 1.44 * 18 + math.pi * 2 / 12 * (1.44 + 0.48 + 0.16)
    got = estimate(solids.tee())
    assert got.n_tips == tips == 384
    assert got.support_ml * 1000 == pytest.approx(384 * each, rel=1e-9)
    assert got.support_ml * 1000 == pytest.approx(8235.497, abs=1e-3)


def test_the_film_also_lies_on_cones_and_columns():
    # side surface: pi * 1.2 * 18 + pi * (0.6 + 0.2) * sqrt(2^2 + 0.4^2); T: its own faces
    side = math.pi * 1.2 * 18 + math.pi * 0.8 * math.hypot(2.0, 0.4)
    body = 2 * 900 + 4 * 30 * 4 + 4 * 6 * 20
    assert estimate(solids.tee()).film_ml * 1000 == pytest.approx(
        0.05 * (body + 384 * side), rel=1e-9
    )


def test_a_slow_lift_costs_the_difference_of_two_hops():
    # up at 1 mm/s: 6 + 0.02 s instead of 3.04 s, 399 times; 400 mm2 are over 300 mm2
    more = 399 * ((6 / 1 + 1 / 50) - (6 / 2 + 2 / 50))
    got = estimate(solids.box(), slow_area_mm2=300.0).time_s - estimate(solids.box()).time_s
    assert got == pytest.approx(more, rel=1e-9)
    assert got == pytest.approx(1189.02, abs=1e-6)


def test_a_short_move_never_reaches_its_speed():
    # triangle: half the way speeding up, s = a t^2 / 2, so t = 2 sqrt(d / a)
    assert hop_time(1.0, 10.0, 50.0) == pytest.approx(2 * math.sqrt(1 / 50), rel=1e-15)
    # both forms meet where d = v^2 / a: 2 v / a
    assert hop_time(2.0, 10.0, 50.0) == pytest.approx(0.4, rel=1e-15)
    assert hop_time(0.0, 10.0, 50.0) == 0.0


def test_the_ramp_falls_in_equal_steps():
    got = exposure_times(13, RECIPE, 1.0)
    # 30 five times, then steps of 27.5 / 6, then 2.5
    assert np.allclose(got[:5], 30.0)
    assert np.allclose(np.diff(got[4:11]), -27.5 / 6)
    assert np.allclose(got[10:], 2.5)


def test_a_feedstock_that_cures_slowly_lengthens_every_exposure():
    slow = rows.replace(FEEDSTOCK, exposure_factor_frac=1.4)
    assert estimate(solids.box(), slow).exposure_s == pytest.approx(1.4 * 1206.25, rel=1e-12)


def test_a_column_shorter_than_its_cone_is_the_end_of_the_cone():
    # at 1 mm of 2 the cone has grown from 0.4 to 0.8 mm: V = pi / 12 * (0.64 + 0.32 + 0.16)
    assert column_volume(1.0, RECIPE)[0] == pytest.approx(math.pi / 12 * 1.12, rel=1e-12)
    assert column_volume(0.0, RECIPE) == (0.0, 0.0)


def test_a_hollow_cube_is_a_smaller_cube_taken_out():
    # walls, floor and roof of 2 mm: (20 - 4)^3 mm3
    got = estimate(solids.box(), hollow_wall_mm=2.0)
    assert got.hollow_ml == pytest.approx(16**3 / 1000, rel=1e-9)
    assert got.part_ml == pytest.approx((20**3 - 16**3) / 1000, rel=1e-9)


def test_the_wall_of_a_hollow_ring_counts_from_both_sides():
    # 30 mm box with a 10 mm square well through it: ring 28^2 - 12^2 over 10 - 2 mm
    ring = solids.box(30, 30, 10) - solids.box(10, 10, 12, (10, 10, -1))
    got = estimate(ring, hollow_wall_mm=1.0, supports=False)
    # measured on lines 0.15 mm apart, so each edge along x is known to half of that
    assert got.hollow_ml == pytest.approx((28**2 - 12**2) * 8 / 1000, rel=0.01)


def test_a_hollow_sphere_is_the_sphere_shrunk_by_an_upright_cylinder():
    # points with (r + w)^2 + (|z| + w)^2 <= R^2: V = 2 integral pi (sqrt(R^2 - (z + w)^2) - w)^2 dz
    radius, wall = 20.0, 2.0
    top = math.sqrt(radius**2 - wall**2) - wall
    z = (np.arange(20_000) + 0.5) * top / 20_000
    disc = np.pi * (np.sqrt(radius**2 - (z + wall) ** 2) - wall) ** 2
    exact = 2 * disc.mean() * top / 1000
    got = estimate(solids.sphere(segments=128), hollow_wall_mm=wall, supports=False)
    assert got.hollow_ml == pytest.approx(exact, rel=0.01)
    assert got.hollow_ml <= 4 / 3 * math.pi * (radius - wall) ** 3 / 1000
