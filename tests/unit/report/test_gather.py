"""Findings as readers take them in: grave ones alone, notes by check, holes by size."""

import pytest

from buildplan.report.gather import hole_sizes, holes_line, note_line, tell, written


def test_every_stop_and_caution_is_told_alone_and_notes_of_one_check_together(rod):
    told = tell(rod)
    assert [one.severity for one in told[:4]] == ["stop", "stop", "caution", "caution"]
    assert all(len(one.marks) == 1 for one in told[:4])
    bridges = next(one for one in told if one.check == "overhangs")
    assert len(bridges.marks) == 3
    assert note_line(bridges) == "a bridge of 4 mm; 2 more notes of this kind"


def test_nothing_that_was_found_is_lost(troubled):
    for item in troubled.parts:
        told = sum(len(one.marks) for one in tell(item))
        holes = [f for f in item.findings if f.check == "holes" and f.severity == "note"]
        assert told + len(holes) == len(item.findings)
        sizes = hole_sizes(item)
        assert sum(size.count for size in sizes) == len(item.checks.gaps.holes)
        assert bool(sizes) == bool(holes_line(sizes))


def test_holes_are_told_in_one_line_with_how_much_narrower_they_print(plan):
    arm = next(item for item in plan.parts if item.name == "camera_arm")
    sizes = hole_sizes(arm)
    assert [(round(s.drawn_mm, 1), s.count, s.upright) for s in sizes] == [
        (1.6, 4, False),
        (3.4, 2, False),
        (4.0, 3, True),
    ]
    assert sizes[0].about == "camera tray"
    said = holes_line(sizes)
    assert said == "9 holes of 3 kinds print about 0.2 to 0.3 mm narrower than drawn"


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        ("4073 mm2 in plan, 0.3 cm3", "4073 mm² in plan, 0.3 cm³"),
        ("from 80 C down to 45 C", "from 80 °C down to 45 °C"),
        ("push_rod and push_rods", "push rod and push_rods"),
    ],
)
def test_units_and_names_are_written_as_people_do(raw, said):
    assert written(raw, ["push_rod"]) == said
