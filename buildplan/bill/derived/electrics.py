"""What the tables of supply and heat name: wire runs, boards, converters, fuse, fan, sink."""

from collections.abc import Collection, Mapping

from buildplan.bill.derived.model import Need, exact, mark_of_rows, whole
from buildplan.bill.derived.wires import Run
from buildplan.device.heat.shape import Heat
from buildplan.device.power.shape import SOURCE, Converter, Load, Power
from buildplan.device.power.sizing import FuseChoice

FUSE_PACK = 10.0
"""Cartridge fuses are sold by ten (common practice, no source)."""

OWN_LEAD = ("usb 2", "usb 3", "usb charging", "usb c 1.5 A", "usb c 3 A", "wall supply")
"""Kinds of source whose lead comes with them or is an off-the-shelf cable (common practice)."""


def runs_of(
    power: Power,
    *,
    own_leads: Collection[str] = (),
    signals: Mapping[str, int] | None = None,
    peaks_a: Mapping[str, float] | None = None,
    typed_plugs: Collection[str] = (),
) -> tuple[Run, ...]:
    """Every wire run that must be made: what is optional and what has a lead of its own left out.

    Args:
        power: The supply's tables.
        own_leads: Loads and converters whose wires come with them.
        signals: Signal wires beside the two for power, by load.
        peaks_a: Most current by the part at the end.
        typed_plugs: Parts whose plugs are typed in, not taken by default.
    """
    volts = {SOURCE: power.source.supply_v} | {row.name: row.out_v for row in power.converter}
    signals, peaks_a = signals or {}, peaks_a or {}
    rows: list[Converter | Load] = [*power.converter, *(one for one in power.load)]
    runs = []
    if power.source.kind not in OWN_LEAD:
        runs.append(_source_run(power, typed_plugs, peaks_a))
    for row in rows:
        if row.name in own_leads or (isinstance(row, Load) and row.optional):
            continue
        runs.append(
            Run(
                name=row.name,
                feed=row.via or (power.source.name if row.feed == SOURCE else row.feed),
                rail=f"{volts.get(row.feed, power.source.supply_v):g} V",
                gauge=gauge_words(row.wire_awg, row.wire_mm2),
                length_mm=row.wire_mm,
                conductors=2 + signals.get(row.name, 0),
                plugs=row.plugs if row.name in typed_plugs else 0,
                peak_a=peaks_a.get(row.name, 0.0),
            )
        )
    return tuple(runs)


def _source_run(power: Power, typed_plugs: Collection[str], peaks_a: Mapping[str, float]) -> Run:
    source = power.source
    return Run(
        name=f"lead of the {source.name}",
        feed=source.name,
        rail=f"{source.supply_v:g} V",
        gauge=gauge_words(source.wire_awg, source.wire_mm2),
        length_mm=source.wire_mm,
        plugs=source.plugs if source.name in typed_plugs else 0,
        peak_a=peaks_a.get(source.name, 0.0),
    )


def gauge_words(awg: int, area_mm2: float) -> str:
    """A wire's gauge as on a shopping list: "20 AWG" or "0.5 mm2"."""
    return f"{area_mm2:g} mm2" if area_mm2 > 0.0 else f"{awg} AWG"


def part_needs(power: Power, *, bought: Mapping[str, str] | None = None) -> tuple[Need, ...]:
    """One of every supply, battery, converter and load that is not optional.

    Args:
        power: The supply's tables.
        bought: Shopping list's item of a load, where another table names it (the servo's).
    """
    bought = bought or {}
    source = power.source
    needs = []
    if source.kind == "wall supply" and power.battery is None:
        item = f"wall supply {source.supply_v:g} V, {source.limit_a:g} A"
        why = f"all power comes from it: {source.supply_v:g} V, {source.limit_a:g} A on its label"
        needs.append(_one(item, source.bought, "power", source, why))
    if power.battery is not None:
        pack = power.battery
        item = f"battery, {pack.cells} {pack.cell.replace('_', ' ')} cells, {pack.capacity_ah:g} Ah"
        needs.append(_one(item, source.bought, "power", pack, "the pack behind the source"))
    for row in power.converter:
        item = f"converter to {row.out_v:g} V, {row.limit_a:g} A"
        needs.append(_one(item, row.bought, row.name, row, f"makes the {row.out_v:g} V rail"))
    for load in power.load:
        if not load.optional:
            link = load.bought or bought.get(load.name, "")
            place = load.place.replace("_", " ") or "power"
            needs.append(_one(load.name, link, place, load, "a load of the power tables"))
    return tuple(needs)


def fuse_needs(fuse: FuseChoice) -> tuple[Need, ...]:
    """The fuse of the source's lead with its holder; none where no fuse serves."""
    if not fuse.name:
        return ()
    why = (
        f"{fuse.steady_a:.2f} A for long, at three quarters of its rating; guards {fuse.wire_name}"
    )
    return (
        _one(fuse.name, "", "lead of the supply", fuse, why, pack=FUSE_PACK),
        _one("fuse holder", "", "lead of the supply", fuse, f"for the {fuse.name}"),
    )


def cooling_needs(heat: Heat) -> tuple[Need, ...]:
    """The fan of the box and the heat sinks that the tables of heat name."""
    needs = []
    fan = heat.bay.fan if heat.bay else None
    if fan is not None:
        item = f"fan, {whole(fan.free_l_s)} l/s free, {whole(fan.shut_pa)} Pa shut"
        needs.append(_one(item, "", "bay", fan, "the fan of the box"))
    for source in heat.source:
        if source.sink_k_w > 0.0:
            item = f"heat sink, {whole(source.sink_k_w)} K/W or less"
            why = f"the sink that {source.name} is computed with"
            needs.append(_one(item, "", source.name, source, why))
    return tuple(needs)


def _one(item: str, bought: str, used_in: str, row: object, why: str, *, pack: float = 1.0) -> Need:
    one = exact(1.0)
    return Need(
        kind="bought",
        item=item,
        quantity=one,
        low=one,
        high=one,
        unit="piece",
        pack=exact(pack),
        used_in=used_in,
        asked_by=mark_of_rows([row]),
        why=why,
        source="tables of the build file",
        bought=bought,
    )
