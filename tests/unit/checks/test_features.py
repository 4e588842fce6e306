"""Findings say which named features they touch."""

import numpy as np
import pytest
import solids

from buildplan.checks.features import name_features
from buildplan.checks.marks import Mark, findings_of
from buildplan.findings import Finding, Place
from buildplan.part import part_from_mesh
from buildplan.part.feature import Feature
from buildplan.part.turn import turn_features


def finding(**where):
    return Finding(
        check="walls",
        severity="note",
        what="thin",
        where=Place(text="near the top", **where),
        measured="1 mm",
        required="2 mm",
        remedy="Thicken it.",
        source="common practice, no source",
    )


def feature(name, box):
    return Feature(name=name, kind="boss", box_mm=box)


@pytest.fixture
def block():
    return part_from_mesh(*solids.arrays(solids.box(10.0, 10.0, 10.0)), name="block")


def texts(part, mark, *features):
    return [f.where.text for f in findings_of(name_features(part, [mark], features))]


def test_a_finding_names_the_feature_that_its_facets_reach_into(block):
    top = np.flatnonzero(block.vertices_mm[block.facets][:, :, 2].min(axis=1) > 9.9)
    low, high = block.vertices_mm.min(axis=0), block.vertices_mm.max(axis=0)
    above = feature("lid seat", (*np.add(low, (1, 1, 9)), *np.add(high, (0, 0, 1))))
    below = feature("foot", (*(low - 1), *(low + 1)))
    assert texts(block, Mark(finding=finding(), facets=top), above, below) == [
        "near the top, touches lid seat"
    ]


def test_a_finding_without_facets_goes_by_its_point_or_its_box(block):
    near = feature("boss", (0.0, 0.0, 0.0, 2.0, 2.0, 2.0))
    at = texts(block, Mark(finding=finding(point_mm=(1.0, 1.0, 1.0))), near)
    boxed = texts(block, Mark(finding=finding(box_mm=(1.5, 1.5, 1.5, 9.0, 9.0, 9.0))), near)
    away = texts(block, Mark(finding=finding(point_mm=(5.0, 5.0, 5.0))), near)
    nowhere = texts(block, Mark(finding=finding()), near)
    assert at == boxed == ["near the top, touches boss"]
    assert away == nowhere == ["near the top"]


def test_many_features_are_counted(block):
    many = [feature(f"boss {i}", (0.0, 0.0, 0.0, 2.0, 2.0, 2.0)) for i in range(1, 6)]
    assert texts(block, Mark(finding=finding(point_mm=(1.0, 1.0, 1.0))), *many) == [
        "near the top, touches boss 1, boss 2, boss 3 and 2 more"
    ]


def test_a_turned_feature_is_the_box_around_its_turned_corners():
    """A quarter turn about x takes (x, y, z) to (x, -z, y)."""
    quarter = (1, 0, 0, 5, 0, 0, -1, 0, 0, 1, 0, 0, 0, 0, 0, 1)
    (turned,) = turn_features([feature("pin", (0, 1, 2, 3, 4, 5))], quarter)
    assert turned.box_mm == (5.0, -5.0, 1.0, 8.0, -2.0, 4.0)
    assert turned.name == "pin"


def test_a_finding_about_the_whole_part_names_none(block):
    many = [feature(f"boss {i}", (0.0, 0.0, 0.0, 2.0, 2.0, 2.0)) for i in range(9)]
    assert texts(block, Mark(finding=finding(point_mm=(1.0, 1.0, 1.0))), *many) == ["near the top"]
