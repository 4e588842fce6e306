"""What the bill may come to: the range 8 times in 10, its middle, and the plain sum in it."""

from buildplan.bill import Budget
from buildplan.report import numbers
from buildplan.report.device_pictures.canvas import SMALL_PT, Kind, canvas, finish, ink
from buildplan.report.platform_picture import PlatformPicture

BAND_MM = 7.0


def draw_budget(budget: Budget, currency: str, *, kind: Kind = "svg") -> PlatformPicture:
    """One line of money: a band from 1 time in 10 below to 1 in 10 above, the plain sum on it."""
    low, middle, high = budget.low_cost, budget.median_cost, budget.high_cost
    plain = budget.plain_cost
    reach = max(high, plain) - min(low, plain)
    room = 0.18 * reach if reach > 0.0 else max(0.05 * plain, 1.0)
    with canvas(176.0, 34.0) as figure:
        axes = figure.add_axes((0.02, 0.30, 0.96, 0.44))
        for side in ("top", "left", "right"):
            axes.spines[side].set_visible(False)
        axes.spines["bottom"].set_color(ink("line"))
        axes.set_yticks([])
        axes.tick_params(labelsize=SMALL_PT, colors=ink("muted"))
        axes.set_xlim(min(low, plain) - room, max(high, plain) + room)
        axes.set_ylim(0.0, 1.0)
        axes.barh(0.5, high - low, left=low, height=0.42, color=ink("blue"), alpha=0.28)
        for at, words in (
            (low, "9 in 10 above"),
            (middle, "as often above"),
            (high, "1 in 10 above"),
        ):
            bold = at == middle
            axes.plot([at, at], [0.24, 0.76], color=ink("blue"), linewidth=2.4 if bold else 1.2)
            axes.annotate(
                f"{numbers.num(at, 0)}\n{words}",
                (at, 0.84),
                ha="center",
                va="bottom",
                size=SMALL_PT,
                weight="bold" if bold else "normal",
                linespacing=1.15,
            )
        axes.plot(plain, 0.5, "D", color=ink("vermilion"), markersize=5.5)
        axes.annotate(
            f"plain sum {numbers.num(plain, 0)}",
            (plain, 0.5),
            xytext=(0, -13),
            textcoords="offset points",
            ha="center",
            va="top",
            size=SMALL_PT,
            color=ink("ink"),
        )
        axes.set_xlabel(currency, size=SMALL_PT, color=ink("muted"), labelpad=2)
        alt = (
            f"The bill comes to between {low:.0f} and {high:.0f} {currency} 8 times in 10, as "
            f"often above {middle:.0f} as below; the plain sum is {plain:.0f}"
        )
        return finish(figure, kind, alt)
