"""The mechanism: a batch against a loop, the rod search against differential evolution."""

import math
from statistics import median

import linkages
import numpy as np
from benchmarks.ratio import ratio, record, seconds

from buildplan.device.mechanism import (
    best_rod,
    edge_pinch,
    hinge_load,
    open_lid,
    rod_drive,
    rod_tolerance,
)
from buildplan.device.mechanism.judge import POSES, judge
from buildplan.device.mechanism.load import greatest_n_mm

LOWS = np.array([10.0, -90.0, 12.0, -math.pi, 25.0, -15.0])
HIGHS = np.array([120.0, -35.0, 30.0, math.pi, 140.0, 0.0])


def test_a_thousand_poses_at_once_against_one_by_one():
    lid, hinge = linkages.pane_lid()
    angles = np.linspace(0.0, 65.0, 1000)
    linkage = best_rod(hinge_load(lid, hinge), linkages.pane_limits()).linkage
    servo = linkages.strong_servo()

    def batch():
        load = hinge_load(lid, hinge, angle_deg=angles)
        drive = rod_drive(load, linkage)
        open_lid(drive, servo, lid)
        edge_pinch(lid, load, drive, servo)

    def loop():
        for angle in angles[::10]:
            load = hinge_load(lid, hinge, angle_deg=[angle])
            drive = rod_drive(load, linkage)
            open_lid(drive, servo, lid)
            edge_pinch(lid, load, drive, servo)

    times = 10.0 * ratio(batch, loop, rounds=5)
    record("load, push rod, time, pinch at 1000 poses", "one pose at a time", times, 50.0)


def test_ten_thousand_linkages_at_once_against_a_hundred_singles():
    lid, hinge = linkages.pane_lid()
    load = hinge_load(lid, hinge)
    short = hinge_load(lid, hinge, angle_deg=np.linspace(0.0, 65.0, 41))
    linkage = best_rod(load, linkages.pane_limits()).linkage
    off = np.random.default_rng(0).normal(0.0, 0.2, (100, 5))

    def singles():
        for dx, dy, dr, bx, by in off:
            moved = linkages.rod(
                linkage.servo_mm[0] + dx,
                linkage.servo_mm[1] + dy,
                linkage.horn_mm + dr,
                linkage.horn_shut_deg,
                linkage.lid_pin_mm[0] + bx,
                linkage.lid_pin_mm[1] + by,
            )
            rod_drive(short, moved)

    times = 100.0 * ratio(lambda: rod_tolerance(load, linkage, pivot_mm=0.4), singles, rounds=5)
    record("tolerance of 10 000 push rods", "single linkages, 10 000 of them", times, 20.0)


def test_the_rod_search_against_differential_evolution_at_the_same_optimum():
    from scipy.optimize import differential_evolution

    lid, hinge = linkages.pane_lid()
    load, limits = hinge_load(lid, hinge), linkages.pane_limits()
    angle = np.linspace(0.0, 65.0, POSES)
    need = np.interp(angle, load.angle_deg, greatest_n_mm(load))

    def penalised(columns):
        judged = judge(columns.T, need, np.radians(angle), limits)
        lacks = np.minimum(np.column_stack((judged.margins, judged.reaches)), 0.0)
        return judged.torque_n_mm.max(axis=1) - 1e5 * lacks.min(axis=1)

    def evolve():
        return differential_evolution(
            penalised,
            list(zip(LOWS, HIGHS, strict=True)),
            vectorized=True,
            updating="deferred",
            popsize=20,
            maxiter=400,
            tol=1e-8,
            seed=1,
            polish=False,
        )

    ours = best_rod(load, limits, ease_frac=0.0)
    theirs = evolve()
    assert ours.least_peak_n_mm <= theirs.fun * (1.0 + 1e-3)
    assert ours.least_peak_n_mm >= theirs.fun * (1.0 - 1e-2)
    own = [seconds(lambda: best_rod(load, limits, ease_frac=0.0)) for _ in range(3)]
    other = [seconds(evolve) for _ in range(3)]
    record(
        "best push rod, first stage",
        "scipy's differential evolution, same optimum",
        median(other) / median(own),
        2.0,
    )
