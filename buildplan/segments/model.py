"""What a part cut into pieces is: weights, limits, pieces, the table of choices and the plan."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.fit import Fit
from buildplan.findings import Finding
from buildplan.part.model import Part
from buildplan.process.estimate import PrintEstimate
from buildplan.segments.joints import Joint
from buildplan.segments.planes import Plane
from buildplan.segments.restart import FailureOdds, RunSpread

MOST_PIECES = 8
"""Rows of the table: one piece up to this many."""

Laid = Literal["as placed", "cut face down", "turned to fit", "flat"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SplitWeights:
    """What counts how much, in the build's one currency.

    The cost of a plan is machine_cost_h * expected hours + own_cost_h * own hours
    + feedstock * expected tries + day_cost * days + late_cost_h * (95th percentile - expected).

    Attributes:
        machine_cost_h: An hour of the printer; energy included.
        own_cost_h: An hour of own work.
        day_cost: A day later.
        late_cost_h: An hour by which a bad run (1 in 20) is longer than the expected one.
        joint_min: Own minutes for each joint: cleaning, fitting, gluing or bolting.
        attended_h: Hours of a day in which prints may run.
    """

    machine_cost_h: float
    own_cost_h: float
    day_cost: float = 0.0
    late_cost_h: float = 0.25
    joint_min: float = 20.0
    attended_h: float = 24.0


WEIGHT_SOURCES = {
    "day_cost": "ours: 0, set what a day is worth to you",
    "late_cost_h": "ours: a bad run counts a little, set what an hour of it is worth to you",
    "joint_min": "common practice, no source: clean, fit, glue and clamp one joint",
    "attended_h": "ours: prints may run all day until you say otherwise",
}
"""Source of every default of SplitWeights."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SplitLimits:
    """What every piece must keep.

    Attributes:
        most_h: Most hours of one print; infinite where nothing is said.
        least_frac: Least share of the part's volume that a piece may have.
        keep: Boxes (k, 6) that no cut may go through: features and keep-outs.
        keep_names: Their names.
    """

    most_h: float
    least_frac: float
    keep: NDArray[np.float64]
    keep_names: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece, as it is printed.

    Attributes:
        part: The piece in the part's coordinates.
        laid: How it lies on the platform; ``orientation`` the 16 numbers that turn it so.
    """

    name: str
    part: Part
    laid: Laid
    orientation: tuple[float, ...]
    estimate: PrintEstimate
    fit: Fit


@dataclass(frozen=True, slots=True, kw_only=True)
class RejectedPlane:
    """A plane that was looked at and not taken."""

    plane: Plane
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SplitRow:
    """One line of the table: so many pieces and what they take, really cut and really estimated.

    Loose splines are printed too: they count in hours, feedstock and money, not in ``pieces``.

    Attributes:
        pieces: How many.
        cuts: The planes, in the order of cutting.
        alone_h: Hours of all prints when nothing fails; ``longest_h`` of the longest.
        run: Hours with failed tries.
        own_min: Own minutes: set-up, joints, clearing.
        mass_g: Feedstock of all pieces when nothing fails.
        print_cost: Money of all prints when nothing fails, own time included.
        cost: The weighted sum that is compared.
        joints_in: Whether the pieces were estimated with their joints cut into them, as those of
            the chosen row are; else as the planes leave them (all joints were made and proved
            either way, and loose splines are counted).
        fits: Whether every piece fits the printer and keeps the limits.
        reason: Why not, or an empty text.
    """

    pieces: int
    cuts: tuple[Plane, ...]
    alone_h: float
    longest_h: float
    run: RunSpread
    own_min: float
    mass_g: float
    print_cost: float
    days: float
    cost: float
    joints_in: bool
    fits: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentPlan:
    """A part cut into pieces that print alone and go together.

    Attributes:
        pieces: Of the chosen row, in the order of printing: the longest first.
        joints: One for each cut, in the order of cutting.
        loose: Prints of the splines that lie in the joints: all that go on one platform, flat.
        table: One row for each number of pieces that a plan was found for.
        chosen: Index of the chosen row.
        rejected: Planes that were looked at and not taken, each with its reason and number.
        odds: How prints fail; ``weights`` what counts how much.
        summary: Splitting against not splitting, in one line.
    """

    part: str
    printer: str
    pieces: tuple[Piece, ...]
    joints: tuple[Joint, ...]
    loose: tuple[Piece, ...]
    table: tuple[SplitRow, ...]
    chosen: int
    rejected: tuple[RejectedPlane, ...]
    odds: FailureOdds
    weights: SplitWeights
    summary: str
    findings: tuple[Finding, ...]
