"""Closed forms for what is bought: fuse, capacitor, battery, the supply's own loss."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from buildplan.device.power.shape import Battery
from buildplan.device.power.shelf import Shelf
from buildplan.device.power.tree import Floats
from buildplan.errors import InputError
from buildplan.tables.electrical import Capacitor, Cell
from buildplan.tables.rows import find_row
from buildplan.tables.wording import not_known

FUSE_SHARE = 0.75
"""Steady current as a share of a fuse's rating (fuse makers' derating, common practice)."""

CAPACITOR_TRUE_FRAC = 0.8
"""An electrolytic capacitor may hold a fifth less than its label (common tolerance)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseChoice:
    """A fuse for a wire, or none that serves.

    Attributes:
        name: The fuse, or empty.
        rating_a: Its rating; 0 where none serves.
        steady_a: Most that flows for long.
        wire_a: What the thinnest wire behind it may carry in open air, and its name.
        supply_a: What the source can give: a fuse near or above it may never blow.
        guards: Whether the fuse blows before the wire is too hot.
        blows: Whether the source can drive the fuse hard enough (twice its rating).
    """

    name: str
    rating_a: float
    steady_a: float
    wire_a: float
    wire_name: str
    supply_a: float
    guards: bool
    blows: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BulkCapacitor:
    """What a capacitor beside a part can do against a dip.

    Attributes:
        need_uf: Least capacitance; inf where its own resistance already sags too far.
        name: Smallest capacitor of the table that serves, or empty.
        holds_ms: How long the largest of the table would hold: the limit of the remedy.
        limit_name: That largest capacitor.
    """

    need_uf: float
    name: str
    holds_ms: float
    limit_name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryLife:
    """How long a battery lasts over the repeating day.

    Attributes:
        name: The pack in words ("3 lithium-ion cells, 2.5 Ah").
        full_v, empty_v: Volts of the pack, charged and where discharging must end.
        mean_a: Current by the day's mean; even_a is the steady current that drains it as fast.
        runtime_h: To the usable share of its capacity.
        lithium: Whether the cautions for lithium cells hold.
    """

    name: str
    full_v: float
    empty_v: float
    mean_a: float
    even_a: float
    runtime_h: float
    lithium: bool


def choose_fuse(
    steady_a: float,
    thinnest: tuple[str, float],
    supply_a: float,
    shelf: Shelf | None = None,
) -> FuseChoice:
    """The smallest fuse that carries the steady current for years: rating >= I / 0.75.

    Args:
        steady_a: Most that flows for long.
        thinnest: Name and open-air amps of the thinnest wire behind the fuse.
        supply_a: Most that the source gives.
        shelf: Rows of fuses; the built-in ones where left out.

    Raises:
        InputError: A negative current.

    Source: fuse makers' derating to 75 % at 25 C (UL 248-14 types), common practice.
    """
    if not steady_a >= 0.0:
        raise InputError(f"a fuse for {steady_a:g} A cannot be; the current must be 0 or more")
    known = (shelf or Shelf()).fuses.values()
    able = [row for row in known if row.rating_a * FUSE_SHARE >= steady_a * (1.0 - 1e-12)]
    fuse = min(able, key=lambda row: row.rating_a) if able else None
    rating = fuse.rating_a if fuse else 0.0
    return FuseChoice(
        name=fuse.name if fuse else "",
        rating_a=rating,
        steady_a=steady_a,
        wire_a=thinnest[1],
        wire_name=thinnest[0],
        supply_a=supply_a,
        guards=fuse is not None and rating <= thinnest[1],
        blows=fuse is not None and supply_a >= 2.0 * rating,
    )


def capacitance_uf(
    step_a: float, dip_v: float, time_ms: float, *, esr_ohm: float = 0.0, feed_ohm: float = 0.0
) -> float:
    """Capacitance that keeps a dip within limits while a current lasts.

    C = I t / (dip - I ESR) where the feed gives none of it; with a feed of resistance R it is
    C = -t / (R ln(1 - (dip - I ESR) / (I R))), and 0 where I R stays below the dip anyway.
    Infinite where the capacitor's own resistance sags by more than the dip.

    Raises:
        InputError: A number is negative or not finite.

    Source: charge balance, I t = C dV; step response of R and C in parallel.
    """
    for name, value in (
        ("step_a", step_a),
        ("dip_v", dip_v),
        ("time_ms", time_ms),
        ("esr_ohm", esr_ohm),
        ("feed_ohm", feed_ohm),
    ):
        if not (math.isfinite(value) and value >= 0.0):
            raise InputError(f"{name} is {value:g}; it must be finite and 0 or more")
    room = dip_v - step_a * esr_ohm
    if step_a == 0.0 or time_ms == 0.0 or (feed_ohm > 0.0 and step_a * feed_ohm <= dip_v):
        return 0.0
    if room <= 0.0:
        return math.inf
    if feed_ohm == 0.0:
        return step_a * time_ms * 1e3 / room
    return -time_ms * 1e3 / (feed_ohm * math.log1p(-room / (step_a * feed_ohm)))


def choose_capacitor(
    step_a: float,
    dip_v: float,
    time_ms: float,
    feed_ohm: float = 0.0,
    shelf: Shelf | None = None,
) -> BulkCapacitor:
    """The smallest capacitor that serves, and how long the largest would hold.

    Raises:
        InputError: As ``capacitance_uf``.
    """
    known = sorted((shelf or Shelf()).capacitors.values(), key=_size)
    if not known:
        raise InputError("there is no capacitor to choose from; give at least one row")
    needs = [
        capacitance_uf(step_a, dip_v, time_ms, esr_ohm=row.esr_ohm, feed_ohm=feed_ohm)
        for row in known
    ]
    able = [
        row
        for row, need in zip(known, needs, strict=True)
        if need <= row.capacitance_uf * CAPACITOR_TRUE_FRAC
    ]
    largest = known[-1]
    one_ms = capacitance_uf(step_a, dip_v, 1.0, esr_ohm=largest.esr_ohm, feed_ohm=feed_ohm)
    held = largest.capacitance_uf * CAPACITOR_TRUE_FRAC
    return BulkCapacitor(
        need_uf=needs[-1],
        name=able[0].name if able else "",
        holds_ms=math.inf if one_ms == 0.0 else held / one_ms,
        limit_name=largest.name,
    )


def _size(row: Capacitor) -> float:
    return row.capacitance_uf


def peukert_h(
    capacity_ah: float, drain_a: float, *, rated_h: float = 20.0, peukert_frac: float = 1.2
) -> float:
    """Runtime at a steady current from the capacity on a label: t = H (C / (I H))^k.

    With a capacity C_p stated for 1 A it is t = C_p / I^k, the same law with H = C = C_p.

    Raises:
        InputError: A number that is not above 0, or an exponent below 1.

    Source: W. Peukert (1897), in the hour-rate form.
    """
    for name, value in (("capacity_ah", capacity_ah), ("drain_a", drain_a), ("rated_h", rated_h)):
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f"{name} is {value:g}; it must be finite and above 0")
    if not peukert_frac >= 1.0:
        raise InputError(f"peukert_frac is {peukert_frac:g}; the exponent is 1 or more")
    return float(rated_h * (capacity_ah / (drain_a * rated_h)) ** peukert_frac)


def even_current_a(shares: Iterable[float], amps: Iterable[float], peukert_frac: float) -> float:
    """The steady current that drains a battery as fast as a repeating day: (sum s I^k)^(1/k)."""
    total = math.fsum(s * a**peukert_frac for s, a in zip(shares, amps, strict=True))
    return float(total ** (1.0 / peukert_frac))


def battery_life(
    battery: Battery, shares: Floats, amps: Floats, shelf: Shelf | None = None
) -> BatteryLife:
    """Runtime over the day's modes, never more than the label's capacity gives.

    Raises:
        InputError: The table has no such cell, or no current flows.
    """
    cell = find_cell(battery, shelf)
    mean = float(shares @ amps)
    even = even_current_a(shares, amps, cell.peukert_frac)
    hours = peukert_h(
        battery.capacity_ah, even, rated_h=cell.rated_h, peukert_frac=cell.peukert_frac
    )
    return BatteryLife(
        name=f"{battery.cells} {cell.name}{'s' if battery.cells > 1 else ''}, "
        f"{battery.capacity_ah:g} Ah",
        full_v=battery.cells * cell.cell_full_v,
        empty_v=battery.cells * cell.cell_empty_v,
        mean_a=mean,
        even_a=even,
        runtime_h=cell.usable_frac * min(hours, battery.capacity_ah / mean),
        lithium=cell.lithium,
    )


def find_cell(battery: Battery, shelf: Shelf | None = None) -> Cell:
    """The row of a battery's cells.

    Raises:
        InputError: The table has no such cell.
    """
    known = (shelf or Shelf()).cells
    cell = find_row(known, battery.cell)
    if cell is None:
        raise InputError(f"battery: {not_known('cell', battery.cell, known)}")
    return cell


def wall_efficiency_frac(rated_w: float) -> float:
    """Least mean efficiency of an external supply on sale: 0.071 ln P - 0.0014 P + 0.67, to 0.88.

    Source: Commission Regulation (EU) 2019/1782, Annex II, single-voltage supplies (from memory).
    """
    if rated_w <= 1.0:
        return max(0.1, 0.5 * rated_w + 0.16)
    if rated_w <= 49.0:
        return 0.071 * math.log(rated_w) - 0.0014 * rated_w + 0.67
    return 0.88
