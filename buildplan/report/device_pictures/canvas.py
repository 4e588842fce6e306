"""The one look of the device's figures: type, lines, colours that follow the page's theme."""

import io
import math
import textwrap
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Literal

from buildplan.report.platform_picture import PlatformPicture
from buildplan.report.style import TOKENS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Kind = Literal["svg", "png"]
POINT_MM = 25.4 / 72.0
TEXT_PT = 8.5
SMALL_PT = 7.5

LINES: tuple[tuple[str, Any], ...] = (
    ("blue", "-"),
    ("vermilion", (0, (5, 2))),
    ("green", (0, (1.5, 1.5))),
    ("orange", (0, (6, 2, 1, 2))),
    ("muted", (0, (3, 1, 1, 1, 1, 1))),
)
"""Colour and dash of each line in turn; either alone tells them apart."""

MARKERS = ("o", "s", "^", "D", "v")


def ink(name: str) -> str:
    """A colour of the page, by its name; the page changes it with its theme."""
    return TOKENS[name][0]


@contextmanager
def canvas(width_mm: float, height_mm: float) -> Iterator["Figure"]:
    """An empty figure of a size on paper, with the house's type."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    look: Any = {
        "svg.hashsalt": "buildplan",
        "svg.fonttype": "path",
        "font.family": "sans-serif",
        "font.size": TEXT_PT,
        "text.parse_math": False,  # a name with two dollar signs is a name, no formula
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.edgecolor": ink("line"),
        "axes.labelcolor": ink("muted"),
        "axes.titlelocation": "left",
        "axes.titlesize": TEXT_PT + 0.5,
        "axes.titleweight": "bold",
        "axes.titlecolor": ink("ink"),
        "axes.linewidth": 0.8,
        "text.color": ink("ink"),
        "xtick.color": ink("muted"),
        "ytick.color": ink("muted"),
        "xtick.labelsize": SMALL_PT,
        "ytick.labelsize": SMALL_PT,
        "hatch.linewidth": 0.6,
        "hatch.color": ink("ink"),
    }
    with rc_context(look):
        figure = Figure(figsize=(width_mm / 25.4, height_mm / 25.4), facecolor=ink("paper"))
        FigureCanvasAgg(figure)
        yield figure


def finish(figure: "Figure", kind: Kind, alt: str, *, dpi: int = 150) -> PlatformPicture:
    """The figure as a file, the same bytes every time."""
    file = io.BytesIO()
    metadata: dict[str, Any] = {"Software": None} if kind == "png" else {"Date": None}
    with warnings.catch_warnings():
        # a letter that the face lacks is drawn as an empty box; its maker needs no warning
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        figure.savefig(file, format=kind, dpi=dpi, metadata=metadata, facecolor=ink("paper"))
    return PlatformPicture(data=file.getvalue(), kind=kind, alt=alt)


def frame(axes: "Axes", title: str, x: str, y: str) -> None:
    """Title and axes with their units; a light grid under everything."""
    axes.set_facecolor(ink("paper"))
    axes.set_title(title, pad=6)
    axes.set_xlabel(x)
    axes.set_ylabel(y)
    axes.grid(axis="y", color=ink("rule"), linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(length=2.5, width=0.7)


def key(axes: "Axes", handles: list[Any]) -> None:
    """What the marks mean, in one row between title and picture."""
    axes.set_title(axes.get_title(loc="left"), loc="left", pad=20)
    axes.legend(
        handles=handles,
        loc="lower left",
        bbox_to_anchor=(-0.01, 1.0),
        ncols=len(handles),
        frameon=False,
        fontsize=SMALL_PT,
        handletextpad=0.3,
        columnspacing=1.2,
        borderaxespad=0.1,
    )


def cut(text: str, letters: int) -> str:
    """A label that does not run out of the picture."""
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"


def folded(text: str, letters: int) -> str:
    """A label in at most two lines, the second cut where it is too long."""
    lines = textwrap.wrap(text, letters) or [""]
    return "\n".join([lines[0], *([cut(" ".join(lines[1:]), letters)] if lines[1:] else [])])


def apart(values: list[float], least: float, *, floor: float = -math.inf) -> list[float]:
    """The values moved as little as will do to keep labels at them ``least`` apart, in order.

    Labels that would meet are stacked about their own middle, so that none is far from its line;
    none lies below ``floor``.
    """
    order = sorted(range(len(values)), key=lambda i: values[i])
    stacks: list[list[float]] = []  # middle, count
    for here in order:
        stacks.append([values[here], 1.0])
        while len(stacks) > 1:
            (low, below), (high, above) = stacks[-2:]
            if high - low >= least * (below + above) / 2.0:
                break
            count = below + above
            middle = (low * below + high * above) / count
            stacks[-2:] = [[middle, count]]
    placed = [
        middle + least * (number - (count - 1.0) / 2.0)
        for middle, count in stacks
        for number in range(int(count))
    ]
    found = list(values)
    for rank, (here, value) in enumerate(zip(order, placed, strict=True)):
        found[here] = max(value, floor + rank * least)
    return found
