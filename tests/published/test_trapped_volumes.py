"""Trapped volumes against solid geometry worked out by hand.

Sources: volumes of the box, the prism, the cone and the sphere (any handbook of solid geometry). A
circle drawn with n corners on it has the area n/2 sin(2 pi/n) r^2 (regular polygon). Hydrostatics:
liquid at rest fills a vessel up to its lowest rim (Stevin 1586).
"""

import math

import hollow_solids as hs
import numpy as np
import pytest
import solids
from manifold3d import Manifold

import buildplan as bp
from buildplan.checks.trapped import check_trapped
from buildplan.part import part_from_mesh
from buildplan.tables import rules_for

RECIPE = bp.recipe("everyday", process="vat")
RULES = rules_for(bp.feedstock("standard_photopolymer"))


def pockets(solid):
    part = part_from_mesh(*solids.arrays(solid), name="part", health="quick")
    return check_trapped(part, RECIPE, RULES).pockets


def polygon(radius, corners):
    return corners / 2 * math.sin(2 * math.pi / corners) * radius**2


def test_a_closed_box_holds_its_inside_exactly():
    (pocket,) = pockets(hs.hollow_box())
    assert pocket.kind == "closed"
    assert pocket.volume_mm3 == pytest.approx(46656.0, rel=1e-12)
    assert pocket.suction_area_mm2 == pytest.approx(36.0**2, rel=1e-9)


@pytest.mark.parametrize("make", [hs.bottom_drain, hs.top_drain])
def test_a_drained_box_counts_its_drain(make):
    (pocket,) = pockets(make())
    assert pocket.volume_mm3 == pytest.approx(46656.0 + 2.0 * polygon(1.5, 32), rel=1e-9)


@pytest.mark.parametrize("make", [hs.cup_up, hs.cup_down])
def test_a_cup_holds_its_inside_whichever_way_it_opens(make):
    (pocket,) = pockets(make())
    assert pocket.volume_mm3 == pytest.approx(9792.0, rel=1e-9)
    assert pocket.suction_area_mm2 == pytest.approx(24.0**2, rel=1e-9)


def test_a_hollow_sphere_holds_its_inside():
    shell = solids.sphere(20.0, 128) - solids.sphere(18.0, 128).translate((0, 0, 2))
    (pocket,) = pockets(shell)
    inner = solids.sphere(18.0, 128)
    assert pocket.volume_mm3 == pytest.approx(inner.volume(), rel=1e-9)
    assert pocket.volume_mm3 == pytest.approx(4 / 3 * math.pi * 18**3, rel=2e-3)


def test_a_bowl_holds_the_cap_of_its_sphere():
    # a ball of radius 18 about (0, 0, 20) cut at z = 26: what lies below holds
    # pi h^2 (3 r - h) / 3 with h = 26 - 2
    bowl = solids.sphere(20.0, 256) - solids.sphere(18.0, 256).translate((0, 0, 2))
    bowl = bowl.trim_by_plane((0, 0, -1), -26.0)
    (pocket,) = pockets(bowl)
    assert pocket.kind == "cup"
    assert pocket.volume_mm3 == pytest.approx(math.pi * 24**2 * (54 - 24) / 3, rel=5e-4)


@pytest.mark.parametrize("lean_deg", [20.0, 45.0, 70.0, 80.0])
def test_a_thin_leaning_wall_does_not_leak(lean_deg):
    # a cone shell 0.4 mm thick: its inside is a cone lower by 0.4 / sin(lean)
    slope = math.tan(math.radians(lean_deg))
    drop = 0.4 / math.sin(math.radians(lean_deg))
    outer = Manifold.cylinder(20.0, 1e-4, 20.0 * slope, 96)
    (pocket,) = pockets(outer - outer.translate((0, 0, drop)))
    height = 20.0 - drop
    assert pocket.kind == "cup"
    inside = polygon(height * slope, 96) * height / 3
    assert pocket.volume_mm3 == pytest.approx(inside, rel=5e-4)


def test_a_baffled_box_is_one_space():
    (pocket,) = pockets(hs.labyrinth())
    assert pocket.volume_mm3 == pytest.approx(56 * 16 * 16 - 2 * 2 * 16 * 12, rel=1e-12)


def test_two_chambers_are_one_space_only_where_a_hole_joins_them():
    apart = pockets(hs.chambers(join=False))
    assert [p.volume_mm3 for p in apart] == pytest.approx([17 * 256, 16 * 256], rel=1e-12)
    (joined,) = pockets(hs.chambers(join=True))
    assert joined.volume_mm3 == pytest.approx(33 * 256 + 3 * polygon(2.0, 32), rel=1e-9)


def test_a_ball_loose_in_a_cavity_takes_its_room():
    ball = Manifold.sphere(8.0, 64).translate((20, 20, 20))
    (pocket,) = pockets(hs.hollow_box() + ball)
    assert pocket.volume_mm3 == pytest.approx(46656.0 - ball.volume(), rel=1e-4)


def test_a_leaning_cup_holds_liquid_up_to_its_lowest_rim():
    # a cup 24 x 24 x 17 turned by a about x: the film shuts it level with the lower rim, so what it
    # holds is the prism between floor and that level: 24 * (24 * 17 - 24^2 tan(a) / 2)
    lean = math.radians(20.0)
    (pocket,) = pockets(hs.cup_up().rotate((20.0, 0.0, 0.0)))
    assert pocket.volume_mm3 == pytest.approx(24 * (24 * 17 - 24**2 * math.tan(lean) / 2), rel=1e-3)


@pytest.mark.parametrize("turn_deg", [17.0, 45.0, 90.0])
@pytest.mark.parametrize("make", [hs.cup_up, hs.bottom_drain, hs.labyrinth, hs.side_drain])
def test_turning_and_moving_far_away_change_nothing(make, turn_deg):
    before = pockets(make())
    after = pockets(make().rotate((0, 0, turn_deg)).translate((1e5, -1e5, 1e5)))
    assert [p.kind for p in after] == [p.kind for p in before]
    for a, b in zip(after, before, strict=True):
        assert a.volume_mm3 == pytest.approx(b.volume_mm3, rel=1e-3)
        assert a.suction_area_mm2 == pytest.approx(b.suction_area_mm2, rel=1e-3)
        assert a.pooled_mm3 == pytest.approx(b.pooled_mm3, rel=1e-3)


@pytest.mark.parametrize("make", [hs.cup_down, hs.top_drain, hs.labyrinth])
def test_finer_facets_change_nothing(make):
    before = pockets(make())
    after = pockets(make().refine(4))
    assert [p.kind for p in after] == [p.kind for p in before]
    assert [p.volume_mm3 for p in after] == pytest.approx([p.volume_mm3 for p in before], rel=1e-9)


@pytest.mark.parametrize("diameter", [1.0, 2.0, 3.0])
@pytest.mark.parametrize("make", [hs.bottom_drain, hs.top_drain, hs.side_drain])
def test_the_width_of_a_narrow_drain_is_found(make, diameter):
    (pocket,) = pockets(make(diameter))
    assert pocket.kind == "narrow"
    # the inscribed circle of a 32-gon is cos(pi/32) of its circle; lines stand 0.1 mm apart
    assert pocket.vent_mm == pytest.approx(diameter * math.cos(math.pi / 32), abs=0.1)


def test_pools_and_cups_change_places_when_a_part_is_turned_over():
    rng = np.random.default_rng(5)
    for _ in range(4):
        x, y, z = rng.uniform(6.0, 20.0, 3)
        solid = solids.box(30, 30, 30) - solids.box(x, y, z, (5, 5, 30 - z))
        (cup,) = pockets(solid)
        (pool,) = pockets(hs.upside_down(solid))
        assert cup.volume_mm3 == pytest.approx(x * y * z, rel=1e-9)
        assert pool.pooled_mm3 == pytest.approx(x * y * z, rel=1e-9)
        assert pool.by_platform
        assert not cup.by_platform


@pytest.mark.parametrize("lean_deg", [15.0, 45.0, 75.0])
@pytest.mark.parametrize(("diameter", "found"), [(3.0, 1), (3.5, 0)])
def test_a_leaning_drain_is_judged_by_its_diameter(lean_deg, diameter, found):
    lean, turn = math.radians(lean_deg), math.radians(37.0)
    way = (
        math.sin(lean) * math.cos(turn),
        math.sin(lean) * math.sin(turn),
        math.cos(lean),
    )
    body = solids.box(40, 40, 40, (-20, -20, -20)) - solids.box(30, 30, 30, (-15, -15, -15))
    body -= hs.drill(diameter, (0, 0, 0), way, 45.0, 64)
    narrow = [p for p in pockets(body) if p.kind == "narrow"]
    assert len(narrow) == found
    for pocket in narrow:
        assert pocket.volume_mm3 == pytest.approx(27000.0, rel=5e-3)
        assert pocket.vent_mm == pytest.approx(diameter, abs=0.1)
