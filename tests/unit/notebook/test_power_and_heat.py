"""Answers on supply and heat: numbers that add up, signs that follow the limits."""

from dataclasses import replace

import pytest
from answer_builds import write_build

from buildplan.device.power.tree import make_network
from buildplan.notebook.answers import (
    open_build,
    show_cooling,
    show_day,
    show_device_cautions,
    show_first_power,
    show_heat_soak,
    show_limits,
    show_reboots,
    show_supply,
    show_volts,
    show_warmest_day,
    show_wires,
    study_of,
)
from buildplan.notebook.answers.heat import node_severity
from buildplan.notebook.answers.power import node_watts, tree_rows, wire_severity

ASKED = (
    show_supply,
    show_volts,
    show_reboots,
    show_wires,
    show_day,
    show_warmest_day,
    show_limits,
    show_cooling,
    show_device_cautions,
    show_first_power,
    show_heat_soak,
)


@pytest.fixture(scope="module")
def build(tmp_path_factory):
    return open_build(write_build(tmp_path_factory.mktemp("power")))


@pytest.fixture(scope="module")
def study(build):
    return study_of(build)


def test_the_tree_accounts_for_every_watt(study):
    budget = study.power
    network = make_network(budget.power)
    for case in budget.cases:
        if case.kind != "mode":
            continue
        watts = node_watts(network, case)
        kept = sum(watts[place] for place in network.loads)
        assert 0.0 < kept < case.source_w
        # a load that passes power on is not charged for it: 5 V x 0.5 A at the label, in idle
        assert watts[network.names.index("computer")] == pytest.approx(
            {"idle": 2.5, "count": 7.5}[case.name], rel=0.01
        )


def test_shares_of_the_day_and_the_losses_make_the_whole(study):
    modes = [case for case in study.power.cases if case.kind == "mode"]
    rows = tree_rows(study.power, modes)
    parts = sum(row["wh"] for row in rows if row["own"])
    lost, whole = rows[-2]["wh"], rows[-1]["wh"]
    assert lost > 0.0
    assert parts + lost == pytest.approx(whole)
    assert whole == pytest.approx(sum(24.0 * case.share_frac * case.source_w for case in modes))


def test_what_hangs_on_what_is_seen_from_the_indent(study):
    modes = [case for case in study.power.cases if case.kind == "mode"]
    shown = [str(row["part"]) for row in tree_rows(study.power, modes)]
    indent = {row.strip("\u2003└ ").split("<")[0]: row.count("\u2003") for row in shown}
    assert indent["camera"] == indent["computer"] + 1


def test_a_wire_is_too_thin_by_its_day_or_by_its_peak(study):
    wire = study.power.wires[0]
    assert wire_severity(wire) == "ok"
    assert wire_severity(replace(wire, rms_a=1.01 * wire.bundled_a)) == "stop"
    assert wire_severity(replace(wire, peak_a=1.01 * wire.open_air_a)) == "stop"


def test_signs_of_places_follow_limit_and_doubt(study):
    for node in study.heat.nodes:
        said = node_severity(node)
        assert (said == "stop") == (node.temp_c > node.limit_c)
        assert (said == "ok") == (not node.temp_c + node.doubt_k > node.limit_c)


def test_limits_tell_the_doubt_and_the_place_that_lacks_most_first(build, study):
    answer = show_limits(build)
    worst = min(
        (node for node in study.heat.nodes if node.limit_c == node.limit_c),
        key=lambda node: node.margin_c - node.doubt_k,
    )
    first = next(line for line in str(answer).splitlines() if "±" in line)
    assert f"{worst.temp_c:.0f} | ± {worst.doubt_k:.0f}" in first
    assert answer.severity == "stop"


def test_the_supply_on_the_mains_is_a_caution(build):
    answer = show_device_cautions(build)
    assert answer.severity == "caution"
    assert "licensed electrician" in str(answer)


def test_currents_and_temperatures_are_told_before_they_are_measured(build, study):
    count = next(case for case in study.power.cases if case.name == "count")
    assert f"{count.source_a:.2f}" in str(show_first_power(build))
    same = show_first_power(build, {"count": count.source_a})
    assert same.severity == "ok"
    assert show_first_power(build, {"count": 2.0 * count.source_a}).severity == "caution"
    assert show_heat_soak(build).severity == "note"
    assert show_heat_soak(build, {"computer": 95.0}).severity == "caution"


@pytest.mark.parametrize("ask", ASKED, ids=lambda ask: ask.__name__)
def test_a_build_without_a_device_is_told_what_to_add(ask, tmp_path):
    answer = ask(open_build(write_build(tmp_path, whole=False)))
    assert answer.severity == "note"
    assert "[power.source]" in str(answer) or "[heat.bay]" in str(answer)


@pytest.mark.parametrize("ask", ASKED, ids=lambda ask: ask.__name__)
def test_every_answer_is_one_sentence_over_a_figure_or_table(ask, build):
    answer = ask(build)
    assert answer.heading
    assert "<table" in answer.html or "<svg" in answer.html or "<li>" in answer.html
    assert "_" not in answer.heading
    assert "nan" not in str(answer).split()
