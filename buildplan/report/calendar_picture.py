"""The calendar as a picture: a lane for each printer and for you, a column for each day.

Kinds differ by fill and hatch, not by colour alone, so that the drawing reads in grey. Every task's
name stands in full above its first bar; a lane grows by as many rows as its names need.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from buildplan.decide.calendar.model import DELIVERIES, REST, YOU, Bar, Finish
from buildplan.decide.calendar.windows import Windows
from buildplan.errors import InputError
from buildplan.report.device_pictures.canvas import SMALL_PT, TEXT_PT, canvas, finish, ink
from buildplan.report.platform_picture import PlatformPicture

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Kind = Literal["svg", "png"]
ROW_MM, BAR_MM, PAD_MM = 3.6, 4.6, 1.6
MONTH_MM = 11.0
"""A day with its month takes so much; in narrower columns the next day stays unnamed."""

HEAD_MM, FOOT_MM, MARGIN_MM = 10.0, 22.0, 2.0
KEY_ROW_MM = 4.2
CRITICAL_FRAC = 0.5
"""From this share of the outcomes on, an item is marked as setting the date."""

MOST_DAYS = 31
"""Days that one picture shows; what comes later is left out and said in the alternative text."""

LOOKS: dict[str, tuple[str, str, str]] = {  # fill, edge, hatch
    "print": ("blue", "blue", ""),
    "failed": ("paper", "vermilion", "xxxx"),
    "set-up": ("orange", "ink", ""),
    "removal": ("orange", "ink", ""),
    "assembly": ("orange", "ink", ""),
    "waits for a person": ("paper", "line", "////"),
    "wash": ("rule", "muted", "||||"),
    "cure": ("rule", "muted", "||||"),
    "glue cures": ("rule", "muted", "||||"),
    "feedstock dries": ("rule", "muted", "||||"),
}
KEY = (
    ("print", "prints"),
    ("set-up", "you are needed"),
    ("waits for a person", "done, waits for you"),
    ("cure", "dries, cures"),
    ("failed", "fails"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lane:
    """One lane with the row of each of its names."""

    name: str
    bars: tuple[Bar, ...]
    rows: tuple[int, ...]
    height_mm: float


def draw_calendar(
    bars: Sequence[Bar],
    found: Finish,
    windows: Windows,
    *,
    kind: Kind = "svg",
    width_mm: float = 180.0,
    dpi: int = 150,
) -> PlatformPicture:
    """The calendar with the chance of being finished by the end of each day.

    Args:
        bars: From decide.calendar.bars.
        found: From decide.calendar.simulate: the shares and the last row.
        windows: Those of the bars.
        kind: "svg" follows the theme of the page; "png" for other uses.
        width_mm: On paper.
        dpi: Of a PNG.

    Raises:
        InputError: There are no bars.
    """
    if not bars:
        raise InputError("calendar picture: no bars found; one print or step is needed")
    days = _days(bars, found, windows)
    with canvas(width_mm, 100.0) as figure:
        left_mm = 4.0 + max(
            _text_mm(figure, name, TEXT_PT) for name in (*_lanes_of(bars), "done by then")
        )
        hour_mm = (width_mm - left_mm - MARGIN_MM) / float(windows.day_end_h[days - 1])
        span_h = float(windows.day_end_h[days - 1])
        lanes = [_lane(figure, name, bars, hour_mm, span_h) for name in _lanes_of(bars)]
        body_mm = sum(lane.height_mm for lane in lanes)
        height_mm = HEAD_MM + body_mm + FOOT_MM
        figure.set_size_inches(width_mm / 25.4, height_mm / 25.4)
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_xlim(-left_mm, width_mm - left_mm)
        axes.set_ylim(height_mm, 0.0)
        axes.axis("off")
        _draw_days(axes, windows, days, hour_mm, HEAD_MM + body_mm)
        top_mm = HEAD_MM
        for lane in lanes:
            _draw_lane(axes, lane, top_mm, hour_mm, left_mm, width_mm)
            top_mm += lane.height_mm
        _draw_chances(axes, found, windows, days, hour_mm, (left_mm, top_mm))
        _draw_key(axes, left_mm, top_mm + 11.0, width_mm)
        alt = _alt(bars, found)
        if max(bar.end_h for bar in bars) > span_h:
            alt += f" Only the first {days} days are drawn."
        return finish(figure, kind, alt, dpi=dpi)


def _days(bars: Sequence[Bar], found: Finish, windows: Windows) -> int:
    """Days to draw: all bars, and up to where 9 in 10 outcomes are finished."""
    last_h = max(max(bar.end_h for bar in bars), found.p90_h)
    count = int(np.searchsorted(windows.day_end_h, last_h - 1e-9, side="left")) + 1
    return min(count, MOST_DAYS, len(windows.day_end_h))


def _lanes_of(bars: Sequence[Bar]) -> tuple[str, ...]:
    """Printers by name, then you, deliveries and rests, where they have bars."""
    there = {bar.lane for bar in bars}
    others = (YOU, DELIVERIES, REST)
    return (*sorted(there.difference(others)), *(name for name in others if name in there))


def _weight(bar: Bar) -> str:
    return "bold" if bar.critical_frac > CRITICAL_FRAC else "normal"


def _name_mm(figure: Any, bar: Bar) -> float:
    """Width of a bar's name with the air behind it."""
    return _text_mm(figure, bar.task, SMALL_PT, _weight(bar)) + 2.0


def _text_mm(figure: Any, text: str, size_pt: float, weight: str = "normal") -> float:
    """Width of a text as it will be drawn."""
    drawn = figure.text(0.0, 0.0, text, fontsize=size_pt, fontweight=weight)
    width = drawn.get_window_extent(figure.canvas.get_renderer()).width / figure.dpi * 25.4
    drawn.remove()
    return float(width)


def _lane(figure: Any, name: str, bars: Sequence[Bar], hour_mm: float, span_h: float) -> _Lane:
    """Give every name of a lane the lowest row on which it meets no other."""
    mine = tuple(bar for bar in bars if bar.lane == name and bar.start_h < span_h)
    taken: list[list[tuple[float, float]]] = []
    rows: list[int] = []
    seen: set[str] = set()
    for bar in mine:
        if bar.task in seen:
            rows.append(-1)
            continue
        seen.add(bar.task)
        wide = _name_mm(figure, bar)
        begin = _label_mm(bar, hour_mm, span_h, wide)
        end = begin + wide
        row = 0
        while row < len(taken) and any(a < end and begin < b for a, b in taken[row]):
            row += 1
        if row == len(taken):
            taken.append([])
        taken[row].append((begin, end))
        rows.append(row)
    return _Lane(
        name=name,
        bars=mine,
        rows=tuple(rows),
        height_mm=max(len(taken), 1) * ROW_MM + BAR_MM + 2 * PAD_MM,
    )


def _label_mm(bar: Bar, hour_mm: float, span_h: float, wide_mm: float) -> float:
    """Where a name begins: over its bar, or just so far left that it ends inside the picture."""
    if bar.kind == "delivery":  # it ends over the arrow's head
        return max(min(bar.end_h, span_h) * hour_mm - wide_mm + 2.0, 0.0)
    return max(min(bar.start_h * hour_mm, span_h * hour_mm - wide_mm), 0.0)


def _draw_days(axes: "Axes", windows: Windows, days: int, hour_mm: float, foot_mm: float) -> None:
    """Weekday and day above each column; weekends shaded; thin lines between days."""
    from matplotlib.patches import Rectangle

    starts = [0.0, *windows.day_end_h[: days - 1].tolist()]
    step = max(1, round(9.0 / (hour_mm * 24.0) + 0.49))
    for number, (start, end) in enumerate(zip(starts, windows.day_end_h[:days], strict=True)):
        day = windows.first_day + timedelta(days=number)
        x, wide = start * hour_mm, (float(end) - start) * hour_mm
        if day.weekday() >= 5:
            axes.add_patch(Rectangle((x, 0.0), wide, foot_mm, fc=ink("tint"), ec="none", zorder=0))
        axes.plot([x, x], [1.0, foot_mm], color=ink("line"), linewidth=0.5, zorder=1)
        if number % step == 0:
            look: Any = {"ha": "left", "va": "center", "clip_on": False}
            axes.text(x + 0.8, 2.8, f"{day:%a}", fontsize=SMALL_PT, color=ink("muted"), **look)
            with_month = number == 0 or day.day == 1
            after_month = number == 1 or day.day == 2
            if after_month and wide < MONTH_MM:  # the month before it needs the room
                continue
            name = f"{day.day} {day:%b}" if with_month else f"{day.day}"
            axes.text(x + 0.8, 6.6, name, fontsize=TEXT_PT, color=ink("ink"), **look)
    for start, end in zip(windows.start_h, windows.end_h, strict=True):
        if start < windows.day_end_h[days - 1]:
            here = [start * hour_mm, min(end, float(windows.day_end_h[days - 1])) * hour_mm]
            axes.plot(here, [HEAD_MM - 0.7] * 2, color=ink("ink"), linewidth=1.4,
                      solid_capstyle="butt", zorder=2)  # fmt: skip


def _draw_lane(
    axes: "Axes", lane: _Lane, top_mm: float, hour_mm: float, left_mm: float, width_mm: float
) -> None:
    """Name, bars and labels of a lane, with a hair rule under it."""
    foot = top_mm + lane.height_mm
    bar_top = foot - PAD_MM - BAR_MM
    right = width_mm - left_mm - MARGIN_MM
    axes.plot([-left_mm + 2.0, right], [foot, foot], color=ink("rule"), linewidth=0.6, zorder=1)
    axes.text(-left_mm + 2.0, bar_top + BAR_MM / 2, lane.name, fontsize=TEXT_PT, va="center")
    for bar, row in zip(lane.bars, lane.rows, strict=True):
        x = bar.start_h * hour_mm
        wide = max((min(bar.end_h * hour_mm, right)) - x, 0.35)
        _draw_bar(axes, bar, (x, bar_top, wide))
        if row >= 0:
            text_mm = _name_mm(axes.figure, bar)
            at = _label_mm(bar, hour_mm, right / hour_mm, text_mm)
            y = bar_top - 0.9 - row * ROW_MM
            heavy = _weight(bar)
            axes.text(at, y, bar.task, fontsize=SMALL_PT, va="bottom", fontweight=heavy, zorder=5,
                      bbox={"fc": ink("paper"), "ec": "none", "pad": 0.6})  # fmt: skip
            if row > 0 and bar.kind != "delivery":
                axes.plot([x + 0.2] * 2, [y, bar_top], color=ink("line"), linewidth=0.5, zorder=1)


def _draw_bar(axes: "Axes", bar: Bar, box_mm: tuple[float, float, float]) -> None:
    """One bar; a delivery is an arrow to the hour at which it is there."""
    from matplotlib.patches import Rectangle

    x, y, wide = box_mm
    if bar.kind == "delivery":
        mid = y + BAR_MM / 2
        axes.plot([x, x + wide], [mid, mid], color=ink("ink"), linewidth=1.0, zorder=3)
        axes.plot([x + wide], [mid], marker=5, markersize=5, color=ink("ink"), zorder=4)
        return
    fill, edge, hatch = LOOKS["failed" if bar.failed else bar.kind]
    look: Any = {"fc": ink(fill), "ec": ink(edge), "hatch": hatch, "hatch_linewidth": 0.5}
    thin = 0.3 if bar.kind in ("set-up", "removal") else 0.7
    axes.add_patch(Rectangle((x, y), wide, BAR_MM, linewidth=thin, zorder=3, **look))
    if bar.critical_frac > CRITICAL_FRAC:
        below = y + BAR_MM + 0.75
        axes.plot([x, x + wide], [below, below], color=ink("ink"), linewidth=1.6,
                  solid_capstyle="butt", zorder=4)  # fmt: skip


def _draw_chances(
    axes: "Axes",
    found: Finish,
    windows: Windows,
    days: int,
    hour_mm: float,
    corner_mm: tuple[float, float],
) -> None:
    """Chance of being finished by the end of each day, right-aligned under it."""
    left_mm, top_mm = corner_mm
    chances = {row.day: row.chance_frac for row in found.by_day}
    axes.text(-left_mm + 2.0, top_mm + 4.0, "done by then", fontsize=TEXT_PT, va="center",
              color=ink("muted"))  # fmt: skip
    narrow = hour_mm * 24.0 < 9.0
    for number in range(days):
        day = windows.first_day + timedelta(days=number)
        if day not in chances:
            continue
        chance = chances[day]
        text = f"{_percent(chance)}" if narrow else f"{_percent(chance)} %"
        heavy = "bold" if chance >= 0.9 else "normal"
        x = float(windows.day_end_h[number]) * hour_mm - 0.8
        axes.text(x, top_mm + 4.0, text, fontsize=TEXT_PT, va="center", ha="right",
                  fontweight=heavy)  # fmt: skip


def _percent(chance_frac: float) -> str:
    """Whole percent; 100 only for certain, 0 only for never."""
    if 0.0 < chance_frac < 1.0:
        return str(min(max(int(100.0 * chance_frac + 0.5), 1), 99))
    return str(int(100.0 * chance_frac))


def _draw_key(axes: "Axes", left_mm: float, y_mm: float, width_mm: float) -> None:
    """What fills and lines mean, in as many rows under the picture as they need."""
    from matplotlib.patches import Rectangle

    first, right = 2.0 - left_mm, width_mm - left_mm
    x = first
    for kind, text in (*KEY, ("", "sets the date"), ("", "line at the top: somebody is there")):
        wide = _text_mm(axes.figure, text, SMALL_PT)
        if x > first and x + 6.0 + wide > right:
            x, y_mm = first, y_mm + KEY_ROW_MM
        if kind:
            fill, edge, hatch = LOOKS[kind]
            look: Any = {"fc": ink(fill), "ec": ink(edge), "hatch": hatch, "hatch_linewidth": 0.5}
            axes.add_patch(Rectangle((x, y_mm - 1.4), 5.0, 2.8, linewidth=0.7, **look))
        else:
            axes.plot([x, x + 5.0], [y_mm, y_mm], color=ink("ink"), linewidth=1.5)
        axes.text(x + 6.0, y_mm, text, fontsize=SMALL_PT, va="center", color=ink("muted"))
        x += 10.0 + wide


def _alt(bars: Sequence[Bar], found: Finish) -> str:
    """The picture in a sentence."""
    prints = len({bar.task for bar in bars if bar.kind == "print"})
    return (
        f"Calendar of {prints} prints: half of all outcomes are finished by {found.p50_day}, "
        f"9 in 10 by {found.p90_day}; finished prints wait {found.waiting_h:.0f} h for somebody."
    )
