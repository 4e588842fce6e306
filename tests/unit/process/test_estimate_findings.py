"""Findings of the process: each appears past its limit, and not at it."""

import pytest
import solids
from bare_parts import solid_part
from moves import paths_by_hand
from rows import feedstock, printer, recipe

from buildplan.findings import worst
from buildplan.process.estimate import estimate_print
from buildplan.process.estimate.findings import (
    find_bead,
    find_heat,
    find_reel,
    find_speed,
    find_waiting,
)
from buildplan.process.motion import estimate_time
from buildplan.process.roles import Role

LONG = [(0.0, 0.0), (100.0, 0.0)]


def only(found):
    (finding,) = tuple(found)
    assert finding.source
    assert finding.remedy.endswith(".")
    assert not finding.what.endswith(".")
    return finding


def test_usual_rows_give_no_finding():
    part = solid_part(solids.box(20.0, 20.0, 10.0))
    assert (
        estimate_print(part, printer(), feedstock(), recipe(layer_time_least_s=0.0)).findings == ()
    )


def test_a_nozzle_that_cannot_melt_the_feedstock_is_a_stop():
    assert not tuple(find_heat(printer(nozzle_max_c=220.0), feedstock()))
    warm = only(find_heat(printer(nozzle_max_c=210.0), feedstock()))
    assert (warm.severity, warm.check) == ("note", "nozzle temperature")
    cold = only(find_heat(printer(nozzle_max_c=190.0), feedstock()))
    assert cold.severity == "stop"
    assert "at least 195 °C" in cold.required


def test_a_cool_platform_and_an_open_frame_are_cautions():
    assert not tuple(find_heat(printer(platform_max_c=60.0), feedstock()))
    cool = only(find_heat(printer(platform_max_c=50.0), feedstock()))
    assert (cool.severity, cool.measured) == ("caution", "50 °C")
    warps = feedstock(needs_enclosure=True)
    assert only(find_heat(printer(), warps)).check == "enclosure"
    assert not tuple(find_heat(printer(enclosed=True), warps))


@pytest.mark.parametrize(("bead", "found"), [(0.29, 1), (0.3, 0), (0.45, 0), (0.8, 0), (0.81, 1)])
def test_bead_is_held_against_the_nozzle(bead, found):
    findings = tuple(find_bead(printer(), recipe(bead_mm=bead)))
    assert len(findings) == found
    assert all(f.check == "bead" and "common practice, no source" in f.source for f in findings)


@pytest.mark.parametrize(("layer", "found"), [(0.32, 0), (0.33, 1)])
def test_layer_is_held_against_the_nozzle(layer, found):
    assert len(tuple(find_bead(printer(), recipe(layer_mm=layer)))) == found


def test_flow_says_how_fast_it_really_runs_and_whose_limit_it_is():
    paths = paths_by_hand([LONG])
    assert not tuple(find_speed(paths, printer(), feedstock(), recipe()))
    slow = only(find_speed(paths, printer(flow_limit_mm3_s=3.6), feedstock(), recipe()))
    assert slow.check == "flow"
    assert "infill at 80 mm/s would need 7.2 mm³/s" in slow.what
    assert "runs at 40 mm/s" in slow.what
    assert "printer table" in slow.source
    melt = only(find_speed(paths, printer(), feedstock(flow_limit_mm3_s=5.0), recipe()))
    assert "feedstock table" in melt.source


def test_flow_counts_only_roles_that_are_laid():
    paths = paths_by_hand([LONG], roles=Role.OUTLINE)
    fast = recipe(infill_mm_s=300.0)
    assert not tuple(find_speed(paths, printer(), feedstock(), fast))
    assert not tuple(find_speed(paths_by_hand([]), printer(), feedstock(), fast))


def test_speed_over_the_printers_limit_is_a_note():
    paths = paths_by_hand([LONG], roles=Role.FLOOR_ROOF)
    limited = printer(speed_limit_mm_s=40.0)
    found = only(find_speed(paths, limited, feedstock(), recipe()))
    assert (found.check, found.severity) == ("speed", "note")
    assert found.what.startswith("floor and roof at 50 mm/s")


def test_a_reel_that_runs_out_says_where():
    paths = paths_by_hand([LONG] * 10)
    layer_g = 100.0 * 0.45 * 0.2 * 1.24e-3
    assert not tuple(find_reel(paths, feedstock(pack_g=10.01 * layer_g)))
    found = only(find_reel(paths, feedstock(pack_g=4.5 * layer_g)))
    assert found.severity == "caution"
    assert found.where.text == "layer 5, 0.8 mm up"
    assert "3 reels" in found.remedy
    assert not tuple(find_reel(paths_by_hand([]), feedstock()))


def test_waiting_for_short_layers_is_a_note():
    waits = paths_by_hand([LONG] * 20, recipe=recipe(layer_time_least_s=30.0))
    found = only(find_waiting(estimate_time(waits, printer(warm_up_s=0.0))))
    assert (found.check, found.severity) == ("least layer time", "note")
    assert found.what.startswith("20 layers are slowed")
    runs = paths_by_hand([LONG] * 20, recipe=recipe(layer_time_least_s=0.0))
    assert not tuple(find_waiting(estimate_time(runs, printer())))


def test_findings_of_the_process_reach_the_estimate():
    part = solid_part(solids.box(20.0, 20.0, 4.0))
    estimate = estimate_print(part, printer(nozzle_max_c=150.0), feedstock(), recipe())
    assert worst(estimate.findings) == "stop"
