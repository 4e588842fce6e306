"""Thickness and gap over a surface, against closed forms and against brute force."""

import math
import threading
from time import perf_counter

import numpy as np
import pytest
import solids
import wall_solids
from bare_parts import heap_part

from buildplan.checks.surface import measure_surface
from buildplan.errors import InputError
from buildplan.kernels.facet_tree import build_facet_tree
from buildplan.kernels.nearest_facet import nearest_facets
from buildplan.kernels.opposed_ball import OPPOSED, bound_normals, closest_on_facet, opposed_balls
from buildplan.process.cache import clear_caches


def thin_area(part, limit_mm, cap_mm=None, pitch_mm=None):
    surface = measure_surface(
        part, inside_cap_mm=cap_mm or 1.5 * limit_mm, outside_cap_mm=0.5, pitch_mm=pitch_mm
    )
    return float(surface.weight_mm2[surface.thickness_mm < limit_mm].sum())


@pytest.mark.parametrize("wall_mm", [1.2, 0.8, 0.4])
def test_hollow_boxes_are_thin_just_above_their_wall_and_not_just_below(wall_mm):
    part = wall_solids.as_part(wall_solids.hollow_box(wall_mm))
    assert thin_area(part, 0.95 * wall_mm) == 0.0
    assert thin_area(part, wall_mm / 1.02) == 0.0
    truth = wall_solids.hollow_box_area(wall_mm, 1.05 * wall_mm)
    assert math.isclose(thin_area(part, 1.05 * wall_mm), truth, rel_tol=0.005)


def test_a_solid_cube_has_no_thin_area_at_any_limit_below_its_side():
    cube = wall_solids.as_part(solids.box(40, 40, 40))
    for limit_mm in (0.4, 1.2, 5.0, 30.0):
        assert thin_area(cube, limit_mm, cap_mm=1.2 * limit_mm) == 0.0


@pytest.mark.parametrize("limit_mm", [0.5, 1.0, 2.0])
def test_a_tapering_wall_is_thin_up_to_where_the_ball_reaches_the_limit(limit_mm):
    part = wall_solids.as_part(wall_solids.taper())
    assert math.isclose(thin_area(part, limit_mm), wall_solids.taper_area(limit_mm), rel_tol=0.005)


@pytest.mark.parametrize("limit_mm", [0.35, 0.5, 0.7, 1.1])
def test_fins_are_counted_one_by_one(limit_mm):
    part = wall_solids.as_part(wall_solids.fins())
    assert math.isclose(thin_area(part, limit_mm), wall_solids.fins_area(limit_mm), rel_tol=0.005)


@pytest.mark.parametrize("angle_deg", [20, 30, 45])
def test_knife_edges_are_thin_in_a_strip_of_known_width(angle_deg):
    part = wall_solids.as_part(wall_solids.knife(angle_deg))
    edges = 2 if angle_deg == 45 else 1  # the triangle's other edge has 45 degrees then, too
    truth = edges * wall_solids.knife_area(angle_deg, 1.0)
    assert math.isclose(thin_area(part, 1.0), truth, rel_tol=0.005)


@pytest.mark.parametrize("angle_deg", [60, 61, 75])
def test_edges_of_60_degrees_and_blunter_are_never_thin(angle_deg):
    part = wall_solids.as_part(wall_solids.knife(angle_deg))
    surface = measure_surface(part, inside_cap_mm=3.0, outside_cap_mm=0.5)
    thin = surface.points_mm[surface.thickness_mm < 1.0]
    # only the other edge of the triangle, 30 degrees and sharper, is thin: nothing near this one
    assert len(thin)
    assert np.hypot(thin[:, 0], thin[:, 2]).min() > 15.0


def test_a_pin_is_as_thick_as_its_diameter_within_five_percent():
    part = wall_solids.as_part(wall_solids.pin(1.0))
    surface = measure_surface(part, inside_cap_mm=2.0, outside_cap_mm=0.5, pitch_mm=0.25)
    on_pin = (np.hypot(*surface.points_mm[:, :2].T) < 0.51) & (surface.points_mm[:, 2] > 0.3)
    side = on_pin & (np.abs(surface.normals[surface.facet, 2]) < 0.5)
    assert np.all(np.abs(surface.thickness_mm[side] - 1.0) < 0.05)
    perimeter = 64 * math.sin(math.pi / 64)
    truth = perimeter * 10.0
    # the strip of the pin's foot within the block has no facets, so the pin alone is thin
    assert math.isclose(thin_area(part, 1.1), truth, rel_tol=0.005)


def test_a_hollow_sphere_is_as_thick_as_its_wall():
    part = wall_solids.as_part(wall_solids.hollow_sphere())
    surface = measure_surface(part, inside_cap_mm=3.0, outside_cap_mm=0.5)
    assert np.median(np.abs(surface.thickness_mm - 1.0)) < 0.001
    assert math.isclose(thin_area(part, 1.02), part.area_mm2, rel_tol=0.001)
    assert thin_area(part, 0.98) == 0.0


@pytest.mark.parametrize("slot_mm", [0.15, 0.3, 1.0])
def test_a_slot_is_as_wide_as_it_was_drawn(slot_mm):
    block = solids.box(30, 20, 6) - solids.box(slot_mm, 12, 10, (15, 4, -2))
    part = wall_solids.as_part(block)
    surface = measure_surface(part, inside_cap_mm=0.5, outside_cap_mm=2.0)
    narrow = surface.gap_mm < 1.9
    assert np.allclose(surface.gap_mm[narrow], slot_mm, atol=1e-9)
    assert math.isclose(surface.weight_mm2[narrow].sum(), 2 * 12 * 6, rel_tol=1e-9)


def test_overlapping_shells_are_united_before_they_are_measured():
    heap = heap_part(solids.box(20, 20, 20), solids.box(20, 20, 20, (19.7, 0, 0)))
    surface = measure_surface(heap, inside_cap_mm=3.0, outside_cap_mm=3.0)
    assert surface.united
    assert (surface.thickness_mm == 3.0).all()
    assert (surface.gap_mm == 3.0).all()
    assert math.isclose(surface.weight_mm2.sum(), 4 * 39.7 * 20 + 2 * 400, rel_tol=1e-9)
    own = heap.vertices_mm[heap.facets[surface.part_facet[surface.facet]]]
    across = np.cross(own[:, 1] - own[:, 0], own[:, 2] - own[:, 0])
    offset = np.einsum("ij,ij->i", across, surface.points_mm - own[:, 0])
    assert np.allclose(offset, 0.0, atol=1e-6), "each sample lies in the plane of its part's facet"


def test_a_shell_wholly_inside_another_one_is_united_too():
    heap = heap_part(solids.box(20, 20, 20), solids.box(19, 19, 19, (0.5, 0.5, 0.5)))
    surface = measure_surface(heap, inside_cap_mm=3.0, outside_cap_mm=3.0)
    assert surface.united
    assert (surface.gap_mm == 3.0).all()
    assert len(np.unique(surface.part_facet)) == 12


def test_cavities_stay_when_shells_are_united():
    room = wall_solids.hollow_box(0.8)
    heap = heap_part(room, solids.box(10, 10, 10, (35, 15, 15)), shells=3)
    surface = measure_surface(heap, inside_cap_mm=1.5, outside_cap_mm=0.5)
    assert surface.united
    thin = surface.weight_mm2[surface.thickness_mm < 0.84].sum()
    assert thin > 0.9 * wall_solids.hollow_box_area(0.8, 0.84)


def test_two_bodies_side_by_side_are_left_apart_and_their_gap_is_found():
    heap = heap_part(solids.box(20, 20, 20), solids.box(20, 20, 20, (20.3, 0, 0)))
    surface = measure_surface(heap, inside_cap_mm=1.0, outside_cap_mm=1.0)
    assert not surface.united
    assert math.isclose(surface.weight_mm2[surface.gap_mm < 0.31].sum(), 800.0, rel_tol=1e-9)


def brute_force(part, surface, sample, cap_mm, side):
    """Radius of the ball from all facing facets, without a tree: the least over all of them."""
    corners = part.vertices_mm[part.facets]
    own = surface.normals[surface.facet[sample]]
    point, along, radius = surface.points_mm[sample], side * own, 0.5 * cap_mm
    facing = np.flatnonzero(surface.normals @ own < OPPOSED)
    for _ in range(200):
        centre = point + radius * along
        near = np.array([closest_on_facet(corners, f, *centre) for f in facing]).reshape(-1, 3)
        reach = np.linalg.norm(near - centre, axis=1)
        if not len(reach) or reach.min() >= radius * (1.0 - 1e-7):
            break
        step = near[np.argmin(reach)] - point
        radius = (step @ step) / (2.0 * (step @ along))
    return 2.0 * radius


@pytest.mark.parametrize("make", [wall_solids.fins, wall_solids.pin, wall_solids.slotted])
def test_no_facing_facet_reaches_into_the_ball_and_no_wider_ball_is_free(make):
    part = wall_solids.as_part(make())
    cap_mm = 20.0
    surface = measure_surface(part, inside_cap_mm=cap_mm, outside_cap_mm=cap_mm, pitch_mm=1.0)
    generator = np.random.default_rng(3)
    differ = []
    for sample in generator.choice(len(surface.points_mm), 60, replace=False).tolist():
        for side, width in ((-1.0, surface.thickness_mm), (1.0, surface.gap_mm)):
            truth = brute_force(part, surface, sample, cap_mm, side)
            if not math.isclose(width[sample], truth, rel_tol=1e-5):
                differ.append((sample, side, width[sample], truth))
    # only where the way to the contact is blocked, and then never by a narrower ball
    assert len(differ) <= 2
    assert all(width > truth for _, _, width, truth in differ)


def test_what_stands_between_a_point_and_its_contact_counts_instead():
    # two blocks face each other across 10 mm, a thin wall at right angles to nothing between them
    block = solids.box(20, 20, 5) + solids.box(20, 20, 5, (0, 0, 15)) + solids.box(5, 20, 20)
    screen = block + solids.box(15.5, 20, 1, (4.5, 0, 9))
    surface = measure_surface(
        wall_solids.as_part(screen), inside_cap_mm=1.0, outside_cap_mm=12.0, pitch_mm=0.5
    )
    floor = (surface.points_mm[:, 2] == 5.0) & (surface.points_mm[:, 0] > 10.0)
    assert np.allclose(surface.gap_mm[floor], 4.0)


@pytest.mark.parametrize("workers", [2, 3])
def test_the_bytes_do_not_depend_on_the_number_of_workers(workers):
    part = wall_solids.as_part(solids.tub(96))
    caps = {"inside_cap_mm": 3.5, "outside_cap_mm": 3.5}
    clear_caches()
    one = measure_surface(part, **caps)
    clear_caches()
    many = measure_surface(part, **caps, workers=workers)
    assert one is not many
    for name in ("points_mm", "thickness_mm", "thickness_facet", "gap_mm", "gap_facet"):
        assert getattr(one, name).tobytes() == getattr(many, name).tobytes()
        assert not getattr(one, name).flags.writeable


def test_the_kernel_runs_without_the_interpreter_lock():
    """So that threads share the work: Python goes on here while a ball is shrunk there."""
    corners = np.ascontiguousarray(np.array(solids.arrays(solids.box())[0])[:3][None])
    _, corners, boxes, leaves = build_facet_tree(corners)
    normals, ranges, _ = bound_normals(corners, leaves)
    count = 3_000_000
    points, own = np.tile(corners[0].mean(axis=0), (count, 1)), np.zeros(count, np.int64)
    width, contact = np.empty(count), np.empty(count, np.int64)
    table = (corners, normals, boxes, ranges, leaves)
    opposed_balls(*table, points[:1], own[:1], -1.0, 1.0, width[:1], contact[:1])
    others = threading.Thread(
        target=opposed_balls, args=(*table, points, own, -1.0, 1.0, width, contact)
    )
    start = last = perf_counter()
    longest = 0.0
    others.start()
    while others.is_alive():
        now = perf_counter()
        longest, last = max(longest, now - last), now
    others.join()
    assert longest < 0.6 * (perf_counter() - start), "with the lock held it is nearly all of it"
    assert (width == 1.0).all()


def test_a_surface_is_kept_by_the_parts_content():
    caps = {"inside_cap_mm": 1.0, "outside_cap_mm": 1.0}
    first = measure_surface(wall_solids.as_part(solids.box(), "one"), **caps)
    assert measure_surface(wall_solids.as_part(solids.box(), "two"), **caps) is first
    assert measure_surface(wall_solids.as_part(solids.box()), **caps, pitch_mm=2.0) is not first


@pytest.mark.parametrize("bad", [0.0, -1.0, math.inf, math.nan])
@pytest.mark.parametrize("name", ["inside_cap_mm", "outside_cap_mm", "pitch_mm"])
def test_a_cap_that_is_not_a_finite_length_is_refused(name, bad):
    good = {"inside_cap_mm": 1.0, "outside_cap_mm": 1.0, "pitch_mm": 1.0}
    with pytest.raises(InputError, match=name):
        measure_surface(wall_solids.as_part(solids.box()), **(good | {name: bad}))


def test_samples_stand_for_the_whole_area_and_lie_on_their_facets():
    part = wall_solids.as_part(wall_solids.pin())
    surface = measure_surface(part, inside_cap_mm=1.0, outside_cap_mm=1.0, pitch_mm=0.5)
    per_facet = np.bincount(surface.facet, surface.weight_mm2, len(part.facets))
    corners = part.vertices_mm[part.facets]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert np.allclose(per_facet, 0.5 * np.linalg.norm(across, axis=1))
    order, sorted_corners, boxes, leaves = build_facet_tree(corners)
    normals, _, _ = bound_normals(sorted_corners, leaves)
    found = nearest_facets(
        sorted_corners,
        normals,
        boxes,
        leaves,
        surface.points_mm,
        surface.normals[surface.facet],
    )
    heights = np.einsum(
        "ij,ij->i", surface.normals[order[found]], surface.points_mm - corners[order[found], 0]
    )
    assert np.allclose(heights, 0.0, atol=1e-9)
