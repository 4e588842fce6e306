"""Two revisions side by side: what is printed anew, bought more, and found by the checks."""

from dataclasses import replace
from decimal import Decimal

import pytest

from buildplan.bill import LineRow, PartRow, Revision, compare_revisions, revision_mark
from buildplan.errors import InputError

SHELL = PartRow(
    name="shell",
    mesh="aa",
    quantity=1,
    how="south bench, PETG, house",
    time_h=22.2,
    mass_g=510.0,
    cost=Decimal("14.80"),
)
LID = replace(SHELL, name="lid", mesh="bb", time_h=2.0, mass_g=60.0, cost=Decimal("2.10"))
SCREWS = LineRow(item="screw M3 x 8", packs=1, cost=Decimal("4.20"))
OLD = Revision(
    name="house A", parts=(SHELL, LID), lines=(SCREWS,), checks={"shell": "stop: bosses"}
)


def test_nothing_changed_is_nothing():
    found = compare_revisions(OLD, replace(OLD, name="house B"))
    assert found.same
    assert found.parts == found.lines == found.checks == ()
    assert found.reprint_h == 0.0


def test_the_same_mesh_under_another_name_is_no_change():
    found = compare_revisions(OLD, replace(OLD, parts=(SHELL, replace(LID, name="roof"))))
    assert [(change.kind, change.name, change.was) for change in found.parts] == [
        ("renamed", "roof", "lid")
    ]
    assert found.same
    assert found.reprint_h == found.time_h == 0.0


def test_a_new_mesh_is_printed_anew_and_only_it():
    taller = replace(LID, mesh="cc", time_h=3.1, mass_g=80.0, cost=Decimal("2.90"))
    found = compare_revisions(OLD, replace(OLD, parts=(SHELL, taller)))
    (change,) = found.parts
    assert (change.name, change.differs) == ("lid", ("mesh",))
    assert found.reprint_h == 3.1
    assert found.time_h == pytest.approx(1.1)


def test_another_number_of_copies_is_not_printed_anew():
    found = compare_revisions(
        OLD, replace(OLD, parts=(SHELL, replace(LID, quantity=2, time_h=4.0)))
    )
    assert found.parts[0].differs == ("quantity",)
    assert found.reprint_h == 0.0


def test_rows_add_up_to_the_differences_of_the_totals():
    glue = LineRow(item="glue", packs=1, cost=Decimal("5.00"))
    new = Revision(
        name="house B",
        parts=(replace(SHELL, how="in two pieces", time_h=24.7, cost=Decimal("16.00")),),
        lines=(replace(SCREWS, packs=2, cost=Decimal("8.40")), glue),
        checks={},
    )
    found = compare_revisions(OLD, new)
    assert sum(change.time_h for change in found.parts) == pytest.approx(found.time_h)
    assert sum(change.mass_g for change in found.parts) == pytest.approx(found.mass_g)
    assert sum(change.cost for change in found.lines) == found.lines_cost == Decimal("9.20")
    assert {change.kind for change in found.parts} == {"changed", "removed"}
    assert [(row.name, row.before, row.after) for row in found.checks] == [
        ("shell", "stop: bosses", "")
    ]


def test_a_name_that_stands_twice_is_refused():
    with pytest.raises(InputError, match="'lid' stands there twice"):
        compare_revisions(OLD, replace(OLD, parts=(LID, LID)))


def test_a_mark_is_short_steady_and_made_of_plain_letters():
    mark = revision_mark(["aa", "bb"])
    assert mark == revision_mark(["aa", "bb"]) != revision_mark(["aa", "bc"])
    assert len(mark) == 4
    assert not set(mark) & set("IO01")
    with pytest.raises(InputError, match="a mark of 1 letters"):
        revision_mark(["aa"], letters=1)
