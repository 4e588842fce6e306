"""The checks on the terminal: narrow and wide, grave findings in full, notes in a line each."""

import io

import pytest

from buildplan.report.part_text import print_part
from buildplan.report.plan_text import print_plan
from buildplan.report.terminal import console


def said(width, printing, *things):
    out = io.StringIO()
    printing(console(out, width), *things)
    return out.getvalue()


@pytest.mark.parametrize("width", [80, 120])
def test_no_line_is_wider_than_the_terminal(troubled, rod, width):
    for text in (said(width, print_plan, troubled), said(width, print_part, rod, "EUR")):
        assert max(map(len, text.splitlines())) <= width


def test_stops_and_cautions_are_said_in_full_and_notes_of_a_check_in_one_line(rod):
    text = said(120, print_part, rod, "EUR")
    assert "Near the middle: 1 mm; required: at least 2 mm." in text
    assert text.count("■ stop     ") == 2
    assert "Overhangs: a bridge of 4 mm; 2 more notes of this kind" in text
    assert "a bridge of 5 mm" not in text
    assert "Holes: 2 holes print about 0.2 mm narrower than drawn" in text
    assert "○ note     Ways up: better turned" in text
    assert "far better" not in text


def test_a_plan_has_its_build_cycles_and_the_ways_up_in_one_line(plan, troubled):
    wide, narrow = said(120, print_plan, plan), said(80, print_plan, plan)
    for text in (wide, narrow):
        assert "north bench 1" in text
        assert "✓ ok  All parts lie well as placed." in text
    assert "lost at a failure, mean" in wide
    assert "○ note  Turn the push rod: 12 min less" in said(120, print_plan, troubled)
