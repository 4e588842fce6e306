"""The whole estimate: what must not change with how a part is placed, drawn or asked for."""

from dataclasses import replace

import numpy as np
import pytest
import solids
from bare_parts import bare_part, solid_part
from hypothesis import given, settings
from hypothesis import strategies as st
from rows import feedstock, printer, recipe

from buildplan.process.cache import clear_caches
from buildplan.process.estimate import estimate_print

EVEN = recipe(layer_time_least_s=0.0)


def bracket():
    """An angle with a hole: no symmetry, a slit, an overhang."""
    upright = solids.box(4.0, 24.0, 18.0)
    foot = solids.box(30.0, 24.0, 5.0)
    arm = solids.box(16.0, 8.0, 4.0, (0.0, 4.0, 14.0))
    return upright + foot + arm - solids.box(6.0, 6.0, 20.0, (18.0, 9.0, -5.0))


def take(part, settings=EVEN):
    return estimate_print(part, printer(), feedstock(), settings)


@pytest.fixture(scope="module")
def usual():
    return take(solid_part(bracket()))


@pytest.mark.parametrize("shift", [(0.0, 0.0, 40.0), (120.0, -35.5, 0.0), (-1e3, 1e3, 1e3)])
def test_moving_a_part_changes_nothing(usual, shift):
    moved = take(solid_part(bracket().translate(shift)))
    assert moved.time_h == pytest.approx(usual.time_h, rel=2e-4)
    assert moved.mass_g == pytest.approx(usual.mass_g, rel=1e-6)


@pytest.mark.parametrize("quarter_turns", [1, 2, 3])
def test_turning_a_part_by_quarters_changes_little(usual, quarter_turns):
    turned = take(solid_part(bracket().rotate((0.0, 0.0, 90.0 * quarter_turns))))
    assert turned.mass_g == pytest.approx(usual.mass_g, rel=2e-3)
    assert turned.time_h == pytest.approx(usual.time_h, rel=2e-2)


def test_a_mirrored_part_takes_the_same(usual):
    mirrored = take(solid_part(bracket().mirror((1.0, 0.0, 0.0))))
    assert mirrored.mass_g == pytest.approx(usual.mass_g, rel=2e-3)
    assert mirrored.time_h == pytest.approx(usual.time_h, rel=2e-2)


def test_a_finer_mesh_of_the_same_solid_takes_the_same(usual):
    fine = take(solid_part(bracket().refine(5)))
    assert fine.mass_g == pytest.approx(usual.mass_g, rel=1e-6)
    assert fine.time_h == pytest.approx(usual.time_h, rel=1e-3)


def test_the_order_of_facets_changes_nothing(usual):
    vertices, facets = solids.arrays(bracket())
    order = np.random.default_rng(7).permutation(len(facets))
    mixed = take(bare_part(vertices, facets[order]))
    assert mixed.mass_g == pytest.approx(usual.mass_g, rel=1e-6)
    assert mixed.time_h == pytest.approx(usual.time_h, rel=2e-2)


def test_thinner_layers_lay_the_same_volume_in_more_hours():
    part = solid_part(bracket())
    # every face stands at a whole number of layers
    solid = replace(EVEN, infill_frac=1.0)
    estimates = [take(part, replace(solid, layer_mm=h)) for h in (0.5, 0.25, 0.125)]
    for estimate in estimates[1:]:
        assert estimate.mass_g == pytest.approx(estimates[0].mass_g, rel=2e-3)
    hours = [estimate.time_h for estimate in estimates]
    assert hours == sorted(hours)


@settings(max_examples=12, deadline=None)
@given(share=st.floats(0.05, 0.6), more=st.floats(0.05, 0.4), walls=st.integers(1, 4))
def test_more_infill_and_more_walls_weigh_more(share, more, walls):
    part = solid_part(bracket())
    low = replace(EVEN, infill_frac=share, wall_beads=walls)
    assert take(part, replace(low, infill_frac=share + more)).mass_g > take(part, low).mass_g
    assert take(part, replace(low, wall_beads=walls + 1)).mass_g > take(part, low).mass_g * 0.995


@settings(max_examples=10, deadline=None)
@given(factor=st.floats(1.05, 4.0))
def test_a_quicker_machine_never_takes_longer(factor):
    part = solid_part(bracket())
    usual_h = take(part).time_h
    for name in ("travel_mm_s", "print_accel_mm_s2", "outline_accel_mm_s2", "flow_limit_mm3_s"):
        quick = replace(printer(), **{name: factor * getattr(printer(), name)})
        hours = estimate_print(part, quick, feedstock(), EVEN).time_h
        assert hours <= usual_h * (1.0 + 1e-12), name


def test_inputs_stay_as_they_were_and_answers_repeat_byte_for_byte(usual):
    part = solid_part(bracket())
    before = (part.vertices_mm.tobytes(), part.facets.tobytes())
    clear_caches()
    again = take(part)
    assert (part.vertices_mm.tobytes(), part.facets.tobytes()) == before
    assert again.time_h == usual.time_h
    assert again.total_cost == usual.total_cost
    assert again.layer_time_s.tobytes() == usual.layer_time_s.tobytes()
    assert again.layer_mass_g.tobytes() == usual.layer_mass_g.tobytes()
