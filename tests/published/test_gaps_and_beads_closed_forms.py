"""Slots, holes, pins and thin walls against closed forms.

Sources: plane geometry (areas of strips, sectors and regular polygons: any handbook of formulas,
e.g. Bronshtein and Semendyayev, "Handbook of Mathematics"); opening by a disc: Serra, "Image
Analysis and Mathematical Morphology", 1982, section II.
"""

import math

import gap_solids as gs
import pytest
from solids import box


def test_fins_thinner_than_a_bead_are_their_share_of_the_volume():
    # 0.3 and 0.4 mm of 6.3 mm of fins, 20 x 15 mm each, on a base of 28.3 x 20 x 3 mm: 210 / 3588
    share = (0.3 + 0.4) * 300.0 / (sum(gs.FINS) * 300.0 + 28.3 * 20.0 * 3.0)
    assert share == pytest.approx(0.0585, abs=0.0001)
    assert gs.beads_of(gs.fins(), 0.5).thin_frac == pytest.approx(share, rel=0.001)


@pytest.mark.parametrize("bead_mm", [0.5, 0.8, 1.0, 1.5])
def test_a_wedge_is_opened_as_far_as_the_last_disc_reaches(bead_mm):
    # shrunk by r, the wedge ends in a tip on its bisector at r / sin(a / 2) from the apex; grown
    # back by 1.5 r it covers all beyond that tip and a disc around it: what is left is the wedge
    # up to the disc, found by integrating across the wedge in polar form about the apex
    length, thin, thick, height = 60.0, 0.3, 3.0, 30.0
    angle = math.atan((thick - thin) / length)
    apex = thin / math.tan(angle)  # apex lies this far before x = 0
    radius = 0.5 * bead_mm * (1.0 - 0.002)
    tip, grown = radius / math.sin(angle / 2), 1.5 * radius
    steps = 20_000
    area = 0.0
    for k in range(steps):
        turn = (k + 0.5) / steps * angle
        off = turn - 0.5 * angle
        reach = tip * math.cos(off) - math.sqrt(grown**2 - (tip * math.sin(off)) ** 2)
        start = apex / math.cos(turn)  # the cut at x = 0
        area += 0.5 * max(0.0, reach**2 - start**2) * angle / steps
    got = gs.beads_of(gs.wedge(length, thin, thick, height), bead_mm)
    assert got.thin_mm3 == pytest.approx(area * height, rel=0.005)


@pytest.mark.parametrize("wall_mm", [1.2, 0.8, 0.4])
@pytest.mark.parametrize(("limit", "share"), [(1.0 / 1.02, 0.0), (1.2, 1.0)])
def test_hollow_boxes_are_thin_all_round_or_not_at_all(wall_mm, limit, share):
    # between floor and roof the section is a frame: 40^2 - (40 - 2 t)^2; at its corners a disc
    # of diameter 2 t sqrt(2) / (1 + sqrt(2)) = 1.17 t still fits
    inner = 40.0 - 2.0 * wall_mm
    body = box(40, 40, 40) - box(inner, inner, inner, (wall_mm,) * 3)
    frame = (1600.0 - inner**2) * inner
    got = gs.beads_of(body, bead_mm=wall_mm * limit, layer_mm=0.4)
    assert got.thin_mm3 == pytest.approx(share * frame, rel=0.005)


@pytest.mark.parametrize("sides", [8, 12, 24, 48, 96])
def test_a_polygons_hole_has_the_diameter_of_the_circle_through_its_corners(sides):
    # area of the regular polygon n / 2 r^2 sin(2 pi / n); its corners lie on the circle drawn
    diameter = 4.0
    whole = box(20, 20, 5)
    body = whole - gs.bar(diameter, 40, sides).translate((10, 10, 0))
    (hole,) = gs.gaps_of(body).holes
    taken = whole.volume() - body.volume()
    drawn = 2.0 * math.sqrt(taken / hole.depth_mm / (sides / 2 * math.sin(2 * math.pi / sides)))
    assert drawn == pytest.approx(diameter, rel=1e-6)
    assert hole.drawn_mm == pytest.approx(drawn, rel=1e-6)


def test_the_clearance_of_a_shaft_is_the_apothem_of_its_polygon():
    # 64 flats each: the clearance between flats is the play times cos(pi / n)
    for play in (0.15, 0.3):
        (gap,) = gs.gaps_of(gs.pivot(play)).gaps
        assert gap.least_mm == pytest.approx(play * math.cos(math.pi / 64), rel=1e-4)
