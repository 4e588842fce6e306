"""Screw lengths: enough thread, the next standard length, never into the floor of a hole."""

import pytest

from buildplan.bill.derived import Grip, choose_screw, lengths_named, screw_name
from buildplan.errors import InputError
from buildplan.tables import screws


def chosen(screw, stack_mm, **more):
    row = screws()[screw]
    at_hand_mm = more.pop("at_hand_mm", ())
    grip = Grip(screw=screw, stack_mm=stack_mm, **more)
    return choose_screw(grip, thread_mm=row.thread_mm, pitch_mm=row.pitch_mm, at_hand_mm=at_hand_mm)


def test_where_no_length_holds_none_is_named():
    found = chosen("M3", 3.0, thread_mm=5.7, room_mm=2.0)
    assert not found.serves
    assert found.length_mm == 0.0


def test_a_bolt_stands_out_of_its_nut_by_a_pitch():
    found = chosen("M3", 9.2, into="nut")  # 9.2 + 2.4 + 0.5 = 12.1
    assert found.length_mm == 16.0
    assert chosen("M3", 9.1, into="nut").length_mm == 12.0


def test_lengths_are_read_from_the_names_of_a_shopping_list():
    found = lengths_named(["screws M3x8", "M3 x 12, pan head", "pan M2.5 x 6", "servo"])
    assert found == {"M3": (8.0, 12.0), "M2.5": (6.0,)}
    assert screw_name("M2.5", 6.0) == "screw M2.5 x 6"


@pytest.mark.parametrize(("screw", "stack_mm"), [("M7", 3.0), ("M3", -1.0)])
def test_what_cannot_be_is_refused(screw, stack_mm):
    with pytest.raises(InputError, match=screw):
        choose_screw(Grip(screw=screw, stack_mm=stack_mm), thread_mm=3.0, pitch_mm=0.5)
