"""Numbers, colours and signs as people see them."""

import pytest

from buildplan.report import numbers, style


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(78.5, 0, "79"), (1068.4, 0, "1\u202f068"), (-0.42, 2, "\u22120.42"), (-0.001, 1, "0.0")],
)
def test_numbers_round_half_up_with_true_minus_and_narrow_spaces(value, digits, text):
    assert numbers.num(value, digits) == text


def test_hours_turn_to_minutes_below_ninety():
    assert numbers.plain(numbers.hours(0.7)) == "42 min"
    assert numbers.plain(numbers.hours(22.84)) == "22.8 h"


def test_a_number_never_parts_from_its_unit():
    page = "<style>a{}</style><p>41 g of 1 kg, EUR 12.90, 1 time in 20 over 46 h</p>"
    bound = numbers.bind_units(page)
    assert "41\u00a0g" in bound
    assert "EUR\u00a012.90" in bound
    assert "in\u00a020" in bound
    assert "46\u00a0h" in bound


@pytest.mark.parametrize("theme", [0, 1])
@pytest.mark.parametrize("name", style.TEXT_COLOURS)
def test_text_colours_reach_wcag_contrast_on_every_ground(name, theme):
    """WCAG 2.2, 1.4.3 asks for at least 4.5 for text."""
    grounds = ("paper", "tint") if name == "blue" else ("paper", "tint", "pick")
    for ground in grounds:  # blue words never stand on the chosen row
        ratio = style.contrast_frac(style.TOKENS[name][theme], style.TOKENS[ground][theme])
        assert ratio >= 4.5, (name, ground, ratio)


def test_contrast_of_black_on_white_is_21():
    """WCAG 2.2, definition of contrast ratio: 21:1 is the greatest."""
    assert style.contrast_frac("#000000", "#ffffff") == pytest.approx(21.0)


def test_severity_signs_differ_in_shape_not_only_in_colour():
    shapes = {style.sign(s).split("<", 2)[2][:20] for s in ("stop", "caution", "note", None)}
    assert len(shapes) == 4
