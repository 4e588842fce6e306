"""Lines of the bill that write themselves: their inputs out of the build, the parts, the device."""

import dataclasses
import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.bill import BillLine, bill_line, revision_mark
from buildplan.bill import derived as d
from buildplan.bill.derived.model import exact
from buildplan.build import Build, PartRequest
from buildplan.device.chain.model import DeviceStudy
from buildplan.device.chain.placed import Placed
from buildplan.device.chain.shape import chosen_linkage
from buildplan.findings import SEVERITIES, Finding
from buildplan.part import Part
from buildplan.part.bores import find_bores
from buildplan.part.feature import Feature
from buildplan.part.turn import turn_features
from buildplan.plan.lines import bought_want
from buildplan.plan.model import PartPlan, SplitAnswer, chosen_option
from buildplan.plan.takes import pieces_of

Point = tuple[float, float, float]

NEAR_MM = 0.6
"""A hole may stand out of its feature's box by this (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DerivedBill:
    """What the build asks for besides its own list.

    Attributes:
        needs: All of them, covered or not, with their reasons.
        lines: Of what nothing covers, of spares that pay and of tools that are missing: orders.
        shares: Machine and energy by part: no orders, ``pack_cost`` says what they come to.
        findings: Gravest first.
    """

    needs: tuple[d.Need, ...]
    lines: tuple[BillLine, ...]
    shares: tuple[BillLine, ...]
    findings: tuple[Finding, ...]


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
    sized = _sized(build, planned, device, table)
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
        *d.fixing_findings(sized, build.tables["insert"].rows),
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


def short_mark(build: Build, letters: int = 4) -> str:
    """A short mark to emboss: the same meshes, ways of printing and numbers give the same letters.

    Names, prices and the order of the parts do not count; a changed byte of a mesh does.

    Raises:
        InputError: Fewer than 2 or more than 12 letters.
        OSError: A mesh file cannot be read.
    """
    return revision_mark(sorted(_part_text(request) for request in build.parts), letters)


def _part_text(request: PartRequest) -> str:
    """What makes one part what it is."""
    mesh = hashlib.sha256(request.path.read_bytes()).hexdigest()
    recipe = dataclasses.asdict(request.recipe)
    how = {key: value for key, value in recipe.items() if key not in ("key", "name", "about")}
    turn = [round(value, 9) for value in request.orientation]
    rest = [request.unit, request.quantity, request.feedstock.key, turn, how]
    return f"{mesh} {json.dumps(rest, sort_keys=True)}"


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


def _sized(
    build: Build, planned: Sequence[PartPlan], device: DeviceStudy | None, table: d.Hardware
) -> tuple[d.Sized, ...]:
    """Screws of the holes and of the table, each with its length."""
    screws, inserts = build.tables["screw"].rows, build.tables["insert"].rows
    fixings: tuple[d.Fixing, ...] = ()
    if table.from_holes:
        seats = [
            d.Seat(name=row.name, screw=row.screw, seat_mm=row.seat_mm, axis=row.axis)
            for row in build.device.device.screw
        ]
        holes = _holes(build, planned, device, table.holes_not_for_screws)
        fixings = d.find_fixings(holes, seats, screws=screws, inserts=inserts)
    return d.size_fixings(fixings, table.fixing, screws=screws, inserts=inserts)


def _holes(
    build: Build,
    planned: Sequence[PartPlan],
    device: DeviceStudy | None,
    left_out: Sequence[str],
) -> tuple[d.Hole, ...]:
    """Round holes of every copy where it stands; of parts without a pose, as printed."""
    placed = device.placed if device else ()
    requests = {request.name: request for request in build.parts}
    found = []
    for item in planned:
        if item.name in left_out:
            continue
        request = requests[item.name]
        features = turn_features(request.features, request.orientation)
        copies: list[tuple[str, str, Placed | None]] = [
            (one.name, one.group, one) for one in placed if one.part_name == item.name
        ]
        if not copies:
            names = [f"{item.name} {i + 1}" for i in range(item.quantity)]
            copies = [(name, request.moves_with, None) for name in names]
        for bore in find_bores(item.part):
            feature = _feature_at(bore.start_mm, bore.end_mm, features)
            for place, (name, group, one) in enumerate(copies):
                pose = request.poses[place] if one is not None else ()
                start, end = _moved(bore.start_mm, pose), _moved(bore.end_mm, pose)
                if one is not None and _is_filled(start, end, name, placed):
                    continue
                found.append(
                    d.Hole(
                        owner=name,
                        part=item.name,
                        feature=feature.name if feature else "",
                        boss=feature is not None and feature.kind == "boss",
                        group=group,
                        start_mm=start,
                        end_mm=end,
                        diameter_mm=round(bore.diameter_mm, 3),
                        start_shut=bore.start_shut,
                        end_shut=bore.end_shut,
                        frame="" if one is not None else name,
                    )
                )
    return tuple(found)


def _is_filled(start: Point, end: Point, owner: str, placed: Sequence[Placed]) -> bool:
    """Whether another printed part stands in a hole: a hinge pin, a peg."""
    middle = np.add(start, end) / 2.0
    for one in placed:
        vertices = one.part.vertices_mm
        inside = (vertices.min(axis=0) < middle) & (middle < vertices.max(axis=0))
        if one.name != owner and inside.all() and _turns(middle, one.part) > 0.5:
            return True
    return False


def _turns(point: NDArray[np.float64], part: Part) -> float:
    """How often a surface goes round a point: 1 inside, 0 outside (van Oosterom, Strackee 1983)."""
    a, b, c = (part.vertices_mm[part.facets[:, i]] - point for i in range(3))
    la, lb, lc = (np.linalg.norm(side, axis=1) for side in (a, b, c))
    over = np.einsum("ij,ij->i", a, np.cross(b, c))
    under = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    return float(np.abs(np.arctan2(over, under).sum()) / (2.0 * np.pi))


def _feature_at(start: Point, end: Point, features: Sequence[Feature]) -> Feature | None:
    """The smallest feature whose box holds both ends of a hole."""
    able = [
        one
        for one in features
        if all(
            one.box_mm[i] - NEAR_MM <= point[i] <= one.box_mm[i + 3] + NEAR_MM
            for point in (start, end)
            for i in range(3)
        )
    ]
    return min(able, key=_volume, default=None)


def _volume(feature: Feature) -> float:
    x0, y0, z0, x1, y1, z1 = feature.box_mm
    return (x1 - x0) * (y1 - y0) * (z1 - z0)


def _moved(point: Point, pose: Sequence[float]) -> Point:
    """A point by a pose of 16 numbers, row by row; without one as it is."""
    if not pose:
        return point
    x, y, z = (
        round(sum(pose[4 * row + i] * point[i] for i in range(3)) + pose[4 * row + 3], 6)
        for row in range(3)
    )
    return x, y, z


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
        if device is not None and device.power is not None:
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
