"""What may stand in a build file: one dataclass a table, the field names being the keys.

A key without default must be there. Rows of tables (`[[printer]]`, `[[feedstock]]`, `[[recipe]]`,
`[[rule]]`, `[[wire]]`, `[[screw]]`, `[[insert]]`, `[[fit]]`, `[[servo]]`, `[[fuse]]`,
`[[capacitor]]`, `[[cell]]`) have the fields of their records in buildplan.tables, plus ``like``
(the row to start from) and ``sources``.
"""

from dataclasses import dataclass, field
from typing import Annotated, Any, Literal

from buildplan.bill.derived.shape import Hardware
from buildplan.decide.calendar.shape import Attended, Unattended
from buildplan.decide.readiness.shape import OwnClaim
from buildplan.decide.sending.shape import ChoiceTable, QuoteTable, ServiceTable
from buildplan.device.chain.shape import DeviceTable
from buildplan.device.heat.shape import Heat
from buildplan.device.power.shape import Power
from buildplan.device.view.shape import Views
from buildplan.part.feature import FeatureKind
from buildplan.tables.limits import Within

Unit = Literal["mm", "cm", "m", "inch"]
Row4 = tuple[float, float, float, float]
Box = tuple[float, float, float, float, float, float]
AS_PLACED = "as placed"


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildTable:
    """`[build]`: the device and what holds for all of it.

    Attributes:
        currency: Three capital letters; every cost in the file is in it.
        energy_cost_kwh: What a kilowatt-hour costs.
        own_time_cost_h: What an hour of own work counts; 0 to leave it out.
        longest_print_h: Most hours of one print (the time you are there); 0 for no limit. Parts
            that take longer are planned in pieces.
        tax_frac: Tax on what is bought (0.21 for 21 %); prices hold it unless they say otherwise.
        rates: What one unit of another currency costs in yours: { USD = 0.92 }.
        data: "invented" marks a demo or a try-out, so that no report passes for a real one.
        printers: Machines at hand, by key or name; empty takes every `[[printer]]` of the file.
        tables: Table files of the user's own, as paths from the build file.
    """

    name: str
    about: str = ""
    revision: str = ""
    currency: str
    energy_cost_kwh: Annotated[float, Within(0.0, 1000.0)]
    own_time_cost_h: Annotated[float, Within(0.0, 100_000.0)]
    longest_print_h: Annotated[float, Within(0.0, 1000.0)] = 0.0
    tax_frac: Annotated[float, Within(0.0, 1.0)] = 0.0
    rates: dict[str, float] = field(default_factory=dict)
    data: Literal["own", "invented"] = "own"
    printers: tuple[str, ...] = ()
    tables: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureTable:
    """`[[part.feature]]`: a named region of a part that must work.

    Attributes:
        box_mm: [x0, y0, z0, x1, y1, z1] around it, in the part's file coordinates.
    """

    name: str
    kind: FeatureKind
    box_mm: Box
    about: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOutTable:
    """`[[part.keep_out]]`: a box that cuts and supports must leave alone.

    Attributes:
        box_mm: As in FeatureTable.
    """

    name: str
    box_mm: Box
    about: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartTable:
    """`[[part]]`: one printed part.

    Attributes:
        file: Mesh file, as a path from the build file.
        unit: Length unit of a mesh file that carries none; left out, millimetres are taken.
        printers: Wishes: only these, by key or name; empty allows all.
        orientation: "as placed", or three rows of a rotation that turns the mesh as printed.
        poses: One 4 x 4 matrix (four rows) a copy: from the mesh as printed to the device.
        moves_with: Name of the moving group; empty for parts that stand still.
        way: How it is got: "whole", "3 pieces", or the name of a service; empty for at home, cut
            only where it must be.
    """

    name: str
    file: str
    unit: Unit | None = None
    quantity: Annotated[int, Within(1, 1000)] = 1
    feedstock: str
    recipe: str = "everyday"
    printers: tuple[str, ...] = ()
    about: str = ""
    orientation: object = AS_PLACED
    poses: tuple[tuple[Row4, Row4, Row4, Row4], ...] = ()
    moves_with: str = ""
    way: str = ""
    feature: tuple[FeatureTable, ...] = ()
    keep_out: tuple[KeepOutTable, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakTable:
    """`[[bought.price_break]]`: a lower price of one pack from some quantity on."""

    from_quantity: Annotated[float, Within(0.0, 1_000_000.0)]
    price_cost: Annotated[float, Within(0.0, 10_000_000.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoughtTable:
    """`[[bought]]`: one item of the shopping list.

    Attributes:
        quantity: How much the device takes, in ``unit``.
        pack: How much one pack holds, in ``unit``.
        price_cost: Price of one pack.
        shipping_cost: Shipping of an order that holds only this.
        lead_d: Days from order to door.
        used_in: Where it goes, in words or as a part's name.
        needed: false for what is optional or only compared: listed, not summed.
        price_low_cost, price_high_cost: Passed 1 time in 10 on either side; left out where the
            price is known.
        price_break: Lower prices from some quantity on, rising.
        least_quantity: Least that is sold at once, in ``unit``.
        spare_frac: Share bought on top, for what is lost or breaks.
        on_hand: What you have already, in ``unit``.
        state: How far the order is; of what you "have" nothing more is bought.
        currency: Of the price; empty for the supplier's or the build's.
        with_tax: Whether the price holds the tax of ``tax_frac``.
    """

    name: str
    quantity: Annotated[float, Within(0.0, 1_000_000.0)] = 1.0
    unit: str = "piece"
    pack: Annotated[float, Within(0.001, 1_000_000.0)] = 1.0
    price_cost: Annotated[float, Within(0.0, 10_000_000.0)]
    shipping_cost: Annotated[float, Within(0.0, 1_000_000.0)] = 0.0
    lead_d: Annotated[float, Within(0.0, 1000.0)] = 0.0
    supplier: str = ""
    used_in: str = ""
    needed: bool = True
    about: str = ""
    price_low_cost: Annotated[float, Within(0.0, 10_000_000.0)] = 0.0
    price_high_cost: Annotated[float, Within(0.0, 10_000_000.0)] = 0.0
    price_break: tuple[BreakTable, ...] = ()
    least_quantity: Annotated[float, Within(0.0, 1_000_000.0)] = 0.0
    spare_frac: Annotated[float, Within(0.0, 10.0)] = 0.0
    on_hand: Annotated[float, Within(0.0, 1_000_000.0)] = 0.0
    state: Literal["to order", "ordered", "arrived", "have"] = "to order"
    currency: str = ""
    with_tax: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierTable:
    """`[[supplier]]`: a shop and its terms; its name is what ``supplier`` of an item says.

    Attributes:
        shipping_cost: Of one order, however many items it holds.
        free_from_cost: Value of an order from which shipping is free; 0 for never.
        least_order_cost: Value below which it takes no order; 0 for none.
        lead_d: Days from order to door, for items that do not say their own.
        currency: Of its prices; empty for the build's.
        import_frac: Duty on the goods; 0 inside the customs area.
        import_cost: Handling at the border of one order, in its currency.
    """

    name: str
    shipping_cost: Annotated[float, Within(0.0, 1_000_000.0)] = 0.0
    free_from_cost: Annotated[float, Within(0.0, 10_000_000.0)] = 0.0
    least_order_cost: Annotated[float, Within(0.0, 10_000_000.0)] = 0.0
    lead_d: Annotated[float, Within(0.0, 1000.0)] = 0.0
    currency: str = ""
    import_frac: Annotated[float, Within(0.0, 5.0)] = 0.0
    import_cost: Annotated[float, Within(0.0, 1_000_000.0)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyTable:
    """`[[assembly]]`: a step of putting the device together.

    Attributes:
        after: What must be there: printed parts, bought items, earlier steps, by their names.
        work_h: Own hours.
        cure_h: Hours that it then rests (glue, paint).
    """

    name: str
    after: tuple[str, ...] = ()
    work_h: Annotated[float, Within(0.0, 1000.0)] = 0.5
    cure_h: Annotated[float, Within(0.0, 1000.0)] = 0.0
    about: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildFile:
    """A whole build file.

    Attributes:
        build: The device and what holds for all of it.
        printer, feedstock, recipe, rule, wire, screw, insert, fit, servo: Own rows, or changes of
            known ones.
        fuse, capacitor, cell: Likewise.
        device, power, heat, view: How the device is fed, stays cool and sees; see buildplan.device.
        mechanism: Its lid: hinge, roof_load, linkage.NAME, servo.NAME, spring.
        journal: Kept as it stands and only checked to be a table without NaN or infinity.
        attended, unattended: When somebody is there, and which printers may run alone.
        assembly: How the device is put together, for the calendar.
        claim: Own claims and chances for the readiness list.
        service, quote: Who makes parts for you and what they asked; choice: what is asked of all.
    """

    build: BuildTable
    printer: tuple[dict[str, Any], ...] = ()
    feedstock: tuple[dict[str, Any], ...] = ()
    recipe: tuple[dict[str, Any], ...] = ()
    rule: tuple[dict[str, Any], ...] = ()
    wire: tuple[dict[str, Any], ...] = ()
    screw: tuple[dict[str, Any], ...] = ()
    insert: tuple[dict[str, Any], ...] = ()
    fit: tuple[dict[str, Any], ...] = ()
    servo: tuple[dict[str, Any], ...] = ()
    fuse: tuple[dict[str, Any], ...] = ()
    capacitor: tuple[dict[str, Any], ...] = ()
    cell: tuple[dict[str, Any], ...] = ()
    part: tuple[PartTable, ...]
    bought: tuple[BoughtTable, ...] = ()
    supplier: tuple[SupplierTable, ...] = ()
    attended: Attended | None = None
    unattended: tuple[Unattended, ...] = ()
    assembly: tuple[AssemblyTable, ...] = ()
    claim: tuple[OwnClaim, ...] = ()
    device: DeviceTable | None = None
    mechanism: dict[str, Any] | None = None
    power: Power | None = None
    heat: Heat | None = None
    view: Views | None = None
    service: tuple[ServiceTable, ...] = ()
    quote: tuple[QuoteTable, ...] = ()
    choice: ChoiceTable | None = None
    hardware: Hardware | None = None
    journal: dict[str, Any] | None = None


DEVICE_TABLES = ("device", "mechanism", "power", "heat", "view")
LATER_TABLES = ("device", "mechanism", "power", "heat", "view", "hardware", "journal")
