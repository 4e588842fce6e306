"""The sprout house: revision A's drive near the pin fails, the long crank passes."""

import copy

import numpy as np
import pytest

from buildplan.build import load_build
from buildplan.demo import demo_folder
from buildplan.device.mechanism import mechanism_of, read_mechanism, study_variant
from buildplan.errors import InputError
from buildplan.findings import worst
from buildplan.part.read import read_part
from buildplan.part.turn import turn_part


@pytest.fixture(scope="module")
def section():
    return load_build(demo_folder()).sections["mechanism"]


@pytest.fixture(scope="module")
def meshes():
    """The roof where it lies in the shut device."""
    build = load_build(demo_folder())
    request = next(part for part in build.parts if part.name == "roof_vent")
    part = read_part(request.path, unit=request.unit, name=request.name, health="quick")
    part = turn_part(part, request.poses[0])
    return {"roof_vent": (part.vertices_mm, part.facets)}


def made(section, meshes):
    tables, faults = read_mechanism(section)
    assert faults == ()
    return mechanism_of(tables, meshes)


@pytest.fixture(scope="module")
def mechanism(section, meshes):
    return made(section, meshes)


@pytest.fixture(scope="module")
def studies(mechanism):
    return {name: study_variant(mechanism, name) for name in mechanism.variants}


def test_the_roof_weighs_what_mesh_and_sheet_weigh(mechanism):
    lid = mechanism.lid
    assert lid.mass_g == pytest.approx(82.7 + 150.0, abs=0.1)
    assert lid.centre_forward_mm == pytest.approx(108.0, abs=0.1)
    assert lid.edge_mm == pytest.approx(220.0, abs=0.1)
    assert mechanism.hinge.down == pytest.approx((0.161132, -0.986933), abs=1e-5)


def test_the_long_crank_passes(studies):
    """Recomputed apart from this library from the same file: 196.5 N mm at 34 degrees, transmission
    54.6 to 89.7, horn 44 and more, sweep 85.4 degrees, rod at most 4.8 N, always pushing."""
    study = studies["long_crank"]
    drive, opening = study.drive, study.opening
    assert opening.peak_frac * study.servo.stall_n_mm == pytest.approx(196.5, rel=0.005)
    assert opening.peak_deg == pytest.approx(34.0, abs=1.0)
    assert opening.peak_frac < 1.0 / study.needs.safety_factor
    assert drive.lid_transmission_deg.min() == pytest.approx(54.6, abs=0.1)
    assert drive.horn_transmission_deg.min() == pytest.approx(44.0, abs=0.1)
    assert opening.sweep_deg == pytest.approx(85.4, abs=0.1)
    assert 0.0 < drive.link_n.min() <= drive.link_n.max() < 4.85
    at = [int(np.abs(drive.angle_deg - angle).argmin()) for angle in (10, 20, 30, 40, 50)]
    assert np.abs(drive.servo_deg[at]) == pytest.approx([18.0, 33.7, 47.3, 59.6, 71.7], abs=0.06)
    assert np.abs(drive.servo_n_mm[at]) == pytest.approx([158, 180, 195, 193, 166], abs=1.5)
    assert worst(study.findings) == "caution"
    cautions = [row.what for row in study.findings if row.severity == "caution"]
    assert cautions == ["The drive locks 8.6 degrees past the travel (horn in line with rod)"]


def test_the_locks_of_the_long_crank(studies):
    locks = {
        lock.kind + (" ahead" if lock.at_deg > 0 else " behind"): lock.at_deg
        for lock in studies["long_crank"].drive.locks
    }
    assert locks == {
        "rod in line with hinge behind": pytest.approx(-34.1, abs=0.1),
        "horn in line with rod ahead": pytest.approx(68.6, abs=0.1),
        "horn in line with rod behind": pytest.approx(-106.6, abs=0.1),
    }


def test_the_first_try_near_the_pin_fails_by_torque_and_by_angle(studies):
    study = studies["near_pin"]
    stops = [row for row in study.findings if row.severity == "stop"]
    assert [row.measured for row in stops] == ["225 % of stall", "20.6 degrees"]
    assert study.opening.stalls
    assert study.drive.link_n.max() == pytest.approx(26.5, abs=0.1)
    whats = " ".join(row.what for row in study.findings)
    assert "The hinge pin carries 25 N" in whats
    assert study.lock is None


def test_the_micro_servo_on_the_hinge_fails_by_torque_alone(studies):
    stops = [row for row in studies["direct"].findings if row.severity == "stop"]
    assert [row.measured for row in stops] == ["151 % of stall"]


def test_the_remedies_of_the_first_try_work(section, meshes):
    """The pin that the finding names keeps the angle; the servo that it names carries the lid."""
    study = study_variant(made(section, meshes), "near_pin")
    angle = next(row for row in study.findings if "lid's lever" in row.what)
    words = angle.remedy.split()
    forward, up = float(words[words.index("forward") - 2]), float(words[words.index("up") - 2])
    changed = copy.deepcopy(section)
    linkage = changed["linkage"]["near_pin"]
    linkage["roof_pin_mm"] = [forward, up]
    del linkage["rod_mm"]
    changed["servo"]["micro"]["stall_n_mm"] = 793.0
    cured = study_variant(made(changed, meshes), "near_pin")
    assert worst(cured.findings) != "stop"
    assert cured.drive.lid_transmission_deg.min() >= 39.9


def test_a_near_variant_locks_inside_the_travel(section, meshes):
    """Pin 28 mm, horn 22 mm, shut at -140 degrees: it locks at 52.7 degrees."""
    changed = copy.deepcopy(section)
    linkage = changed["linkage"]["near_pin"]
    linkage |= {"roof_pin_mm": [28.0, -11.2], "horn_mm": 22.0, "horn_shut_deg": -140.0}
    del linkage["rod_mm"]
    study = study_variant(made(changed, meshes), "near_pin")
    first = study.findings[0]
    assert first.severity == "stop"
    assert first.what.startswith("The drive locks at 52.7 degrees, inside the travel")
    assert "End the travel at 43 degrees" in first.remedy
    assert study.drive.angle_deg[-1] == pytest.approx(52.2, abs=0.1)


def test_a_rod_of_the_wrong_length_is_refused_by_name(section, meshes):
    changed = copy.deepcopy(section)
    changed["linkage"]["long_crank"]["rod_mm"] = 5.0
    with pytest.raises(InputError, match=r"linkage 'long_crank': .* reach only"):
        made(changed, meshes)


def test_every_finding_has_a_number_and_a_source(studies):
    for study in studies.values():
        for row in study.findings:
            assert any(sign.isdigit() for sign in row.what)
            assert row.source
            assert not row.what.endswith(".")
            assert row.remedy.endswith(".")


def test_the_certificate_holds_for_every_drive(studies):
    for study in studies.values():
        peak = np.maximum(np.abs(study.drive.servo_n_mm), np.abs(study.drive.closing_servo_n_mm))
        assert peak.max() >= study.bound.least_n_mm
        assert "any mechanism" in study.certificate
