"""The whole way from a build file to a plan: choices, sums, the bill, many workers, a cluster."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

import buildplan as bp
from buildplan.demo import lay_out
from buildplan.device.chain.shape import DeviceTables
from buildplan.plan import chosen_option, study_build
from buildplan.report import as_json
from buildplan.report.as_json import values

SMALL = ("push_rod", "servo_arm", "hinge_pin", "camera_ring", "bottom_plate")


@pytest.fixture(scope="module")
def build(tmp_path_factory):
    whole = bp.load_build(lay_out(tmp_path_factory.mktemp("demo") / "sprout") / "build.toml")
    parts = tuple(p for p in whole.parts if p.name in SMALL)
    return replace(whole, parts=parts, device=DeviceTables())


@pytest.fixture(scope="module")
def plan(build):
    return bp.make_plan(build, workers=1)


def text(plan):
    return as_json.dump(as_json.plan_object(plan))


def test_the_sums_are_those_of_the_parts(plan):
    time_h = sum(p.quantity * chosen_option(p).estimate.time_h for p in plan.parts)
    assert plan.time_h.likely == pytest.approx(time_h)
    assert plan.time_h.low < plan.time_h.likely < plan.time_h.high
    goods = sum((line.cost for line in plan.bill), Decimal(0))
    # Fern, Reed and Willow ship; Sedge is above its 60.00, Moss round the corner
    shipping = Decimal("3.90") + Decimal("2.50") + Decimal("5.90")
    assert plan.orders.goods_cost == goods
    assert plan.bill_cost == plan.orders.total_cost == goods + shipping
    assert plan.budget.low_cost < plan.budget.median_cost < plan.budget.high_cost
    need = {line.wanted.item: line for line in plan.bill if line.wanted.kind == "feedstock"}
    petg = next(line for name, line in need.items() if name.startswith("PETG"))
    grams = sum(
        p.quantity * chosen_option(p).estimate.mass_g
        for p in plan.parts
        if p.feedstock.key == "PETG"
    )
    assert float(petg.wanted.need) == pytest.approx(grams, abs=0.06)


def test_a_printer_that_takes_the_part_as_it_stands_is_chosen_before_one_that_lays_it_over(plan):
    bottom = next(p for p in plan.parts if p.name == "bottom_plate")
    fits = {option.printer: option.fit.how for option in bottom.options}
    assert fits["south_bench"] == "as placed"
    assert fits["north_bench"] == "any rotation"
    assert chosen_option(bottom).printer == "south_bench"
    assert bottom.reason == "the only printer it fits as it is placed"


def test_the_same_plan_comes_out_of_one_and_of_two_workers(build, plan):
    assert text(bp.make_plan(build, workers=2)) == text(plan)


@pytest.mark.filterwarnings("ignore")  # the cluster's own sockets and threads, not ours
def test_the_same_call_runs_on_a_cluster_with_identical_numbers(build, plan):
    """joblib's dask backend, documented in joblib's user guide, "parallel_config"."""
    from distributed import Client, LocalCluster
    from joblib import parallel_config

    with (
        LocalCluster(
            n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
        ) as cluster,
        Client(cluster),
        parallel_config(backend="dask"),
    ):
        assert text(bp.make_plan(build)) == text(plan)
        two = ["push_rod", "servo_arm"]
        assert repr(study_build(build, parts=two)) == repr(study_build(build, parts=two, workers=1))


def test_progress_counts_every_part(build):
    seen = []
    bp.make_plan(build, workers=1, progress=lambda done, total: seen.append((done, total)))
    assert seen == [(i + 1, len(build.parts)) for i in range(len(build.parts))]


def test_the_orientation_of_the_build_file_turns_the_part(build):
    rod = next(p for p in build.parts if p.name == "push_rod")
    upright = (1, 0, 0, 0, 0, 0, -1, 0, 0, 1, 0, 0, 0, 0, 0, 1)
    lain = bp.make_plan(replace(build, parts=(rod,))).parts[0]
    stood = bp.make_plan(replace(build, parts=(replace(rod, orientation=upright),))).parts[0]
    assert stood.part.size_mm == pytest.approx(np.array(lain.part.size_mm)[[0, 2, 1]])
    assert chosen_option(stood).estimate.layers > chosen_option(lain).estimate.layers


def test_a_part_without_a_printer_of_its_process_is_refused(build):
    rod = next(p for p in build.parts if p.name == "push_rod")
    part = bp.read_part(rod.path)
    with pytest.raises(bp.InputError, match="none of the printers given is one"):
        bp.plan_part(part, [bp.printer("small_vat")], bp.feedstock("pla"), bp.recipe("everyday"))


def test_json_has_the_documented_keys_and_no_number_that_json_does_not_know(plan):
    part = as_json.part_object(plan.parts[0])
    keys = (
        "name file sha256 unit size_mm volume_mm3 area_mm2 centre_of_mass_mm closed shells "
        "health process printer feedstock recipe estimate fit findings checks ways_up"
    )
    assert " ".join(part) == keys
    assert {
        "time_h", "mass_g", "length_m", "volume_ml", "layers", "time_by_role_h",
        "length_by_role_m", "energy_kwh", "feedstock_cost", "energy_cost", "machine_cost",
        "total_cost", "spread",
    } <= set(part["estimate"])  # fmt: skip
    assert set(part["estimate"]["spread"]["time_h"]) == {"low", "high"}
    assert {"fits", "how", "slack_mm"} <= set(part["fit"])
    assert as_json.plan_object(plan)["schema_version"] == 3
    with pytest.raises(ValueError, match="cannot stand in JSON"):
        values.number(float("inf"))
