"""What must hold for thin walls of any part, wherever it stands and however it is meshed."""

import math

import numpy as np
import pytest
import rows
import solids
import trimesh
import wall_solids
from hypothesis import given, settings
from hypothesis import strategies as st

from buildplan.checks.regions import link_regions
from buildplan.checks.surface import measure_surface
from buildplan.checks.walls import check_walls
from buildplan.part import part_from_mesh
from buildplan.tables import rules_for

FEW = settings(max_examples=12, deadline=None, derandomize=True)
ANY_TURN = st.tuples(*[st.floats(-1.0, 1.0)] * 4).filter(lambda q: sum(v * v for v in q) > 0.01)
SHAPES = {
    "fins": (wall_solids.fins, (0.5, 1.1)),
    "hollow box": (lambda: wall_solids.hollow_box(0.8), (0.81, 0.78)),
    "pin": (wall_solids.pin, (1.1, 0.9)),
    "slots": (wall_solids.slotted, (1.5, 2.5)),
}


def turned(vertices, quaternion):
    w, x, y, z = np.array(quaternion) / np.linalg.norm(quaternion)
    turn = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    return vertices @ turn.T


def thin_areas(vertices, facets, limits_mm):
    part = part_from_mesh(vertices, facets, health="quick")
    cap_mm = 1.5 * max(limits_mm)
    surface = measure_surface(part, inside_cap_mm=cap_mm, outside_cap_mm=0.5, pitch_mm=0.5)
    return [surface.weight_mm2[surface.thickness_mm < limit].sum() for limit in limits_mm]


@pytest.mark.parametrize("name", SHAPES)
@FEW
@given(ANY_TURN, st.tuples(*[st.floats(-1e5, 1e5)] * 3))
def test_turning_and_moving_change_no_thin_area(name, turn, move):
    make, limits_mm = SHAPES[name]
    vertices, facets = solids.arrays(make())
    there = thin_areas(turned(vertices, turn) + np.array(move), facets, limits_mm)
    assert np.allclose(there, thin_areas(vertices, facets, limits_mm), rtol=0.001, atol=1e-6)


@pytest.mark.parametrize("name", SHAPES)
def test_cutting_each_facet_in_four_and_in_sixteen_changes_no_thin_area(name):
    make, limits_mm = SHAPES[name]
    vertices, facets = solids.arrays(make())
    usual = thin_areas(vertices, facets, limits_mm)
    for _ in range(2):
        vertices, facets = trimesh.remesh.subdivide(vertices, facets)
        assert np.allclose(thin_areas(vertices, facets, limits_mm), usual, rtol=0.001, atol=1e-6)


@FEW
@given(st.floats(0.2, 3.0), st.floats(0.2, 1.5))
def test_a_wall_is_found_thin_exactly_when_it_is(wall_mm, limit_mm):
    wall = solids.box(wall_mm, 20, 20)
    part = wall_solids.as_part(wall)
    surface = measure_surface(part, inside_cap_mm=4.0, outside_cap_mm=0.5, pitch_mm=1.0)
    thin = surface.weight_mm2[surface.thickness_mm < limit_mm].sum()
    if abs(wall_mm - limit_mm) > 1e-9:
        assert math.isclose(thin, 800.0 if wall_mm < limit_mm else 0.0, abs_tol=1e-6)


@FEW
@given(st.floats(0.25, 1.0), st.integers(1, 6), st.floats(0.5, 3.0), st.floats(0.3, 1.2))
def test_there_are_as_many_regions_as_fins(fin_mm, count, gap_mm, pitch_mm):
    wide = count * (fin_mm + gap_mm) + 5.0
    body = solids.box(wide, 10, 3, (0, 0, -3))
    for number in range(count):
        body += solids.box(fin_mm, 10, 8, (2 + number * (fin_mm + gap_mm), 0, -1))
    surface = measure_surface(
        wall_solids.as_part(body), inside_cap_mm=1.5, outside_cap_mm=1.0, pitch_mm=pitch_mm
    )
    found = link_regions(surface, "thickness", 1.1)
    assert len(found) == count
    assert np.allclose([region.area_mm2 for region in found], 140.0, rtol=0.005)


@FEW
@given(st.floats(0.1, 3.0), ANY_TURN)
def test_the_numbers_of_a_check_are_in_order_for_any_wall(wall_mm, turn):
    vertices, facets = solids.arrays(wall_solids.hollow_box(wall_mm, side_mm=15.0))
    part = part_from_mesh(turned(vertices, turn), facets, health="quick")
    found = check_walls(part, rows.recipe(), rules_for(rows.feedstock()))
    assert 0.0 <= found.vanish_frac <= found.thin_frac <= 1.0
    assert 0.0 < found.least_mm <= found.low_mm <= found.cap_mm
    assert bool(found.marks) == (wall_mm < 0.99 * found.limit_mm)
    assert len(found.marks) <= 12
