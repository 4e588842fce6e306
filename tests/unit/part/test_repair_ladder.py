"""Each rung of the repair ladder: what it closes, what it says, what it refuses."""

import numpy as np
import pytest
import solids
from broken_files import ball, cube, joined
from manifold3d import Error, Manifold, Mesh64

from buildplan.errors import MeshError
from buildplan.part import part_from_mesh

BALL = solids.sphere(20.0, 64).volume()


def as_manifold(part):
    solid = Manifold(Mesh64(np.array(part.vertices_mm), np.array(part.facets, np.uint64)))
    assert solid.status() == Error.NoError
    return solid


def repairs_of(part):
    return [finding for finding in part.findings if finding.check == "repair"]


def without(facets, keep):
    return facets[np.asarray(keep)]


def test_arrays_are_copied_and_never_changed():
    vertices, facets = ball()
    soup = vertices[facets[:, ::-1]].reshape(-1, 3)
    corners = np.arange(len(soup)).reshape(-1, 3)
    before = soup.copy(), corners.copy()
    part = part_from_mesh(soup, corners)
    assert np.array_equal(soup, before[0])
    assert np.array_equal(corners, before[1])
    soup[:] = 0.0
    assert part.volume_mm3 == pytest.approx(BALL)


@pytest.mark.parametrize(
    ("vertices", "facets", "words"),
    [
        (np.zeros((3, 2)), [[0, 1, 2]], r"vertices have the shape \(3, 2\)"),
        (np.zeros((0, 3)), [[0, 1, 2]], r"vertices have the shape \(0, 3\)"),
        (np.zeros((3, 3)), [0, 1, 2], r"facets have the shape \(3,\)"),
        ([[0, 0, np.nan], [1, 0, 0], [0, 1, 0]], [[0, 1, 2]], "1 of 3 corner points"),
        (np.eye(3), [[0, 1, 3]], "names vertex 3, the file holds vertices 0 to 2"),
        (np.eye(3), [[0, 1, -1]], "names vertex -1"),
    ],
)
def test_arrays_that_are_no_mesh_are_refused(vertices, facets, words):
    with pytest.raises(MeshError, match=words):
        part_from_mesh(vertices, facets)


def test_a_small_hole_is_patched_and_the_patch_share_recorded():
    vertices, facets = ball()
    areas = 0.5 * np.linalg.norm(
        np.cross(
            vertices[facets[:, 1]] - vertices[facets[:, 0]],
            vertices[facets[:, 2]] - vertices[facets[:, 0]],
        ),
        axis=1,
    )
    part = part_from_mesh(vertices, np.delete(facets, 300, axis=0))
    assert part.health.grade == "repaired"
    assert part.health.patched_frac == pytest.approx(areas[300] / areas.sum(), rel=1e-9)
    assert part.health.open_edges == 3
    (hole,) = part.health.holes
    assert hole.edges == 3
    assert hole.centre_mm == pytest.approx(vertices[facets[300]].mean(axis=0))
    assert part.volume_mm3 == pytest.approx(BALL, rel=1e-12)
    (finding,) = repairs_of(part)
    assert finding.severity == "note"
    assert "1 hole patched" in finding.what
    as_manifold(part)


def test_twenty_missing_facets_of_the_tub_come_back_to_its_volume():
    vertices, facets = solids.arrays(solids.tub())
    keep = np.ones(len(facets), bool)
    keep[np.random.default_rng(0).choice(len(facets), 20, replace=False)] = False
    part = part_from_mesh(vertices, facets[keep], fill_holes_mm=200.0)
    assert part.volume_mm3 == pytest.approx(solids.tub().volume(), rel=1e-9)
    assert part.health.grade == "repaired"
    as_manifold(part)


def test_a_54_edge_hole_in_a_curved_wall_is_closed_within_a_thousandth():
    body = solids.tube(30.0, 27.0, 40.0, 128)
    vertices, facets = solids.arrays(body.refine_to_length(2.0))
    away = np.linalg.norm(vertices[facets].mean(axis=1) - [30.0, 0.0, 20.0], axis=1)
    part = part_from_mesh(vertices, facets[away > 4.0], fill_holes_mm=20.0)
    assert len(part.health.holes) >= 1
    assert part.volume_mm3 == pytest.approx(body.volume(), rel=4e-3)
    as_manifold(part)


def test_a_ring_shaped_hole_is_patched_as_a_ring():
    vertices, facets = solids.arrays(solids.tube(30.0, 27.0, 10.0, 64))
    top = vertices[facets][:, :, 2].min(axis=1) > 9.99
    part = part_from_mesh(vertices, facets[~top], fill_holes_mm=100.0)
    assert part.volume_mm3 == pytest.approx(solids.tube(30.0, 27.0, 10.0, 64).volume(), rel=1e-9)
    assert part.area_mm2 == pytest.approx(
        solids.tube(30.0, 27.0, 10.0, 64).surface_area(), rel=1e-9
    )
    assert len(part.health.holes) == 2


def test_holes_too_wide_to_patch_leave_an_estimate_that_names_them():
    vertices, facets = ball()
    away = np.linalg.norm(vertices[facets].mean(axis=1) - [20.0, 0.0, 20.0], axis=1)
    part = part_from_mesh(vertices, facets[away > 4.5])
    assert part.health.grade == "estimate"
    assert not part.closed
    (hole,) = part.health.holes
    assert part.health.open_edges == hole.edges
    (finding,) = [f for f in part.findings if f.check == "health"]
    assert finding.severity == "caution"
    assert f"with {hole.edges} edges" in finding.what
    assert finding.where.point_mm == pytest.approx(hole.centre_mm)
    assert part.volume_mm3 == pytest.approx(BALL, rel=5e-3)
    allowed = part_from_mesh(vertices, facets[away > 4.5], fill_holes_mm=hole.span_mm)
    assert (allowed.health.grade, allowed.closed) == ("repaired", True)
    assert allowed.volume_mm3 == pytest.approx(part.volume_mm3, rel=1e-12)


def test_a_part_open_too_wide_for_an_estimate_says_where_and_what_to_allow():
    vertices, facets = cube(20.0)
    top = vertices[facets][:, :, 2].min(axis=1) > 19.0
    with pytest.raises(MeshError, match=r"1 hole, .* 20 mm wide with 4 edges, near \(10, 10, 20\)"):
        part_from_mesh(vertices, facets[~top])
    with pytest.raises(MeshError, match="fill_holes_mm=20"):
        part_from_mesh(vertices, facets[~top])
    part = part_from_mesh(vertices, facets[~top], fill_holes_mm=20.0)
    assert part.volume_mm3 == pytest.approx(8000.0, rel=1e-12)


def test_a_crack_along_a_split_edge_is_closed_without_changing_the_volume():
    vertices, facets = cube(20.0)
    edge = facets[0, :2]
    middle = vertices[edge].mean(axis=0)
    points = np.vstack([vertices, middle])
    third = facets[0, 2]
    halves = [[edge[0], 8, third], [8, edge[1], third]]
    part = part_from_mesh(points, np.vstack([facets[1:], halves]), fill_holes_mm=30.0)
    assert part.volume_mm3 == pytest.approx(8000.0, rel=1e-12)
    assert part.closed


def test_facets_turned_the_wrong_way_are_turned_back_and_counted():
    vertices, facets = ball()
    mixed = facets.copy()
    mixed[::3] = mixed[::3, ::-1]
    part = part_from_mesh(vertices, mixed)
    assert part.health.flipped_facets == len(facets[::3])
    assert part.volume_mm3 == pytest.approx(BALL, rel=1e-12)
    (finding,) = repairs_of(part)
    assert finding.severity == "caution"


def test_an_inside_out_part_is_turned_and_its_volume_is_positive():
    vertices, facets = ball()
    part = part_from_mesh(vertices, facets[:, ::-1])
    assert part.health.flipped_facets == len(facets)
    assert part.volume_mm3 == pytest.approx(BALL, rel=1e-12)
    assert abs(part.health.volume_change_frac) < 1e-12


def test_doubled_facets_are_dropped_and_counted():
    vertices, facets = ball()
    part = part_from_mesh(vertices, np.vstack([facets, facets]))
    assert part.health.duplicate_facets == len(facets)
    assert part.health.volume_change_frac == pytest.approx(-0.5)
    assert part.volume_mm3 == pytest.approx(BALL, rel=1e-12)


def test_overlapping_bodies_are_united_as_manifold_unites_them():
    one = solids.sphere(20.0, 64)
    two = one.translate((11.0, 3.0, 2.0))
    part = part_from_mesh(*joined(solids.arrays(one), solids.arrays(two)))
    assert part.volume_mm3 == pytest.approx((one + two).volume(), rel=1e-9)
    assert part.health.overlapping_shells == 2
    assert part.shells == 1
    assert "counted twice before" in repairs_of(part)[0].what


def test_cavities_stay_and_what_floats_in_them_stays():
    outer, middle, inner = cube(30.0), cube(20.0, (5.0,) * 3), cube(10.0, (10.0,) * 3)
    void = (middle[0], middle[1][:, ::-1])
    part = part_from_mesh(*joined(outer, void, inner))
    assert part.volume_mm3 == pytest.approx(27000.0 - 8000.0 + 1000.0)
    assert (part.shells, part.health.grade) == (3, "exact")


def test_uniting_bodies_keeps_the_cavity_of_one_of_them():
    outer, void = cube(30.0), cube(10.0, (5.0,) * 3)
    beside = cube(30.0, (25.0, 0.0, 0.0))
    part = part_from_mesh(*joined(outer, (void[0], void[1][:, ::-1]), beside))
    assert part.volume_mm3 == pytest.approx(55.0 * 900.0 - 1000.0)
    assert part.shells == 2


def test_bodies_that_only_touch_are_not_called_overlapping():
    for offset in ((10.0, 0.0, 0.0), (10.0, 10.0, 0.0), (10.0, 10.0, 10.0), (10.0, 3.0, 2.0)):
        part = part_from_mesh(*joined(cube(), cube(10.0, offset)))
        assert part.volume_mm3 == pytest.approx(2000.0)
        assert (part.health.overlapping_shells, part.health.grade, part.shells) == (0, "exact", 2)


def test_a_surface_that_crosses_itself_is_a_caution_not_a_repair():
    vertices, facets = ball()
    middle = vertices.mean(axis=0)
    vertices[500] = middle - 1.2 * (vertices[500] - middle)
    part = part_from_mesh(vertices, facets)
    assert part.health.self_intersections > 0
    (finding,) = part.findings
    assert (finding.check, finding.severity) == ("health", "caution")
    box = np.array(finding.where.box_mm)
    assert (box[:3] <= vertices[500]).all()
    assert (box[3:] >= vertices[500]).all()
    assert part.health.grade == "exact"


def test_the_search_for_crossings_stops_at_its_budget_and_says_so(monkeypatch):
    monkeypatch.setattr("buildplan.part.shells.PAIRS_PER_FACET", 0)
    monkeypatch.setattr("buildplan.part.shells.LEAST_PAIRS", 0)
    part = part_from_mesh(*ball())
    assert any("stopped early" in finding.what for finding in part.findings)


def test_a_shell_without_volume_is_dropped_with_a_caution():
    vertices, facets = ball()
    sheet = np.array([[100.0, 0, 0], [110.0, 0, 0], [100.0, 10.0, 0]])
    part = part_from_mesh(*joined((vertices, facets), (sheet, np.array([[0, 1, 2], [2, 1, 0]]))))
    assert part.volume_mm3 == pytest.approx(BALL, rel=1e-12)
    assert part.shells == 1
    assert [f.severity for f in repairs_of(part)] == ["caution"]


def test_a_fin_on_a_closed_body_leaves_its_volume_alone():
    vertices, facets = cube(100.0)
    points = np.vstack(
        [vertices, vertices[facets[0, :2]].mean(axis=0) + np.array([0.3, 0.2, -2.0])]
    )
    part = part_from_mesh(
        points, np.vstack([facets, [[facets[0, 0], facets[0, 1], 8]]]), fill_holes_mm=200
    )
    assert part.volume_mm3 == pytest.approx(1e6, rel=1e-9)
    assert part.closed


def test_no_repair_is_silent():
    """Whatever was repaired stands in a finding, with its change of volume."""
    vertices, facets = ball()
    mixed = facets.copy()
    mixed[::3] = mixed[::3, ::-1]
    for corners in (np.delete(facets, 300, 0), mixed, facets[:, ::-1], np.vstack([facets] * 2)):
        part = part_from_mesh(vertices, corners)
        assert [f.what for f in repairs_of(part)] == list(part.health.repairs)
        assert part.health.repairs
        for finding in repairs_of(part):
            assert finding.measured.startswith("volume changed by")


def test_a_cavity_whose_facets_were_mixed_is_taken_for_a_cavity_again():
    outer, void, core = cube(30.0), cube(20.0, (5.0,) * 3), cube(10.0, (10.0,) * 3)
    vertices, facets = joined(outer, (void[0], void[1][:, ::-1]), core)
    for seed in range(20):
        turned = np.random.default_rng(seed).random(len(facets)) < 0.5
        mixed = facets.copy()
        mixed[turned] = mixed[turned][:, ::-1]
        part = part_from_mesh(vertices, mixed, health="quick" if seed % 2 else "full")
        assert part.volume_mm3 == pytest.approx(27000.0 - 8000.0 + 1000.0)
        assert part.shells == 3
        assert "caution" in [f.severity for f in repairs_of(part)]


@pytest.mark.parametrize("offset", [(25.0, 0.0, 0.0), (0.0, 0.0, 29.0), (10.0, 20.0, 0.0)])
def test_boxes_with_flush_faces_that_share_room_are_united(offset):
    one, two = solids.box(30, 30, 30), solids.box(30, 30, 30, offset)
    part = part_from_mesh(*joined(solids.arrays(one), solids.arrays(two)))
    assert part.volume_mm3 == pytest.approx((one + two).volume(), rel=1e-9)
    assert (part.shells, part.health.overlapping_shells) == (1, 2)
