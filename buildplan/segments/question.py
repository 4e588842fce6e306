"""What split_part was asked, with what follows from it; the defaults of joints and weights."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from buildplan.errors import InputError
from buildplan.part.model import Part
from buildplan.process.estimate import Prices, PrintEstimate
from buildplan.process.estimate.costs import machine_cost_h
from buildplan.segments.cut import Printing
from buildplan.segments.hours import HoursModel
from buildplan.segments.joints import JointSpec
from buildplan.segments.model import SplitLimits, SplitWeights
from buildplan.segments.planes import Plane
from buildplan.segments.restart import FailureOdds
from buildplan.tables import fits
from buildplan.tables.printer import Printer
from buildplan.tables.rules import Rules

if TYPE_CHECKING:
    from manifold3d import Manifold

LYING_COS = 0.7
"""Holes whose axis leans further than this from upright print as lying ones."""

FACE_H_MM2 = 0.05 / 1000.0
"""Own hours for cleaning and finishing a cut face (common practice, no source: 3 min a 10 cm2)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A part to be cut and all that was said about it.

    Attributes:
        solid: The part, whole; ``small`` the same, simplified for the search where it is large.
        whole: Estimate of the part in one piece.
        joints: Joints to try, the best liked first; empty for ``default_joints``.
        clearance_mm: Gap of a sliding fit; ``rules`` say how much narrower holes print.
        model: Quick hours, fitted to ``whole``.
        most: Rows of the table; ``exactly`` is the one to take, 0 for the cheapest.
        workers: Threads for the estimates.
    """

    part: Part
    solid: "Manifold"
    small: "Manifold"
    whole: PrintEstimate
    printing: Printing
    weights: SplitWeights
    odds: FailureOdds
    limits: SplitLimits
    joints: tuple[JointSpec, ...]
    clearance_mm: float
    rules: Rules
    model: HoursModel
    most: int
    workers: int
    exactly: int = 0

    def specs_at(self, plane: Plane) -> tuple[JointSpec, ...]:
        """Joints to try at a plane: those asked for, or the defaults for holes that lie so."""
        lying = abs(plane.normal[2]) < LYING_COS
        return self.joints or default_joints(
            self.rules, clearance_mm=self.clearance_mm, lying=lying
        )


def default_joints(
    rules: Rules, *, clearance_mm: float | None = None, lying: bool = False
) -> tuple[JointSpec, ...]:
    """Joints that can be printed cut face down, the best liked first.

    Pins from thick to thin, a loose spline, wire pins, inner tabs with M3 screws, plain glue; gaps
    are those of the sliding fit, holes are drawn wider by what the process takes from them.

    Args:
        rules: Say how much narrower holes print.
        clearance_mm: Gap on each side; that of the built-in sliding fit where None.
        lying: Whether the holes lie across the layers (the cut stands up).
    """
    base = JointSpec(
        kind="pins",
        size_mm=3.0,
        depth_mm=8.0,
        clearance_mm=fits()["sliding"].clearance_mm if clearance_mm is None else clearance_mm,
        hole_extra_mm=rules.hole_lying_shrink_mm if lying else rules.hole_shrink_mm,
        wall_mm=0.8,
        least=3,
        spacing_mm=25.0,
    )
    pins = tuple(
        replace(base, size_mm=size, depth_mm=depth)
        for size, depth in ((4.0, 10.0), (3.0, 8.0), (2.0, 8.0))
    )
    flat = replace(base, hole_extra_mm=0.0)
    return (
        *pins,
        replace(flat, kind="spline", size_mm=1.0, depth_mm=3.0),
        replace(base, size_mm=1.0, depth_mm=6.0),
        replace(flat, kind="tabs", size_mm=3.0, depth_mm=5.0, spacing_mm=60.0),
        replace(flat, kind="glue"),
    )


def default_weights(printer: Printer, prices: Prices) -> SplitWeights:
    """Weights from what an hour of the printer, its energy and own work cost."""
    watts = printer.hold_w + getattr(printer, "motion_w", 0.0)
    energy = watts / 1000.0 * prices.energy_cost_kwh
    return SplitWeights(
        machine_cost_h=machine_cost_h(printer) + energy, own_cost_h=prices.own_time_cost_h
    )


def check_question(
    most_h: float, most_pieces: int, weights: SplitWeights, planes: Sequence[Plane]
) -> None:
    """Refuse impossible numbers.

    Raises:
        InputError: A limit, a weight or the number of planes is impossible.
    """
    if not most_h > 0.0:
        raise InputError(f"split: most_h is {most_h}; a limit above 0 hours is needed")
    if not 1 <= most_pieces <= 30:
        raise InputError(f"split: most_pieces is {most_pieces}; 1 to 30 are allowed")
    if len(planes) > 30:
        raise InputError(f"split: {len(planes)} planes given; at most 30 are allowed")
    for field in ("machine_cost_h", "own_cost_h", "day_cost", "late_cost_h", "joint_min"):
        value = getattr(weights, field)
        if not 0.0 <= value < math.inf:
            raise InputError(f"split: weight {field} is {value}; 0 or more is allowed")
    if not 0.0 < weights.attended_h <= 24.0:
        raise InputError(
            f"split: weight attended_h is {weights.attended_h}; above 0 to 24 hours are allowed"
        )
