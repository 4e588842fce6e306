"""Certified sweep of the demo's roof against a plain scan that proves as much."""

import math
from statistics import median

import numpy as np
import pytest
from benchmarks.ratio import record, seconds

from buildplan.build import load_build
from buildplan.demo import demo_folder
from buildplan.device.clearance import Swing, TouchZone, sweep_hinge
from buildplan.device.clearance.gauge import Bodies
from buildplan.device.clearance.solids import (
    cylinder_between,
    radii_about,
    solid_of_part,
    turn_pose,
)
from buildplan.part.read import read_part
from buildplan.part.turn import turn_part

SWING = Swing(point_mm=(0.0, 202.27, 119.936), axis=(-1.0, 0.0, 0.0), to_deg=60.0)
ZONES = [
    TouchZone(
        name=f"hinge at x = {x}",
        point_mm=(x - 22.0, 202.27, 119.936),
        end_mm=(x + 22.0, 202.27, 119.936),
        radius_mm=7.0,
    )
    for x in (40.0, 168.0)
]


@pytest.fixture(scope="module")
def pair():
    found = {}
    for request in load_build(demo_folder()).parts:
        if request.name in ("base_shell", "roof_vent"):
            part = read_part(request.path, unit=request.unit, name=request.name, health="quick")
            found[request.name] = turn_part(part, request.poses[0])
    return found["base_shell"], found["roof_vent"]


@pytest.mark.slow
@pytest.mark.parametrize("engine", ["fcl", "manifold3d"])
def test_a_certified_sweep_beats_a_scan_of_equal_certainty(pair, engine):
    shell, roof = pair
    body, mover = solid_of_part(shell), solid_of_part(roof)
    for zone in ZONES:
        mover -= cylinder_between(zone.point_mm, zone.end_mm, zone.radius_mm)
    gauge = Bodies(engine).gauge(body, mover, 20.0)
    # a gap falls by no more than radius * step / 2 between two poses
    radius = float(radii_about(SWING, roof.vertices_mm).max())
    step = math.degrees(2.0 * 0.01 / radius)
    poses = math.ceil(60.0 / step)
    share = 60 if engine == "fcl" else 150
    # every so-manieth pose of the scan, so that a round stays short: time is counted in full
    angles = np.linspace(0.0, 60.0, poses)[::share]

    def certified():
        (found,) = sweep_hinge([shell], [roof], SWING, touch_zones=ZONES, engine=engine).pairs
        assert found.proven_mm > 0.39

    def scan():
        for angle in angles:
            gauge.gap_mm(turn_pose(SWING, float(angle)))

    certified()
    own, other = [], []
    for _ in range(3):
        own.append(seconds(certified))
        other.append(seconds(scan))
    record(
        f"hinge sweep, proven to 0.01 mm, {engine}",
        f"scan of {poses} poses that proves as much",
        median(other) * poses / len(angles) / median(own),
        20.0,
    )
    tenth = median(other) / len(angles) * 600
    record(
        f"hinge sweep, proven to 0.01 mm, {engine}",
        f"scan by 0.1 degree, which proves {radius * math.radians(0.05):.2f} mm",
        tenth / median(own),
        1.0,
    )
