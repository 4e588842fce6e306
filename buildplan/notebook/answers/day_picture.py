"""Usual and bad days of every way to print a part at home, on one axis."""

from buildplan.decide.card import BadDayCard
from buildplan.report import numbers
from buildplan.report.device_pictures.canvas import SMALL_PT, Kind, canvas, finish, ink
from buildplan.report.platform_picture import PlatformPicture

ROW_MM = 6.5
HEAD_MM = 13.0


def draw_days(card: BadDayCard, *, kind: Kind = "svg") -> PlatformPicture:
    """A row for every way that is possible: usual hours, and those that 1 day in 20 passes."""
    ways = [way for way in card.home if not way.reason] or list(card.home)
    height_mm = HEAD_MM + ROW_MM * len(ways)
    with canvas(176.0, height_mm) as figure:
        axes = figure.add_axes((0.13, 9.0 / height_mm, 0.8, (height_mm - HEAD_MM) / height_mm))
        axes.set_facecolor(ink("paper"))
        best = min(range(len(ways)), key=lambda place: ways[place].high_h)
        for place, way in enumerate(ways):
            y = float(-place)
            bold = "bold" if place == best else "normal"
            axes.plot([way.usual_h, way.high_h], [y, y], color=ink("line"), linewidth=1.6)
            axes.plot(way.usual_h, y, "o", color=ink("blue"), markersize=6)
            axes.plot(way.high_h, y, "D", color=ink("vermilion"), markersize=5)
            for hours, side, shift in ((way.usual_h, "right", -7), (way.high_h, "left", 7)):
                axes.annotate(
                    numbers.num(hours, 1),
                    (hours, y),
                    xytext=(shift, 0),
                    textcoords="offset points",
                    ha=side,
                    va="center",
                    size=SMALL_PT,
                    weight=bold if side == "left" else "normal",
                )
        axes.set_yticks([float(-place) for place in range(len(ways))], [w.label for w in ways])
        axes.tick_params(axis="y", length=0, labelcolor=ink("ink"), labelsize=SMALL_PT + 0.5)
        axes.set_ylim(-len(ways) + 0.4, 0.6)
        axes.set_xlim(0.0, 1.12 * max(way.high_h for way in ways))
        axes.set_xlabel("machine hours", labelpad=2)
        axes.spines["left"].set_visible(False)
        axes.grid(axis="x", color=ink("rule"), linewidth=0.6)
        axes.set_axisbelow(True)
        first = card.home[0]
        alt = (
            f"{card.part.replace('_', ' ')} at home in {len(ways)} ways; {first.label} usually "
            f"{first.usual_h:.1f} h, 1 day in 20 over {first.high_h:.1f} h; "
            f"{ways[best].label} has the shortest bad day, {ways[best].high_h:.1f} h"
        )
        return finish(figure, kind, alt)
