"""Gaps, holes and beads of the demo build and of meshes from elsewhere, read aloud once."""

import json
import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import gap_solids as gs
import numpy as np
import pytest
import rows

from buildplan.checks.beads import check_beads
from buildplan.checks.gaps import check_gaps
from buildplan.part import part_from_mesh, read_part
from buildplan.process.layers import cut_layers

HOUSE = Path(__file__).parents[3] / "parts" / "sprout_house"
SHELL = {
    (2.2, 9.0, False): 4,  # servo
    (3.4, 3.0, True): 4,  # cowl, arm of the camera
    (4.0, 6.0, False): 16,  # bosses of the boards
    (4.0, 7.0, False): 6,  # bosses of the bottom plate
    (4.5, 12.0, True): 4,  # hinge
    (5.0, 3.0, True): 1,  # cable
}
HOLES = {
    "base_shell.stl": SHELL,
    "bottom_plate.stl": {(3.4, 1.3, True): 6},
    "camera_arm.stl": {(1.6, 4.2, False): 4, (3.4, 5.0, True): 2, (4.0, 16.0, True): 3},
    "camera_ring.3mf": {},
    "hinge_pin.stl": {},
    "push_rod.obj": {(3.4, 6.0, True): 2},
    "roof_vent.stl": {(3.4, 5.0, True): 1, (4.5, 14.0, True): 2},
    "sensor_cowl.stl": {(3.4, 3.0, True): 2},
    "servo_arm.stl": {(2.0, 4.8, True): 4, (3.4, 4.8, True): 1},
}


@pytest.mark.parametrize("name", sorted(HOLES))
def test_the_demo_build_has_its_holes_and_no_false_alarm(name):
    part = read_part(HOUSE / name)
    found = check_gaps(part, rows.recipe(), gs.RULES)
    holes = Counter(
        (round(h.drawn_mm, 2), round(h.depth_mm + 1e-3, 1), h.through) for h in found.holes
    )
    assert holes == HOLES[name]
    assert found.gaps == ()
    assert found.pins == ()
    assert len(found.marks) <= 12
    recipe = rows.recipe()
    assert check_beads(cut_layers(part, recipe.layer_mm), recipe, gs.RULES).marks == ()


def test_a_gear_has_no_holes_gaps_or_thin_strips(npm_mesh):
    part = read_part(npm_mesh("stl-models", "objects/gearwheel.bin.stl"))
    assert check_gaps(part, rows.recipe(), gs.RULES).marks == ()
    recipe = rows.recipe()
    assert check_beads(cut_layers(part, recipe.layer_mm), recipe, gs.RULES).marks == ()


def test_a_scanned_animal_of_ten_centimetres_has_none_either(npm_mesh):
    text = npm_mesh("bunny", "index.js").read_text("utf-8")
    points, cells = (
        np.array(json.loads(re.search(rf"{name}\s*=\s*(\[.*?\]\])", text, re.DOTALL)[1]))
        for name in ("positions", "cells")
    )
    part = part_from_mesh(points * 100.0 / np.ptp(points, axis=0).max(), cells, name="bunny")
    wide = replace(gs.RULES, gap_moving_mm=0.8)
    assert check_gaps(part, rows.recipe(), wide).marks == ()
    recipe = rows.recipe()
    assert check_beads(cut_layers(part, recipe.layer_mm), recipe, gs.RULES).marks == ()
