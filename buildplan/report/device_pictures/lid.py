"""Torque over the lid's angle with stall lines, force in the link, the linkage in four poses."""

import itertools
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from buildplan.device.chain.model import DeviceStudy
from buildplan.device.mechanism import MechanismStudy
from buildplan.device.mechanism.load import N_MM_OF_KG_CM
from buildplan.device.mechanism.rod import RodLinkage
from buildplan.report.device_pictures.canvas import (
    LINES,
    SMALL_PT,
    Kind,
    apart,
    canvas,
    cut,
    finish,
    frame,
    ink,
)
from buildplan.report.platform_picture import PlatformPicture

if TYPE_CHECKING:
    from matplotlib.axes import Axes

POSES = 4
HIGHEST = 1.25
"""How far over the highest stall line the picture reaches; a torque beyond is cut and marked."""


def draw_lid(study: DeviceStudy, *, kind: Kind = "svg") -> PlatformPicture:
    """Every drive of the build, the built one in full ink; needs at least one."""
    built = next(one for one in study.drives if one.name == study.linkage)
    has_rod = isinstance(built.linkage, RodLinkage)
    with canvas(176.0, 92.0 if has_rod else 70.0) as figure:
        grid = figure.add_gridspec(
            2,
            2 if has_rod else 1,
            height_ratios=(2.1, 1.0),
            width_ratios=(1.25, 1.0) if has_rod else (1.0,),
            left=0.075,
            right=0.985,
            top=0.925,
            bottom=0.115,
            hspace=0.5,
            wspace=0.2,
        )
        _torque(figure.add_subplot(grid[0, 0]), study)
        _force(figure.add_subplot(grid[1, 0]), study)
        if has_rod:
            _poses(figure.add_subplot(grid[:, 1]), built)
        return finish(figure, kind, _alt(study, built))


def _label(study: MechanismStudy) -> str:
    return cut(study.name.replace("_", " "), 24)


def _order(study: DeviceStudy) -> list[tuple[MechanismStudy, str, Any, float]]:
    """The built drive first, each with its colour, dash and width."""
    built = [one for one in study.drives if one.name == study.linkage]
    others = [one for one in study.drives if one.name != study.linkage]
    return [
        (one, colour, dash, 2.0 if one.name == study.linkage else 1.2)
        for one, (colour, dash) in zip([*built, *others], itertools.cycle(LINES), strict=False)
    ]


def _torque(axes: "Axes", study: DeviceStudy) -> None:
    frame(axes, "Torque at the servo", "", "kg cm")
    rows = _order(study)
    stalls = {one.servo.name: one.servo.stall_n_mm / N_MM_OF_KG_CM for one, *_ in rows}
    built = rows[0][0]
    stall = stalls[built.servo.name]
    peaks = [float(np.abs(one.drive.servo_n_mm).max()) / N_MM_OF_KG_CM for one, *_ in rows]
    top = max(stall * 1.08, min(max(peaks) * 1.1, max(stalls.values()) * HIGHEST))
    low, high = built.hinge.from_deg, built.hinge.to_deg
    axes.set_xlim(low, low + 1.34 * (high - low))
    axes.set_ylim(0.0, top)
    _ticks(axes, low, high)
    axes.axhspan(stall / built.needs.safety_factor, stall, color=ink("tint"), zorder=0)
    axes.text(
        low + 0.02 * (high - low),
        (stall / built.needs.safety_factor + stall) / 2.0,
        "above the share that a servo bears for long",
        size=SMALL_PT,
        color=ink("muted"),
        va="center",
    )
    ends = []
    for one, colour, dash, width in rows:
        values = np.abs(one.drive.servo_n_mm) / N_MM_OF_KG_CM
        axes.plot(one.drive.angle_deg, values, color=ink(colour), linestyle=dash, linewidth=width)
        ends.append(min(float(values[-1]), 0.97 * top))
    labels = [(_label(one), colour, width > 1.5) for one, colour, _, width in rows]
    for name, value in stalls.items():
        axes.plot([low, high], [value, value], color=ink("ink"), linewidth=0.9)
        labels.append((f"stall, {cut(name.split(',')[0], 16)}", "ink", False))
        ends.append(value)
    room = 0.045 * (high - low)
    spread = apart(ends, 0.085 * top, floor=0.03 * top)
    for (text, colour, bold), end, y in zip(labels, ends, spread, strict=True):
        weight = "bold" if bold else "normal"
        axes.text(
            high + room, y, text, color=ink(colour), va="center", weight=weight, size=SMALL_PT
        )
        axes.plot([high, high + 0.8 * room], [end, y], color=ink(colour), linewidth=0.6)


def _ticks(axes: "Axes", low: float, high: float) -> None:
    """Marks over the travel only; the room beside it is for labels."""
    step = 10.0 if high - low > 40.0 else 5.0
    axes.set_xticks(np.arange(low, high + 0.01, step))
    axes.spines["bottom"].set_bounds(low, high)


def _force(axes: "Axes", study: DeviceStudy) -> None:
    frame(axes, "Force in rod or cable", "lid, degrees", "N")
    built = study.drives[0].hinge
    axes.set_xlim(built.from_deg, built.from_deg + 1.34 * (built.to_deg - built.from_deg))
    _ticks(axes, built.from_deg, built.to_deg)
    top, ends, labels = 0.0, list[float](), list[tuple[str, str]]()
    for one, colour, dash, width in _order(study):
        if one.drive.kind == "direct":
            continue
        values = np.abs(one.drive.link_n)
        top = max(top, float(values.max()))
        axes.plot(one.drive.angle_deg, values, color=ink(colour), linestyle=dash, linewidth=width)
        ends.append(float(values[-1]))
        labels.append((f"at most {values.max():.0f} N", colour))
    for (text, colour), y in zip(
        labels, apart(ends, 0.2 * max(top, 1.0), floor=0.1 * top), strict=True
    ):
        axes.text(built.to_deg + 1.0, y, text, color=ink(colour), va="center", size=SMALL_PT)
    axes.set_ylim(0.0, 1.15 * top if top else 1.0)


def _poses(axes: "Axes", study: MechanismStudy) -> None:
    """The linkage with the lid at four angles, seen along the hinge; the last in full ink."""
    drive, linkage = study.drive, study.linkage
    if not isinstance(linkage, RodLinkage):
        return
    axes.set_title("The linkage in four poses", pad=6)
    axes.set_aspect("equal", adjustable="datalim")
    axes.set_axis_off()
    places = np.linspace(0, len(drive.angle_deg) - 1, POSES).round().astype(int)
    for number, place in enumerate(places):
        shade = 0.25 + 0.75 * number / (POSES - 1)
        turn = math.radians(float(drive.angle_deg[place]))
        edge = study.lid.edge_mm * np.array([math.cos(turn), math.sin(turn)])
        pin, tip = drive.pin_mm[place], drive.tip_mm[place]
        axes.plot([0, edge[0]], [0, edge[1]], color=ink("ink"), linewidth=2.4, alpha=shade)
        axes.plot([0, pin[0]], [0, pin[1]], color=ink("muted"), linewidth=0.8, alpha=shade)
        axes.plot(*zip(pin, tip, strict=True), color=ink("blue"), linewidth=1.6, alpha=shade)
        axes.plot(
            *zip(tip, linkage.servo_mm, strict=True),
            color=ink("vermilion"),
            linewidth=2.0,
            alpha=shade,
        )
        axes.plot(*pin, "o", color=ink("blue"), markersize=3.0, alpha=shade)
        axes.plot(*tip, "o", color=ink("vermilion"), markersize=3.0, alpha=shade)
        axes.annotate(
            f"{drive.angle_deg[place]:.0f}°",
            (float(edge[0]), float(edge[1])),
            xytext=(3, 2),
            textcoords="offset points",
            size=SMALL_PT,
            color=ink("muted"),
        )
    axes.plot(0, 0, "s", color=ink("ink"), markersize=5)
    axes.annotate(
        "hinge", (0, 0), xytext=(-5, 5), textcoords="offset points", ha="right", size=SMALL_PT
    )
    axes.plot(*linkage.servo_mm, "s", color=ink("vermilion"), markersize=5)
    axes.annotate(
        "servo",
        linkage.servo_mm,
        xytext=(6, -9),
        textcoords="offset points",
        size=SMALL_PT,
        color=ink("vermilion"),
    )
    axes.margins(0.09)


def _alt(study: DeviceStudy, built: MechanismStudy) -> str:
    peak = float(np.abs(built.drive.servo_n_mm).max()) / N_MM_OF_KG_CM
    return (
        f"Torque at the servo over the lid's angle for {len(study.drives)} drives; "
        f"{_label(built)} needs up to {peak:.1f} kg cm, its servo stalls at "
        f"{built.servo.stall_n_mm / N_MM_OF_KG_CM:.1f}"
    )
