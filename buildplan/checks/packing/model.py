"""What is asked of a platform, and what comes out: build cycles with every part in its place."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import Mark
from buildplan.part.model import Part
from buildplan.process.estimate.model import PrintEstimate
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe

Rings = tuple[NDArray[np.float64], ...]
"""One island of an outline: its outer ring, then its holes, each (n, 2) without a closing point."""

Way = Literal["together", "one by one", "separate"]
"""How the parts of a cycle follow each other: layer by layer all together; one after another on one
platform; or each in a build cycle of its own."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PackRequest:
    """Copies of one part that want a place.

    Attributes:
        part: The part, standing as it is printed; it is only turned about z.
        estimate: What one copy takes on the printer; None where only the places are asked for.
        feedstock: With the recipe it lets the supports be placed and shared waits be worked out.
        recipe: Process settings of the estimate.
    """

    name: str
    part: Part
    estimate: PrintEstimate | None = None
    quantity: int = 1
    feedstock: Feedstock | None = None
    recipe: Recipe | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placing:
    """One copy on a platform: turn the part about z by turn_deg, then move it by x_mm, y_mm.

    Coordinates: the corner of a rectangular platform, the middle of a round one, is the origin.

    Attributes:
        copy: Number of the copy, from 1.
        x_mm, y_mm: Move after the turn about the part file's own z axis.
        outline: Islands of the part seen from above, supports and margin beads included.
        height_mm: Height of the copy.
    """

    name: str
    copy: int
    x_mm: float
    y_mm: float
    turn_deg: float
    height_mm: float
    outline: tuple[Rings, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """What is lost when a print fails: grams, hours of the machine, and money.

    The money is feedstock, energy and machine until then, and the own time to set up again.
    """

    mass_g: float
    time_h: float
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AtStake:
    """What one failure costs: on average over all moments, each equally likely, and at worst.

    Attributes:
        mean: Expected at a failure.
        worst: Failing at the very end of what a failure ruins.
    """

    mean: Loss
    worst: Loss


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cycle:
    """One build cycle: one run of the machine with all parts on its platform.

    Attributes:
        way: "together", or "one by one" in the order of the placings, or "separate" for one copy.
        least_gap_mm: Least distance between two outlines, measured; infinite for one part alone.
        used_frac: Area of all outlines over the area of the platform less its margin.
        timed: Whether every part came with an estimate; without, hours, grams and money are 0.
        time_h: Hours of the machine, one warm-up.
        apart_h: Hours that the same copies take in build cycles of their own.
        own_time_h: Own time of this one cycle.
        mass_g: Feedstock, one purge.
        travel_h: Extra moves from part to part (extrusion).
        cooling_h: Hours saved because a part sets while the others are printed: the least layer
            time is waited for less (extrusion).
        spent_cost: Feedstock, energy, machine and own time of a cycle that goes through.
        run_h, run_loss: Hours and mean loss of every run that stands or falls as one: the whole
            cycle, or each copy of "one by one".
        layer_z_mm, layer_time_s: Of the whole cycle, bottom up (one after another: in the order
            printed, so z starts anew with every part).
        at_stake: What a failure costs.
    """

    number: int
    way: Way
    printer: str
    feedstock: str
    recipe: str
    placings: tuple[Placing, ...]
    least_gap_mm: float
    used_frac: float
    timed: bool
    time_h: float
    apart_h: float
    own_time_h: float
    mass_g: float
    travel_h: float
    cooling_h: float
    spent_cost: float
    run_h: tuple[float, ...]
    run_loss: tuple[Loss, ...]
    layer_z_mm: NDArray[np.float64]
    layer_time_s: NDArray[np.float64]
    at_stake: AtStake


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A part that no platform of this printer takes, and why."""

    name: str
    quantity: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CyclePlan:
    """The build cycles of a set of parts on one printer.

    Attributes:
        printer: The machine.
        way: How the set is printed; see ``Way``.
        gap_mm: Least distance that was asked for between parts.
        cycles: In the order to print them.
        left_out: Parts that fit no platform.
        time_h, own_time_h, mass_g: Sums over the cycles.
        expected_cost: Own time and everything spent again after failures; see ``choose_cycles``.
        reason: Why this way, in one sentence.
        marks: Findings (check "packing").
    """

    printer: Printer
    way: Way
    gap_mm: float
    cycles: tuple[Cycle, ...]
    left_out: tuple[LeftOut, ...]
    time_h: float
    own_time_h: float
    mass_g: float
    expected_cost: float
    reason: str
    marks: tuple[Mark, ...]
