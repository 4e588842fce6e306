"""Packing: places are exact, cycles are few, hours and losses follow from the estimates."""

import io
import math
from dataclasses import replace

import numpy as np
import pytest
import rows
import shapely
import solids
from bare_parts import bare_part
from packing_samples import angle_piece, ask, ask_printed, bare, block, disc, held, packed
from PIL import Image

from buildplan.checks.marks import findings_of
from buildplan.checks.packing import (
    Packing,
    PackRequest,
    choose_cycles,
    find_clash,
    pack_cycles,
    silhouette,
)
from buildplan.checks.packing.hours import Rates, Run, loss_in_turn, loss_of, short_path
from buildplan.checks.packing.outline import outline_of, polygon_of
from buildplan.checks.packing.platform import raster
from buildplan.checks.packing.profile import profile_of
from buildplan.errors import InputError
from buildplan.part import part_from_mesh
from buildplan.process.estimate import Prices
from buildplan.process.estimate.stages import layers_of
from buildplan.process.motion import rest_to_rest_s
from buildplan.process.vat import cycle_time, estimate_vat
from buildplan.report.platform_picture import draw_platform

PRINTER = rows.printer()
FEEDSTOCK = rows.feedstock()
RECIPE = rows.recipe()


# ---- outlines ------------------------------------------------------------------------------------


def test_the_silhouette_counts_overhangs_and_keeps_openings():
    mushroom = solids.box(10.0, 10.0, 20.0) + solids.box(40.0, 30.0, 5.0, (-15.0, -10.0, 20.0))
    part = part_from_mesh(*solids.arrays(mushroom), name="mushroom")
    assert silhouette(part).area == pytest.approx(1200.0)
    frame = solids.box(50.0, 50.0, 5.0) - solids.box(30.0, 30.0, 9.0, (10.0, 10.0, -2.0))
    part = part_from_mesh(*solids.arrays(frame), name="frame")
    assert silhouette(part).area == pytest.approx(1600.0)


def test_the_silhouette_of_an_open_surface_is_the_union_of_its_facets():
    vertices, facets = solids.arrays(solids.box(20.0, 30.0, 10.0))
    low = vertices[facets][:, :, 2].max(axis=1) < 1e-9
    gaps = np.flatnonzero(low)[:1]
    part = bare_part(vertices, np.delete(facets, gaps, axis=0), closed=False)
    assert not part.closed
    assert silhouette(part).area == pytest.approx(600.0)


def test_margin_beads_and_supports_belong_to_the_outline():
    part = block("block", 20.0, 20.0)
    wide = outline_of(ask(part, recipe=rows.recipe(margin_beads=6)))
    assert wide.bounds[2] - wide.bounds[0] == pytest.approx(20.0 + 12 * 0.45, abs=0.05)
    table = solids.box(8.0, 8.0, 20.0) + solids.box(40.0, 8.0, 4.0, (0.0, 0.0, 20.0))
    table += solids.box(8.0, 8.0, 4.0, (32.0, 0.0, 0.0))
    part = part_from_mesh(*solids.arrays(table), name="gallows")
    alone = outline_of(ask(part))
    held_up = outline_of(ask(part, recipe=rows.recipe(supports=True)))
    assert held_up.contains(alone)


def test_a_raster_agrees_with_shapely_cell_by_cell():
    ring = np.array([(1.0, 1.2), (17.3, 2.1), (12.0, 9.7), (19.0, 15.5), (3.3, 18.1)])
    cells = raster([ring], (0.0, 0.0), 0.5, (42, 40))
    x, y = np.meshgrid(0.5 * (np.arange(42) + 0.5), 0.5 * (np.arange(40) + 0.5), indexing="ij")
    assert (cells == shapely.contains_xy(shapely.Polygon(ring), x, y)).all()


# ---- places --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("count", "ratio"), [(4, math.sqrt(2.0) - 1.0), (7, 1.0 / 3.0)])
def test_discs_on_a_round_platform_come_within_two_percent_of_the_densest_packing(count, ratio):
    # Graham, Lubachevsky, Nurmela and Ostergard (1998), Dense packings of congruent circles in a
    # circle, Discrete Mathematics 181, 139-154: r/R is sqrt(2) - 1 for 4 and 1/3 for 7 discs
    printer = bare(platform="round", width_mm=200.0, depth_mm=200.0)
    assert len(packed([ask(disc("coin", 98.0 * ratio), count)], printer).cycles) == 1
    assert len(packed([ask(disc("coin", 101.0 * ratio), count)], printer).cycles) == 2


@pytest.mark.parametrize("side", [2, 3, 4])
def test_squares_fill_a_square_platform(side):
    printer = bare(width_mm=200.0, depth_mm=200.0)
    gap = 5.0
    length = (200.0 - (side - 1) * gap) / side - 0.5
    plan = packed([ask(block("tile", length, length), side * side)], printer, gap)
    assert len(plan.cycles) == 1
    assert plan.cycles[0].least_gap_mm == pytest.approx(gap, abs=0.01)
    more = packed([ask(block("tile", length, length), side * side + 1)], printer, gap)
    assert len(more.cycles) == 2


def test_rectangles_need_no_more_platforms_than_their_area_asks_for():
    printer = bare(width_mm=220.0, depth_mm=220.0)
    sizes = np.random.default_rng(1).integers(20, 90, (14, 2)).astype(float)
    requests = [ask(block(f"tile {k}", x, y)) for k, (x, y) in enumerate(sizes)]
    plan = packed(requests, printer, 4.0)
    least = math.ceil(float(((sizes + 4.0).prod(axis=1)).sum()) / 224.0**2)
    assert len(plan.cycles) == least == 2


def test_a_bar_longer_than_the_platform_is_turned_to_its_diagonal():
    printer = bare(width_mm=200.0, depth_mm=200.0)
    plan = packed([ask(block("bar", 260.0, 10.0))], printer, 2.0)
    assert plan.cycles[0].placings[0].turn_deg % 90.0 == pytest.approx(45.0, abs=6.0)
    assert packed([ask(block("bar", 285.0, 10.0))], printer, 2.0).cycles == ()


def test_angle_pieces_go_into_each_other_where_their_boxes_would_not():
    printer = bare(width_mm=84.0, depth_mm=84.0)
    requests = [ask(angle_piece("angle"), 3)]
    plan = packed(requests, printer, 1.0)
    assert len(plan.cycles) == 1  # three boxes of 60 x 60 would need three platforms
    assert plan.cycles[0].used_frac == pytest.approx(3 * 1100.0 / 84.0**2)


def test_a_part_may_stand_in_the_opening_of_another():
    frame = solids.box(90.0, 90.0, 5.0) - solids.box(70.0, 70.0, 9.0, (10.0, 10.0, -2.0))
    ring = part_from_mesh(*solids.arrays(frame), name="frame")
    plan = packed(
        [ask(ring), ask(block("core", 50.0, 50.0))], bare(width_mm=95.0, depth_mm=95.0), 5.0
    )
    assert len(plan.cycles) == 1


def test_the_same_call_gives_the_same_places():
    requests = [ask(angle_piece("angle"), 5), ask(block("bar", 70.0, 12.0), 6)]
    printer = bare(width_mm=150.0, depth_mm=150.0)
    first, again = (places(packed(requests, printer, 3.0)) for _ in range(2))
    assert first == again


def places(plan):
    return [
        (cycle.number, p.name, p.copy, p.x_mm, p.y_mm, p.turn_deg)
        for cycle in plan.cycles
        for p in cycle.placings
    ]


def test_what_fits_no_platform_is_left_out_with_the_numbers():
    requests = [ask(block("tower", 10.0, 10.0, 400.0)), ask(block("slab", 500.0, 20.0))]
    plan = packed([*requests, ask(block("small", 9.0, 9.0))], PRINTER, 5.0)
    reasons = {entry.name: entry.reason for entry in plan.left_out}
    assert "400.0 mm tall" in reasons["tower"]
    assert "500.0 x 20.0 mm" in reasons["slab"]
    caution = findings_of(plan.marks)[0]
    assert caution.severity == "caution"
    assert caution.what.startswith("tower and slab do not fit")


def test_another_feedstock_or_layer_gets_a_cycle_of_its_own():
    part, other = block("a", 12.0, 12.0, 2.0), block("b", 12.0, 12.0, 2.0)
    first = ask_printed(part, PRINTER, FEEDSTOCK, RECIPE)
    same = ask_printed(other, PRINTER, FEEDSTOCK, rows.recipe(infill_frac=0.3, key="dense"))
    thick = ask_printed(other, PRINTER, FEEDSTOCK, rows.recipe(layer_mm=0.25, key="thick"))
    else_made = ask_printed(other, PRINTER, rows.feedstock(key="other"), RECIPE)
    assert len(pack_cycles([first, same], PRINTER).cycles) == 1
    assert len(pack_cycles([first, thick], PRINTER).cycles) == 2
    assert len(pack_cycles([first, else_made], PRINTER).cycles) == 2


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"gap_mm": -1.0}, "gap_mm"),
        ({"packing": Packing(turn_step_deg=0.0)}, "turn_step_deg"),
        ({"packing": Packing(cell_mm=-1.0)}, "cell_mm"),
        ({"packing": Packing(hazard_frac_h=2.0)}, "hazard_frac_h"),
    ],
)
def test_an_impossible_number_is_refused_by_name(change, words):
    with pytest.raises(InputError, match=words):
        pack_cycles([ask(block("a", 9.0, 9.0))], PRINTER, **change)


def test_requests_that_make_no_sense_are_refused():
    part = block("a", 12.0, 12.0, 2.0)
    with pytest.raises(InputError, match="quantity is 0"):
        pack_cycles([ask(part, 0)], PRINTER)
    with pytest.raises(InputError, match="asked for twice"):
        pack_cycles([ask(part), ask(part)], PRINTER)
    printed = ask_printed(part, PRINTER, FEEDSTOCK, RECIPE)
    with pytest.raises(InputError, match="no estimate"):
        pack_cycles([printed, ask(block("b", 9.0, 9.0))], PRINTER)
    with pytest.raises(InputError, match="whole layers"):
        pack_cycles([ask(part)], rows.vat_printer(), way="one by one")
    with pytest.raises(InputError, match="for extrusion"):
        pack_cycles([printed], rows.vat_printer())
    with pytest.raises(InputError, match="the estimate says"):
        pack_cycles([replace(printed, recipe=rows.recipe(outline_mm_s=20.0))], PRINTER)


# ---- hours ---------------------------------------------------------------------------------------


def changes_h(request, printer=PRINTER):
    return float(profile_of(request, printer).change_s.sum()) / 3600.0


def test_one_copy_alone_takes_what_its_estimate_says():
    request = ask_printed(block("a", 30.0, 20.0, 6.0), PRINTER, FEEDSTOCK, RECIPE)
    cycle = pack_cycles([request], PRINTER).cycles[0]
    assert cycle.time_h == pytest.approx(request.estimate.time_h, rel=1e-12)
    assert cycle.mass_g == pytest.approx(request.estimate.mass_g, rel=1e-12)
    assert cycle.spent_cost == pytest.approx(request.estimate.total_cost, rel=1e-9)


def test_hours_together_are_the_sum_less_warm_up_and_layer_changes_with_travel_and_shared_waits():
    tall = ask_printed(block("tall", 12.0, 12.0, 8.0), PRINTER, FEEDSTOCK, RECIPE)
    low = ask_printed(block("low", 14.0, 10.0, 3.0), PRINTER, FEEDSTOCK, RECIPE)
    plan = pack_cycles([tall, low], PRINTER)
    (cycle,) = plan.cycles
    warm_h = PRINTER.warm_up_s / 3600.0
    expected = (
        tall.estimate.time_h + low.estimate.time_h - warm_h - changes_h(low)
        + cycle.travel_h - cycle.cooling_h
    )  # fmt: skip
    assert cycle.time_h == pytest.approx(expected, rel=1e-9)
    assert cycle.apart_h == pytest.approx(tall.estimate.time_h + low.estimate.time_h, rel=1e-12)
    middles = [polygon_of(p.outline).centroid for p in cycle.placings]
    move_s = rest_to_rest_s(
        middles[0].distance(middles[1]), PRINTER.travel_mm_s, PRINTER.travel_accel_mm_s2
    )
    layers = low.estimate.layers
    assert cycle.travel_h * 3600.0 == pytest.approx(layers * (move_s + PRINTER.retract_s))
    assert cycle.cooling_h > 0.0


def test_small_parts_share_the_wait_of_the_least_layer_time():
    recipe = rows.recipe(layer_time_least_s=10.0, speed_least_mm_s=0.5)
    pin = ask_printed(block("pin", 5.0, 5.0, 6.0), PRINTER, FEEDSTOCK, recipe, quantity=2)
    (cycle,) = pack_cycles([pin], PRINTER).cycles
    usual = cycle.layer_time_s[3:-1]
    np.testing.assert_allclose(usual, 10.0, rtol=1e-9)  # two small parts still fit in one wait
    warm_h = PRINTER.warm_up_s / 3600.0
    assert cycle.time_h - warm_h < 0.55 * 2 * (pin.estimate.time_h - warm_h)


def test_an_estimate_without_its_recipe_shares_no_wait():
    pin = ask_printed(block("pin", 5.0, 5.0, 6.0), PRINTER, FEEDSTOCK, RECIPE, quantity=2)
    bare_pin = PackRequest(name="pin", part=pin.part, estimate=pin.estimate, quantity=2)
    (cycle,) = pack_cycles([bare_pin], PRINTER).cycles
    assert cycle.cooling_h == 0.0
    assert cycle.time_h > pack_cycles([pin], PRINTER).cycles[0].time_h
    np.testing.assert_allclose(
        changes_h(bare_pin), changes_h(pin), rtol=1e-9
    )  # thickness follows from z


def test_a_cycle_purges_once():
    request = ask_printed(block("a", 12.0, 12.0, 2.0), PRINTER, FEEDSTOCK, RECIPE, quantity=3)
    (cycle,) = pack_cycles([request], PRINTER).cycles
    purge = next(s.mass_g for s in request.estimate.by_role if s.role == "warm_up")
    assert cycle.mass_g == pytest.approx(3 * request.estimate.mass_g - 2 * purge)
    assert cycle.own_time_h == request.estimate.own_time_h


def vat_requests(quantity=1):
    printer, feedstock, recipe = rows.vat_printer(), rows.vat_feedstock(), rows.vat_recipe()
    wide = ask_printed(block("wide", 60.0, 40.0, 4.0), printer, feedstock, recipe, quantity)
    tall = ask_printed(block("tall", 20.0, 35.0, 6.0), printer, feedstock, recipe)
    return printer, [wide, tall]


def test_hours_of_a_vat_cycle_are_those_of_the_vat_model_for_all_areas_together():
    printer, requests = vat_requests()
    solids_ = [
        estimate_vat(r.part, layers_of(r.part, r.recipe.layer_mm), r.recipe, printer, r.feedstock)
        for r in requests
    ]
    (cycle,) = pack_cycles(requests, printer).cycles
    together = cycle_time(solids_)
    assert cycle.time_h * 3600.0 == pytest.approx(together.time_s, rel=1e-12)
    assert cycle.mass_g == pytest.approx(together.mass_g, rel=1e-9)
    tallest = max(r.estimate.time_h for r in requests)
    assert cycle.time_h > tallest  # 2400 and 700 mm2 exceed 3000 mm2 together: a slow lift
    slow = rows.vat_recipe().lift_mm / rows.vat_recipe().slow_lift_mm_s
    assert cycle.time_h - tallest < 81 * slow / 3600.0


# ---- what is lost --------------------------------------------------------------------------------

RATES = Rates(
    feedstock_cost_g=0.02,
    warm_cost_h=0.1,
    print_cost_h=0.03,
    machine_cost_h=0.15,
    set_up_cost=4.0,
)


def even_run(time_h, mass_g, layers=50, lead_s=0.0, lead_g=0.0):
    return Run(
        lead_s=lead_s,
        lead_g=lead_g,
        layer_z_mm=0.2 * np.arange(1, layers + 1),
        layer_time_s=np.full(layers, 3600.0 * time_h / layers),
        layer_mass_g=np.full(layers, mass_g / layers),
    )


def test_an_even_print_loses_half_of_all_on_average():
    stake = loss_of(even_run(10.0, 200.0), RATES)
    assert stake.mean.time_h == pytest.approx(5.0)
    assert stake.mean.mass_g == pytest.approx(100.0)
    assert stake.mean.cost == pytest.approx(100.0 * 0.02 + 5.0 * (0.03 + 0.15) + 4.0)
    assert stake.worst.mass_g == pytest.approx(200.0)
    assert stake.worst.cost == pytest.approx(200.0 * 0.02 + 10.0 * (0.03 + 0.15) + 4.0)


def test_a_print_that_spends_early_loses_more_on_average():
    run = even_run(10.0, 0.0)
    early = replace(run, layer_mass_g=np.linspace(2.0, 0.0, 50))
    late = replace(run, layer_mass_g=np.linspace(0.0, 2.0, 50))
    # mass (2 t - t^2) M and t^2 M: integrals 2/3 and 1/3, but for the layers' width
    assert loss_of(early, RATES).mean.mass_g == pytest.approx(50.0 * 2 / 3, rel=0.02)
    assert loss_of(late, RATES).mean.mass_g == pytest.approx(50.0 * 1 / 3, rel=0.02)


def test_the_mean_over_the_warm_up_is_the_closed_form():
    run = even_run(3.0, 60.0, lead_s=3600.0, lead_g=2.0)
    mean = loss_of(run, RATES).mean
    assert mean.time_h == pytest.approx(2.0)
    assert mean.mass_g == pytest.approx((0.0 * 1.0 + (2.0 + 30.0) * 3.0) / 4.0)
    energy = (0.1 * 0.5 * 1.0 + (0.1 + 0.03 * 1.5) * 3.0) / 4.0
    assert mean.cost == pytest.approx(mean.mass_g * 0.02 + energy + 2.0 * 0.15 + 4.0)


def test_one_after_another_n_equal_parts_lose_an_nth():
    runs = [even_run(2.0, 40.0) for _ in range(5)]
    stake = loss_in_turn(runs, RATES)
    assert stake.mean.time_h == pytest.approx(1.0)
    assert stake.mean.mass_g == pytest.approx(20.0)
    assert stake.worst.time_h == pytest.approx(2.0)
    uneven = loss_in_turn([even_run(1.0, 10.0), even_run(3.0, 30.0)], RATES)
    assert uneven.mean.time_h == pytest.approx(0.25 * 0.5 + 0.75 * 1.5)
    assert uneven.worst.mass_g == pytest.approx(30.0)


def test_the_way_through_points_on_a_line_goes_along_it():
    points = [(float(x), 0.0) for x in (3, 0, 9, 6, 1)]
    assert short_path(points) == sorted(points)


# ---- one after another ---------------------------------------------------------------------------


def test_one_by_one_keeps_the_head_clear_and_prints_what_is_high_last():
    requests = [
        ask_printed(block("high", 20.0, 20.0, 40.0), PRINTER, FEEDSTOCK, rows.recipe(layer_mm=0.4)),
        ask_printed(
            block("low", 30.0, 15.0, 10.0), PRINTER, FEEDSTOCK, rows.recipe(layer_mm=0.4), 3
        ),
    ]
    plan = pack_cycles(requests, PRINTER, way="one by one")
    held(requests, plan, PRINTER.head_clear_mm)
    (cycle,) = plan.cycles
    assert [p.name for p in cycle.placings] == ["low", "low", "low", "high"]
    assert find_clash(cycle.placings, PRINTER) is None
    clash = find_clash(cycle.placings[::-1], PRINTER)
    assert (clash.what, clash.finished, clash.found_mm) == ("beam", "high 1", 40.0)
    warm_h = 3 * PRINTER.warm_up_s / 3600.0
    alone_h = requests[0].estimate.time_h + 3 * requests[1].estimate.time_h
    assert cycle.time_h == pytest.approx(alone_h - warm_h + cycle.travel_h, rel=1e-12)
    assert cycle.at_stake.worst.time_h < 0.7 * cycle.time_h


def test_two_high_parts_are_not_printed_one_after_another_on_one_platform():
    tower = block("tower", 20.0, 20.0, 40.0)
    plan = packed([ask(tower, 2)], PRINTER, 45.0, way="one by one")
    assert len(plan.cycles) == 2


def test_a_finished_part_that_is_too_near_or_under_the_beam_is_a_clash():
    plan = packed([ask(block("a", 20.0, 20.0, 10.0), 2)], PRINTER, 10.0)
    near = find_clash(plan.cycles[0].placings, PRINTER)
    assert near.what == "head"
    assert near.found_mm == pytest.approx(10.0, abs=0.1)
    low_beam = replace(PRINTER, head_clear_mm=5.0, beam_clear_mm=8.0)
    first, second = plan.cycles[0].placings
    apart_in_y = abs(first.y_mm - second.y_mm) > 25.0
    clash = find_clash((first, second), low_beam)
    assert (clash is None) == apart_in_y
    on_round = replace(low_beam, platform="round")
    assert find_clash((first, second), on_round).what == "beam"


# ---- the way to print a set ----------------------------------------------------------------------


def test_short_prints_share_a_cycle_and_risky_long_ones_do_not():
    requests = [
        ask_printed(block("a", 40.0, 40.0, 8.0), PRINTER, FEEDSTOCK, RECIPE, quantity=4),
    ]
    calm = choose_cycles(requests, PRINTER, packing=Packing(hazard_frac_h=0.001))
    assert calm.way == "together"
    assert len(calm.cycles) == 1
    assert "45 min less own time" in calm.reason
    part = requests[0].part
    cheap = Prices(own_time_cost_h=0.1)
    requests = [ask_printed(part, PRINTER, FEEDSTOCK, RECIPE, quantity=4, prices=cheap)]
    tight = replace(PRINTER, head_clear_mm=300.0)  # no room for one after another
    wild = choose_cycles(requests, tight, packing=Packing(hazard_frac_h=1.0))
    assert wild.way != "together"
    assert len(wild.cycles) == 4


def test_the_expected_cost_is_what_is_spent_and_what_failures_cost():
    request = ask_printed(block("a", 30.0, 30.0, 8.0), PRINTER, FEEDSTOCK, RECIPE)
    plan = pack_cycles([request], PRINTER, packing=Packing(hazard_frac_h=0.05))
    (cycle,) = plan.cycles
    failures = math.exp(0.05 * cycle.time_h) - 1.0
    expected = request.estimate.total_cost + failures * cycle.at_stake.mean.cost
    assert plan.expected_cost == pytest.approx(expected, rel=1e-9)


def test_findings_say_what_shares_a_platform_and_what_is_at_stake():
    request = ask_printed(block("a", 40.0, 40.0, 8.0), PRINTER, FEEDSTOCK, RECIPE, quantity=3)
    plan = pack_cycles([request], PRINTER, packing=Packing(long_cycle_h=0.5))
    note, caution = findings_of(plan.marks)
    assert (note.check, note.severity) == ("packing", "note")
    assert "a x3" in note.what
    assert "1 build cycle instead of 3, saves 30 min own time" in note.what
    assert caution.severity == "caution"
    assert "at stake at once" in caution.what
    lonely = pack_cycles([replace(request, quantity=1)], PRINTER)
    assert lonely.marks == ()


def test_many_cycles_are_told_in_few_findings():
    plan = packed([ask(block("slab", 250.0, 250.0), 9), ask(block("pin", 9.0, 9.0), 9)], PRINTER)
    assert len(plan.cycles) == 9
    whats = [finding.what for finding in findings_of(plan.marks)]
    assert len(whats) <= 6
    coins = packed([ask(disc("coin", 12.0, segments=24), 100)], rows.printer(width_mm=120.0), 4.0)
    whats = [finding.what for finding in findings_of(coins.marks)]
    assert len(coins.cycles) <= 3 or len(whats) <= 6


# ---- the picture ---------------------------------------------------------------------------------


def test_a_picture_shows_every_part_to_scale():
    requests = [ask(block("long bar", 150.0, 20.0)), ask(disc("coin", 30.0), 2)]
    plan = packed(requests, PRINTER, 5.0)
    picture = draw_platform(plan.cycles[0], PRINTER, dpi=100)
    image = np.array(Image.open(io.BytesIO(picture.data)).convert("RGB")).astype(int)
    tinted = (image.max(axis=2) - image.min(axis=2)) > 15
    across = 300.0 * 1.09 / image.shape[1]  # millimetres of platform a pixel
    area = float(tinted.sum()) * across**2
    assert area == pytest.approx(150.0 * 20.0 + 2 * math.pi * 900.0, rel=0.12)
    assert "long bar 1 turned by" in picture.alt
    assert picture.data == draw_platform(plan.cycles[0], PRINTER, dpi=100).data


def test_a_picture_can_be_lines_and_is_refused_for_another_printer():
    plan = packed([ask(disc("coin", 30.0), 3)], bare(platform="round"), 5.0)
    drawn = draw_platform(plan.cycles[0], plan.printer, kind="svg")
    assert b"<svg" in drawn.data[:1000]
    with pytest.raises(InputError, match="is for printer"):
        draw_platform(plan.cycles[0], rows.printer(key="else"))
    with pytest.raises(InputError, match="mm wide"):
        draw_platform(plan.cycles[0], plan.printer, width_mm=1.0)
