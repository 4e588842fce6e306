"""The demo's build file and print log: marked invented, complete, in agreement with itself."""

import csv
import tomllib
from collections import Counter

import numpy as np
import pytest
import trimesh

import buildplan as bp
from buildplan.demo import demo_folder

FOLDER = demo_folder()


@pytest.fixture(scope="module")
def build():
    return tomllib.loads((FOLDER / "build.toml").read_text("utf-8"))


@pytest.fixture(scope="module")
def log():
    lines = (FOLDER / "print_log.csv").read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("file", ["build.toml", "print_log.csv"])
def test_line_one_says_that_the_data_are_invented(file):
    assert "invented" in (FOLDER / file).read_text("utf-8").splitlines()[0].lower()


def test_the_build_file_loads_with_its_own_recipe_and_printers():
    build = bp.load_build(FOLDER / "build.toml")
    assert (build.name, build.revision, build.data) == ("sprout house", "A", "invented")
    assert [printer.name for printer in build.printers] == [
        "north bench",
        "south bench",
        "vat corner",
    ]
    north, south, _ = build.printers
    assert (north.width_mm, north.depth_mm, north.height_mm) == (220, 220, 250)
    assert (south.width_mm, south.depth_mm, south.height_mm) == (350, 350, 400)
    assert len(build.parts) == 9
    assert sum(part.quantity for part in build.parts) == 10
    shell = build.parts[0]
    assert (shell.recipe.name, shell.recipe.wall_beads, shell.recipe.infill_frac) == (
        "house",
        2,
        0.15,
    )
    assert {part.name for part in build.parts if part.feedstock.process == "vat"} == {"camera_ring"}
    assert len(build.bought) == 25
    assert set(build.sections) == {
        "device",
        "mechanism",
        "power",
        "heat",
        "view",
        "hardware",
        "journal",
    }


def test_boxes_of_features_lie_on_their_part(build):
    for part in build["part"]:
        mesh = trimesh.load(FOLDER / part["file"], force="mesh")
        low, high = mesh.bounds
        for box in [*part.get("feature", []), *part.get("keep_out", [])]:
            corners = np.array(box["box_mm"])
            assert np.all(corners[:3] < corners[3:]), box["name"]
            assert np.all(corners[:3] > low - 0.06), box["name"]
            assert np.all(corners[3:] < high + 0.06), box["name"]
            points = mesh.vertices
            inside = np.all((points >= corners[:3] - 0.06) & (points <= corners[3:] + 0.06), axis=1)
            assert inside.any(), f"nothing in the box of {box['name']}"


def test_every_name_that_is_mentioned_exists(build, log):
    bought = {item["name"] for item in build["bought"]}
    parts = {part["name"] for part in build["part"]}
    linkages, servos = build["mechanism"]["linkage"], build["mechanism"]["servo"]
    assert build["device"]["linkage"] in linkages
    assert {linkage["servo"] for linkage in linkages.values()} <= set(servos)
    rails = {"source"} | {converter["name"] for converter in build["power"]["converter"]}
    for user in [*build["power"]["converter"], *build["power"]["load"]]:
        assert user["feed"] in rails
    users = {load["name"] for load in build["power"]["load"]}
    assert {load["via"] for load in build["power"]["load"] if "via" in load} <= users
    named = [*servos.values(), build["power"]["source"], *build["power"]["converter"]]
    assert {item["bought"] for item in named} <= bought
    services = {service["name"] for service in build["service"]}
    assert {(q["service"] in services, q["part"] in parts) for q in build["quote"]} == {
        (True, True)
    }
    assert build["heat"]["bay"]["part"] in parts
    assert (FOLDER / build["journal"]["file"]).is_file()
    assert {attempt["printer"] for attempt in log} <= {p["name"] for p in build["printer"]}


def test_currents_of_each_mode_add_up_to_the_hand_sums(build):
    """Constant 5 V and 6 V, no wire drop; sums by hand when the device was designed."""
    power = build["power"]
    to5, to6 = power["converter"]

    def rails(key):
        needed = [load for load in power["load"] if not load["optional"]]
        at6 = sum(load[key] for load in needed if load["feed"] == "to6")
        at5 = sum(load[key] for load in needed if load["feed"] == "to5")
        at5 += (at6 * to6["out_v"] / to6["efficiency_frac"] + to6["idle_w"]) / to5["out_v"]
        at12 = (at5 * to5["out_v"] / to5["efficiency_frac"] + to5["idle_w"]) / 12.0
        return round(at5, 2), round(at12, 2)

    assert rails("idle_a") == (0.64, 0.31)
    assert rails("watch_a") == (0.80, 0.38)
    assert rails("count_a") == (2.00, 0.93)
    assert rails("actuate_a") == (1.86, 0.87)
    at5, _ = rails("peak_a")
    assert at5 == 5.25 > to5["limit_a"]  # all peaks at once: the finding that later checks want
    assert sum(mode["share_frac"] for mode in power["mode"]) == pytest.approx(1.0)


def test_whole_packs_of_what_is_needed_cost_243_euros(build):
    needed = [item for item in build["bought"] if item.get("needed", True)]
    cost = sum(-(-item["quantity"] // item["pack"]) * item["price_cost"] for item in needed)
    assert len(needed) == 22
    assert cost == pytest.approx(323.30 - 22.90 - 29.90 - 27.50)  # less the three feedstocks


def test_the_log_holds_26_attempts_on_two_printers(log):
    assert Counter(attempt["end"] for attempt in log) == {"done": 20, "failed": 5, "aborted": 1}
    assert sum(float(attempt["ran_h"]) for attempt in log) == pytest.approx(177.0, abs=0.5)
    hours, ratios = Counter(), {}
    for attempt in log:
        hours[attempt["printer"]] += float(attempt["ran_h"])
        if attempt["end"] == "done" and float(attempt["predicted_h"]) >= 1.0:
            ratio = float(attempt["ran_h"]) / float(attempt["predicted_h"])
            ratios.setdefault(attempt["printer"], []).append(ratio)
    assert hours["north bench"] == pytest.approx(77.3, abs=0.3)
    assert hours["south bench"] == pytest.approx(99.8, abs=0.3)
    assert np.median(ratios["north bench"]) == pytest.approx(1.085, abs=0.005)
    assert np.median(ratios["south bench"]) == pytest.approx(0.970, abs=0.005)
