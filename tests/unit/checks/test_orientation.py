"""Which way up: known best answers, support by rays in closed form, hours against the estimate."""

import math
from dataclasses import fields, replace
from itertools import pairwise

import hanging_solids as hs
import numpy as np
import pytest
import rows
import solids

from buildplan.build import load_build
from buildplan.checks.fit import check_fit
from buildplan.checks.orientation import (
    WEIGHT_SOURCES,
    Orientation,
    OrientationWeights,
    rank_orientations,
)
from buildplan.checks.orientation.costing import pulled_features
from buildplan.demo import demo_folder
from buildplan.errors import InputError
from buildplan.part import read_part
from buildplan.part.feature import Feature
from buildplan.part.turn import turn_part
from buildplan.process.estimate import estimate_print

PRINTER, FEEDSTOCK = rows.printer(), rows.feedstock()
RECIPE = rows.recipe(supports=True, bridge_limit_mm=0.0)
CLOSE = replace(RECIPE, support_gap_layers=0, support_clearance_mm=0.0)


def rank(solid, *, printer=PRINTER, recipe=RECIPE, count=400, name="part", **options):
    part = solid if hasattr(solid, "facets") else hs.as_part(solid, name)
    return rank_orientations(part, printer, FEEDSTOCK, recipe, count=count, **options)


def turned(solid, way):
    return turn_part(hs.as_part(solid), way.matrix)


def bracket():
    """An angle of two plates, 40 x 30 and 30 x 40 mm, 4 mm thick."""
    return hs.block(0, 0, 0, 40, 30, 4) + hs.block(0, 0, 0, 4, 30, 40)


def peg():
    """A plate 60 x 20 mm with an upright peg, 30 mm long."""
    return hs.block(0, 0, 0, 60, 20, 6) + hs.block(50, 8, 6, 56, 12, 36)


PEG = Feature(name="lid hook", kind="hook", box_mm=(50, 8, 6, 56, 12, 36))


def test_a_table_is_best_printed_upside_down_and_says_why():
    check = rank(hs.table())
    best = check.best[0]
    assert best.up == (0.0, 0.0, -1.0)
    assert (best.support_mass_g, best.overhang_mm2) == (0.0, 0.0)
    assert best.contact_mm2 == pytest.approx(1600.0)
    assert best.reason.startswith("lies on its largest flat face (1600 mm2): no support")
    assert check.as_placed.overhang_mm2 == pytest.approx(1600.0 - 64.0)
    assert check.directions >= 400
    (mark,) = check.marks
    note = mark.finding
    assert (note.check, note.severity) == ("orientation", "note")
    assert "far better" in note.what
    assert "less support" in note.what
    assert "its -z side up" in note.remedy
    hanging = hs.as_part(hs.table()).vertices_mm[hs.as_part(hs.table()).facets[mark.facets]]
    np.testing.assert_allclose(hanging[:, :, 2], 20.0)


def test_nothing_is_said_where_as_placed_is_among_the_best():
    check = rank(hs.table().rotate((180.0, 0.0, 0.0)))
    assert check.marks == ()
    assert check.best[0].turn_deg == 0.0
    assert check.best[0].reason.startswith("as placed: lies on its largest flat face")


def test_turning_the_part_beforehand_turns_the_answer():
    upright, aslant = rank(hs.table()), rank(hs.table().rotate((35.0, -20.0, 70.0)))
    assert aslant.best[0].contact_mm2 == pytest.approx(upright.best[0].contact_mm2)
    assert aslant.best[0].total_cost == pytest.approx(upright.best[0].total_cost, rel=1e-9)
    # the table's top, which points up in its own frame, points down
    top = turn_part(
        hs.as_part(hs.table().rotate((35.0, -20.0, 70.0))), aslant.best[0].matrix
    ).vertices_mm
    np.testing.assert_allclose(np.sort(np.ptp(top, axis=0)), [23.0, 40.0, 40.0], rtol=1e-9)


def test_a_part_is_laid_along_the_platform():
    solid = bracket().rotate((30.0, 40.0, 50.0))
    for way in rank(solid).best[:4]:
        size = np.sort(np.ptp(turned(solid, way).vertices_mm, axis=0))
        np.testing.assert_allclose(size, [30.0, 40.0, 40.0], rtol=1e-9)
        assert way.overhang_mm2 == 0.0


def test_every_way_listed_is_a_rotation_that_gives_what_it_says_and_fits():
    solid = bracket().rotate((10.0, 20.0, 30.0))
    check = rank(solid)
    assert 1 <= len(check.best) <= 5
    ups = np.array([way.up for way in check.best])
    apart = np.degrees(np.arccos(np.clip(ups @ ups.T, -1, 1)))
    assert apart[np.triu_indices(len(ups), 1)].min() >= 15.0 - 1e-6
    for way in check.best:
        turn = np.array(way.matrix).reshape(4, 4)
        np.testing.assert_allclose(turn[:3, :3] @ turn[:3, :3].T, np.eye(3), atol=1e-12)
        np.testing.assert_allclose(turn[:3, :3] @ way.up, [0, 0, 1], atol=1e-12)
        np.testing.assert_array_equal(turn[:3, 3], 0.0)
        assert np.linalg.det(turn) == pytest.approx(1.0)
        assert turned(solid, way).size_mm[2] == pytest.approx(way.height_mm)
        parts = (way.time_cost, way.support_cost, way.removal_cost, way.break_cost, way.loose_cost)
        assert way.total_cost == pytest.approx(sum(parts))
        assert check_fit(turned(solid, way), PRINTER).how == "as placed"
    grounded = [way.total_cost for way in check.best if way.contact_mm2 > 100.0]
    for cheaper, dearer in pairwise(grounded):
        assert cheaper <= 1.03 * dearer  # ties go to the flattest, so not quite in order


def test_a_named_hook_lays_the_part_on_its_side():
    plain, named = rank(peg()), rank(peg(), features=(PEG,))
    assert plain.best[0].turn_deg == 0.0
    assert plain.marks == ()
    assert abs(named.best[0].up[2]) < 1e-9
    assert named.best[0].weak == ()
    assert named.as_placed.weak == ("lid hook",)
    assert named.as_placed.reason.endswith("but the layers would split lid hook")
    assert "the layers run along lid hook" in named.best[0].reason
    assert "no longer split lid hook" in named.marks[0].finding.what


def test_of_equal_ways_the_part_as_placed_wins_and_then_the_flattest():
    check = rank(bracket())
    assert check.best[0].turn_deg == 0.0
    assert check.best[1].up == (1.0, 0.0, 0.0)
    assert [round(way.contact_mm2) for way in check.best[:4]] == [1200, 1200, 304, 304]


def test_weights_change_the_winner():
    careless = OrientationWeights(break_frac=0.0)
    assert rank(peg(), features=(PEG,), weights=careless).best[0].turn_deg == 0.0


def test_a_feature_pulls_along_its_long_side_and_a_cube_or_a_hole_along_none():
    def features(*kinds_and_boxes):
        return [
            Feature(name=f"{k} {i}", kind=k, box_mm=box)
            for i, (k, box) in enumerate(kinds_and_boxes)
        ]

    axes, pull, names = pulled_features(
        features(
            ("pin", (0, 0, 0, 5, 40, 5)),
            ("boss", (0, 0, 0, 9, 9, 30)),
            ("snap", (0, 0, 0, 10, 10, 10)),
            ("hole", (0, 0, 0, 5, 40, 5)),
            ("hinge", (0, 0, 0, 12, 10, 2)),
        ),
        "extrusion",
    )
    assert names == ("pin 0", "boss 1", "hinge 4")
    np.testing.assert_array_equal(axes, [[0, 1, 0], [0, 0, 1], [1, 0, 0]])
    np.testing.assert_allclose(pull, [1.0, 0.5, 0.4])
    _, weaker, _ = pulled_features(features(("pin", (0, 0, 0, 5, 40, 5))), "vat")
    assert weaker[0] < 0.5


def test_support_that_ends_on_the_part_is_counted_down_to_it():
    check = rank(hs.arm(), recipe=CLOSE)
    way = check.as_placed
    assert way.overhang_mm2 == pytest.approx(24.0 * 6.0)
    assert way.column_mm3 == pytest.approx(24.0 * 6.0 * 16.0)
    assert way.supported_mm2 == pytest.approx(24.0 * 6.0)
    assert way.support_mm3 == pytest.approx(24.0 * 6.0 * 12.0)
    assert way.on_part_frac == 1.0


@pytest.mark.parametrize(("limit_mm", "supported_mm2"), [(7.9, 80.0), (8.1, 0.0)])
def test_a_span_within_the_bridge_limit_needs_no_support(limit_mm, supported_mm2):
    way = rank(hs.beam(), recipe=replace(CLOSE, bridge_limit_mm=limit_mm)).as_placed
    assert way.overhang_mm2 == pytest.approx(80.0)
    assert way.supported_mm2 == pytest.approx(supported_mm2)
    assert way.support_mm3 == pytest.approx(10.0 * supported_mm2)


def test_a_cantilever_is_no_bridge():
    way = rank(hs.arm(), recipe=replace(RECIPE, bridge_limit_mm=100.0)).as_placed
    assert way.supported_mm2 == pytest.approx(24.0 * 6.0)


def test_support_under_a_ball_is_within_a_few_percent_of_its_closed_form():
    way = rank(solids.sphere(20.0, 256), recipe=CLOSE).as_placed
    lean = math.atan(1.001)
    across = 20.0 * math.sin(lean)
    under = math.pi * 20.0 * across**2 - 2.0 * math.pi / 3.0 * (
        20.0**3 - (20.0**2 - across**2) ** 1.5
    )
    assert way.support_mm3 == pytest.approx(under, rel=0.02)
    assert way.column_mm3 == pytest.approx(under, rel=0.005)


def test_the_gap_and_the_clearance_are_left_free():
    way = rank(hs.arm()).as_placed
    assert way.support_mm3 == pytest.approx(24.0 * 6.0 * (12.0 - RECIPE.layer_mm))
    leaning = rank(hs.wedge(60.0), recipe=replace(CLOSE, support_clearance_mm=1.0)).as_placed
    out, free = 10.0 * math.tan(math.radians(60.0)), math.tan(math.radians(30.0))
    reach = out - free * math.tan(math.radians(60.0))  # no column where the face is lower than free
    assert leaning.support_mm3 == pytest.approx(30.0 * reach * (10.0 - free) / 2.0, rel=0.01)


SHAPES = {
    "bracket": bracket,
    "tee": solids.tee,
    "table": hs.table,
    "arm": hs.arm,
    "box": lambda: solids.box(60.0, 40.0, 25.0),
    "tub": hs.small_tub,
}


@pytest.mark.parametrize("shape", SHAPES)
def test_the_model_of_hours_and_support_is_near_the_full_estimate(shape):
    part = hs.as_part(SHAPES[shape]())
    near = replace(RECIPE, support_clearance_mm=0.0)
    way = rank(part, count=2, recipe=near).as_placed
    full = estimate_print(part, PRINTER, FEEDSTOCK, near)
    assert way.time_h == pytest.approx(full.time_h, rel=0.3)
    assert way.support_mass_g == pytest.approx(full.support_mass_g, rel=0.3, abs=0.1)


def test_an_estimate_at_hand_calibrates_the_hours():
    part = hs.as_part(bracket())
    full = estimate_print(part, PRINTER, FEEDSTOCK, RECIPE)
    check = rank(part, estimate=full)
    assert check.as_placed.time_h == pytest.approx(full.time_h, rel=1e-9)
    assert not check.as_placed.exact
    unsupported = replace(RECIPE, supports=False)
    tee = hs.as_part(solids.tee())
    bare = estimate_print(tee, PRINTER, FEEDSTOCK, unsupported)
    assert rank(tee, recipe=unsupported, estimate=bare).as_placed.time_h > bare.time_h


def test_exact_takes_hours_and_support_from_the_full_estimate():
    part = hs.as_part(solids.tee())
    check = rank(part, recipe=replace(RECIPE, supports=False), exact=True)
    for way in (check.as_placed, *check.best):
        full = estimate_print(turn_part(part, way.matrix), PRINTER, FEEDSTOCK, RECIPE)
        assert way.exact
        assert way.time_h == pytest.approx(full.time_h, rel=1e-12)
        assert way.support_mass_g == pytest.approx(full.support_mass_g, rel=1e-12)


def test_a_tower_too_tall_is_laid_down_and_along_the_diagonal_where_it_must():
    tower = solids.box(20.0, 20.0, 290.0)
    low = rows.printer(height_mm=200.0, width_mm=240.0, depth_mm=240.0, platform_margin_mm=0.0)
    check = rank(tower, printer=low)
    assert not check.as_placed.fits
    assert check.as_placed.reason.endswith("it does not fit the printer so")
    assert "does not fit, another way up does" in check.marks[0].finding.what
    for way in check.best:
        assert way.fits
        assert check_fit(turned(tower, way), low).how == "as placed"


def test_a_round_platform_takes_what_its_circle_takes():
    wide = rows.printer(platform="round", width_mm=101.0, depth_mm=101.0, platform_margin_mm=0.0)
    plate = solids.box(80.0, 60.0, 4.0)  # 100 mm across its corners
    assert rank(plate, printer=wide).best[0].turn_deg == 0.0
    narrow = replace(wide, width_mm=99.0, depth_mm=99.0)
    upright = rank(plate, printer=narrow)
    assert not upright.as_placed.fits
    assert all(way.height_mm > 50.0 for way in upright.best)


def test_a_part_that_fits_in_no_way_lists_none():
    tiny = rows.printer(width_mm=20.0, depth_mm=20.0, height_mm=20.0, platform_margin_mm=0.0)
    check = rank(solids.box(60.0, 60.0, 60.0), printer=tiny)
    assert (check.best, check.marks) == ((), ())
    assert not check.as_placed.fits


def test_a_tall_thin_part_pays_for_coming_loose():
    tower = rank(solids.box(20.0, 20.0, 280.0))
    assert tower.as_placed.loose_cost > tower.as_placed.time_cost
    assert tower.best[0].loose_cost == 0.0
    assert tower.best[0].height_mm == pytest.approx(20.0)
    assert "it would hold on the platform" in tower.marks[0].finding.what


def test_vat_hours_go_with_the_height():
    plate = hs.as_part(solids.box(40.0, 30.0, 4.0))
    rows_of_vat = (rows.vat_printer(), rows.vat_feedstock(), rows.vat_recipe())
    check = rank_orientations(plate, *rows_of_vat, count=200)
    full = estimate_print(plate, *rows_of_vat)
    assert check.as_placed.time_h == pytest.approx(full.time_h, rel=0.05)
    assert check.best[0].height_mm == pytest.approx(4.0)
    assert all(way.loose_cost == 0.0 for way in check.best)
    assert (
        check.as_placed.reason == "as placed: lies on its largest flat face (1200 mm2), no support"
    )


@pytest.fixture(scope="module")
def house():
    return {request.name: request for request in load_build(demo_folder()).parts}


@pytest.mark.parametrize("name", ["roof_vent", "bottom_plate", "camera_arm", "sensor_cowl"])
def test_a_demo_part_turned_at_random_is_turned_back_to_how_it_was_drawn(house, name):
    request = house[name]
    dice = np.random.default_rng(len(name))
    turn = np.linalg.qr(dice.normal(size=(3, 3)))[0]
    turn *= np.linalg.det(turn)
    pose = np.eye(4)
    pose[:3, :3] = turn
    aslant = turn_part(read_part(request.path), pose.ravel().tolist())
    printer = replace(request.printers[-1], width_mm=400.0, depth_mm=400.0)
    check = rank_orientations(aslant, printer, request.feedstock, request.recipe, count=300)
    np.testing.assert_allclose(turn.T @ check.best[0].up, [0, 0, 1], atol=1e-6)
    assert len(check.marks) == 1


def test_the_demo_shell_stays_as_it_is_drawn_for_the_sake_of_its_hinges(house):
    request = house["base_shell"]
    rows_of_part = (request.printers[-1], request.feedstock, request.recipe)
    shell = read_part(request.path)
    kept = rank_orientations(shell, *rows_of_part, features=request.features, count=300)
    assert (kept.best[0].turn_deg, kept.marks) == (0.0, ())
    lying = kept.best[1]  # on the slope of its roof: hardly any support, but hinges across
    assert lying.weak == ("hinge left", "hinge right")
    assert lying.support_mass_g < 0.05 * kept.as_placed.support_mass_g
    assert rank_orientations(shell, *rows_of_part, count=300).best[0].up == lying.up


def test_equal_calls_give_equal_answers_whatever_the_threads():
    solid = bracket().rotate((1.0, 2.0, 3.0))
    one, again, two = rank(solid), rank(solid), rank(solid, workers=2)
    assert one.best == again.best == two.best
    assert one.as_placed == again.as_placed == two.as_placed


def test_rows_of_two_processes_and_too_few_directions_are_refused():
    part = hs.as_part(bracket())
    with pytest.raises(InputError, match="all three must be for one process"):
        rank_orientations(part, PRINTER, FEEDSTOCK, rows.vat_recipe())
    with pytest.raises(InputError, match="1 directions asked for; at least 2"):
        rank(part, count=1)


def test_every_weight_has_a_source():
    assert set(WEIGHT_SOURCES) == {field.name for field in fields(OrientationWeights)}


def test_results_are_frozen():
    assert Orientation.__dataclass_params__.frozen
    with pytest.raises(AttributeError):
        rank(solids.box(), count=2).best[0].time_h = 1.0
