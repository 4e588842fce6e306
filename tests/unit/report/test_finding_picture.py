"""Pictures of findings: the facets a finding is about are painted and seen."""

import io
from dataclasses import replace

import numpy as np
import pytest
import solids
from PIL import Image

from buildplan.checks.marks import Mark
from buildplan.findings import Finding, Place
from buildplan.part import part_from_mesh
from buildplan.report.cut_open import cut_open
from buildplan.report.finding_picture import (
    PAINT,
    best_view,
    draw_finding,
    paint_marks,
    spot_of,
)
from buildplan.report.picture import draw_part


def mark(facets, severity="stop"):
    finding = Finding(
        check="walls",
        severity=severity,
        what="thin",
        where=Place(text=""),
        measured="1 mm",
        required="2 mm",
        remedy="Thicken it.",
        source="common practice, no source",
    )
    return Mark(finding=finding, facets=np.asarray(facets, dtype=np.int64))


@pytest.fixture
def block():
    return part_from_mesh(*solids.arrays(solids.box(30.0, 20.0, 10.0)), name="block")


def facing(part, axis, sign):
    corners = part.vertices_mm[part.facets]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return np.flatnonzero(sign * normal[:, axis] > 1e-9)


def pixels(picture):
    return np.array(Image.open(io.BytesIO(picture.data)).convert("RGBA")).astype(int)


def reddish(picture):
    image = pixels(picture)
    return (image[..., 3] > 200) & (image[..., 0] > image[..., 2] + 60)


def test_a_face_below_is_looked_at_from_below_and_a_face_behind_from_behind(block):
    assert best_view(block, facing(block, 2, -1))[1] < 0.0
    assert abs(best_view(block, facing(block, 1, 1))[0]) > 90.0
    assert best_view(block, facing(block, 2, 1))[1] > 0.0


@pytest.mark.parametrize(("axis", "sign"), [(0, 1), (0, -1), (1, 1), (1, -1), (2, 1), (2, -1)])
def test_every_face_of_a_block_shows_in_its_picture(block, axis, sign):
    picture = draw_finding(block, mark(facing(block, axis, sign)))
    assert reddish(picture).mean() > 0.05


def test_nothing_is_painted_where_nothing_is_marked(block):
    assert not reddish(draw_part(block)).any()
    assert draw_finding(block, mark([])) is None


def test_the_gravest_mark_paints_a_facet_that_two_share(block):
    top = facing(block, 2, 1)
    painted = paint_marks((mark(top, "note"), mark(top, "stop"), mark([], "caution")))
    assert [colour for colour, _ in painted] == [PAINT["stop"], PAINT["note"]]
    assert reddish(draw_part(block, painted=painted)).any()


def hollow_box():
    solid = solids.box(30.0, 30.0, 30.0) - solids.box(26.0, 26.0, 26.0, (2.0, 2.0, 2.0))
    part = part_from_mesh(*solids.arrays(solid), name="hollow")
    corners = part.vertices_mm[part.facets].reshape(-1, 9)
    inner = np.flatnonzero(((corners > 1.0) & (corners < 29.0)).all(axis=1))
    return part, inner


def test_a_part_is_cut_open_where_its_finding_lies_inside():
    part, inner = hollow_box()
    assert reddish(draw_finding(part, mark(inner))).mean() > 0.02
    assert not reddish(draw_part(part, painted=paint_marks((mark(inner),)))).any()


def test_cutting_open_keeps_what_lies_behind_the_middle_and_nothing_else():
    part, inner = hollow_box()
    half, shown = cut_open(part, inner, np.array([1.0, 0.0, 0.3]))
    corners = half.vertices_mm[half.facets]
    assert corners[..., 0].max() == pytest.approx(15.0)
    assert set(np.unique(corners[..., 0]).round(6)) == {0.0, 2.0, 15.0}

    def area(facets):
        own = half.vertices_mm[half.facets[facets]]
        sides = np.cross(own[:, 1] - own[:, 0], own[:, 2] - own[:, 0])
        return 0.5 * np.linalg.norm(sides, axis=1).sum()

    assert area(shown) == pytest.approx(26 * 26 + 4 * 26 * 13)
    assert area(np.arange(len(half.facets))) == pytest.approx(
        30 * 30 + 4 * 30 * 15 + 26 * 26 + 4 * 26 * 13
    )


def test_a_small_place_gets_a_ring_where_it_is_and_a_large_one_none(block):
    assert spot_of(block, mark(facing(block, 2, 1)), draw_part(block)) is None
    solid = solids.box(200.0, 200.0, 4.0) + solids.box(4.0, 4.0, 4.0, (150.0, 20.0, 4.0))
    part = part_from_mesh(*solids.arrays(solid), name="tile")
    small = mark(np.flatnonzero(part.vertices_mm[part.facets][:, :, 2].min(axis=1) > 7.9))
    spot = spot_of(part, small, draw_finding(part, small))
    assert spot == pytest.approx((0.5, 0.5), abs=0.1)


def test_the_view_is_that_of_the_place_a_finding_names(block):
    ends = np.concatenate([facing(block, 0, -1), facing(block, 0, 1)])
    both = mark(np.sort(ends))
    at_left = replace(
        both.finding, where=Place(text="left", box_mm=(0.0, 0.0, 0.0, 0.0, 20.0, 10.0))
    )
    left = replace(both, finding=at_left)
    assert draw_finding(block, left).camera.toward[0] < 0.0


def test_a_close_view_shows_a_small_face_large():
    solid = solids.box(200.0, 200.0, 4.0) + solids.box(4.0, 4.0, 4.0, (150.0, 20.0, 4.0))
    part = part_from_mesh(*solids.arrays(solid), name="tile")
    small = np.flatnonzero(part.vertices_mm[part.facets][:, :, 2].min(axis=1) > 7.9)
    close = draw_finding(part, mark(small))
    whole = draw_part(part, width_px=300, height_px=220, painted=paint_marks((mark(small),)))
    assert reddish(close).sum() > 5 * reddish(whole).sum() > 0
