"""The build file's mechanism tables: read, refused by name, and turned into the calculation."""

import tomllib

import pytest

from buildplan.device.mechanism import mechanism_of, read_mechanism, study_variant
from buildplan.errors import InputError

TEXT = """
[hinge]
point_mm = [0.0, 0.0, 0.0]
axis = [0.0, -1.0, 0.0]
forward = [1.0, 0.0, 0.0]
to_deg = 60.0
friction_n_mm = 5.0

[roof_load]
mass_g = 300.0
balance_mm = 90.0
length_mm = 180.0
width_mm = 150.0

[linkage.pull]
kind = "cable"
servo = "big"
roof_pin_mm = [100.0, 0.0]
guide_mm = [-10.0, 30.0]
drum_mm = 12.0

[linkage.shaft]
kind = "direct"
servo = "big"

[servo.big]
supply_v = 6.0
stall_n_mm = 1000.0
no_load_deg_s = 300.0
stall_a = 2.0
moving_a = 0.3

[spring]
shut_n_mm = 100.0
rate_n_mm_deg = 1.0
"""


def tables(text=TEXT):
    return read_mechanism(tomllib.loads(text))


def said(old, new):
    found, faults = tables(TEXT.replace(old, new, 1))
    assert found is None
    return " | ".join(f"{'.'.join(map(str, fault.path))}: {fault.text}" for fault in faults)


def test_scale_and_ruler_are_enough():
    found, faults = tables()
    assert faults == ()
    mechanism = mechanism_of(found, {})
    assert mechanism.lid.mass_g == 300.0
    assert mechanism.lid.face_mm2 == 27_000.0
    assert mechanism.hinge.down == (0.0, -1.0)
    assert mechanism.spring.shut_n_mm == 100.0
    assert list(mechanism.variants) == ["pull", "shaft"]
    study = study_variant(mechanism, "shaft")
    weight = 0.3 * 9.80665 * 90.0
    assert study.drive.servo_n_mm[0] == pytest.approx(weight - 100.0 + 5.0)


def test_a_sheet_is_added():
    found, _ = tables(TEXT.replace("width_mm = 150.0", "width_mm = 150.0\nsheet_mass_g = 50.0"))
    assert mechanism_of(found, {}).lid.mass_g == 350.0


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("drum_mm", "drumm_mm", "Did you mean drum_mm?"),
        ('kind = "direct"', 'kind = "gear"', 'kind "gear" is not known. Allowed: rod, cable'),
        ('kind = "direct"', "", "the key kind is missing"),
        ('kind = "direct"\nservo = "big"', 'kind = "direct"\nservo = "bog"', "Did you mean big?"),
        ("mass_g = 300.0", "", "without part, mass_g must be given"),
        ("mass_g = 300.0", 'part = "roof"', "needs density_g_cm3 or mass_g, found neither"),
        ("[hinge]", "[hing]", "the table [mechanism.hinge] is missing"),
        ("to_deg = 60.0", "to_deg = 600.0", "to_deg 600 is out of range. Allowed: -360 to 360"),
        ("stall_n_mm = 1000.0", "stall_n_mm = -5.0", "stall_n_mm -5 is out of range"),
        ("point_mm = [0.0, 0.0, 0.0]", "point_mm = [0.0, 0.0]", "must hold 3 values, found 2"),
        ("[servo.big]", "[servos.big]", "no [mechanism.servo.NAME] is there"),
        ("[spring]\nshut_n_mm = 100.0\nrate", "[spring]\nrate", "the key shut_n_mm is missing"),
    ],
)
def test_what_is_wrong_is_named(old, new, expected):
    assert expected in said(old, new)


def test_tables_that_are_none_are_refused():
    found, faults = read_mechanism({"hinge": 3, "roof_load": [], "linkage": {"a": 1}, "servo": 2})
    assert found is None
    text = " | ".join(fault.text for fault in faults)
    for words in ("hinge must be a table", "roof_load must be a table", "a must be a table"):
        assert words in text


def test_a_part_without_mesh_and_a_drive_without_name_are_refused():
    found, _ = tables(TEXT.replace("balance_mm", 'part = "roof"\nbalance_mm'))
    with pytest.raises(InputError, match="part 'roof' has no mesh here; allowed: none"):
        mechanism_of(found, {})
    whole, _ = tables()
    with pytest.raises(InputError, match="linkage 'rod' is not known; allowed: pull, shaft"):
        study_variant(mechanism_of(whole, {}), "rod")
