"""Volts at every part against its least, and where a day's energy goes."""

import math

from buildplan.device.power import PowerBudget
from buildplan.device.power.model import Case, PartVolts
from buildplan.report.device_pictures.canvas import (
    SMALL_PT,
    Kind,
    apart,
    canvas,
    cut,
    finish,
    folded,
    frame,
    ink,
    key,
)
from buildplan.report.platform_picture import PlatformPicture

MARKS = (
    ("mode", "o", "blue", "a mode"),
    ("event", "^", "vermilion", "a start or stall"),
    ("peak", "s", "orange", "all peaks at once"),
)
TINTS = ("blue", "orange", "green", "vermilion", "muted")
LEAST_LABEL_FRAC = 0.16
"""A narrower block of the day is named above all blocks, at the end of a thin line."""


def draw_volts(budget: PowerBudget, *, kind: Kind = "svg") -> PlatformPicture:
    """Share of its label's volts that each part gets in every case, against the least it needs."""
    rows = [part for part in budget.parts if part.label_v > 0.0][::-1]
    places = {load.name: number for number, load in enumerate(budget.power.load)}
    height = 24.0 + 6.6 * len(rows)
    left = min(0.30, 0.03 + 0.0095 * max(len(part.name) for part in rows))
    with canvas(176.0, height) as figure:
        axes = figure.add_axes((left, 10.0 / height, 0.80 - left, 1.0 - 24.0 / height))
        frame(axes, "Volts at each part, of those on its label", "% of the label's volts", "")
        axes.grid(axis="x", color=ink("rule"), linewidth=0.6)
        seen = set()
        for y, part in enumerate(rows):
            place = places[part.name]
            axes.axhline(y, color=ink("rule"), linewidth=0.8, zorder=0)
            for case in budget.cases:
                volts = case.volts_v[place]
                if math.isnan(volts):
                    continue
                marker, colour = next((m, c) for name, m, c, _ in MARKS if name == case.kind)
                axes.plot(
                    100.0 * volts / part.label_v,
                    y,
                    marker,
                    color=ink(colour),
                    markersize=4.2,
                    markerfacecolor=ink("paper") if case.kind == "mode" else ink(colour),
                )
                seen.add(case.kind)
            if part.least_v > 0.0:
                least = 100.0 * part.least_v / part.label_v
                axes.plot([least, least], [y - 0.32, y + 0.32], color=ink("ink"), linewidth=2.4)
            axes.text(
                1.015,
                y,
                _lowest_words(part),
                transform=axes.get_yaxis_transform(),
                va="center",
                size=SMALL_PT,
                weight="bold" if short_of_volts(part) else "normal",
            )
        axes.set_yticks(range(len(rows)), [cut(part.name, 28) for part in rows])
        axes.set_ylim(-0.6, len(rows) - 0.4)
        axes.annotate(
            "lowest mark, of needed",
            (1.015, 1.0),
            xycoords="axes fraction",
            xytext=(0, 20),
            textcoords="offset points",
            size=SMALL_PT,
            color=ink("muted"),
        )
        handles = [
            axes.plot([], [], marker, color=ink(colour), label=text, markersize=4.2)[0]
            for name, marker, colour, text in MARKS
            if name in seen
        ]
        handles.append(axes.plot([], [], "|", color=ink("ink"), label="least it needs", mew=2.4)[0])
        key(axes, handles)
        return finish(figure, kind, _volts_alt(budget))


def least_drawn_v(part: PartVolts) -> float:
    """Lowest volts of a part in any mode, event or coincidence of peaks; NaN for a collapse."""
    found = part.worst_v, part.peak_v
    return math.nan if any(map(math.isnan, found)) else min(found)


def short_of_volts(part: PartVolts) -> bool:
    """Whether a part gets less than its least in some case, or nothing at all."""
    return not least_drawn_v(part) >= part.least_v


def _lowest_words(part: PartVolts) -> str:
    lowest = least_drawn_v(part)
    if math.isnan(lowest):
        return "collapses"
    return f"{lowest:.2f} V" + (f" of {part.least_v:g}" if part.least_v else "")


def drawn_wh(budget: PowerBudget) -> float:
    """Area of all blocks of the day, at the supply's least volts; a collapsed mode has none."""
    return sum(24.0 * case.share_frac * case.source_w for case in _day_modes(budget))


def _day_modes(budget: PowerBudget) -> list[Case]:
    return [c for c in budget.cases if c.kind == "mode" and not c.collapsed_at]


def draw_energy(budget: PowerBudget, *, kind: Kind = "svg") -> PlatformPicture:
    """A day as blocks: hours in each mode wide, watts high, so that the area is energy."""
    modes = _day_modes(budget)
    narrow = sum(case.share_frac < LEAST_LABEL_FRAC for case in modes)
    with canvas(112.0, 58.0) as figure:
        axes = figure.add_axes((0.11, 0.19, 0.86, 0.66))
        frame(axes, "A day of energy: the area of each block", "hours of a day", "W")
        top = max((case.source_w for case in modes), default=1.0)
        begin, level = 0.0, 1.07
        for case, tint in zip(modes, TINTS * 3, strict=False):
            hours = 24.0 * case.share_frac
            axes.bar(
                begin,
                case.source_w,
                width=hours,
                align="edge",
                color=ink(tint),
                alpha=0.30,
                edgecolor=ink(tint),
                linewidth=1.0,
            )
            text = f"{case.name}\n{case.source_w:.1f} W, {hours * case.source_w:.0f} Wh"
            if case.share_frac >= LEAST_LABEL_FRAC:
                axes.text(
                    begin + hours / 2.0,
                    case.source_w / 2.0,
                    text,
                    ha="center",
                    va="center",
                    size=SMALL_PT,
                )
            else:
                middle, late = begin + hours / 2.0, begin > 9.0
                axes.plot(
                    [middle, middle], [case.source_w, level * top], color=ink("ink"), linewidth=0.6
                )
                axes.annotate(
                    text.replace("\n", ", "),
                    (middle, level * top),
                    xytext=(-3 if late else 3, 0),
                    textcoords="offset points",
                    ha="right" if late else "left",
                    va="center",
                    size=SMALL_PT,
                    bbox={"facecolor": ink("paper"), "edgecolor": "none", "pad": 0.6},
                )
                level += 0.12
            begin += hours
        mean = sum(case.share_frac * case.source_w for case in modes)
        axes.axhline(mean, color=ink("ink"), linewidth=0.9, linestyle=(0, (4, 2)))
        axes.text(0.2, mean + 0.02 * top, f"mean {mean:.1f} W", size=SMALL_PT, va="bottom")
        axes.set_xlim(0.0, 24.0)
        axes.set_xticks(range(0, 25, 6))
        axes.set_ylim(0.0, (1.1 + 0.12 * narrow) * top)
        alt = (
            f"Hours and watts of {len(modes)} modes; the blocks add up to {drawn_wh(budget):.0f} Wh"
        )
        return finish(figure, kind, alt)


def draw_event(budget: PowerBudget, number: int, *, kind: Kind = "svg") -> PlatformPicture:
    """Will it reboot? Volts over the milliseconds of an event, of the parts that come nearest."""
    event = budget.events[number]
    shown = _nearest(budget, number)
    with canvas(112.0, 58.0) as figure:
        axes = figure.add_axes((0.11, 0.25, 0.57, 0.60))
        frame(
            axes,
            event.name[:1].upper() + event.name[1:],
            "ms, not to scale",
            "% of the label's volts",
        )
        count = len(event.phases)
        lines = ("blue", "-"), ("vermilion", (0, (5, 2))), ("green", (0, (1.5, 1.5)))
        ends: list[tuple[str, str, float]] = []
        for (part, least, values), (colour, dash) in zip(shown, lines, strict=False):
            x = [edge for i in range(count) for edge in (i, i + 1)]
            y = [value for value in values for _ in range(2)]
            axes.plot(x, y, color=ink(colour), linestyle=dash, linewidth=1.6)
            if least:
                axes.plot([0, count], [least, least], color=ink(colour), linewidth=0.8, alpha=0.6)
            said = f"{folded(part, 21)}\nat least {least:.0f} %" if least else folded(part, 21)
            ends.append((said, colour, next(v for v in values[::-1] if math.isfinite(v))))
        known = [v for _, _, values in shown for v in values if math.isfinite(v)]
        known += [least for _, least, _ in shown if least]
        if not known:
            axes.text(0.1, 0.5, "no volts hold: the supply collapses", size=SMALL_PT)
        low, high = (min(known), max(known)) if known else (0.0, 1.0)
        span = max(high - low, 1.0)
        axes.set_ylim(low - 0.08 * span, high + 0.08 * span)
        heights = [end[2] for end in ends]
        for (part, tint, end), height in zip(ends, apart(heights, 0.30 * span), strict=True):
            axes.plot(
                [count, 1.04 * count], [end, height], color=ink(tint), linewidth=0.6, clip_on=False
            )
            axes.text(
                1.055 * count,
                height,
                part,
                color=ink(tint),
                size=SMALL_PT,
                va="center",
                linespacing=1.1,
            )
        axes.set_xlim(0, count)
        axes.set_xticks(
            [i + 0.5 for i in range(count)],
            [f"{phase.name}\n{phase.lasts_ms:.0f}" for phase in event.phases],
        )
        return finish(figure, kind, f"Volts during {event.name}: {_event_words(budget, number)}")


def _nearest(budget: PowerBudget, number: int) -> list[tuple[str, float, list[float]]]:
    """Up to three parts with the least headroom in an event: least and volts, % of their label.

    A phase in which the supply collapses has NaN; a part with no volts at all is left out.
    """
    event = budget.events[number]
    rows = []
    for place, part in enumerate(budget.parts):
        volts = [phase.case.volts_v[place] for phase in event.phases]
        if part.label_v <= 0.0 or all(math.isnan(value) for value in volts):
            continue
        shares = [100.0 * value / part.label_v for value in volts]
        least = 100.0 * part.least_v / part.label_v
        lowest = min(share for share in shares if math.isfinite(share))
        room = lowest - least if part.least_v else math.inf
        first = event.failure is not None and event.failure.part == part.name
        rows.append((-math.inf if first else room, part.name, least, shares))
    rows.sort(key=lambda row: row[0])
    return [(name, least, shares) for _, name, least, shares in rows[:3]]


def _event_words(budget: PowerBudget, number: int) -> str:
    failure = budget.events[number].failure
    return failure.text if failure else "no part fails"


def _volts_alt(budget: PowerBudget) -> str:
    short = [part for part in budget.parts if short_of_volts(part)]
    names = ", ".join(part.name for part in short)
    said = f"below its least: {names}" if short else "every part gets its least"
    return f"Volts at {len(budget.parts)} parts against what they need; {said}"
