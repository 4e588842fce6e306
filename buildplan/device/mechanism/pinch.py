"""A finger in the gap of a closing lid: how hard it is pressed, and over which angles it fits."""

import math
from dataclasses import dataclass

import numpy as np

from buildplan.device.mechanism.drives import Drive
from buildplan.device.mechanism.lid import Lid
from buildplan.device.mechanism.load import HingeLoad, closed
from buildplan.device.mechanism.rod import Floats
from buildplan.device.mechanism.servo import Servo

FINGER_LOW_MM = 4.0
"""A gap below this takes no fingertip (a child's; common practice, toys use 5: EN 71-1)."""

FINGER_HIGH_MM = 25.0
"""Least gap that does not crush a finger: ISO 13854:2017, Table 1."""

FINGER_N = 15.0
"""Aim for a small powered lid: 10 to 20 N (common practice; doors may press 150 N, EN 12453)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pinch:
    """Force at the free edge on what stops the closing lid.

    Attributes:
        gap_mm: (n,) opening at the free edge.
        force_n: (n,) with the servo stalled on it.
        window_from_deg: Least angle of the travel at which a finger fits and is not free.
        window_to_deg: Greatest such angle; both are nan where there is none.
        worst_n: Greatest force in the window, 0 where there is none.
        worst_deg: Where.
        weight_n: Force of the lid's own weight there, as of a cable drive or a dead servo.
    """

    gap_mm: Floats
    force_n: Floats
    window_from_deg: float
    window_to_deg: float
    worst_n: float
    worst_deg: float
    weight_n: float


def edge_pinch(
    lid: Lid,
    load: HingeLoad,
    drive: Drive,
    servo: Servo,
    *,
    finger_low_mm: float = FINGER_LOW_MM,
    finger_high_mm: float = FINGER_HIGH_MM,
) -> Pinch:
    """How hard the edge of a closing lid presses where it is stopped.

    gap = 2 edge sin(angle / 2); force = (weight - spring + stall |ratio|) / edge for a drive that
    can push shut, (weight - spring) / edge for a cable. More leverage pinches harder.

    Args:
        lid: For its free edge.
        load: Weight and spring.
        drive: Its ratio of servo to lid.
        servo: Its stall torque.
        finger_low_mm: Gap that takes a fingertip.
        finger_high_mm: Gap that leaves a finger free.

    Source: plane statics; gaps by ISO 13854:2017, Table 1, and EN 71-1, 4.10.
    """
    net = load.weight_n_mm - load.spring_n_mm
    push = np.zeros_like(net) if drive.kind == "cable" else servo.stall_n_mm * np.abs(drive.ratio)
    force = np.maximum(net + push, 0.0) / lid.edge_mm
    gap = 2.0 * lid.edge_mm * np.sin(np.radians(np.abs(load.angle_deg)) / 2.0)
    inside = np.flatnonzero((gap > finger_low_mm) & (gap < finger_high_mm))
    start, end = float(load.angle_deg[0]), float(load.angle_deg[-1])
    low = _angle_of_gap(finger_low_mm, lid.edge_mm)
    high = _angle_of_gap(finger_high_mm, lid.edge_mm)
    is_there = len(inside) > 0
    worst = int(inside[force[inside].argmax()]) if is_there else 0
    return Pinch(
        gap_mm=closed(gap),
        force_n=closed(force),
        window_from_deg=max(start, low) if is_there else math.nan,
        window_to_deg=min(end, high) if is_there else math.nan,
        worst_n=float(force[worst]) if is_there else 0.0,
        worst_deg=float(load.angle_deg[worst]) if is_there else math.nan,
        weight_n=max(float(net[worst]), 0.0) / lid.edge_mm if is_there else 0.0,
    )


def _angle_of_gap(gap_mm: float, edge_mm: float) -> float:
    """Angle at which the edge stands off by a gap."""
    return math.degrees(2.0 * math.asin(min(1.0, gap_mm / (2.0 * edge_mm))))
