"""The device's tables of a build file: every wrong name is a fault with what is allowed."""

import copy
from dataclasses import replace

import pytest

from buildplan.device.chain.agree import agreement_findings
from buildplan.device.chain.run import study_device
from buildplan.device.chain.shape import DeviceTables, read_device


def groups(build):
    return {request.name: request.moves_with for request in build.parts}


def faults(build, *changes):
    sections = copy.deepcopy(dict(build.sections))
    for path, value in changes:
        here = sections
        for key in path[:-1]:
            here = here[key]
        here[path[-1]] = value
    return [fault.text for fault in read_device(sections, groups(build))[1]]


def test_the_demo_has_no_fault(demo_build):
    assert faults(demo_build) == []


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("device", "linkage"), "long_krank", 'linkage "long_krank" is not known. Allowed: '),
        (("device", "servo_load"), "servo", 'servo_load "servo" is not known'),
        (("device", "move_mode"), "moving", 'move_mode "moving" is not known'),
        (("device", "slides"), [["roof", "hinge_pin"]], 'slides "roof" is not known'),
        (("device", "clear_parts"), ["pane"], 'clear_parts "pane" is not known'),
        (("device", "gap_mm"), 0.0, "gap_mm 0 is out of range. Allowed: 0.001 to 100"),
        (("mechanism", "roof_load", "part"), "roof", 'part "roof" is not known'),
        (("mechanism", "linkage", "long_crank", "rod_mm"), 10.0, "a horn of 42 mm and a rod of 10"),
        (("device", "screw", 3, "not_yet"), ["plate"], 'not_yet "plate" is not known'),
        (("power", "load", 0, "feed"), "to9", "to9"),
    ],
)
def test_a_wrong_name_or_number_is_one_fault(demo_build, path, value, said):
    found = faults(demo_build, (path, value))
    assert len(found) == 1
    assert said in found[0]


def test_a_moving_group_that_nothing_drives_is_a_fault(demo_build):
    parts = groups(demo_build) | {"roof_vent": "flap"}
    _, wrong = read_device(demo_build.sections, parts)
    assert [fault.path for fault in wrong] == [("part", 1, "moves_with")]
    assert 'moves_with "flap" is not known. Allowed: hinge, servo, coupler' in wrong[0].text


def test_without_a_named_servo_the_labels_volts_are_taken_and_it_is_said(demo_build, demo_placed):
    tables = replace(
        demo_build.device,
        views=None,
        heat=None,
        device=replace(demo_build.device.device, servo_load=""),
    )
    still = [one for one in demo_placed if one.group == "hinge"]
    study = study_device(tables, still)
    assert study.servo is None
    assert any("servo_load" in finding.remedy for finding in study.findings)


def test_a_peak_below_the_servos_stall_is_a_caution(demo_build, demo_study):
    power = demo_build.device.power
    loads = tuple(
        replace(one, peak_a=1.0) if one.name == "roof servo" else one for one in power.load
    )
    tables = replace(demo_build.device, power=replace(power, load=loads))
    found = agreement_findings(tables, demo_study.moved, demo_study.servo)
    assert [finding.severity for finding in found] == ["caution"]
    assert "1 A" in found[0].measured


def test_nothing_said_is_nothing_read():
    tables, wrong = read_device({}, {})
    assert wrong == ()
    assert tables == DeviceTables()
