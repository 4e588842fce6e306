"""Layers that round heights, and slits: what the estimate says of them, against the truth."""

from dataclasses import replace

import numpy as np
import pytest
import solids
from bare_parts import solid_part
from rows import feedstock, printer, recipe

from buildplan.process.estimate import estimate_print
from buildplan.process.estimate.slits import slit_h
from buildplan.process.estimate.stages import paths_of
from buildplan.process.estimate.steps import find_steps, flat_faces, moved_faces
from buildplan.process.layers import cut_layers
from buildplan.process.motion import estimate_time

EVEN = recipe(layer_time_least_s=0.0)


def steps_of(solid, layer_mm):
    part = solid_part(solid)
    return find_steps(part, cut_layers(part, layer_mm), most_mm=0.32)


def excess_mm3(part, layers):
    return float((layers.area_mm2 * layers.thickness_mm).sum()) - part.volume_mm3


@pytest.mark.parametrize("layer_mm", [0.07, 0.1, 0.15, 0.2, 0.3, 0.4])
def test_layers_that_miss_a_face_change_the_volume_by_what_the_moved_faces_say(layer_mm):
    part = solid_part(solids.tee().translate((3.0, -7.0, 11.0)))
    layers = cut_layers(part, layer_mm)
    height_mm, area_mm2 = flat_faces(part)
    moved_mm = moved_faces(part.name, height_mm, layers.height_mm, layer_mm)
    assert np.sum(area_mm2 * moved_mm) == pytest.approx(excess_mm3(part, layers), abs=1e-6)
    assert np.abs(moved_mm).max() <= 0.5 * layer_mm + 1e-9


def test_a_height_between_two_layers_is_said_with_the_nearest_thickness_that_meets_it():
    (found,) = steps_of(solids.tee(), 0.3)
    assert (found.check, found.severity) == ("layer steps", "note")
    assert "0.3 mm round the heights of flat faces: 2.0 % less feedstock" in found.what
    assert found.where.text == "flat face 20.00 mm up"
    assert "0.25 mm" in found.remedy
    assert steps_of(solids.tee(), 0.25) == ()


def test_a_face_far_out_of_place_is_a_caution():
    (found,) = steps_of(solids.tee(foot_height=0.4, top_height=0.6), 0.3)
    assert found.severity == "caution"
    assert "more feedstock" in found.what


def test_the_last_layer_takes_the_rest_so_a_plain_box_is_met_by_any_layer():
    for layer_mm in (0.1, 0.15, 0.3, 0.35):
        assert steps_of(solids.box(20.0, 20.0, 10.0), layer_mm) == ()


def test_layers_too_coarse_for_a_curve_are_said_without_a_face():
    (found,) = steps_of(solids.sphere(2.0), 0.4)
    assert "coarse for faces that curve or slant" in found.what
    assert "thinner layers" in found.remedy


def test_the_note_reaches_the_estimate_and_the_grams_stay_those_of_the_layers():
    part = solid_part(solids.tee())
    settings = replace(EVEN, layer_mm=0.3, infill_frac=1.0)
    estimate = estimate_print(part, printer(), feedstock(), settings)
    assert "layer steps" in [finding.check for finding in estimate.findings]
    laid_mm3 = float(estimate.layer_mass_g.sum()) / feedstock().density_g_cm3 * 1000.0
    sections_mm3 = part.volume_mm3 + excess_mm3(part, cut_layers(part, 0.3))
    assert laid_mm3 == pytest.approx(sections_mm3, rel=2e-3)


def frame(wall_mm):
    hole = solids.box(80.0 - 2 * wall_mm, 60.0 - 2 * wall_mm, 32.0, (wall_mm, wall_mm, -1.0))
    return solid_part(solids.box(80.0, 60.0, 30.0) - hole)


def tube(wall_mm):
    return solid_part(solids.tube(45.0, 45.0 - wall_mm, 30.0, segments=128))


@pytest.mark.parametrize("make", [frame, tube])
@pytest.mark.parametrize(("beads", "wall_mm", "better_mm"), [(2, 3.0, 1.8), (3, 4.0, 2.7)])
def test_hours_of_slits_are_what_walls_of_whole_beads_really_save(make, beads, wall_mm, better_mm):
    settings = replace(EVEN, wall_beads=beads)
    slit, whole = (
        estimate_print(make(mm), printer(), feedstock(), settings) for mm in (wall_mm, better_mm)
    )
    paths = paths_of(make(wall_mm), settings)
    times = estimate_time(
        paths, printer(), recipe=settings, flow_limit_mm3_s=feedstock().flow_limit_mm3_s
    )
    said_h = slit_h(paths, times, printer())
    assert said_h == pytest.approx(slit.time_h - whole.time_h, rel=0.15)
    (found,) = (finding for finding in slit.findings if finding.check == "slit")
    assert f"take about {said_h:.1f} of {slit.time_h:.1f} h" in found.what
    assert f"Walls of {2 * beads} beads save about {said_h:.1f} h" in found.remedy
    assert all(finding.check != "slit" for finding in whole.findings)


def test_more_beads_instead_of_a_slit_save_hardly_any_hours_and_the_finding_says_so():
    slit = estimate_print(frame(3.0), printer(), feedstock(), replace(EVEN, wall_beads=2))
    whole = estimate_print(frame(2.7), printer(), feedstock(), replace(EVEN, wall_beads=3))
    assert slit.time_h == pytest.approx(whole.time_h, rel=0.02)
    (found,) = (finding for finding in slit.findings if finding.check == "slit")
    assert "those of 6 beads hardly any" in found.remedy
