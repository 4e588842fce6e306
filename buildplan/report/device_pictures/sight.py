"""What the camera sees of its target: seen, hidden by which part, outside the picture."""

from typing import TYPE_CHECKING

import numpy as np

from buildplan.device.view.check import CameraReport
from buildplan.device.view.sights import NO_TARGET, OUTSIDE, SEEN, CameraView
from buildplan.report.device_pictures.canvas import SMALL_PT, Kind, canvas, cut, finish, ink
from buildplan.report.platform_picture import FILLS, PlatformPicture

if TYPE_CHECKING:
    from matplotlib.axes import Axes

HATCHES = ("////", "....", "xxxx", "\\\\\\\\", "++++", "oooo")


def draw_sight(report: CameraReport, *, kind: Kind = "svg") -> PlatformPicture:
    """The map at rest, at the best and at the worst angle of the travel, side by side."""
    views = _views(report)
    names = sorted({hidden.name for _, view in views for hidden in view.hidden_by})
    with canvas(176.0, 66.0 if len(views) > 1 else 80.0) as figure:
        width = 0.96 / len(views)
        for place, (title, view) in enumerate(views):
            axes = figure.add_axes((0.02 + place * width, 0.17, width - 0.03, 0.68))
            _map(axes, view, names)
            axes.set_title(f"{title}: {100 * view.seen_frac:.0f} % seen", pad=5)
        outside = any(view.outside_frac > 0.0 for _, view in views)
        _key(figure, names, outside=outside)
        return finish(figure, kind, _alt(views))


def _views(report: CameraReport) -> list[tuple[str, CameraView]]:
    travel = report.travel
    found = [("parts at rest", report.rest)]
    if len(travel.views) > 1:
        best, worst = int(np.argmax(travel.seen_frac)), int(np.argmin(travel.seen_frac))
        for place, word in ((worst, "worst"), (best, "best")):
            found.append((f"{word}, lid at {travel.angles_deg[place]:.0f}°", travel.views[place]))
    return found


def _map(axes: "Axes", view: CameraView, names: list[str]) -> None:
    """Cells as rectangles of one run each; hidden ones hatched by the part that hides them."""
    from matplotlib.collections import PolyCollection

    axes.set_aspect("equal")
    axes.set_axis_off()
    wide, high = view.target.cell_mm
    rows, columns = view.codes.shape
    axes.set_xlim(0.0, columns * wide)
    axes.set_ylim(0.0, rows * high)
    codes = sorted(set(np.unique(view.codes)) - {NO_TARGET})
    for code in codes:
        boxes = _runs(view.codes == code, wide, high)
        if code == SEEN:
            look = {"facecolor": FILLS[0], "edgecolor": FILLS[0]}
        elif code == OUTSIDE:
            look = {"facecolor": ink("rule"), "edgecolor": ink("rule")}
        else:
            place = names.index(view.names[code - 1]) if view.names[code - 1] in names else 0
            look = {
                "facecolor": FILLS[1 + place % (len(FILLS) - 1)],
                "edgecolor": "none",
                "hatch": HATCHES[place % len(HATCHES)],
            }
        # a hair of the same tint closes the seams between runs; hatched ones draw no edge
        hair = 0.0 if "hatch" in look else 0.5
        axes.add_collection(PolyCollection(boxes, linewidth=hair, **look))  # type: ignore[arg-type]
    axes.plot(
        [0, columns * wide, columns * wide, 0, 0],
        [0, 0, rows * high, rows * high, 0],
        color=ink("ink"),
        linewidth=0.9,
        clip_on=False,
    )


def _runs(mask: np.ndarray, wide: float, high: float) -> list[np.ndarray]:
    """One rectangle for each run of cells in a row."""
    boxes = []
    for row, cells in enumerate(mask):
        edges = np.flatnonzero(np.diff(np.concatenate(([False], cells, [False])).astype(int)))
        for start, end in edges.reshape(-1, 2):
            x0, x1, y0, y1 = start * wide, end * wide, row * high, (row + 1) * high
            boxes.append(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))
    return boxes


def _key(figure: "object", names: list[str], *, outside: bool) -> None:
    """What tint and hatch mean, in one row under the maps."""
    from matplotlib.figure import Figure
    from matplotlib.patches import Patch

    if not isinstance(figure, Figure):
        return
    handles = [Patch(facecolor=FILLS[0], edgecolor=ink("line"), label="seen")]
    handles += [
        Patch(
            facecolor=FILLS[1 + place % (len(FILLS) - 1)],
            edgecolor=ink("ink"),
            linewidth=0.4,
            hatch=HATCHES[place % len(HATCHES)],
            label=f"hidden by the {cut(name.replace('_', ' '), 20)}",
        )
        for place, name in enumerate(names)
    ]
    if outside:
        grey = Patch(facecolor=ink("rule"), edgecolor=ink("line"), label="outside the picture")
        handles.append(grey)
    figure.legend(
        handles=handles,
        loc="lower center",
        ncols=4,
        frameon=False,
        fontsize=SMALL_PT,
        handlelength=2.2,
    )


def _alt(views: list[tuple[str, CameraView]]) -> str:
    said = "; ".join(f"{title}: {100 * view.seen_frac:.0f} % seen" for title, view in views)
    return f"Map of what the camera sees of its target. {said}"
