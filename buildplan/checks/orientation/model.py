"""What the orientation check is asked and what it gives."""

from dataclasses import dataclass

from buildplan.checks.marks import Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class OrientationWeights:
    """What counts when two ways up are compared, in money so that each number means something.

    cost = hours * (machine + energy + wait_cost_h) + support feedstock
    + own time to take supports off + chance to fail * price of doing it all again.

    Attributes:
        wait_cost_h: What it is worth to have the print an hour sooner.
        removal_s_mm2: Own time to take support off and dress the face, for each mm2 of face.
        inside_frac: So much more of that time where the support stands on the part itself.
        break_frac: Chance that a named feature breaks in use when its layers are pulled apart.
        loose_frac: Chance that a print comes loose that neither lies flat nor rests on supports.
        energy_cost_kwh: Price of a kilowatt-hour.
        own_time_cost_h: What an hour of own work counts.
    """

    wait_cost_h: float = 0.50
    removal_s_mm2: float = 0.3
    inside_frac: float = 1.0
    break_frac: float = 0.5
    loose_frac: float = 0.9
    energy_cost_kwh: float = 0.30
    own_time_cost_h: float = 15.0


WEIGHT_SOURCES = {
    "wait_cost_h": "ours, no source: set your own",
    "removal_s_mm2": "ours, no source: half a minute for a square centimetre of supported face",
    "inside_frac": "ours, no source: such a support scars two faces",
    "break_frac": "ours, no source: layers bond with about half the strength of the bead",
    "loose_frac": "ours, no source: on an edge or a point alone it falls over",
    "energy_cost_kwh": "as in Prices",
    "own_time_cost_h": "as in Prices",
}
"""Source of every default of OrientationWeights."""

DEFAULT_WEIGHTS = OrientationWeights()


@dataclass(frozen=True, slots=True, kw_only=True)
class Orientation:
    """One way up, and what it takes.

    Attributes:
        matrix: 16 numbers, row by row, a rotation without a move that turns the part as it was
            given: as ``turn_part`` takes it, and ``keep_orientation`` where the part was as read.
        up: (x, y, z) direction of the part, as its file has it, that points up.
        turn_deg: Angle between ``up`` and the part's own z axis: 0 as placed.
        fits: Whether it goes into the build volume; the matrix then holds the turn about z.
        contact_mm2: Flat area that lies on the platform.
        overhang_mm2: Area that leans beyond the limit, contact left out, bridges included.
        column_mm3: Space under it down to the platform: the most that support can take.
        supported_mm2: Area that needs support: without spans that bridge.
        support_mm3: Space under that area down to the platform or to the part below, whichever
            comes first; from rays, about 2 % of spread.
        on_part_frac: Share of the supported plan area whose support stands on the part.
        support_mass_g: Feedstock for support.
        time_h: Hours of the machine, by the model of ``exact`` False or by the full estimate.
        exact: Whether time_h and support_mass_g come from the full estimate.
        weak: Named features whose layers would be pulled apart in use.
        time_cost, support_cost, removal_cost, break_cost, loose_cost: The parts of total_cost,
            as OrientationWeights has them.
        reason: Why it is good, and what speaks against it, against "as placed".
    """

    matrix: tuple[float, ...]
    up: tuple[float, float, float]
    turn_deg: float
    fits: bool
    height_mm: float
    contact_mm2: float
    overhang_mm2: float
    column_mm3: float
    supported_mm2: float
    support_mm3: float
    on_part_frac: float
    support_mass_g: float
    time_h: float
    exact: bool
    weak: tuple[str, ...]
    time_cost: float
    support_cost: float
    removal_cost: float
    break_cost: float
    loose_cost: float
    total_cost: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrientationCheck:
    """The best ways up for a part on a printer.

    Attributes:
        directions: How many directions were weighed over all facets.
        as_placed: The part as its file (or the build file) places it.
        best: Up to five, the cheapest first, at least 15 degrees apart; all fit the printer. Empty
            where none of those tried fits.
        marks: A note when another way up is far better than as placed, on the facets that need
            support as placed.
    """

    part: str
    printer: str
    directions: int
    weights: OrientationWeights
    as_placed: Orientation
    best: tuple[Orientation, ...]
    marks: tuple[Mark, ...]
