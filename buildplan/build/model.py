"""A build file, read and resolved: every name in it replaced by the row it stands for."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from buildplan.bill.lines import State
from buildplan.bill.shops import Shop
from buildplan.build.shape import Unit
from buildplan.build.ways import AS_IT_MUST, Way
from buildplan.device.chain.shape import DeviceTables
from buildplan.part.feature import Feature, KeepOut
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe
from buildplan.tables.rows import Kind, Table

if TYPE_CHECKING:
    from buildplan.build.decisions import Decisions
    from buildplan.process.estimate import Prices


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRequest:
    """One printed part as the build asks for it.

    Attributes:
        path: Mesh file.
        unit: Length unit to apply, or None to go by the file.
        printers: Machines that may print it, never empty: of its process, hot enough, wished for.
        orientation: 16 numbers, row by row, that turn the file's mesh as it is to be printed.
        poses: 16 numbers for each copy, row by row, from the mesh as printed to the device; empty
            where the build file gives none.
        moves_with: Name of the moving group, or an empty text.
        way: How it is got.
    """

    name: str
    path: Path
    unit: Unit | None
    quantity: int
    feedstock: Feedstock
    recipe: Recipe
    printers: tuple[Printer, ...]
    about: str
    orientation: tuple[float, ...]
    poses: tuple[tuple[float, ...], ...]
    moves_with: str
    features: tuple[Feature, ...]
    keep_outs: tuple[KeepOut, ...]
    way: Way = AS_IT_MUST


@dataclass(frozen=True, slots=True, kw_only=True)
class BoughtItem:
    """One item of the shopping list.

    Attributes:
        quantity: How much the device takes, in ``unit``; ``pack`` likewise for one pack.
        price_cost: Price of one pack.
        shipping_cost: Shipping of an order that holds only this.
        lead_d: Days from order to door.
        needed: False for what is optional or only compared.
        price_low_cost, price_high_cost: Passed 1 time in 10 on either side; 0 where it is known.
        price_break: (from quantity, price of one pack), rising.
        least_quantity: Least that is sold at once, in ``unit``; on_hand likewise.
        spare_frac: Share bought on top.
        state: How far the order is.
        currency: Of the price; empty for the supplier's or the build's.
        with_tax: Whether the price holds the tax.
    """

    name: str
    quantity: float
    unit: str
    pack: float
    price_cost: float
    shipping_cost: float
    lead_d: float
    supplier: str
    used_in: str
    needed: bool
    about: str
    price_low_cost: float = 0.0
    price_high_cost: float = 0.0
    price_break: tuple[tuple[float, float], ...] = ()
    least_quantity: float = 0.0
    spare_frac: float = 0.0
    on_hand: float = 0.0
    state: State = "to order"
    currency: str = ""
    with_tax: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """A device to be built: printers, parts, bought items, prices.

    Attributes:
        path: The build file.
        sha256: Of its bytes.
        data: "invented" for a demo or a try-out.
        longest_print_h: Most hours of one print, 0 for no limit.
        printers: Machines at hand, in the order of the file.
        parts: Printed parts, in the order of the file; at least one.
        shops: Suppliers with their terms, by name.
        tax_frac: Tax on what is bought.
        rates: What one unit of another currency costs in the build's.
        tables: Every row that may be named (built-in, own table files, build file) by kind, with
            the source of every number.
        device: What the file says of mechanism, supply, heat and views; it may be empty.
        decisions: When somebody is there, the assembly, own claims.
        sections: Further tables (service, quote, journal and those of the device) that the file
            holds, as tomllib gives them.
    """

    path: Path
    sha256: str
    name: str
    about: str
    revision: str
    currency: str
    data: Literal["own", "invented"]
    prices: "Prices"
    longest_print_h: float
    printers: tuple[Printer, ...]
    parts: tuple[PartRequest, ...]
    bought: tuple[BoughtItem, ...]
    shops: Mapping[str, Shop]
    tax_frac: float
    rates: Mapping[str, Decimal]
    tables: Mapping[Kind, Table[Any]]
    device: DeviceTables
    decisions: "Decisions"
    sections: Mapping[str, Any]
