"""Fit: known largest bodies in a box, the proof that a yes carries, and what a no admits."""

import math

import numpy as np
import pytest
import rows
import solids
from bare_parts import solid_part

from buildplan.checks.fit import check_fit
from buildplan.errors import InputError

BOX = solids.box


def room(x, y, z, *, margin=0.0, **changes):
    return rows.printer(
        width_mm=float(x),
        depth_mm=float(y),
        height_mm=float(z),
        platform_margin_mm=margin,
        **changes,
    )


def placed(part, fit):
    """The part's vertices moved by the matrix of a yes, which must not stretch or mirror them."""
    matrix = np.array(fit.matrix).reshape(4, 4)
    turn = matrix[:3, :3]
    np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(turn) == pytest.approx(1.0)
    np.testing.assert_array_equal(matrix[3], [0, 0, 0, 1])
    return part.vertices_mm @ turn.T + matrix[:3, 3]


def assert_inside(part, fit, printer):
    points = placed(part, fit)
    margin = printer.platform_margin_mm
    assert points[:, 2].min() == pytest.approx(0.0, abs=1e-9)
    assert points[:, 2].max() <= printer.height_mm + 1e-5
    if printer.platform == "round":
        reach = np.hypot(points[:, 0], points[:, 1]).max()
        assert reach <= printer.width_mm / 2 - margin + 1e-5
        return
    assert points[:, :2].min() >= margin - 1e-5
    assert points[:, 0].max() <= printer.width_mm - margin + 1e-5
    assert points[:, 1].max() <= printer.depth_mm - margin + 1e-5


def test_a_part_that_fits_as_it_stands_is_only_moved():
    part = solid_part(BOX(100, 50, 30, (1000.0, 20.0, -7.0)))
    printer = room(220, 200, 250, margin=5.0)
    fit = check_fit(part, printer)
    assert (fit.fits, fit.how, fit.excess_mm, fit.findings) == (True, "as placed", 0.0, ())
    np.testing.assert_allclose(fit.slack_mm, (110.0, 140.0, 220.0))
    points = placed(part, fit)
    np.testing.assert_allclose(points.min(axis=0), (60.0, 75.0, 0.0), atol=1e-9)
    assert_inside(part, fit, printer)


def test_a_part_exactly_as_large_as_the_room_fits():
    fit = check_fit(solid_part(BOX(210, 190, 250, (0.1, 0.2, 0.3))), room(220, 200, 250, margin=5))
    assert fit.how == "as placed"
    np.testing.assert_allclose(fit.slack_mm, 0.0, atol=1e-6)


def test_a_bar_across_the_platform_is_turned_about_z():
    part = solid_part(BOX(280, 20, 20))
    printer = room(220, 220, 250)
    fit = check_fit(part, printer)
    # at 45 degrees the bar needs (280 + 20) / sqrt(2) both ways
    need = 300.0 / math.sqrt(2.0)
    assert fit.how == "turned about z"
    np.testing.assert_allclose(fit.slack_mm, (220 - need, 220 - need, 230.0), atol=1e-6)
    (note,) = fit.findings
    assert note.severity == "note"
    assert "45.0 degrees about z" in note.what
    assert_inside(part, fit, printer)


@pytest.mark.parametrize(("angle", "length"), [(17.0, 215.0), (63.3, 210.0), (101.7, 219.0)])
def test_a_part_askew_in_its_file_is_turned_back(angle, length):
    part = solid_part(BOX(length, 120, 20).rotate((0, 0, angle)))
    printer = room(220, 125, 50)
    fit = check_fit(part, printer)
    assert fit.how == "turned about z"
    assert_inside(part, fit, printer)


def test_the_best_turn_about_z_is_found_to_a_ten_thousandth():
    # a bar L x W turned by t needs L cos t + W sin t along x and L sin t + W cos t along y; in a
    # room of 190 x 120 both overhang alike where (L - W)(cos t - sin t) = 70
    length, width = 200.0, 40.0
    angle = math.acos(70.0 / (length - width) / math.sqrt(2.0)) - math.pi / 4.0
    over = length * math.cos(angle) + width * math.sin(angle) - 190.0
    part = solid_part(BOX(length, width, 60))
    loose = check_fit(part, room(190 + over + 1e-4, 120 + over + 1e-4, 60))
    assert loose.how == "turned about z"
    np.testing.assert_allclose(loose.slack_mm, (1e-4, 1e-4, 0.0), atol=1e-6)
    tight = check_fit(part, room(190 + over - 1e-4, 120 + over - 1e-4, 60))
    assert not tight.fits


@pytest.mark.parametrize(
    ("body", "size", "fits"),
    [
        # largest square in the unit cube: side 3 sqrt(2) / 4 = 1.06066 (Prince Rupert's problem)
        (lambda: BOX(106.0, 106.0, 1e-3), (100, 100, 100), True),
        (lambda: BOX(107.0, 107.0, 1e-3), (100, 100, 100), False),
        (lambda: BOX(105.8, 105.8, 0.15), (100, 100, 100), True),
        # longest rod in the unit cube: its diagonal, sqrt(3) = 1.73205
        (lambda: BOX(172.0, 0.5, 0.5), (100, 100, 100), True),
        (lambda: BOX(174.0, 0.5, 0.5), (100, 100, 100), False),
        # largest disc in the unit cube: diameter sqrt(3/2) = 1.22474, across the body diagonal
        (lambda: solids.tube(61.0, 1.0, 0.01, 256), (100, 100, 100), True),
        (lambda: solids.tube(61.6, 1.0, 0.01, 256), (100, 100, 100), False),
        # the diagonal of 220 x 220 x 250 mm is 399 mm
        (lambda: BOX(300, 20, 20), (220, 220, 250), True),
        (lambda: BOX(380, 10, 10), (220, 220, 250), True),
        (lambda: BOX(400, 1, 1), (220, 220, 250), False),
    ],
)
def test_known_largest_bodies_are_told_from_those_just_too_large(body, size, fits):
    part, printer = solid_part(body()), room(*size)
    fit = check_fit(part, printer)
    assert fit.fits == fits
    if fits:
        assert fit.how == "any rotation"
        assert fit.excess_mm == 0.0
        assert fit.findings[0].severity == "note"
        assert "estimate it anew" in fit.findings[0].remedy
        assert_inside(part, fit, printer)
    else:
        assert fit.matrix == ()
        assert fit.excess_mm > 0
        assert fit.excess_mm == pytest.approx(-min(fit.slack_mm))


def test_a_part_laid_on_its_side_lies_exactly_square():
    part, printer = solid_part(BOX(100, 100, 200)), room(210, 110, 110)
    fit = check_fit(part, printer)
    assert fit.how == "any rotation"
    assert "laid over by" in fit.findings[0].what
    assert_inside(part, fit, printer)


def least_overhang(width_of, size):
    """Least overhang of a body of revolution, from its width across a direction.

    ``width_of`` takes the cosine between its axis and the direction; all directions of the axis
    in one eighth of the sphere are scanned.
    """
    turn, lean = np.meshgrid(np.linspace(0, np.pi / 2, 801), np.linspace(0, np.pi / 2, 801))
    axis = np.stack([np.sin(lean) * np.cos(turn), np.sin(lean) * np.sin(turn), np.cos(lean)])
    return (width_of(axis) - np.reshape(size, (3, 1, 1))).max(axis=0).min()


def half_ball(radius):
    ball = solids.sphere(radius, 256)
    return ball - BOX(2 * radius, 2 * radius, radius, (-radius, -radius, radius))


@pytest.mark.parametrize("size", [(220, 220, 250), (240, 200, 260)])
@pytest.mark.parametrize(
    ("body", "width_of"),
    [
        # cylinder: h c + D sqrt(1 - c^2)
        (
            lambda: solids.Manifold.cylinder(120.0, 140.0, 140.0, 720),
            lambda c: 120.0 * c + 280.0 * np.sqrt(np.maximum(0.0, 1.0 - c * c)),
        ),
        # half a ball: R (1 + sqrt(1 - c^2)); in 220 x 220 x 250 this overhangs by 23.4 mm
        (lambda: half_ball(140.0), lambda c: 140.0 * (1.0 + np.sqrt(np.maximum(0.0, 1.0 - c * c)))),
    ],
    ids=["cylinder", "half ball"],
)
def test_the_least_overhang_agrees_with_a_scan_of_the_closed_form(body, width_of, size):
    least = least_overhang(width_of, size)
    fit = check_fit(solid_part(body()), room(*size))
    assert fit.how == "not found"
    assert fit.excess_mm == pytest.approx(least, abs=0.1)


def test_the_half_ball_of_280_lacks_23_mm_in_the_small_build_volume():
    fit = check_fit(solid_part(half_ball(140.0)), room(220, 220, 250))
    assert fit.excess_mm == pytest.approx(23.4, abs=0.1)


def test_a_no_says_by_how_much_and_that_it_is_no_proof():
    part = solid_part(solids.tub(segments=320), name="tub")
    fit = check_fit(part, room(220, 220, 250, name="small printer"))
    assert not fit.fits
    (stop,) = fit.findings
    assert stop.severity == "stop"
    assert f"overhangs by {fit.excess_mm:.1f} mm" in stop.what
    assert "280.0 x 280.0 x 120.0 mm as placed" in stop.measured
    assert stop.required == "at most 220 x 220 x 250 mm"
    assert "no proof" in stop.remedy
    assert "segments" in stop.remedy
    assert check_fit(part, room(300, 300, 150)).how == "as placed"


def test_margins_are_taken_off_all_sides_of_the_platform_but_not_off_the_height():
    part = solid_part(BOX(212, 100, 250))
    assert check_fit(part, room(220, 220, 250, margin=4.0)).how == "as placed"
    fit = check_fit(part, room(220, 220, 250, margin=6.0))
    assert fit.how != "as placed"
    assert "6 mm of margin" in fit.findings[0].required


def test_a_margin_that_leaves_no_room_is_refused():
    with pytest.raises(InputError, match="no room left"):
        check_fit(solid_part(BOX(1, 1, 1)), room(220, 220, 250, margin=110.0))


def test_a_square_fits_a_round_platform_up_to_its_diagonal():
    for side, how in ((141.4, "as placed"), (141.5, "not found")):
        printer = room(200, 200, 100, platform="round")
        part = solid_part(BOX(side, side, 95.0, (30.0, 0.0, 0.0)))
        fit = check_fit(part, printer)
        assert fit.how == how
        if fit.fits:
            slack = 200.0 - side * math.sqrt(2.0)
            np.testing.assert_allclose(fit.slack_mm, (slack, slack, 5.0), atol=1e-6)
            assert_inside(part, fit, printer)


def test_a_three_cornered_part_uses_its_least_circle_not_its_box():
    # the box of an equilateral triangle is centred off its circle: R = side / sqrt(3)
    side = 170.0
    body = solids.Manifold.cylinder(20.0, side / math.sqrt(3.0), side / math.sqrt(3.0), 3)
    part = solid_part(body)
    printer = room(200, 200, 100, platform="round", margin=1.0)
    fit = check_fit(part, printer)
    assert fit.how == "as placed"
    assert fit.slack_mm[0] == pytest.approx(198.0 - 2.0 * side / math.sqrt(3.0), abs=1e-6)
    assert_inside(part, fit, printer)


def test_a_long_bar_stands_up_in_a_round_printer():
    part = solid_part(BOX(300, 20, 20))
    printer = room(200, 200, 330, platform="round")
    fit = check_fit(part, printer)
    assert fit.how == "any rotation"
    assert_inside(part, fit, printer)
    assert "across" in fit.findings[0].required


def test_vat_printers_are_checked_the_same_way():
    part = solid_part(BOX(150, 60, 100))
    fit = check_fit(part, rows.vat_printer())
    assert fit.fits
    assert fit.how == "any rotation"


def test_the_same_part_gives_the_same_answer_to_the_last_bit():
    part, printer = solid_part(solids.tub(segments=96)), room(220, 220, 250)
    assert check_fit(part, printer) == check_fit(part, printer)


def test_a_rotated_copy_of_a_part_overhangs_as_much():
    printer = room(100, 100, 100)
    excess = [
        check_fit(solid_part(BOX(130, 60, 40).rotate(turn)), printer).excess_mm
        for turn in ((0, 0, 0), (20, 0, 0), (35, 70, 10))
    ]
    np.testing.assert_allclose(excess, excess[0], atol=1e-3)


def test_many_vertices_inside_the_outline_change_nothing():
    coarse = BOX(172, 0.5, 0.5)
    fine = coarse.refine(40)
    printer = room(100, 100, 100)
    a, b = check_fit(solid_part(coarse), printer), check_fit(solid_part(fine), printer)
    assert len(solids.arrays(fine)[0]) > 5000
    assert a.fits
    assert b.fits
    np.testing.assert_allclose(a.slack_mm, b.slack_mm, atol=0.05)
