"""Temperatures against limits, with what is not known of them."""

import math

from buildplan.device.heat.model import HeatStudy, NodeHeat
from buildplan.device.heat.words import FACES
from buildplan.report.device_pictures.canvas import (
    SMALL_PT,
    Kind,
    canvas,
    finish,
    folded,
    frame,
    ink,
    key,
)
from buildplan.report.platform_picture import PlatformPicture

LETTERS = 26

MARKS = {
    "part": ("o", "blue", "part"),
    "mount": ("D", "vermilion", "what is printed under it"),
    "wall": ("s", "green", "wall, inside"),
    "outside": ("^", "orange", "wall, outside"),
    "air": ("v", "muted", "air"),
}


def draw_heat(study: HeatStudy, *, kind: Kind = "svg") -> PlatformPicture:
    """Each place in its warmest mode: 5 to 95 of 100 draws as a bar, its limit as a stroke."""
    rows = _rows(study)[::-1]
    height = 25.0 + 6.4 * len(rows)
    left = min(
        0.34, 0.03 + 0.0098 * max(len(line) for node in rows for line in _name(node).split("\n"))
    )
    with canvas(176.0, height) as figure:
        axes = figure.add_axes((left, 10.0 / height, 0.86 - left, 1.0 - 25.0 / height))
        frame(axes, "How warm it gets", f"°C in a room of {study.ambient_c:.0f} °C", "")
        axes.grid(axis="x", color=ink("rule"), linewidth=0.6)
        for y, node in enumerate(rows):
            marker, colour, _ = MARKS[node.kind]
            axes.axhline(y, color=ink("rule"), linewidth=0.8, zorder=0)
            axes.plot(
                [node.low_c, node.high_c], [y, y], color=ink(colour), linewidth=3.2, alpha=0.4
            )
            axes.plot(node.temp_c, y, marker, color=ink(colour), markersize=5)
            axes.plot(
                node.mean_c,
                y,
                marker,
                color=ink(colour),
                markersize=4,
                markerfacecolor=ink("paper"),
            )
            if math.isfinite(node.limit_c):
                axes.plot([node.limit_c] * 2, [y - 0.34, y + 0.34], color=ink("ink"), linewidth=2.4)
            axes.text(
                1.015,
                y,
                f"{node.mode}, {node.longest_min:g} min" if node.longest_min else node.mode,
                transform=axes.get_yaxis_transform(),
                va="center",
                size=SMALL_PT,
            )
        axes.text(
            1.015,
            len(rows) - 0.35,
            "when held",
            transform=axes.get_yaxis_transform(),
            size=SMALL_PT,
            color=ink("muted"),
        )
        axes.set_yticks(range(len(rows)), [_name(node) for node in rows], linespacing=1.0)
        axes.set_ylim(-0.6, len(rows) - 0.4)
        handles = [
            axes.plot([], [], "o", color=ink("ink"), markersize=4.5, label="mode at its longest")[
                0
            ],
            axes.plot(
                [],
                [],
                "o",
                color=ink("ink"),
                markerfacecolor=ink("paper"),
                markersize=4,
                label="day's mean",
            )[0],
            axes.plot([], [], "|", color=ink("ink"), mew=2.4, label="limit")[0],
        ]
        key(axes, handles)
        return finish(figure, kind, _alt(study))


def _rows(study: HeatStudy) -> list[NodeHeat]:
    """Parts, what is under them, then the warmest wall inside and outside, then the air."""
    parts = [node for node in study.nodes if node.kind in ("part", "mount")]
    parts.sort(key=lambda node: -node.temp_c)
    found = list(parts)
    for kind in ("wall", "outside", "air"):
        rows = [node for node in study.nodes if node.kind == kind]
        if rows:
            found.append(max(rows, key=lambda node: node.temp_c))
    return found


def _name(node: NodeHeat) -> str:
    if node.kind in ("wall", "outside"):
        face, _, side = node.name.partition(" ")
        return f"warmest wall, {side} ({FACES.get(face, face)})"
    if node.kind == "air":
        return "air inside"
    return folded(node.name.replace("mounts of ", "under "), LETTERS)


def _alt(study: HeatStudy) -> str:
    over = [node for node in study.nodes if node.temp_c > node.limit_c]
    said = f"{len(over)} over their limit" if over else "none over its limit"
    return (
        f"Temperatures of {len(study.nodes)} places in a room of {study.ambient_c:.0f} °C; {said}"
    )
