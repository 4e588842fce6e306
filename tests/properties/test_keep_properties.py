"""Any text, number or list kept in a build file reads back, and nothing else changes."""

import math
import tomllib

import numpy as np
from build_files import SOUND, lay_out
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buildplan.build import load_build
from buildplan.build.keep import keep_orientation, keep_value

PRINTED = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=30)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(2**63), 2**63 - 1)
VALUES = st.recursive(PRINTED | NUMBERS | st.booleans(), lambda x: st.lists(x, max_size=4))
ANGLES = st.floats(-math.pi, math.pi)
QUICK = settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))


@QUICK
@given(value=VALUES)
def test_any_value_reads_back_and_nothing_else_changes(tmp_path, value):
    file = lay_out(tmp_path / "gate")
    keep_value(file, ("device",), "note", value)
    wanted = tomllib.loads(SOUND)
    wanted["device"]["note"] = value
    assert tomllib.loads(file.read_text("utf-8")) == wanted


@QUICK
@given(a=ANGLES, b=ANGLES, c=ANGLES)
def test_any_rotation_reads_back_to_the_last_digit(tmp_path, a, b, c):
    turn = np.eye(4)
    for axis, angle in ((0, a), (1, b), (2, c)):
        i, j = [k for k in range(3) if k != axis]
        step = np.eye(4)
        step[i, i] = step[j, j] = math.cos(angle)
        step[i, j], step[j, i] = -math.sin(angle), math.sin(angle)
        turn = turn @ step
    matrix = tuple(turn.ravel().tolist())
    file = lay_out(tmp_path / "gate")
    keep_orientation(file, "roof vent", matrix)
    assert load_build(file).parts[0].orientation == matrix
