"""Answers on the lid and its drive: torque by the closed form, margins, tables that are missing."""

import math
import re
import tomllib

import pytest
from answer_builds import write_build

from buildplan.build import load_build
from buildplan.errors import BuildFileError
from buildplan.notebook.answers import (
    keep_drive,
    look_at_device,
    open_build,
    show_assembly,
    show_drives,
    show_gaps,
    show_lid,
    show_torque,
    study_of,
)
from buildplan.notebook.answers.answer import Answer
from buildplan.notebook.answers.not_said import no_mechanism

STANDARD_N = 9.80665
LID = """
[device]
linkage = "strong"

[mechanism.hinge]
point_mm = [0.0, 0.0, 60.0]
axis = [-1.0, 0.0, 0.0]
forward = [0.0, -1.0, 0.0]
to_deg = 60.0
friction_n_mm = 0.0

[mechanism.roof_load]
mass_g = 300.0
balance_mm = 120.0
length_mm = 180.0
width_mm = 160.0

[mechanism.linkage.strong]
kind = "direct"
servo = "standard"

[mechanism.linkage.weak]
kind = "direct"
servo = "micro"

[mechanism.servo.standard]
supply_v = 6.0
stall_n_mm = 980.0
no_load_deg_s = 330.0
stall_a = 2.2
moving_a = 0.3

[mechanism.servo.micro]
supply_v = 5.0
stall_n_mm = 176.0
no_load_deg_s = 500.0
stall_a = 0.7
moving_a = 0.2
"""


@pytest.fixture
def lid(tmp_path):
    file = write_build(tmp_path, whole=False)
    file.write_text(file.read_text("utf-8") + LID, "utf-8")
    return open_build(file)


def test_torque_is_that_of_the_weight_at_its_lever(lid):
    """Statics: 0.3 kg, balanced 120 mm from the hinge, asks 0.353 N m when shut."""
    study = study_of(lid)
    built = next(one for one in study.drives if one.name == "strong")
    asked = 0.3 * STANDARD_N * 120.0
    assert math.isclose(abs(built.drive.servo_n_mm[0]), asked, rel_tol=1e-3)
    said = str(show_torque(lid))
    assert f"{100.0 * asked / 980.0:.0f} % of stall" in said
    assert "3.60 kg cm of 10.0 kg cm" in said


def test_margins_are_limit_less_value_and_signs_follow(lid):
    for name, kept in (("strong", True), ("weak", False)):
        keep_drive(lid, name)
        rows = [
            [cell.strip() for cell in line.split("|")]
            for line in str(show_torque(lid)).splitlines()
            if line.count("|") >= 3 and "torque while" in line
        ]
        (row,) = rows
        has, limit, margin = (_number(text) for text in row[-3:])
        assert margin == pytest.approx(limit - has, abs=1.01)
        assert (margin >= 0.0) == kept
    assert show_torque(lid).severity == "caution"


def _number(text):
    return float(re.search(r"[-\u2212+]?\d+(\.\d+)?", text)[0].replace("\u2212", "-"))


def test_drives_are_compared_and_the_built_one_is_marked(lid):
    answer = show_drives(lid)
    assert answer.html.count('class="pick"') == 1
    assert "stalls" in str(answer)
    assert "the only one that does it" in answer.heading


def test_a_drive_is_kept_in_the_build_file(lid):
    first = lid.path.read_bytes()
    assert keep_drive(lid).heading == "The strong is built, as the build file says"
    assert "already" in keep_drive(lid, "strong").heading
    assert lid.path.read_bytes() == first
    with pytest.raises(BuildFileError, match="strong"):
        keep_drive(lid, "stronk")
    assert lid.path.read_bytes() == first
    keep_drive(lid, "weak")
    assert load_build(lid.path).device.device.linkage == "weak"
    assert "stalls" in show_torque(lid).heading


@pytest.mark.parametrize("ask", [show_gaps, look_at_device, show_assembly])
def test_what_the_file_does_not_say_is_named(lid, ask):
    answer = ask(lid)
    assert isinstance(answer, Answer)
    assert answer.severity == "note"
    assert "[[" in str(answer)


ASKED = (
    show_lid, show_drives, show_torque, show_gaps, look_at_device, show_assembly, keep_drive,
)  # fmt: skip


@pytest.mark.parametrize("ask", ASKED)
def test_without_a_lid_every_answer_shows_the_tables_to_add(tmp_path, ask):
    bare = open_build(write_build(tmp_path, whole=False))
    assert "[mechanism.hinge]" in ask(bare).html


def test_the_tables_to_add_make_a_build_that_answers(tmp_path):
    file = write_build(tmp_path, whole=False)
    text = no_mechanism().html.partition("<pre>")[2].partition("</pre>")[0]
    text = text.replace("&#39;", "'").replace("&#34;", '"')
    assert "mechanism" in tomllib.loads(text)
    file.write_text(f"{file.read_text('utf-8')}\n{text}\n", "utf-8")
    said = show_lid(open_build(file))
    assert "moves on paper" in said.heading
    assert "What does it take to turn the lid?" in str(said)
