"""Scale bar and colour bar of a drawn picture."""

import math
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from buildplan.notebook.viewer.colours import COLOURS
from buildplan.notebook.viewer.model import Values
from buildplan.report import numbers
from buildplan.report.picture import Camera
from buildplan.report.style import TOKENS

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont

BAR_PX = 78
"""Height that a colour bar takes below its picture."""

_EDGE_PX = 24
_INK, _MUTED, _LINE = (TOKENS[name][0] for name in ("ink", "muted", "line"))


def scale_of(camera: Camera, most_px: float = 140.0) -> tuple[float, float]:
    """A round length of at most so many pixels: (mm, pixels), at the depth of the part's middle."""
    middle = np.asarray(camera.centre_mm)
    ends = np.stack([middle, middle + 1e-3 * camera.radius_mm * np.asarray(camera.right)])
    x = camera.across(ends)[0]
    one_mm_px = float(x[1] - x[0]) / (1e-3 * camera.radius_mm)
    length = _round_down(most_px / one_mm_px)
    return length, length * one_mm_px


def draw_scale(pen: "ImageDraw", camera: Camera) -> None:
    """A scale bar in the lower left corner; exact at the depth of the part's middle."""
    length, wide = scale_of(camera)
    x, y = 14.0, camera.height_px - 14.0
    for end in (x, x + wide):
        pen.line((end, y - 6, end, y), fill=_INK, width=2)
    pen.line((x, y, x + wide, y), fill=_INK, width=2)
    digits = max(0, -math.floor(math.log10(length)))
    text = f"{numbers.num(length, digits, 'mm')} at the middle"
    pen.text((x + wide + 8, y + 2), text, fill=_MUTED, font=_font(13), anchor="ls")


def draw_bar(pen: "ImageDraw", values: Values, top_px: int, width_px: int) -> None:
    """The colours of values from low to high, with ticks, unit and limits."""
    font = _font(13)
    left, right = _EDGE_PX, width_px - _EDGE_PX
    head = f"{values.name}, {values.unit}"
    notes = [
        f"black line: {said} {numbers.num(limit, 2, values.unit)}" for limit, said in values.limits
    ]
    if values.capped:
        notes.append("right end: or more")
    if np.isnan(values.data).any():
        notes.append("grey: not measured")
    pen.text((left, top_px + 16), head, fill=_INK, font=font, anchor="ls")
    pen.text((right, top_px + 16), "; ".join(notes), fill=_MUTED, font=font, anchor="rs")
    y0, y1 = top_px + 26, top_px + 42
    for column in range(left, right):
        step = round((column - left) / (right - 1 - left) * (len(COLOURS) - 1))
        pen.line((column, y0, column, y1), fill=COLOURS[step])
    span = values.high - values.low
    place = [left + (right - left) * share for share in _shares(values)]
    for x in place:
        pen.rectangle((x - 2, y0 - 5, x + 2, y1 + 5), fill="#ffffff")
        pen.rectangle((x - 1, y0 - 4, x + 1, y1 + 4), fill=_INK)
    ticks, digits = ticks_of(values.low, values.high)
    for tick in ticks:
        x = left + (right - left) * (tick - values.low) / span
        pen.line((x, y1 + 1, x, y1 + 6), fill=_LINE)
        text = numbers.num(tick, digits)
        pen.text((x, y1 + 20), text, fill=_INK, font=font, anchor="ms")


def ticks_of(low: float, high: float) -> tuple[tuple[float, ...], int]:
    """Four to ten round numbers from low to high, and the decimals that they need."""
    span = high - low
    power: float = 10.0 ** math.floor(math.log10(span / 4.0))
    step = next(k * power for k in (1.0, 2.0, 2.5, 5.0, 10.0) if k * power >= 0.999 * span / 4.0)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    digits = next((d for d in range(7) if abs(round(step, d) - step) < 1e-9 * step), 6)
    return tuple(k * step for k in range(first, last + 1)), digits


def _shares(values: Values) -> list[float]:
    span = values.high - values.low
    inside = [limit for limit, _ in values.limits if values.low <= limit <= values.high]
    return [(limit - values.low) / span for limit in inside]


def _round_down(length: float) -> float:
    power: float = 10.0 ** math.floor(math.log10(length))
    return next(k * power for k in (5.0, 2.0, 1.0) if k * power <= length * 1.0001)


@cache
def _font(size_px: int) -> "FreeTypeFont":
    from matplotlib import get_data_path
    from PIL import ImageFont

    return ImageFont.truetype(str(Path(get_data_path()) / "fonts/ttf/DejaVuSans.ttf"), size_px)
