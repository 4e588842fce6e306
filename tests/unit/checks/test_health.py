"""The reader's findings as marks."""

import numpy as np
import pytest
import solids

from buildplan.checks.health import check_health
from buildplan.part import part_from_mesh


def test_a_sound_part_has_nothing_to_say():
    found = check_health(part_from_mesh(*solids.arrays(solids.box())))
    assert found.grade == "exact"
    assert found.marks == ()
    assert not len(found.open_facets)


def open_ball():
    """A ball with a small piece of its cap missing, too wide to be filled unasked."""
    vertices, facets = solids.arrays(solids.sphere(20.0, 64))
    away = np.linalg.norm(vertices[facets].mean(axis=1) - (0.0, 0.0, 40.0), axis=1)
    return vertices, facets[away > 4.5]


def test_facets_round_a_hole_are_named_and_the_remedy_says_how_to_fill_it():
    part = part_from_mesh(*open_ball())
    found = check_health(part)
    (mark,) = [mark for mark in found.marks if mark.finding.check == "health"]
    assert found.grade == "estimate"
    # every facet named touches the rim of the hole, and there are as many as the hole has edges
    assert len(mark.facets) == part.health.holes[0].edges
    tops = part.vertices_mm[part.facets[mark.facets]][:, :, 2].max(axis=1)
    assert tops.min() > 39.0
    assert "--fill-holes " in mark.finding.remedy
    assert "fill_holes_mm=" in mark.finding.remedy


def crossing_box():
    """A box whose one corner is pushed through the opposite side."""
    vertices, facets = solids.arrays(solids.box().refine(4))
    top = np.argmin(np.linalg.norm(vertices - (10.0, 10.0, 20.0), axis=1))
    vertices[top] = (10.3, 10.7, -8.0)
    return vertices, facets


def test_facets_that_pass_through_others_are_named():
    part = part_from_mesh(*crossing_box())
    found = check_health(part)
    assert part.health.self_intersections == len(found.crossing_facets) > 0
    (mark,) = [mark for mark in found.marks if "pass through" in mark.finding.what]
    assert np.array_equal(mark.facets, found.crossing_facets)
    assert np.all(np.diff(mark.facets) > 0)
    low = part.vertices_mm[part.facets[mark.facets]][:, :, 2].min(axis=1)
    assert low.min() == pytest.approx(-8.0)


def test_every_finding_of_the_reader_is_handed_on_once():
    part = part_from_mesh(*open_ball())
    assert tuple(mark.finding for mark in check_health(part).marks) == part.findings


def test_a_doubtful_unit_is_said_with_how_to_set_it(tmp_path):
    from buildplan.part import read_part
    from buildplan.part.write import write_part

    path = write_part(part_from_mesh(*solids.arrays(solids.box(0.2, 0.2, 0.2))), tmp_path / "a.stl")
    (mark,) = check_health(read_part(path)).marks
    assert mark.finding.check == "units"
    assert "--unit inch" in mark.finding.remedy or "--unit cm" in mark.finding.remedy
    assert 'unit="m" makes it 200 x 200 x 200 mm' in mark.finding.remedy
    assert not len(mark.facets)
