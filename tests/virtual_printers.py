"""Printers with hidden properties: a motion simulator that shares nothing with the estimator.

It drives the same moves by other laws: every axis has its own speed and acceleration, speed
changes are limited in jerk (each ramp starts and ends without acceleration), and a corner may jump
each axis' speed by a fixed amount, where the estimator has trapezoids and rounds corners. Speeds,
accelerations, jerk, corner jump, melt flow, warm-up, retraction and layer change are drawn anew
for every printer and differ from the table row that the estimator is given.
"""

import math
from dataclasses import dataclass

import numba
import numpy as np
import rows
import solids
from bare_parts import bare_part
from manifold3d import Manifold

from buildplan.process.estimate import estimate_print
from buildplan.process.estimate.stages import paths_of

ROLES = 9


@dataclass(frozen=True)
class HiddenPrinter:
    """What a virtual printer really does; one print differs from the next by noise_sd."""

    speed_mm_s: np.ndarray
    axis_mm_s: tuple[float, float]
    axis_mm_s2: tuple[float, float]
    jerk_mm_s3: float
    corner_jump_mm_s: float
    flow_mm3_s: float
    warm_up_s: float
    retract_s: float
    layer_change_s: float
    noise_sd: float


def draw_printer(seed):
    rng = np.random.default_rng([seed, 11])
    row, recipe = rows.printer(), rows.recipe()
    table = np.array(
        [
            row.travel_mm_s,
            recipe.outline_mm_s,
            recipe.wall_mm_s,
            recipe.infill_mm_s,
            recipe.floor_roof_mm_s,
            recipe.support_mm_s,
            recipe.support_face_mm_s,
            recipe.centre_mm_s,
            recipe.margin_mm_s,
        ]
    )
    overall = rng.uniform(0.75, 1.15)
    accel = row.print_accel_mm_s2 * rng.uniform(0.6, 1.6)
    return HiddenPrinter(
        speed_mm_s=table * overall * rng.uniform(0.93, 1.07, ROLES),
        axis_mm_s=tuple(rng.uniform(180.0, 300.0, 2)),
        axis_mm_s2=(accel * rng.uniform(0.9, 1.2), accel * rng.uniform(0.7, 1.0)),
        jerk_mm_s3=rng.uniform(5e4, 3e5),
        corner_jump_mm_s=rng.uniform(5.0, 12.0),
        flow_mm3_s=row.flow_limit_mm3_s * rng.uniform(0.85, 1.2),
        warm_up_s=row.warm_up_s * rng.uniform(0.8, 1.3),
        retract_s=row.retract_s * rng.uniform(0.7, 1.5),
        layer_change_s=rng.uniform(0.2, 0.8),
        noise_sd=0.01,
    )


@numba.njit(cache=True)
def ramp_mm(slow, fast, accel, jerk):
    """Way of a ramp between two speeds that starts and ends without acceleration."""
    change = abs(fast - slow)
    seconds = change / accel + accel / jerk
    if change < accel * accel / jerk:
        seconds = 2.0 * math.sqrt(change / jerk)
    return 0.5 * (slow + fast) * seconds


@numba.njit(cache=True)
def ramp_s(slow, fast, accel, jerk):
    change = abs(fast - slow)
    if change < accel * accel / jerk:
        return 2.0 * math.sqrt(change / jerk)
    return change / accel + accel / jerk


@numba.njit(cache=True)
def reachable(start, limit, length, accel, jerk):
    """Highest speed at the end of a way that starts at a speed."""
    if limit <= start or ramp_mm(start, limit, accel, jerk) <= length:
        return limit
    low, high = start, limit
    for _ in range(24):
        middle = 0.5 * (low + high)
        if ramp_mm(start, middle, accel, jerk) <= length:
            low = middle
        else:
            high = middle
    return low


@numba.njit(cache=True)
def move_s(begin, end, limit, length, accel, jerk):
    """Seconds of a move: up to the highest speed that leaves room to come down again."""
    low, high = max(begin, end), max(limit, begin, end)
    for _ in range(24):
        top = 0.5 * (low + high)
        if ramp_mm(begin, top, accel, jerk) + ramp_mm(end, top, accel, jerk) <= length:
            low = top
        else:
            high = top
    used = ramp_mm(begin, low, accel, jerk) + ramp_mm(end, low, accel, jerk)
    rest = max(length - used, 0.0) / max(low, 1e-3)
    return ramp_s(begin, low, accel, jerk) + ramp_s(end, low, accel, jerk) + rest


@numba.njit(cache=True)
def drive(x, y, role, section, first, last, speeds, axis_v, axis_a, jerk, jump, flow):
    """(travelling, extruding) seconds of the moves first..last of one layer, rest to rest."""
    count = 0
    length, limit = np.zeros(last - first), np.zeros(last - first)
    accel, extrudes = np.zeros(last - first), np.zeros(last - first, np.bool_)
    ux, uy = np.zeros(last - first), np.zeros(last - first)
    for i in range(first, last):
        before = max(i - 1, 0)
        dx, dy = x[i] - x[before], y[i] - y[before]
        way = math.hypot(dx, dy)
        if way < 1e-7:
            continue
        ux[count], uy[count] = dx / way, dy / way
        ax, ay = max(abs(ux[count]), 1e-9), max(abs(uy[count]), 1e-9)
        top = min(speeds[role[i]], axis_v[0] / ax, axis_v[1] / ay)
        extrudes[count] = role[i] != 0
        if role[i] != 0 and section[i] > 0.0:
            top = min(top, flow / section[i])
        length[count], limit[count] = way, top
        accel[count] = min(axis_a[0] / ax, axis_a[1] / ay)
        count += 1
    corner = np.zeros(count + 1)
    for k in range(1, count):
        turn = max(abs(ux[k] - ux[k - 1]), abs(uy[k] - uy[k - 1]))
        corner[k] = min(limit[k], limit[k - 1], jump / max(turn, 1e-9))
    for k in range(count - 1, 0, -1):
        top = reachable(corner[k + 1], corner[k], length[k], accel[k], jerk)
        corner[k] = min(corner[k], top)
    travel, laid = 0.0, 0.0
    for k in range(count):
        top = reachable(corner[k], corner[k + 1], length[k], accel[k], jerk)
        corner[k + 1] = min(corner[k + 1], top)
        seconds = move_s(corner[k], corner[k + 1], limit[k], length[k], accel[k], jerk)
        if extrudes[k]:
            laid += seconds
        else:
            travel += seconds
    return travel, laid


def real_h(paths, printer, rng):
    """Hours that a virtual printer takes for the moves of a print."""
    thickness = np.repeat(paths.layers.thickness_mm, np.diff(paths.point_off))
    section = paths.bead_mm.astype(np.float64) * thickness
    seconds = printer.warm_up_s
    for first, last in zip(paths.point_off[:-1], paths.point_off[1:], strict=True):
        travel, laid = drive(
            paths.x_mm,
            paths.y_mm,
            paths.role,
            section,
            first,
            last,
            printer.speed_mm_s,
            printer.axis_mm_s,
            printer.axis_mm_s2,
            printer.jerk_mm_s3,
            printer.corner_jump_mm_s,
            printer.flow_mm3_s,
        )
        least = paths.recipe.layer_time_least_s
        seconds += max(travel + laid, least) + printer.layer_change_s
    seconds += printer.retract_s * float(paths.retract.sum())
    return seconds / 3600.0 * math.exp(rng.normal(0.0, printer.noise_sd))


def draw_solid(rng):
    """A part of one to ten hours: a bracket, tube, tray, block with holes, knob or T."""
    a, b, c = rng.uniform(60.0, 140.0), rng.uniform(45.0, 90.0), rng.uniform(20.0, 60.0)
    wall = rng.uniform(2.5, 5.0)
    kind = rng.integers(6)
    if kind == 0:
        return solids.box(a, b, wall) + solids.box(wall, b, c)
    if kind == 1:
        return solids.tube(a / 2, a / 2 - wall, c, 96)
    if kind == 2:
        inside = solids.box(a - 2 * wall, b - 2 * wall, c, (wall, wall, wall))
        return solids.box(a, b, c) - inside
    if kind == 3:
        hole = Manifold.cylinder(c + 2, rng.uniform(3.0, 12.0), circular_segments=48)
        block = solids.box(a, b, c / 2)
        for share in (0.25, 0.75):
            block = block - hole.translate((share * a, b / 2, -1.0))
        return block
    if kind == 4:
        return Manifold.cylinder(c, b / 2, b / 3, 64)
    return solids.tee(b / 2, c / 2, b, wall)


def cases(count, seed):
    """(estimate, paths) of parts drawn at random, as the estimator sees them."""
    rng = np.random.default_rng([seed, 12])
    found = []
    for k in range(count):
        part = bare_part(*solids.arrays(draw_solid(rng)), name=f"part {k}")
        estimate = estimate_print(part, rows.printer(), rows.feedstock(), rows.recipe())
        found.append((estimate, paths_of(part, rows.recipe())))
    return found
