"""What a maker says about the supply, as one dataclass a table of the build file's `[power]`.

The same records are made in Python from what the label on a supply and a ruler say::

    Power(
        source=Source(name="12 V supply", supply_v=12.0, limit_a=3.0),
        converter=(Converter(name="to5", feed="source", out_v=5.0, limit_a=5.0),),
        load=(Load(name="computer", feed="to5", kind="power", peak_a=1.8, idle_a=0.6),),
        mode=(Mode(name="idle", share_frac=1.0),),
    )

Every wire is a pair: both of its conductors are ``wire_mm`` long. The defaults are cautious round
numbers (common practice, no source) and stand beside each field.
"""

from dataclasses import dataclass, field
from typing import Annotated, Literal

from buildplan.tables.limits import Within

SourceKind = Literal[
    "wall supply", "battery", "usb 2", "usb 3", "usb charging", "usb c 1.5 A", "usb c 3 A"
]
LoadKind = Literal["power", "current", "resistance"]
EventKind = Literal["start", "stall"]

Volts = Annotated[float, Within(0.5, 1000.0)]
LeastVolts = Annotated[float, Within(0.0, 1000.0)]
Amps = Annotated[float, Within(0.0, 500.0)]
RatedAmps = Annotated[float, Within(0.001, 500.0)]
Ohms = Annotated[float, Within(0.0, 1000.0)]
WireLength = Annotated[float, Within(0.0, 100_000.0)]
WireArea = Annotated[float, Within(0.0, 200.0)]
Gauge = Annotated[int, Within(0, 40)]
Plugs = Annotated[int, Within(0, 20)]
Share = Annotated[float, Within(0.0, 1.0)]
Pulse = Annotated[float, Within(0.0, 600_000.0)]

SOURCE = "source"
"""Name by which a feed means the far end of the source's own lead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """`[power.battery]`: the pack behind the source.

    Attributes:
        cell: Row of the table of cells ("li_ion", "lead_acid", ...).
        cells: Cells in series.
        capacity_ah: Capacity on the label, at the hour rate of its row.
        protected: Whether the pack has its own protection circuit.
    """

    cell: str
    cells: Annotated[int, Within(1, 100)]
    capacity_ah: Annotated[float, Within(0.001, 10_000.0)]
    protected: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """`[power.source]`: where all power comes from, with the lead to the device.

    Attributes:
        bought: The item of the shopping list, or empty.
        kind: A wall supply, a battery, or a kind of computer port with its own limit.
        supply_v: Volts on the label.
        limit_a: Amps on the label.
        inner_ohm: How much the supply itself sags: volts for each amp.
        tolerance_frac: How far below the label its volts may lie.
        wire_mm, wire_awg: Length and gauge of the lead; ``wire_mm2`` above 0 replaces the gauge.
        plugs: Plug pairs in the lead; each puts one contact into either conductor.
    """

    name: str
    bought: str = ""
    kind: SourceKind = "wall supply"
    supply_v: Volts
    limit_a: RatedAmps
    inner_ohm: Ohms = 0.05
    tolerance_frac: Annotated[float, Within(0.0, 0.5)] = 0.05
    wire_mm: WireLength = 1500.0
    wire_awg: Gauge = 20
    wire_mm2: WireArea = 0.0
    plugs: Plugs = 1
    contact_ohm: Ohms = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Converter:
    """`[[power.converter]]`: a regulator at the end of a wire from its feed.

    Attributes:
        feed: "source", or the name of another converter.
        via: A load whose terminals pass the power on; empty where the wire goes to the feed itself.
        out_v: Volts that it makes.
        limit_a: Most amps at its output.
        efficiency_frac: Power out over power in, at load.
        idle_w: Power that it takes with nothing connected.
        least_in_v: Volts at its input below which it switches off.
        inner_ohm: How much its output sags: volts for each amp.
        tolerance_frac: How far below ``out_v`` its output may lie.
    """

    name: str
    bought: str = ""
    feed: str
    via: str = ""
    out_v: Volts
    limit_a: RatedAmps
    efficiency_frac: Annotated[float, Within(0.05, 1.0)] = 0.9
    idle_w: Annotated[float, Within(0.0, 1000.0)] = 0.05
    least_in_v: LeastVolts = 0.0
    inner_ohm: Ohms = 0.0
    tolerance_frac: Annotated[float, Within(0.0, 0.5)] = 0.02
    wire_mm: WireLength = 100.0
    wire_awg: Gauge = 22
    wire_mm2: WireArea = 0.0
    plugs: Plugs = 1
    contact_ohm: Ohms = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """`[[power.load]]`: a part that takes power, at the end of a wire from its feed.

    Attributes:
        feed: "source", or the name of a converter.
        via: A load whose terminals pass the power on; empty where the wire goes to the feed itself.
        kind: How its current moves with the voltage: "power" (it has a regulator of its own and
            takes the more, the lower the volts), "current" (the same at any volts) or "resistance"
            (the less, the lower the volts).
        idle_a, watch_a, count_a, actuate_a: Amps in the four usual modes; left out, it is off.
        mode_a: Amps in modes of other names: { water = 0.4 }.
        peak_a: Most it ever takes: a motor that starts or is held fast, a board that boots.
        nominal_v: Volts at which these amps hold; 0 takes the feed's volts.
        least_v: Volts below which it stops working.
        optional: Whether the device works without it.
        board_mm, holes_mm, place: Size, hole pattern and home of its board, for the mechanical
            checks; power takes no notice of them.
    """

    name: str
    bought: str = ""
    feed: str
    via: str = ""
    kind: LoadKind = "current"
    idle_a: Amps | None = None
    watch_a: Amps | None = None
    count_a: Amps | None = None
    actuate_a: Amps | None = None
    mode_a: dict[str, float] = field(default_factory=dict)
    peak_a: Amps
    nominal_v: LeastVolts = 0.0
    least_v: LeastVolts = 0.0
    wire_mm: WireLength = 200.0
    wire_awg: Gauge = 24
    wire_mm2: WireArea = 0.0
    plugs: Plugs = 1
    contact_ohm: Ohms = 0.01
    optional: bool = False
    board_mm: Annotated[tuple[float, ...], Within(0.0, 2000.0)] = ()
    holes_mm: Annotated[tuple[float, ...], Within(0.0, 2000.0)] = ()
    place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """`[[power.mode]]`: what the device does for a share of the day.

    Attributes:
        name: "idle", "watch", "count", "actuate", or a name that ``mode_a`` of some load has.
        share_frac: Share of the day; all shares together make 1.
        longest_min: Longest stretch of it at a time; 0 where it may go on for hours.
    """

    name: str
    share_frac: Share
    longest_min: Annotated[float, Within(0.0, 100_000.0)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """`[[power.event]]`: a load that starts, or that is held fast while it runs.

    Left out, every load that peaks well above its modes gets a start and a stall.

    Attributes:
        load: Which load.
        mode: What the others do meanwhile; empty takes the mode in which this load takes most.
        start_ms: How long a start takes its peak (common practice, no source: tens of ms).
        run_ms: How long it then runs.
        stall_ms: How long a stall lasts until the program lets go.
    """

    name: str
    load: str
    kind: EventKind = "start"
    mode: str = ""
    start_ms: Pulse = 50.0
    run_ms: Pulse = 1000.0
    stall_ms: Pulse = 2000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Power:
    """`[power]`: source, converters, loads, modes and events of a device.

    Attributes:
        apart: Groups of loads that the program never runs at the same time.
        wire_c: Temperature of the copper, for its resistance (inside a closed bay).
    """

    source: Source
    battery: Battery | None = None
    converter: tuple[Converter, ...] = ()
    load: tuple[Load, ...]
    mode: tuple[Mode, ...]
    event: tuple[Event, ...] = ()
    apart: tuple[tuple[str, ...], ...] = ()
    wire_c: Annotated[float, Within(-60.0, 200.0)] = 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PortLimit:
    """What a computer port may be asked for.

    Attributes:
        limit_a: Most amps.
        least_v: Least volts at the port itself, at that current.
    """

    limit_a: float
    least_v: float


PORT_LIMITS: dict[str, PortLimit] = {
    "usb 2": PortLimit(limit_a=0.5, least_v=4.75),
    "usb 3": PortLimit(limit_a=0.9, least_v=4.45),
    "usb charging": PortLimit(limit_a=1.5, least_v=4.75),
    "usb c 1.5 A": PortLimit(limit_a=1.5, least_v=4.75),
    "usb c 3 A": PortLimit(limit_a=3.0, least_v=4.75),
}
"""Amps: USB 2.0 ch. 7.2.1, USB 3.x, Battery Charging 1.2, USB Type-C; volts from memory."""
