"""Ladder coupons: steps as asked, notches that count, results that become the user's own fits."""

import math
from dataclasses import replace

import pytest

import buildplan as bp
from buildplan.errors import InputError
from buildplan.segments.ladder import clearance_ladder, fits_from_ladder, wall_ladder
from buildplan.segments.solid import solid_of
from buildplan.tables import fits


def hole_areas(bar):
    """Areas of the holes of a section, from left to right."""
    rings = solid_of(bar).slice(4.0).to_polygons()
    found = []
    for ring in rings:
        area = 0.5 * sum(
            a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)
        )
        if area < 0.0:
            found.append((min(p[0] for p in ring), -area))
    return [area for _, area in sorted(found)]


def test_every_hole_is_wider_than_the_pin_by_its_step():
    ladder = clearance_ladder(pin_mm=6.0)
    areas = hole_areas(ladder.parts[0])
    polygon = 96 / math.pi * math.sin(math.pi / 96) * math.cos(math.pi / 96)
    expected = [polygon * math.pi * (3.0 + step) ** 2 for step in ladder.rungs_mm]
    assert areas == pytest.approx(expected, rel=1e-6)


def test_bar_and_pin_are_whole_and_stand_apart():
    bar, pin = clearance_ladder().parts
    for part in (bar, pin):
        assert part.closed
        assert part.shells == 1
        assert part.vertices_mm[:, 2].min() == 0.0
    assert solid_of(bar).min_gap(solid_of(pin), 50.0) > 2.0


@pytest.mark.parametrize("rungs", [1, 4, 5, 8, 12])
def test_notches_count_the_rungs_a_wide_one_as_five(rungs):
    ladder = clearance_ladder(clearances_mm=[0.05 * i for i in range(rungs)])
    bar = ladder.parts[0]
    front = solid_of(bar).trim_by_plane((0.0, -1.0, 0.0), -0.5)
    pieces = len(front.slice(4.0).to_polygons())
    notches = sum(sum(divmod(count, 5)) for count in range(1, rungs + 1))
    assert pieces == notches + 1


def test_walls_are_so_many_beads_of_the_recipe():
    recipe = replace(bp.recipe("everyday"), bead_mm=0.6)
    ladder = wall_ladder(recipe, walls_beads=(1.0, 2.0, 3.0), length_mm=20.0)
    assert ladder.rungs_mm == pytest.approx((0.6, 1.2, 1.8))
    section = solid_of(ladder.parts[0]).slice(8.0)
    widths = sorted(piece.area() / 20.0 for piece in section.decompose())
    assert widths == pytest.approx([0.6, 1.2, 1.8], rel=1e-6)


def test_what_was_measured_becomes_rows_of_the_same_kind_as_the_table():
    ladder = clearance_ladder()
    rows = fits_from_ladder(ladder, press=2, sliding=4, free=7)
    assert [row.key for row in rows] == list(fits())
    assert [row.clearance_mm for row in rows] == [0.05, 0.15, 0.3]


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ({"press": 0, "sliding": 3, "free": 5}, "holes 1 to 8"),
        ({"press": 2, "sliding": 3, "free": 9}, "holes 1 to 8"),
        ({"press": 4, "sliding": 3, "free": 5}, "looser fit"),
    ],
)
def test_impossible_counts_are_refused(counts, said):
    with pytest.raises(InputError, match=said):
        fits_from_ladder(clearance_ladder(), **counts)


@pytest.mark.parametrize("steps", [(), (0.2, 0.1), (-0.1, 0.1), tuple(0.1 * i for i in range(13))])
def test_steps_that_do_not_rise_are_refused(steps):
    with pytest.raises(InputError, match="each larger than the one before"):
        clearance_ladder(clearances_mm=steps)


def test_a_ladder_prints_in_well_under_an_hour():
    printing = bp.printer("small_moving_bed"), bp.feedstock("pla"), bp.recipe("everyday")
    for ladder in (clearance_ladder(), wall_ladder(bp.recipe("everyday"))):
        assert sum(bp.estimate_print(part, *printing).time_h for part in ladder.parts) < 1.0
