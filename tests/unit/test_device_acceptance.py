"""First power and heat soak of the finished device against what was computed."""

import math

import pytest
from typer.testing import CliRunner

from buildplan.build import load_build
from buildplan.cli import app
from buildplan.demo import demo_folder
from buildplan.errors import InputError
from buildplan.plan import accept_amps, accept_soak, study_build_device

DEMO = demo_folder() / "build.toml"


@pytest.fixture(scope="module")
def study():
    return study_build_device(load_build(DEMO))


def test_currents_as_computed_are_within_and_others_say_why(study):
    case = next(case for case in study.power.cases if case.kind == "mode")
    (same,) = accept_amps(study, {case.name: case.source_a})
    assert same.verdict == "within"
    (more,) = accept_amps(study, {case.name: 1.5 * case.source_a})
    assert more.verdict == "look"
    assert "draws more" in more.cause
    (less,) = accept_amps(study, {case.name: 0.5 * case.source_a})
    assert "not on yet" in less.cause


def test_a_soak_is_compared_by_its_rise_over_the_room(study):
    node = next(node for node in study.heat.nodes if not math.isnan(node.limit_c))
    rise = node.temp_c - study.heat.ambient_c
    (same,) = accept_soak(study, {node.name: 20.0 + rise}, 20.0)
    assert same.verdict == "within"
    assert same.expected == pytest.approx(20.0 + rise)
    (hot,) = accept_soak(study, {node.name: 20.0 + 4.0 * rise + 60.0}, 20.0)
    assert "do not leave it running" in hot.cause
    (cool,) = accept_soak(study, {node.name: 20.0}, 20.0)
    assert "not run long enough" in cool.cause


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda s: accept_amps(s, {"dreaming": 1.0}), 'mode "dreaming" is not known'),
        (lambda s: accept_amps(s, {s.power.cases[0].name: -1.0}), "0 or more"),
        (lambda s: accept_soak(s, {"moon": 40.0}, 20.0), 'place "moon" is not known'),
        (lambda s: accept_soak(s, {s.heat.nodes[0].name: 10.0}, 20.0), "colder than the room"),
    ],
)
def test_what_cannot_be_compared_is_refused(study, call, said):
    with pytest.raises(InputError, match=said):
        call(study)


@pytest.mark.slow
def test_the_command_tells_it(study):
    case = next(case for case in study.power.cases if case.kind == "mode")
    words = ["device", str(DEMO), "--amps", f"{case.name}=9.5", "--soak", "air=23", "--room", "22"]
    told = " ".join(CliRunner().invoke(app, words).output.split())
    assert f"{case.name}, current: 9.50 A, computed" in told
    bad = CliRunner().invoke(app, ["device", str(DEMO), "--amps", "much"])
    assert "NAME=NUMBER" in str(bad.exception)
