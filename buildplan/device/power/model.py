"""What a power budget holds: cases, parts, wires, rails, the day, events and their remedies."""

from dataclasses import dataclass
from typing import Literal

from buildplan.device.power.shape import Power
from buildplan.device.power.sizing import BatteryLife, BulkCapacitor, FuseChoice
from buildplan.findings import Finding
from buildplan.tables.cautions import Caution

CaseKind = Literal["mode", "event", "peak"]
Row = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Steady volts in one mode, phase of an event or coincidence of peaks, at the low volts.

    Attributes:
        name: "count", "roof servo starts", "everything at its peak".
        share_frac: Share of the day of a mode; 0 for the others.
        volts_v: At each load, in the order of ``power.load``; NaN where the voltage collapses.
        ground_v: How far each load's ground is lifted by the currents in the shared returns.
        link_a: Current in the wire of each node of the network.
        source_a, source_w: What leaves the source.
        rail_a: What each converter gives, in the order of ``power.converter``.
        rail_in_v: Volts at each converter's input.
        collapsed_at: The part at which the voltage collapses, or empty.
    """

    name: str
    kind: CaseKind
    share_frac: float
    volts_v: Row
    ground_v: Row
    link_a: Row
    source_a: float
    source_w: float
    rail_a: Row
    rail_in_v: Row
    collapsed_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartVolts:
    """The least volts of a load over all modes and events, against what it needs.

    Attributes:
        least_v: What it needs; 0 where not said.
        worst_v: The least it gets in a mode or an event; NaN where the voltage collapses.
        worst_case: Where that is.
        peak_v: The least it gets with every part at its peak at once.
        label_v: Volts of its rail by the label.
    """

    name: str
    least_v: float
    worst_v: float
    worst_case: str
    peak_v: float
    label_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WireLoad:
    """A wire's current against its ratings: the day's rms for its warmth, the peak for an instant.

    Attributes:
        name: The part at its end.
        feed: The part at its start.
        wire: Gauge and cross-section.
        rms_a: Root of the mean of the squared current over the day.
        peak_a: Most in any case, and ``peak_case`` where that is.
        bundled_a, open_air_a: Ratings for long and for an instant.
        drop_v: Volts lost in it at the peak.
    """

    name: str
    feed: str
    wire: str
    length_mm: float
    rms_a: float
    peak_a: float
    peak_case: str
    bundled_a: float
    open_air_a: float
    drop_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RailLoad:
    """What a source or converter gives against its label.

    Attributes:
        most_a: Most in any mode or event, and ``most_case`` where that is.
        peak_a: Most with every part at its peak at once.
        limit_a: On the label.
        in_v: Least volts at a converter's input; NaN for the source.
        least_in_v: Where it switches off; 0 for the source.
    """

    name: str
    most_a: float
    most_case: str
    peak_a: float
    limit_a: float
    in_v: float
    least_in_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundShift:
    """The largest difference between the grounds of two parts.

    Attributes:
        high, low: The two parts.
        shift_v: By how much the first's ground lies above the second's.
        case: Where that is.
    """

    high: str
    low: str
    shift_v: float
    case: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyDay:
    """Energy of a day at the label's volts.

    Attributes:
        mean_w: Mean power out of the source; mains_w with the wall supply's own loss.
        day_wh: Per day, at the mains or out of the battery.
        day_cost, year_cost: What that costs.
    """

    mean_w: float
    mains_w: float
    day_wh: float
    day_cost: float
    year_cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """One stretch of an event.

    Attributes:
        name: "before", "start", "run", "stall", "after".
        begin_ms, lasts_ms: When, from the start of the event.
        load_a: What the event's load takes.
        case: Volts, grounds and currents in it.
    """

    name: str
    begin_ms: float
    lasts_ms: float
    load_a: float
    case: Case


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """The first part to fail as an event's current rises from its least to its peak.

    Attributes:
        part: Which part.
        how: "low volts", "converter off", "overload" or "collapse".
        phase: In which phase, from ``begin_ms`` on.
        at_a: Amps of the event's load at which it fails.
        found: What it gets at the peak, and ``required`` what it needs; in ``unit``, NaN for a
            collapse.
        text: The same in one sentence.
    """

    part: str
    how: Literal["low volts", "converter off", "overload", "collapse"]
    phase: str
    begin_ms: float
    at_a: float
    found: float
    required: float
    unit: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fix:
    """A change, computed.

    Attributes:
        kind: What sort of change.
        text: What to do, with the number that follows from it.
        volts_v: Volts of the failing part then, at the event's peak; NaN where they collapse.
        passes: Whether the event passes then, all parts looked at.
        cost: Rough cost in the build's currency, by ``FixPrices``.
        power: The tables with the change made.
    """

    kind: Literal["shorter lead", "thicker wire", "own rail", "larger rating", "wait", "capacitor"]
    text: str
    volts_v: float
    passes: bool
    cost: float
    power: Power


@dataclass(frozen=True, slots=True, kw_only=True)
class EventReport:
    """Will it reboot? One event from before to after.

    Attributes:
        name, load: Event and the load that starts or stalls.
        kind: "start" or "stall".
        mode: What the other parts do.
        phases: The timeline.
        failure: The first part to fail, or None.
        reboots: Every part that gets less than its least volts in some phase.
        fixes: Changes, those that pass first and the cheapest first.
        capacitor: What a capacitor at the failing part could do; None where volts are not the
            trouble.
    """

    name: str
    load: str
    kind: str
    mode: str
    phases: tuple[Phase, ...]
    failure: Failure | None
    reboots: tuple[str, ...]
    fixes: tuple[Fix, ...]
    capacitor: BulkCapacitor | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerBudget:
    """All about the supply of a device.

    Attributes:
        power: What it was made from.
        cases: Every mode, event and coincidence of peaks.
        parts: One line a load, in the order of the tables.
        wires: One line a wire, source first.
        rails: The source, then the converters.
        ground: The largest ground shift in a mode or an event; None with a single load.
        fuse: The fuse in the source's lead.
        day: Energy and cost.
        battery: How long it lasts, or None for a wall supply.
        events: Will it reboot?
        cautions: Texts that hold for this device.
        findings: Gravest first.
    """

    power: Power
    cases: tuple[Case, ...]
    parts: tuple[PartVolts, ...]
    wires: tuple[WireLoad, ...]
    rails: tuple[RailLoad, ...]
    ground: GroundShift | None
    fuse: FuseChoice
    day: EnergyDay
    battery: BatteryLife | None
    events: tuple[EventReport, ...]
    cautions: tuple[Caution, ...]
    findings: tuple[Finding, ...]
