"""Checks, ways up and build cycles in JSON: numbers with units, no samples, nothing infinite."""

import json

import numpy as np
import pytest

from buildplan.report import as_json
from buildplan.units import unit_of


@pytest.fixture(scope="module")
def text(plan):
    return as_json.dump(as_json.plan_object(plan))


@pytest.fixture(scope="module")
def shown(text):
    return json.loads(text)


def part(shown, name):
    return next(item for item in shown["parts"] if item["name"] == name)


def test_every_check_of_the_process_is_there(shown):
    both = {"walls", "gaps", "holes", "pins", "overhangs", "stability"}
    assert set(part(shown, "push_rod")["checks"]) == both | {"beads", "warping"}
    assert set(part(shown, "camera_ring")["checks"]) == both | {"trapped"}


def test_the_numbers_are_those_of_the_checks(plan, shown):
    for item in plan.parts:
        found, checks = part(shown, item.name)["checks"], item.checks
        assert found["walls"]["least_mm"] == pytest.approx(checks.walls.least_mm, abs=1e-6)
        assert len(found["walls"]["places"]) == len(checks.walls.walls)
        assert len(found["holes"]) == len(checks.gaps.holes)
        assert len(found["overhangs"]["regions"]) == len(checks.overhangs.regions)
        assert found["stability"]["tip_deg"] == pytest.approx(checks.stability.tip_deg, abs=1e-6)


def test_ways_up_come_with_a_plain_rotation_each(plan, shown):
    for item in plan.parts:
        ways = part(shown, item.name)["ways_up"]
        assert len(ways["best"]) == len(item.orientations.best) <= 5
        for way in (ways["as_placed"], *ways["best"]):
            turn = np.array(way["matrix"]).reshape(4, 4)[:3, :3]
            assert np.allclose(turn @ turn.T, np.eye(3), atol=1e-7)
            assert way["time_h"] > 0.0


def test_build_cycles_add_up_and_a_gap_that_is_none_is_null(plan, shown):
    for one in shown["cycles"]:
        assert one["time_h"] == pytest.approx(sum(c["time_h"] for c in one["cycles"]), abs=1e-5)
        for cycle in one["cycles"]:
            assert (cycle["least_gap_mm"] is None) == (len(cycle["placings"]) == 1)
            saved_h = cycle["own_time_h"] * (len(cycle["placings"]) - 1)
            assert cycle["own_time_saved_h"] == pytest.approx(saved_h, abs=1e-5)
            assert cycle["at_stake"]["mean"]["time_h"] <= cycle["at_stake"]["worst"]["time_h"]
    placed = [p["name"] for one in shown["cycles"] for c in one["cycles"] for p in c["placings"]]
    assert placed.count("hinge_pin") == 2


def test_no_list_of_numbers_is_longer_than_a_matrix_and_numbers_of_a_check_have_units(shown):
    bare = {"layers", "thin_layers", "first_layer_pieces", "thin_pieces", "directions", "number"}
    bare |= {"copy", "quantity"}

    def walk(thing, key=""):
        if isinstance(thing, dict):
            for name, value in thing.items():
                walk(value, name)
        elif isinstance(thing, list):
            if thing and all(isinstance(x, int | float) for x in thing):
                assert len(thing) <= 16, key
            for value in thing:
                walk(value, key)
        elif isinstance(thing, int | float) and not isinstance(thing, bool):
            directions = {"matrix", "up", "axis", "direction"}
            assert key in bare | directions or unit_of(key) is not None or key.endswith("_cost"), (
                key
            )

    for item in shown["parts"]:
        walk(item["checks"])
        walk(item["ways_up"])
    walk(shown["cycles"])


def test_the_same_plan_gives_the_same_text(plan, text):
    assert as_json.dump(as_json.plan_object(plan)) == text
