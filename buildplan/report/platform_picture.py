"""A platform seen from above, with the parts of one build cycle in their places.

Drawn to scale, in the look of the report. Parts are told apart by their names, not by colour alone;
the drawing reads in grey.
"""

import io
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from buildplan.checks.packing.model import Cycle
from buildplan.checks.packing.outline import polygon_of
from buildplan.errors import InputError
from buildplan.report.numbers import grams, hours, num
from buildplan.report.platform_spots import Spots
from buildplan.report.style import TOKENS
from buildplan.tables.printer import Printer

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.patches import Patch

PlatformPictureKind = Literal["png", "svg"]

PICTURE_MM = (40.0, 400.0)
"""Least and most width of the drawing on paper."""

FILLS = ("#CFE3EF", "#F6DFC4", "#CFE8DD", "#EFE7B6", "#E6D6E4", "#DDDAD2")
"""Pale tints of Okabe and Ito's colours; one part name, one tint."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatformPicture:
    """A drawing of a platform as a file.

    Attributes:
        data: Bytes of the file.
        kind: "png" or "svg".
        alt: What it shows, in words.
    """

    data: bytes
    kind: PlatformPictureKind
    alt: str


def draw_platform(
    cycle: Cycle,
    printer: Printer,
    *,
    kind: PlatformPictureKind = "png",
    width_mm: float = 150.0,
    dpi: int = 150,
) -> PlatformPicture:
    """The platform of a build cycle: outlines, names, margin, a scale and the least gap.

    Args:
        cycle: A cycle of ``pack_cycles`` or ``choose_cycles`` for this printer.
        printer: Its platform is drawn.
        kind: File to make.
        width_mm: Width of the drawing on paper.
        dpi: Pixels per inch of a PNG.

    Raises:
        InputError: The cycle is for another printer, or the width is impossible.
    """
    if cycle.printer != printer.key:
        raise InputError(
            f"build cycle {cycle.number} is for printer {cycle.printer!r}, {printer.key!r} was "
            "given; give the printer that it was packed for"
        )
    if not PICTURE_MM[0] <= width_mm <= PICTURE_MM[1]:
        raise InputError(
            f"a drawing {width_mm:g} mm wide was asked for; {PICTURE_MM[0]:g} to "
            f"{PICTURE_MM[1]:g} mm is allowed; choose a width between"
        )
    from matplotlib import rc_context
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    reach = _reach(printer)
    tall = width_mm * (reach[3] - reach[1]) / (reach[2] - reach[0])
    look: Any = {"svg.hashsalt": "buildplan", "font.family": "sans-serif", "svg.fonttype": "path"}
    with rc_context(look):
        figure = Figure(figsize=(width_mm / 25.4, tall / 25.4), dpi=dpi, facecolor=_ink("paper"))
        FigureCanvasAgg(figure)
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_xlim(reach[0], reach[2])
        axes.set_ylim(reach[1], reach[3])
        axes.set_aspect("equal")
        axes.set_axis_off()
        points = 72.0 / 25.4 * width_mm / (reach[2] - reach[0])  # of type for a mm of platform
        _draw_ground(axes, printer)
        _draw_parts(axes, cycle)
        _draw_labels(axes, cycle, printer, points)
        _draw_words(axes, cycle, printer, reach)
        file = io.BytesIO()
        metadata: dict[str, Any] = {"Software": None} if kind == "png" else {"Date": None}
        figure.savefig(file, format=kind, dpi=dpi, metadata=metadata, facecolor=_ink("paper"))
    return PlatformPicture(data=file.getvalue(), kind=kind, alt=_alt(cycle, printer))


def _ink(name: str) -> str:
    return TOKENS[name][0]


def _reach(printer: Printer) -> tuple[float, float, float, float]:
    """What the drawing shows, in platform coordinates, with room for the words."""
    width, depth = printer.width_mm, printer.depth_mm
    x, y = (-0.5 * width, -0.5 * width) if printer.platform == "round" else (0.0, 0.0)
    depth = width if printer.platform == "round" else depth
    room = 0.045 * width
    return x - room, y - 2.6 * room, x + width + room, y + depth + 2.6 * room


def _draw_ground(axes: "Axes", printer: Printer) -> None:
    """The platform, its margin (hatched) and 50 mm marks along its edges."""
    from matplotlib.patches import Circle, Rectangle

    margin, width, depth = printer.platform_margin_mm, printer.width_mm, printer.depth_mm
    inner: Patch
    outer: Patch
    if printer.platform == "round":
        outer = Circle((0.0, 0.0), 0.5 * width)
        inner = Circle((0.0, 0.0), 0.5 * width - margin)
    else:
        outer = Rectangle((0.0, 0.0), width, depth)
        inner = Rectangle((margin, margin), width - 2.0 * margin, depth - 2.0 * margin)
    outer.set(facecolor=_ink("rule"), edgecolor=_ink("ink"), linewidth=1.1, zorder=1)
    inner.set(facecolor="#FFFFFF", edgecolor=_ink("line"), linewidth=0.7, linestyle=(0, (4, 3)))
    inner.set_zorder(2)
    axes.add_patch(outer)
    axes.add_patch(inner)
    grid: dict[str, Any] = {"color": _ink("tint"), "linewidth": 0.8, "zorder": 2.5}
    low = -0.5 * width if printer.platform == "round" else 0.0
    high_y = -low if printer.platform == "round" else depth
    for at in np.arange(math.ceil(low / 50.0) * 50.0, low + width, 50.0):
        line = axes.plot([at, at], [low, high_y], **grid)[0]
        line.set_clip_path(inner)
    for at in np.arange(math.ceil(low / 50.0) * 50.0, high_y, 50.0):
        line = axes.plot([low, low + width], [at, at], **grid)[0]
        line.set_clip_path(inner)


def _draw_parts(axes: "Axes", cycle: Cycle) -> None:
    """Outlines in a tint for each name."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    names = list(dict.fromkeys(placing.name for placing in cycle.placings))
    for placing in cycle.placings:
        vertices, codes = [], []
        for ring in (ring for island in placing.outline for ring in island):
            vertices.append(np.vstack([ring, ring[:1]]))
            codes += [Path.MOVETO, *[Path.LINETO] * (len(ring) - 1), Path.CLOSEPOLY]
        patch = PathPatch(
            Path(np.vstack(vertices), codes),
            facecolor=FILLS[names.index(placing.name) % len(FILLS)],
            edgecolor=_ink("ink"),
            linewidth=0.8,
            joinstyle="round",
            zorder=3,
        )
        axes.add_patch(patch)


def _draw_labels(axes: "Axes", cycle: Cycle, printer: Printer, points: float) -> None:
    """The least gap and every name, each where it covers no other part and no other word."""
    import shapely

    width, depth = printer.width_mm, printer.depth_mm
    ground = (
        shapely.Point(0.0, 0.0).buffer(0.5 * width)
        if printer.platform == "round"
        else shapely.box(0.0, 0.0, width, depth)
    )
    shapes = [polygon_of(placing.outline) for placing in cycle.placings]
    spots = Spots(ground=ground, shapes=shapes, points=points)
    _draw_gap(axes, cycle, spots)
    order = sorted(range(len(shapes)), key=lambda k: -shapes[k].area)
    for k in order:
        placing = cycle.placings[k]
        copies = sum(other.name == placing.name for other in cycle.placings)
        text = placing.name.replace("_", " ") + (f" {placing.copy}" if copies > 1 else "")
        if cycle.way == "one by one":
            text = f"{k + 1}: {text}"
        _draw_name(axes, text, k, spots)


def _draw_name(axes: "Axes", text: str, number: int, spots: Spots) -> None:
    """A name along its part where it has room there, else beside it with a thin line to it."""
    look: dict[str, Any] = {"ha": "center", "va": "center", "color": _ink("ink"), "zorder": 6}
    own = spots.within(text, number)
    if own is not None:
        at, turn_deg, size = own
        axes.text(*at, text, fontsize=size, rotation=turn_deg, rotation_mode="anchor", **look)
        return
    at, foot = spots.beside(text, number, 7.0)
    axes.plot([at[0], foot[0]], [at[1], foot[1]], color=_ink("muted"), linewidth=0.6, zorder=4)
    halo = {"boxstyle": "round,pad=0.15", "facecolor": "#FFFFFF", "linewidth": 0.0}
    axes.text(*at, text, fontsize=7.0, bbox=halo, **look)


def _draw_gap(axes: "Axes", cycle: Cycle, spots: Spots) -> None:
    """The least gap, dimensioned where it is."""
    import shapely

    shapes = spots.shapes
    pairs = [(i, j) for i in range(len(shapes)) for j in range(i)]
    if not pairs:
        return
    i, j = min(pairs, key=lambda pair: float(shapely.distance(shapes[pair[0]], shapes[pair[1]])))
    line = shapely.shortest_line(shapes[i], shapes[j])
    ends = shapely.get_coordinates(line)
    look: dict[str, Any] = {"color": _ink("vermilion"), "zorder": 7}
    axes.plot(ends[:, 0], ends[:, 1], linewidth=1.3, marker="o", markersize=2.2, **look)
    text = num(cycle.least_gap_mm, 1, "mm")
    at = spots.near(text, line, 6.8)
    middle = ends.mean(axis=0)
    axes.plot([middle[0], at[0]], [middle[1], at[1]], linewidth=0.7, **look)
    box = {
        "boxstyle": "round,pad=0.25",
        "facecolor": "#FFFFFF",
        "edgecolor": _ink("vermilion"),
        "linewidth": 0.7,
    }
    axes.text(
        *at, text, fontsize=6.8, color=_ink("ink"), ha="center", va="center", bbox=box, zorder=8
    )


def _draw_words(
    axes: "Axes", cycle: Cycle, printer: Printer, reach: tuple[float, float, float, float]
) -> None:
    """Heading above, scale and front below."""
    x0, y0, x1, y1 = reach
    room = 0.045 * printer.width_mm
    left, right = x0 + room, x1 - room
    head = f"Build cycle {cycle.number}"
    axes.text(
        left, y1 - 0.85 * room, head, fontsize=11, fontweight="bold", color=_ink("ink"), va="center"
    )
    facts = [printer.name]
    if cycle.timed:
        facts += [hours(cycle.time_h), grams(cycle.mass_g)]
    facts.append(f"{num(100.0 * cycle.used_frac, 0)} % covered")
    axes.text(
        left, y1 - 1.85 * room, "  ·  ".join(facts), fontsize=8, color=_ink("muted"), va="center"
    )
    bar_mm = 50.0 if printer.width_mm >= 150.0 else 20.0
    low = y0 + 0.9 * room
    for a, b in ((0.0, 0.5), (0.5, 1.0)):
        axes.plot(
            [left + a * bar_mm, left + b * bar_mm],
            [low, low],
            color=_ink("ink") if a == 0.0 else _ink("line"),
            linewidth=3.0,
            solid_capstyle="butt",
        )
    axes.text(
        left + bar_mm + 0.3 * room,
        low,
        f"{bar_mm:.0f} mm",
        fontsize=7.5,
        va="center",
        color=_ink("muted"),
    )
    axes.text(
        0.5 * (left + right),
        low + 0.95 * room,
        "front",
        fontsize=7.5,
        ha="center",
        va="center",
        color=_ink("muted"),
    )
    edge = f"grey edge: {num(printer.platform_margin_mm, 0)} mm kept free"
    axes.text(right, low, edge, fontsize=7.5, ha="right", va="center", color=_ink("muted"))


def _alt(cycle: Cycle, printer: Printer) -> str:
    """What the drawing shows, for readers who do not see it."""
    parts = ", ".join(
        f"{p.name.replace('_', ' ')} {p.copy} turned by {p.turn_deg:.0f} degrees"
        for p in cycle.placings
    )
    return f"Platform of {printer.name} from above in build cycle {cycle.number}: {parts}."
