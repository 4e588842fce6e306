"""One region for each feature."""

import math

import numpy as np
import pytest
import solids
import wall_solids
from manifold3d import Manifold

from buildplan.checks.regions import link_regions
from buildplan.checks.surface import measure_surface


def regions(solid, measure, limit_mm, pitch_mm=None, **options):
    part = wall_solids.as_part(solid)
    cap_mm = 1.25 * limit_mm
    surface = measure_surface(part, inside_cap_mm=cap_mm, outside_cap_mm=cap_mm, pitch_mm=pitch_mm)
    return link_regions(surface, measure, limit_mm, **options)


@pytest.mark.parametrize("pitch_mm", [None, 0.5, 1.5])
def test_each_slot_hole_and_pin_is_one_region_with_its_size(pitch_mm):
    gaps = regions(wall_solids.slotted(), "gap", 2.5, pitch_mm)
    slots = [region for region in gaps if region.kind == "sheet"]
    holes = [region for region in gaps if region.kind == "rod"]
    assert sorted(round(region.low_mm, 6) for region in slots) == [0.15, 0.2, 0.3, 0.4, 0.6, 1.0]
    assert all(math.isclose(region.area_mm2, 144.0, rel_tol=0.005) for region in slots)
    assert all(abs(region.axis[0]) > 0.99 for region in slots)
    assert len(holes) == 3
    for region, diameter in zip(
        sorted(holes, key=lambda r: r.low_mm), (0.5, 1.0, 2.0), strict=True
    ):
        assert math.isclose(region.low_mm, diameter, rel_tol=0.04)
        assert abs(region.axis[2]) > 0.99
    pins = regions(wall_solids.slotted(), "thickness", 2.5, pitch_mm)
    assert [region.kind for region in pins] == ["rod"] * 3
    for region, diameter in zip(sorted(pins, key=lambda r: r.low_mm), (0.6, 1.0, 2.0), strict=True):
        assert math.isclose(region.low_mm, diameter, rel_tol=0.04)


def test_a_fin_with_both_its_sides_is_one_sheet():
    found = regions(wall_solids.fins(), "thickness", 1.1)
    assert [region.kind for region in found] == ["sheet"] * 5
    assert np.allclose([region.area_mm2 for region in found], 600.0, rtol=0.005)


def test_two_recesses_under_one_large_face_stay_two_regions():
    block = solids.box(60, 20, 10)
    for x in (10, 40):
        block -= solids.box(10, 10, 9.4, (x, 5, -0.2))
    found = regions(block, "thickness", 1.0)
    assert len(found) == 2
    for region, x in zip(sorted(found, key=lambda r: r.box_mm[0]), (10, 40), strict=True):
        assert math.isclose(region.least_mm, 0.8, rel_tol=1e-6)
        assert x - 1.0 < region.box_mm[0] < region.box_mm[3] < x + 11.0


def test_two_fins_with_a_narrow_gap_are_two_walls_and_the_gap_is_one():
    body = solids.box(10, 20, 3, (-5, 0, -3))
    for x in (-1.0, 0.4):
        body += solids.box(0.6, 20, 10, (x, 0, -0.5))
    assert len(regions(body, "thickness", 0.8, pitch_mm=1.5)) == 2
    assert len(regions(body, "gap", 0.9, pitch_mm=1.5)) == 1


def test_the_wall_of_a_tube_is_a_sheet_and_a_rod_is_not():
    tube = solids.tube(10.0, 9.0, 20.0, 64)
    assert [region.kind for region in regions(tube, "thickness", 1.2)] == ["sheet"]
    rod = Manifold.cylinder(20.0, 0.5, 0.5, 64)
    assert [region.kind for region in regions(rod, "thickness", 1.2)] == ["rod"]
    shell = wall_solids.hollow_sphere(segments=64)
    assert [region.kind for region in regions(shell, "thickness", 1.2)] == ["sheet"]
    pocket = solids.box(10, 10, 10) - Manifold.sphere(0.5, 32).translate((5, 5, 5))
    assert [region.kind for region in regions(pocket, "gap", 1.2)] == ["blob"]


def test_regions_smaller_than_the_limit_squared_are_noise():
    spike = solids.box(10, 10, 10) + solids.box(0.3, 0.3, 0.4, (5, 5, 9.8))
    assert regions(spike, "thickness", 1.0) == ()
    assert len(regions(spike, "thickness", 1.0, least_area_mm2=0.0)) == 1


def test_only_chosen_samples_belong_to_regions_and_none_gives_none():
    part = wall_solids.as_part(wall_solids.fins())
    surface = measure_surface(part, inside_cap_mm=1.5, outside_cap_mm=1.0)
    left = surface.points_mm[:, 0] < 5.0
    assert len(link_regions(surface, "thickness", 1.1, chosen=left)) == 1
    assert link_regions(surface, "thickness", 1.1, chosen=np.zeros_like(left)) == ()


def test_a_region_tells_its_facets_and_samples_in_order():
    found = regions(wall_solids.fins(), "thickness", 1.1)
    for region in found:
        for numbers in (region.facets, region.samples):
            assert (np.diff(numbers) > 0).all()
            assert not numbers.flags.writeable
        assert region.least_mm <= region.low_mm <= region.median_mm
    assert len(np.unique(np.concatenate([region.facets for region in found]))) == sum(
        len(region.facets) for region in found
    )


def test_a_large_facet_with_a_small_thin_place_does_not_stand_for_it():
    block = solids.box(60, 60, 10) - solids.box(6, 6, 9.4, (27, 27, -0.2))
    part = wall_solids.as_part(block)
    surface = measure_surface(part, inside_cap_mm=1.5, outside_cap_mm=0.5)
    (region,) = link_regions(surface, "thickness", 1.0)
    corners = part.vertices_mm[part.facets[region.facets]]
    assert np.ptp(corners[..., 0]) < 7.0, "the recess's floor, not the face above it"
    assert len(region.facets) == 2
