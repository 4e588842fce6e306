"""The picture of the calendar: names whole and inside, same bytes, colours of the page."""

import re
from dataclasses import replace

import pytest
from calendars import sprout

from buildplan.decide.calendar import bars, draw_luck, simulate
from buildplan.errors import InputError
from buildplan.report import calendar_picture
from buildplan.report.calendar_picture import draw_calendar
from buildplan.report.style import TOKENS


@pytest.fixture(scope="module")
def drawn():
    jobs, steps, windows, printers, order = sprout()
    found = simulate(jobs, steps, windows, printers, order, draws=1000)
    rows = bars(jobs, steps, windows, printers, order, found, draw_luck(jobs, 5))
    return rows, found, windows


def test_the_same_calendar_is_drawn_to_the_same_bytes(drawn):
    first, again = draw_calendar(*drawn), draw_calendar(*drawn)
    assert first.data == again.data
    assert first.data.startswith(b"<?xml")
    assert len(first.data) < 150_000
    assert "half of all outcomes are finished by 2031-03-" in first.alt


@pytest.mark.parametrize("width_mm", [120.0, 180.0, 260.0])
def test_no_name_is_clipped_and_none_covers_another(drawn, width_mm, monkeypatch):
    rows, found, windows = drawn
    long = tuple(replace(b, task=b.task + " with a long name") for b in rows)
    seen = []

    def look(figure, kind, alt, *, dpi):
        renderer = figure.canvas.get_renderer()
        texts = figure.axes[0].texts
        seen.extend((text.get_text(), text.get_window_extent(renderer)) for text in texts)
        width, height = figure.bbox.width, figure.bbox.height
        for name, box in seen:
            assert box.x0 >= -1.0, name
            assert box.x1 <= width + 1.0, name
            assert box.y0 >= -1.0, name
            assert box.y1 <= height + 1.0, name

    monkeypatch.setattr(calendar_picture, "finish", look)
    draw_calendar(long, found, windows, width_mm=width_mm)
    names = {bar.task for bar in long}
    boxes = [box for text, box in seen if text in names]
    assert {text for text, _ in seen} >= names
    for k, box in enumerate(boxes):
        for other in boxes[k + 1 :]:
            wide = min(box.x1, other.x1) - max(box.x0, other.x0)
            high = min(box.y1, other.y1) - max(box.y0, other.y0)
            assert min(wide, high) < 1.5


def test_kinds_differ_by_more_than_colour():
    looks = calendar_picture.LOOKS
    grey = {}
    for kind, (fill, _, hatch) in looks.items():
        code = calendar_picture.ink(fill)
        light = sum(w * int(code[i : i + 2], 16) for w, i in ((0.3, 1), (0.59, 3), (0.11, 5)))
        grey[kind] = (round(light), hatch)
    shown = [grey[kind] for kind, _ in calendar_picture.KEY]
    assert len({pair[1] or pair[0] for pair in shown}) == len(shown)
    assert abs(grey["print"][0] - grey["set-up"][0]) > 50


def test_a_share_is_whole_percent_and_never_rounded_to_certain():
    assert [calendar_picture._percent(x) for x in (0.0, 0.001, 0.5, 0.9999, 1.0)] == [
        "0", "1", "50", "99", "100",
    ]  # fmt: skip


def test_a_calendar_without_bars_is_refused(drawn):
    with pytest.raises(InputError, match="no bars"):
        draw_calendar((), drawn[1], drawn[2])


def test_every_fill_is_a_colour_of_the_page(drawn):
    text = draw_calendar(*drawn).data.decode()
    tokens = {pair[0].lower() for pair in TOKENS.values()}
    found = set(re.findall(r"#[0-9a-f]{6}\b", text.lower()))
    assert found <= tokens | {"#000000"}
