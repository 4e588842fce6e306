"""Order, travel and retraction; margin; links stay inside; nothing is lost or laid twice."""

import math

import numpy as np
import pytest
import shapely
from fill_samples import (
    layers_of,
    make_recipe,
    pillars,
    role_lengths,
    walls_of,
)

from buildplan.kernels.ordering import BLOCK_LAYERS
from buildplan.process.fill.concentric import island_polygons
from buildplan.process.paths import plan_paths
from buildplan.process.paths.margin import lay_margin
from buildplan.process.roles import Role

INSIDE = (Role.OUTLINE, Role.WALL, Role.CENTRE, Role.INFILL, Role.FLOOR_ROOF)


def plan(sections, workers=1, **changes):
    layers = layers_of(sections)
    recipe = make_recipe(**changes)
    return plan_paths(layers, recipe, walls=walls_of(layers, recipe), workers=workers)


def comb(layers=12):
    """A plate with slots, a hole and a loose post: several islands, links that must not cut in."""
    body = shapely.box(0, 0, 60, 30)
    for k in range(6):
        body = body.difference(shapely.box(5 + 9 * k, 8, 8 + 9 * k, 31))
    body = body.difference(shapely.Point(50, 4).buffer(2.2))
    return [body.union(shapely.box(70, 5, 82, 17))] * layers


def moves(paths, layer):
    """Starts, ends, roles and retractions of the moves of a layer (the travel to it with them)."""
    at = np.arange(paths.point_off[layer] + 1, paths.point_off[layer + 1])
    start = np.c_[paths.x_mm[at - 1], paths.y_mm[at - 1]]
    end = np.c_[paths.x_mm[at], paths.y_mm[at]]
    return start, end, paths.role[at], paths.retract[at]


def test_forty_pillars_need_39_hops_a_layer_and_one_for_every_block():
    """A layer begins on the pillar where the one below ended; a block begins at the corner."""
    paths = plan(pillars(), infill_frac=0.4)
    blocks = math.ceil(70 / BLOCK_LAYERS)
    assert blocks == 2
    assert int(paths.retract.sum()) == 39 * 70 + blocks


@pytest.mark.parametrize("style", ["parallel", "crossed", "three_way", "wave", "concentric"])
def test_beads_stay_inside_the_outline_in_every_style(style):
    paths = plan(comb(), infill_style=style, infill_frac=0.3)
    layers = paths.layers
    islands = island_polygons(layers.xy_mm, layers.ring_off, layers.island_off)
    section = shapely.union_all(islands[: layers.layer_off[1]]).buffer(1e-6)
    shapely.prepare(section)
    for layer in (0, 5, 6, 11):
        start, end, role, _ = moves(paths, layer)
        laid = np.isin(role, INSIDE)
        lines = shapely.linestrings(np.stack((start[laid], end[laid]), axis=1))
        assert shapely.covers(section, lines).all()


def test_travel_without_retraction_is_short_or_stays_inside():
    paths = plan(comb())
    layers = paths.layers
    islands = island_polygons(layers.xy_mm, layers.ring_off, layers.island_off)
    edge = shapely.union_all(islands[: layers.layer_off[1]]).boundary
    shapely.prepare(edge)
    long, held = 0, 0
    for layer in range(len(layers.z_mm)):
        start, end, role, retract = moves(paths, layer)
        step = np.hypot(*(end - start).T)
        travel = role == Role.TRAVEL
        assert not retract[~travel].any()
        assert not retract[travel & (step <= 1.5)].any()
        lines = shapely.linestrings(np.stack((start, end), axis=1))
        crossing = shapely.intersects(edge, lines)
        far = travel & (step > 1.5)
        assert np.array_equal(retract[far] == 1, crossing[far] | (step[far] > 60.0))
        long += int(far.sum())
        held += int(retract.sum())
    assert 0 < held < long


def test_travel_over_the_always_limit_retracts_even_inside():
    bare = {"infill_frac": 0.02, "floor_layers": 0, "roof_layers": 0}
    sections = [shapely.box(0, 0, 150, 150)] * 3
    some = plan(sections, retract_always_over_mm=5.0, **bare)
    none = plan(sections, retract_always_over_mm=1000.0, **bare)
    assert some.retract.sum() > none.retract.sum() == 0


def test_every_island_is_finished_before_the_next_and_left_once():
    paths = plan(pillars(layers=6), infill_frac=0.4)
    for layer in range(6):
        _, end, role, _ = moves(paths, layer)
        laid = role != Role.TRAVEL
        island = np.round(end[laid, 0] / 18.0) * 100 + np.round(end[laid, 1] / 18.0)
        changes = int((np.diff(island) != 0).sum())
        assert len(np.unique(island)) == 40
        assert changes == 39


def test_walls_come_before_fill_in_every_island():
    paths = plan(comb(layers=10))
    for layer in range(10):
        _, end, role, _ = moves(paths, layer)
        for left in (True, False):
            mine = role[(end[:, 0] < 65) == left]
            walls = np.flatnonzero(np.isin(mine, (Role.OUTLINE, Role.WALL)))
            fill = np.flatnonzero(np.isin(mine, (Role.INFILL, Role.FLOOR_ROOF)))
            assert len(fill)
            assert walls.max() < fill.min()


def test_all_walls_are_laid_once():
    layers = layers_of(comb())
    recipe = make_recipe()
    walls = walls_of(layers, recipe)
    paths = plan_paths(layers, recipe, walls=walls)
    closing = np.zeros(3)
    for path in range(len(walls.path_off) - 1):
        run = slice(walls.path_off[path], walls.path_off[path + 1])
        ring = shapely.LinearRing(np.c_[walls.x_mm[run], walls.y_mm[run]])
        closing[walls.path_role[path]] += ring.length
    got = role_lengths(paths)
    assert got[Role.OUTLINE] == pytest.approx(closing[Role.OUTLINE], rel=1e-12)
    assert got[Role.WALL] == pytest.approx(closing[Role.WALL], rel=1e-12)


def test_bead_width_times_length_is_the_volume_of_walls():
    paths = plan(comb())
    step = np.hypot(np.diff(paths.x_mm), np.diff(paths.y_mm)) * paths.bead_mm[1:]
    laid = np.bincount(paths.role[1:], weights=step, minlength=9) * 0.2
    for role in (Role.OUTLINE, Role.WALL):
        assert laid[role] == pytest.approx(paths.volume_mm3[:, role].sum(), rel=1e-6)
    for role in (Role.INFILL, Role.FLOOR_ROOF):
        assert laid[role] >= paths.volume_mm3[:, role].sum() * (1 - 1e-6)
    assert (paths.bead_mm[paths.role == Role.TRAVEL] == 0.0).all()
    assert (paths.bead_mm[paths.role != Role.TRAVEL] > 0.0).all()


@pytest.mark.parametrize("layers", [12, BLOCK_LAYERS + 3])
def test_a_layer_starts_where_the_one_before_ended(layers):
    paths = plan(comb(layers))
    for layer in range(1, len(paths.layers.z_mm)):
        first = paths.point_off[layer]
        assert paths.x_mm[first] == paths.x_mm[first - 1]
        assert paths.y_mm[first] == paths.y_mm[first - 1]


def test_eight_margin_loops_of_a_40_mm_square_are_as_long_as_by_hand():
    paths = plan([shapely.box(-20, -20, 20, 20)] * 2, margin_beads=8)
    hand = sum(160 + 2 * math.pi * (i + 0.5) * 0.45 for i in range(8))
    assert role_lengths(paths)[Role.MARGIN] == pytest.approx(hand, rel=2e-5)
    assert paths.volume_mm3[0, Role.MARGIN] == pytest.approx(hand * 0.45 * 0.2, rel=2e-5)
    assert paths.volume_mm3[1, Role.MARGIN] == 0.0
    first = np.flatnonzero(paths.role[1:]) + 1
    assert paths.role[first[0]] == Role.MARGIN


def test_margin_loops_of_near_islands_are_one_and_never_enter_holes():
    ring = shapely.box(0, 0, 20, 20).difference(shapely.box(6, 6, 14, 14))
    layers = layers_of([ring.union(shapely.box(21, 0, 30, 20))])
    loops = lay_margin(layers, 3, 0.45)
    assert len(loops) == 2 + 1 + 1
    holes = shapely.box(0, 0, 20, 20).union(shapely.box(21, 0, 30, 20))
    for loop in loops:
        assert not shapely.LinearRing(loop).intersects(holes)


def test_no_margin_is_laid_when_none_is_asked():
    assert lay_margin(layers_of([shapely.box(0, 0, 9, 9)]), 0, 0.45) == []


@pytest.mark.parametrize("workers", [2, 3])
def test_the_number_of_threads_changes_no_byte(workers):
    for style in ("parallel", "three_way", "concentric"):
        one = plan(comb(), infill_style=style, margin_beads=2)
        many = plan(comb(), infill_style=style, margin_beads=2, workers=workers)
        for name in ("x_mm", "y_mm", "role", "retract", "bead_mm", "point_off", "volume_mm3"):
            assert np.array_equal(getattr(one, name), getattr(many, name)), name


@pytest.mark.parametrize("workers", [2, 3])
def test_the_number_of_threads_changes_no_byte_of_many_blocks(workers):
    sections = comb(2 * BLOCK_LAYERS + 5)
    one, many = plan(sections), plan(sections, workers=workers)
    for name in ("x_mm", "y_mm", "role", "retract", "bead_mm", "point_off", "volume_mm3"):
        assert np.array_equal(getattr(one, name), getattr(many, name)), name


def test_travel_to_a_block_runs_from_the_last_end_and_keeps_the_rule():
    post = shapely.box(0, 0, 12, 12)
    far = [post.union(shapely.box(40, 0, 52, 12))] * (2 * BLOCK_LAYERS)
    near = [post] * (2 * BLOCK_LAYERS)
    for sections in (far, near):
        paths = plan(sections)
        edge = shapely.union_all(sections[0]).boundary
        start, end, role, retract = moves(paths, BLOCK_LAYERS)
        last = paths.point_off[BLOCK_LAYERS] - 1
        assert tuple(start[0]) == (paths.x_mm[last], paths.y_mm[last])
        assert role[0] == Role.TRAVEL
        # the corner of the part's box, 0.225 mm inside both sides
        assert end[0] == pytest.approx([0.225, 0.225], abs=1e-6)
        step = math.dist(start[0], end[0])
        crossing = shapely.intersects(edge, shapely.LineString([start[0], end[0]]))
        assert retract[0] == (step > 1.5 and (crossing or step > 60.0))


def test_inputs_stay_as_they_were_and_results_are_read_only():
    layers = layers_of(comb())
    recipe = make_recipe()
    walls = walls_of(layers, recipe)
    before = [getattr(walls, name).copy() for name in ("x_mm", "width_mm", "border_xy_mm")]
    first = plan_paths(layers, recipe, walls=walls)
    again = plan_paths(layers, recipe, walls=walls)
    assert np.array_equal(first.x_mm, again.x_mm)
    for name, old in zip(("x_mm", "width_mm", "border_xy_mm"), before, strict=True):
        assert np.array_equal(getattr(walls, name), old)
    for name in ("x_mm", "y_mm", "role", "retract", "bead_mm", "point_off", "volume_mm3"):
        assert not getattr(first, name).flags.writeable, name


def test_the_key_tells_geometry_apart_but_not_speeds():
    layers = layers_of(comb(layers=2))

    def key(**changes):
        recipe = make_recipe(**changes)
        return plan_paths(layers, recipe, walls=walls_of(layers, recipe)).key

    assert key() == key(outline_mm_s=99.0, first_layer_frac=0.3, name="other")
    assert len({key(), key(infill_frac=0.2), key(wall_beads=3), key(retract_over_mm=3.0)}) == 4


def test_a_layer_with_nothing_in_it_has_one_point():
    sections = [shapely.box(0, 0, 9, 9), shapely.Polygon(), shapely.box(0, 0, 9, 9)]
    paths = plan(sections)
    assert paths.point_off[2] - paths.point_off[1] == 1
    assert paths.volume_mm3[1].sum() == 0.0
