"""Lines of the bill that write themselves: their inputs out of the build, the parts, the device."""

from collections.abc import Iterable, Sequence

from buildplan.bill import bill_line
from buildplan.bill import derived as d
from buildplan.bill.derived.model import exact
from buildplan.build import Build
from buildplan.device.chain.model import DeviceStudy
from buildplan.device.chain.shape import chosen_linkage
from buildplan.findings import SEVERITIES, Finding
from buildplan.plan.holes import holes_of
from buildplan.plan.lines import bought_want
from buildplan.plan.model import DerivedBill, PartPlan, SplitAnswer, chosen_option
from buildplan.plan.takes import pieces_of


def derive_bill(
    build: Build,
    planned: Sequence[PartPlan],
    device: DeviceStudy | None = None,
    splits: Iterable[SplitAnswer] = (),
    hardware: d.Hardware | None = None,
) -> DerivedBill:
    """Everything small that the build asks for, checked against its shopping list.

    Args:
        build: With its tables and bought items.
        planned: Its parts as printed.
        device: Where they stand and what the supply takes; None without device tables.
        splits: Parts that are cut into pieces.
        hardware: The build file's `[hardware]`; read from the build's sections where left out.
    """
    table = hardware if hardware is not None else hardware_of(build)
    items = _items(build, table)
    at_hand = d.lengths_named(item.name for item in build.bought if item.needed)
    fixings = _fixings(build, planned, table)
    screws, inserts = build.tables["screw"].rows, build.tables["insert"].rows
    sized = d.size_fixings(
        fixings, table.fixing, screws=screws, inserts=inserts, at_hand_mm=at_hand
    )
    needs = (
        *d.fixing_needs(sized),
        *_device_needs(build, device, table),
        *d.bond_needs(_bonds(table)),
        *d.vat_needs(_vat_parts(planned)),
    )
    split = d.split_needs(needs, items)
    tools = _tools(build, sized, planned, bool(needs))
    tool_split = d.split_needs(_tool_needs(tools, table), items)
    day_cost = build.decisions.choice.day_cost
    spares = d.paying(_spare_cases(build, items, table), day_cost) if day_cost > 0.0 else ()
    tax = exact(build.tax_frac)
    findings = [
        *d.fixing_findings(sized, inserts=inserts, at_hand_mm=at_hand),
        *d.cover_findings(split),
        *_some(d.spare_finding(spares, day_cost)),
        *_some(d.price_finding((*split.open, *tool_split.open))),
        *([d.tool_finding(d.tool_words(tools))] if table.tools is None and tools else []),
    ]
    return DerivedBill(
        needs=needs,
        lines=(
            *d.lines_of(split, tax),
            *d.lines_of(tool_split, tax),
            *d.spare_lines(spares, items),
        ),
        shares=d.share_lines(_shares(planned, tuple(splits))),
        findings=tuple(sorted(findings, key=lambda one: SEVERITIES.index(one.severity))),
    )


def hardware_of(build: Build) -> d.Hardware:
    """The `[hardware]` table out of the build's sections, faults left aside: they stop the load."""
    return d.read_hardware(build.sections)[0]


def _some(finding: Finding | None) -> list[Finding]:
    return [] if finding is None else [finding]


def _items(build: Build, table: d.Hardware) -> tuple[d.Item, ...]:
    """The shopping list as it can cover needs."""
    cover = {row.bought: row for row in table.cover}
    items = []
    for item in build.bought:
        row = cover.get(item.name)
        items.append(
            d.Item(
                line=bill_line(bought_want(item, exact(item.quantity), build)),
                needed=item.needed,
                covers=row.needs if row else (),
                holds=exact(row.holds if row else 0.0),
            )
        )
    return tuple(items)


def _fixings(build: Build, planned: Sequence[PartPlan], table: d.Hardware) -> tuple[d.Fixing, ...]:
    """Screws that the holes of the parts ask for."""
    if not table.from_holes:
        return ()
    seats = [
        d.Seat(name=row.name, screw=row.screw, seat_mm=row.seat_mm, axis=row.axis)
        for row in build.device.device.screw
    ]
    return d.find_fixings(
        holes_of(build, planned, left_out=table.holes_not_for_screws),
        seats,
        screws=build.tables["screw"].rows,
        inserts=build.tables["insert"].rows,
    )


def _device_needs(
    build: Build, device: DeviceStudy | None, table: d.Hardware
) -> tuple[d.Need, ...]:
    """What supply and heat ask for."""
    power, heat = build.device.power, build.device.heat
    found: list[d.Need] = []
    if power is not None:
        peaks = {}
        if device is not None and device.power is not None:
            peaks = {row.name: row.peak_a for row in device.power.wires}
        runs = d.runs_of(
            power,
            own_leads=table.own_leads,
            signals=table.signals,
            peaks_a=peaks,
            typed_plugs=_typed_plugs(build),
        )
        found += d.part_needs(power, bought=_servo_bought(build))
        found += d.wire_needs(runs)
        found += d.plug_needs(runs)
        guarded = power.source.kind in ("wall supply", "battery")  # a port guards itself
        if guarded and device is not None and device.power is not None:
            found += d.fuse_needs(device.power.fuse)
        found += d.wiring_needs(runs)
    if heat is not None:
        found += d.cooling_needs(heat)
    return tuple(found)


def _typed_plugs(build: Build) -> frozenset[str]:
    """Parts of the supply whose plugs stand in the build file, not by default."""
    raw = build.sections.get("power", {})
    rows = [raw.get("source", {}), *raw.get("converter", []), *raw.get("load", [])]
    return frozenset(str(row.get("name", "")) for row in rows if "plugs" in row)


def _servo_bought(build: Build) -> dict[str, str]:
    """The shopping list's item of the load that is the servo, by the drive that is built."""
    tables = build.device
    if tables.mechanism is None or not tables.device.servo_load:
        return {}
    drive = tables.mechanism.linkage[chosen_linkage(tables)]
    servo = tables.mechanism.servo.get(drive.servo)
    bought = servo.bought if servo is not None else ""
    return {tables.device.servo_load: bought} if bought else {}


def _bonds(table: d.Hardware) -> list[d.Bond]:
    return [
        d.Bond(
            name=row.name,
            item=row.item,
            run_mm=row.run_mm,
            bead_mm=row.bead_mm,
            area_mm2=row.area_mm2,
            layer_mm=row.layer_mm,
        )
        for row in table.bond
    ]


def _vat_parts(planned: Sequence[PartPlan]) -> list[d.VatPart]:
    return [
        d.VatPart(name=item.name.replace("_", " "), box_mm=item.part.size_mm, copies=item.quantity)
        for item in planned
        if item.feedstock.process == "vat"
    ]


def _tools(
    build: Build, sized: Sequence[d.Sized], planned: Sequence[PartPlan], any_need: bool
) -> tuple[d.Tool, ...]:
    return d.tools_for(
        [one.grip.screw for one in sized],
        screws=build.tables["screw"].rows,
        inserts=[one.insert for one in sized if one.insert],
        tapped=[one.grip.screw for one in sized if one.grip.into == "metal"],
        nuts=[one.grip.screw for one in sized if one.grip.into in ("nut", "lock nut")],
        wires=any_need and build.device.power is not None,
        vat=any(item.feedstock.process == "vat" for item in planned),
    )


def _tool_needs(tools: Sequence[d.Tool], table: d.Hardware) -> tuple[d.Need, ...]:
    return d.tool_needs(d.missing_tools(tools, table.tools)) if table.tools is not None else ()


def _spare_cases(build: Build, items: Sequence[d.Item], table: d.Hardware) -> list[d.SpareCase]:
    """Items counted by the piece of which one may break, that nobody has a spare of already."""
    typed = {row.bought: row.fail_frac for row in table.cover}
    cases = []
    for bought, item in zip(build.bought, items, strict=True):
        chance = typed.get(item.name) or d.fail_frac_of(item.name)
        if not (item.needed and chance and bought.unit == "piece" and bought.state != "have"):
            continue
        shop = build.shops.get(bought.supplier)
        shipping = float(shop.shipping_cost) if shop else bought.shipping_cost
        cases.append(
            d.SpareCase(
                item=item.name,
                fail_frac=chance,
                count=max(round(bought.quantity), 1),
                lead_d=bought.lead_d or (shop.lead_d if shop else 0.0),
                price_cost=bought.price_cost,
                shipping_cost=shipping or bought.shipping_cost,
                left=float(item.there - item.asked),
            )
        )
    return cases


def _shares(planned: Sequence[PartPlan], splits: Sequence[SplitAnswer]) -> list[d.Share]:
    """Machine and energy of every part, all copies; of a part in pieces, of its pieces."""
    shares = []
    for item in planned:
        pieces = pieces_of(item, splits)
        estimates = [chosen_option(item).estimate]
        if pieces is not None:
            estimates = [piece.estimate for piece in (*pieces.pieces, *pieces.loose)]
        shares.append(
            d.Share(
                part=item.name,
                printer=chosen_option(item).printer,
                time_h=item.quantity * sum(one.time_h for one in estimates),
                energy_kwh=item.quantity * sum(one.energy_kwh for one in estimates),
                machine_cost=item.quantity * sum(one.machine_cost for one in estimates),
                energy_cost=item.quantity * sum(one.energy_cost for one in estimates),
                asked_by=d.mark_of_rows([item.part.key]),
            )
        )
    return shares
