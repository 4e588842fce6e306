"""Records from data: strict types, tuples, nested records, limits, control characters."""

from dataclasses import dataclass
from typing import Annotated, Literal

import pytest

from buildplan.tables.limits import Within
from buildplan.tables.strict import content_faults, read_record
from buildplan.tables.wording import near_name, not_known, show


@dataclass(frozen=True, slots=True, kw_only=True)
class Inner:
    name: str
    box_mm: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outer:
    count: Annotated[int, Within(1, 9)] = 1
    shares: tuple[Annotated[float, Within(0.0, 1.0)], ...] = ()
    kind: Literal["a", "b"] | None = None
    inner: tuple[Inner, ...] = ()
    anything: object = 3
    notes: tuple[str, ...] = ()
    one: Inner | None = None


def texts(**data):
    record, faults = read_record(Outer, data)
    assert record is None
    return [fault.text for fault in faults]


def test_a_record_is_made_with_tuples_for_lists():
    data = {"inner": [{"name": "x", "box_mm": [1, 2, 3]}], "shares": [0, 1], "kind": "a"}
    record, faults = read_record(Outer, data)
    assert faults == ()
    assert record == Outer(
        inner=(Inner(name="x", box_mm=(1.0, 2.0, 3.0)),), shares=(0.0, 1.0), kind="a"
    )
    assert [type(x) for x in record.inner[0].box_mm] == [float] * 3
    assert data["shares"] == [0, 1]


def test_a_record_that_may_be_left_out_is_made_too():
    record, faults = read_record(Outer, {"one": {"name": "x", "box_mm": [1, 2, 3]}})
    assert faults == ()
    assert record.one == Inner(name="x", box_mm=(1.0, 2.0, 3.0))
    assert read_record(Outer, {})[0].one is None
    assert texts(one={"name": "x", "box_mm": [1, 2]})


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"count": 0}, "count 0 is out of range. Allowed: 1 to 9"),
        ({"count": 1.0}, "count must be a whole number, found 1"),
        ({"count": 10**400}, "count "),
        ({"shares": [0.5, 2]}, "shares (number 2) 2 is out of range. Allowed: 0 to 1"),
        ({"shares": 0.5}, "shares must be a list in square brackets, found 0.5"),
        ({"shares": [10**400]}, "shares (number 1)"),
        ({"kind": "c"}, 'kind "c" is not known. Allowed: a, b.'),
        ({"inner": [{"name": "x", "box_mm": [1, 2]}]}, "box_mm must hold 3 values, found 2"),
        ({"inner": [{"name": "x", "box_mm": [1] * 4}]}, "box_mm must hold 3 values, found 4"),
        ({"inner": [3]}, "inner (number 1) must be a table, found 3"),
        ({"inner": [{}]}, "the keys name, box_mm are missing"),
        ({"inner": {}}, "inner must be a list in square brackets, found a table"),
        ({"anything": {"a": [float("nan")]}}, "a (number 1) nan is not finite"),
        ({"notes": ["a\x1b[2J"]}, "notes (number 1) holds the control character 0x1b"),
    ],
)
def test_a_wrong_value_is_told_with_what_is_allowed(data, said):
    assert any(text.startswith(said) for text in texts(**data)), texts(**data)


def test_line_ends_and_tabs_are_plain_text():
    assert content_faults({"a": ["one\n\ttwo"]}, ()) == ()


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (True, "true"),
        (1.50, "1.5"),
        ("a\n b", '"a b"'),
        ("x" * 100, '"' + "x" * 57 + '..."'),
        ([1, 2], "a list of 2"),
        ({}, "a table"),
        (10**80, "1" + "0" * 56 + "..."),
    ],
)
def test_a_value_is_shown_in_one_short_line(value, said):
    assert show(value) == said


def test_the_near_name_forgives_case_and_swapped_letters_but_not_everything():
    assert near_name("pteg", ["PLA", "PETG"]) == "PETG"
    assert near_name("moving bed", ["mid_vat", "small_moving_bed"]) == "small_moving_bed"
    assert near_name("xyz", ["PLA", "PETG"]) == ""
    assert not_known("unit", 3, ["mm"]) == "unit 3 is not known. Allowed: mm."
    assert not_known("unit", "m", []) == 'unit "m" is not known. Allowed: none is defined.'
