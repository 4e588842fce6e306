"""Hours that go into slits: walls that are not a whole number of beads."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from buildplan.findings import Finding
from buildplan.kernels.motion import time_travels_to
from buildplan.process.fill.lines import fixed
from buildplan.process.motion import TimeEstimate
from buildplan.process.paths import Paths
from buildplan.process.roles import ROLE_COUNT, Role
from buildplan.tables.printer import ExtrusionPrinter
from buildplan.tables.recipe import ExtrusionRecipe

FILL_ROLES = (Role.INFILL, Role.FLOOR_ROOF)

LEAST_H = 0.05
"""Fewer hours than this are not said (ours)."""

SURE_SHARE = 0.15
"""Differences below this share of the slits' hours are not known well enough to be said (ours)."""


def say_hours(
    findings: tuple[Finding, ...],
    paths: Paths,
    times: TimeEstimate,
    printer: ExtrusionPrinter,
    recipe: ExtrusionRecipe,
) -> tuple[Finding, ...]:
    """The findings of the paths; that of slits says what they cost in hours.

    Nothing is computed where no slit was found.
    """
    if all(finding.check != "slit" for finding in findings):
        return findings
    fill_h = slit_h(paths, times, printer)
    if fill_h < LEAST_H:
        return findings
    return tuple(
        replace(
            finding,
            what=f"{finding.what}; its slits take about {fill_h:.1f} of {times.time_h:.1f} h",
            remedy=f"{finding.remedy} {_saved(paths, times, recipe, fill_h)}",
        )
        if finding.check == "slit"
        else finding
        for finding in findings
    )


def _saved(paths: Paths, times: TimeEstimate, recipe: ExtrusionRecipe, fill_h: float) -> str:
    """What walls of whole beads save: without the fill, and with more beads in its place."""
    beads = 2 * recipe.wall_beads
    saved = f"Walls of {beads} beads save about {fill_h:.1f} h"
    if not paths.slit_advice or paths.slit_advice[0].whole_beads == beads:
        return f"{saved}."
    whole = paths.slit_advice[0].whole_beads
    net_h = fill_h - (whole - beads) * bead_h(paths, times, recipe)
    if abs(net_h) < max(LEAST_H, SURE_SHARE * fill_h):
        return f"{saved}, those of {whole} beads hardly any."
    return (
        f"{saved}, those of {whole} beads {'save' if net_h > 0.0 else 'cost'} {abs(net_h):.1f} h."
    )


def bead_h(paths: Paths, times: TimeEstimate, recipe: ExtrusionRecipe) -> float:
    """Hours of one more bead along the walls that have slits.

    It takes as long as the mean wall bead of its layer; where there is only the outline, as long
    as that at the speed of a wall.
    """
    inner = recipe.wall_beads - 1
    laid_s = times.role_time_s[:, Role.WALL if inner else Role.OUTLINE] / (2 * max(1, inner))
    pace = 1.0 if inner else recipe.outline_mm_s / recipe.wall_mm_s
    return pace * float((paths.slit_share * laid_s).sum()) / 3600.0


def slit_h(paths: Paths, times: TimeEstimate, printer: ExtrusionPrinter) -> float:
    """Hours spent on the fill in slits: its beads, the travels to them, their retractions.

    The beads' time is the planner's, layer by layer; where a layer has slits and wider borders,
    the slits get the share of their area. A travel is timed from rest to rest. Against estimates
    of the same frames and tubes with walls of whole beads it is 5 to 15 % high, because some
    travel stays. Layers that wait for the least layer time count for nothing.
    """
    beads_s = times.role_time_s[:, FILL_ROLES].sum(axis=1)
    extruding_s = times.role_time_s[:, 1:].sum(axis=1)
    free = times.slowed_s <= 0.0
    whole_s = np.where(free & (extruding_s > 0.0), beads_s + _reaching_s(paths, printer), 0.0)
    return float((paths.slit_share * whole_s).sum()) / 3600.0


def _reaching_s(paths: Paths, printer: ExtrusionPrinter) -> NDArray[np.float64]:
    """Seconds of every layer spent on travels that end at a bead of the fill (n_layers,)."""
    is_fill = np.zeros(ROLE_COUNT, np.uint8)
    is_fill[list(FILL_ROLES)] = 1
    layer_s = np.zeros(len(paths.point_off) - 1)
    time_travels_to(
        fixed(paths.x_mm),
        fixed(paths.y_mm),
        fixed(paths.role),
        fixed(paths.retract),
        fixed(paths.point_off),
        is_fill,
        int(Role.TRAVEL),
        float(printer.travel_mm_s),
        float(printer.travel_accel_mm_s2),
        float(printer.retract_s),
        layer_s,
    )
    return layer_s
