"""What the clearance checks give: gaps through a motion, screws and plugs reached, an order."""

from dataclasses import dataclass
from typing import Literal

from buildplan.device.clearance.shape import Vector
from buildplan.findings import Finding

Engine = Literal["fcl", "manifold3d"]
Access = Literal["reached", "driver only", "blocked"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Violation:
    """A stretch of the travel in which the gap is below what is required.

    Attributes:
        from_deg: Its start, to a hundredth of a degree.
        to_deg: Its end.
        least_mm: Least gap found in it; 0 where the parts meet.
        overlap_mm3: Greatest common volume found, at the ends, the quarters and the middle.
        at_deg: Angle of that volume, or of the least gap where nothing overlaps.
        place_mm: Middle of the common volume, or of the gap.
    """

    from_deg: float
    to_deg: float
    least_mm: float
    overlap_mm3: float
    at_deg: float
    place_mm: Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class PairClearance:
    """One moving against one fixed part over the whole travel.

    Attributes:
        least_mm: Least gap found; ``proven_mm`` <= true least gap <= ``least_mm``.
        beyond: The gap was nowhere below the reach of the search: read ">= least_mm".
        proven_mm: No angle of the travel has a smaller gap.
        required_mm: What was asked for.
        at_deg: Where the least gap is; the first such angle met where several are.
        place_mm: Middle of the gap there; empty where ``beyond``.
        violated: Where the gap is below what is required, by angle.
        unproven_deg: (from, to) of stretches that the poses allowed did not settle.
        contained: At some angle one part lies inside the other without their surfaces meeting.
        poses: How often a gap was computed.
    """

    moving: str
    fixed: str
    least_mm: float
    beyond: bool
    proven_mm: float
    required_mm: float
    at_deg: float
    place_mm: tuple[float, ...]
    violated: tuple[Violation, ...]
    unproven_deg: tuple[tuple[float, float], ...]
    contained: bool
    poses: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """The clearance of every moving against every fixed part.

    Attributes:
        sliding: (moving, fixed) pairs that were left out by name, as they are meant to touch.
        engine: The library that measured the gaps; "kernel" for a rod.
    """

    pairs: tuple[PairClearance, ...]
    sliding: tuple[tuple[str, str], ...]
    engine: Engine | Literal["kernel"]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocker:
    """A part that stands in a way.

    Attributes:
        overlap_mm3: Of the way and the part.
        after_mm: How far along the way it is met, from where the thing sits.
        place_mm: Middle of the overlap.
    """

    part: str
    overlap_mm3: float
    after_mm: float
    place_mm: Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """Whether a tool or a plug gets to its place.

    Attributes:
        access: "driver only": the blade passes but the screw's head does not, so the screw must
            be in place before the blocking part is.
        spare_mm: Least gap between the way and the parts; 0 where it is blocked, 5 where nothing
            is nearer than that.
        blockers: The worst first.
    """

    name: str
    kind: Literal["screw", "plug"]
    access: Access
    spare_mm: float
    blockers: tuple[Blocker, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WayIn:
    """One way in which a component or part could go in.

    Attributes:
        direction: Of the motion while it goes in, of length 1.
        travel_mm: From outside everything to its seat, or to where the second move begins.
        blockers: Everything that stands in the way once all is in place, the worst first.
        step_mm: Distance between the places tried; 0 where the whole way was tested at once.
        then: Direction of a second move, on to its seat; empty for a single move.
        then_mm: Length of the second move.
    """

    direction: Vector
    travel_mm: float
    blockers: tuple[Blocker, ...]
    step_mm: float
    then: tuple[float, ...] = ()
    then_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the assembly: what goes in, and how; fields as of WayIn."""

    name: str
    direction: Vector
    travel_mm: float
    then: tuple[float, ...] = ()
    then_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Assembly:
    """Whether everything goes together by straight moves, and in which order.

    Attributes:
        base: The parts that stay where they are, and that everything goes into.
        ways: Per component or part, its ways in, in the order tried.
        order: First in first; only what can be put in.
        stuck: What cannot go in by any way tried, whatever the order.
    """

    base: tuple[str, ...]
    ways: tuple[tuple[str, tuple[WayIn, ...]], ...]
    order: tuple[Step, ...]
    stuck: tuple[str, ...]
    findings: tuple[Finding, ...]
