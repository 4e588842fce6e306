"""The build file's `[device]` table, and every table of the device read together."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

from buildplan.device.clearance.shape import (
    ComponentPlace,
    PlugPlace,
    ScrewPlace,
    TouchZone,
    Vector,
)
from buildplan.device.heat.shape import Heat
from buildplan.device.mechanism.inputs import linkage_of
from buildplan.device.mechanism.shape import MechanismTables, read_mechanism
from buildplan.device.power.shape import Power
from buildplan.device.power.tree import make_network
from buildplan.device.view.shape import Views, read_views
from buildplan.errors import InputError
from buildplan.tables.limits import Within
from buildplan.tables.strict import Fault, Path, read_record
from buildplan.tables.wording import not_known, show

REQUIRED_GAP_MM = 0.3
"""Gap between moving printed parts: 0.2 to 0.5 mm (common practice, no source)."""

HINGE, SERVO, COUPLER = "hinge", "servo", "coupler"
GROUPS = (HINGE, SERVO, COUPLER)
"""What may stand in `moves_with` of a part: it turns with the lid, with the horn, or is the rod."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PutOn:
    """`[[device.put_on]]`: a printed part that is put on last, not what others go into.

    Attributes:
        part: Its name.
        ways_in: Directions of its motion while it goes on, best first; empty tries the six axes.
    """

    part: str
    ways_in: tuple[Vector, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceTable:
    """`[device]`: what joins the mechanism, the supply, the heat and the views.

    Attributes:
        linkage: The drive of `[mechanism]` that is built; empty where there is one only. The
            others are computed beside it, to compare.
        servo_load: Name of the `[[power.load]]` that is the servo.
        move_mode: Mode of `[power]` that all other loads are in while the lid moves.
        ambient_c: Air round the device on the warmest day that it must stand.
        gap_mm: Gap that moving parts must keep from all others.
        slides: Pairs of parts that are meant to touch and are left out of the gaps.
        clear_parts: Parts that light passes.
        touch_zone: Places in which contact is meant.
        screw, plug, component, put_on: What is driven, plugged in, put in and put on, in order to
            see whether it all goes together.
    """

    linkage: str = ""
    servo_load: str = ""
    move_mode: str = ""
    ambient_c: Annotated[float, Within(-40.0, 80.0)] = 30.0
    gap_mm: Annotated[float, Within(0.001, 100.0)] = REQUIRED_GAP_MM
    slides: tuple[tuple[str, str], ...] = ()
    clear_parts: tuple[str, ...] = ()
    touch_zone: tuple[TouchZone, ...] = ()
    screw: tuple[ScrewPlace, ...] = ()
    plug: tuple[PlugPlace, ...] = ()
    component: tuple[ComponentPlace, ...] = ()
    put_on: tuple[PutOn, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceTables:
    """Every table of the device; None where the build file has none.

    Attributes:
        device: With its defaults where the file has no `[device]`.
    """

    device: DeviceTable = field(default_factory=DeviceTable)
    mechanism: MechanismTables | None = None
    power: Power | None = None
    heat: Heat | None = None
    views: Views | None = None

    @property
    def empty(self) -> bool:
        """Whether the build file says nothing about the device."""
        said = (self.mechanism, self.power, self.heat, self.views)
        return all(table is None for table in said)


def read_device(
    sections: Mapping[str, Any], parts: Mapping[str, str]
) -> tuple[DeviceTables, tuple[Fault, ...]]:
    """Every table of the device in a build file, and every fault in them.

    Args:
        sections: The build file's tables by name, as tomllib gives them.
        parts: Names of the printed parts, each with its moving group or an empty text.
    """
    faults: list[Fault] = []
    device = _record(DeviceTable, sections, "device", faults) or DeviceTable()
    power = _record(Power, sections, "power", faults)
    heat = _record(Heat, sections, "heat", faults)
    mechanism: MechanismTables | None = None
    views: Views | None = None
    if isinstance(sections.get("mechanism"), dict):
        mechanism, wrong = read_mechanism(sections["mechanism"])
        faults.extend(wrong)
    if isinstance(sections.get("view"), dict):
        views, wrong = read_views(sections["view"])
        faults.extend(wrong)
    tables = DeviceTables(device=device, mechanism=mechanism, power=power, heat=heat, views=views)
    faults.extend(_name_faults(tables, parts, sections))
    faults.extend(_cannot_be(tables))
    return tables, tuple(faults)


def chosen_linkage(tables: DeviceTables) -> str:
    """The drive that is built: as named, or the first."""
    if tables.mechanism is None:
        return ""
    return tables.device.linkage or next(iter(tables.mechanism.linkage))


def _record(record: type[Any], sections: Mapping[str, Any], key: str, faults: list[Fault]) -> Any:
    raw = sections.get(key)
    if not isinstance(raw, dict):
        return None
    found, wrong = read_record(record, raw, (key,))
    faults.extend(wrong)
    return found


def _cannot_be(tables: DeviceTables) -> list[Fault]:
    """A supply that is no tree, a linkage that cannot be put together."""
    found = []
    if tables.power is not None:
        try:
            make_network(tables.power)
        except InputError as error:
            found.append(Fault(path=("power",), text=str(error)))
    rows = tables.mechanism.linkage.items() if tables.mechanism else ()
    for name, table in rows:
        try:
            linkage_of(name, table)
        except InputError as error:
            found.append(Fault(path=("mechanism", "linkage", name), text=str(error)))
    return found


Names = Iterable[str]


def _name_faults(
    tables: DeviceTables, parts: Mapping[str, str], sections: Mapping[str, Any]
) -> list[Fault]:
    """Names of the device's tables that nothing else carries."""
    rows = [*_part_names(tables.device), *_supply_names(tables), *_heat_names(tables)]
    found = []
    if tables.mechanism is not None:
        load = tables.mechanism.roof_load.part
        rows.append((load, None, ("mechanism", "roof_load", "part")))
        rows.append((tables.device.linkage, tables.mechanism.linkage, ("device", "linkage")))
        found += [
            Fault(
                path=("part", number, "moves_with"),
                text=not_known("moves_with", group, GROUPS),
            )
            for number, group in enumerate(parts.values())
            if group and group not in GROUPS
        ]
    elif tables.device.linkage and "mechanism" not in sections:
        text = f"linkage {show(tables.device.linkage)} is named, but there is no [mechanism] table"
        found.append(Fault(path=("device", "linkage"), text=text))
    for name, known, path in rows:
        allowed = tuple(parts if known is None else known)
        if name and name not in allowed:
            label = next(key for key in reversed(path) if isinstance(key, str))
            found.append(Fault(path=path, text=not_known(label, name, allowed)))
    return found


def _part_names(device: DeviceTable) -> list[tuple[str, Names | None, Path]]:
    """Every name of a printed part, with no names of its own to choose from."""
    return [
        *(
            (one, None, ("device", "slides", i))
            for i, two in enumerate(device.slides)
            for one in two
        ),
        *((one, None, ("device", "clear_parts", i)) for i, one in enumerate(device.clear_parts)),
        *(
            (name, None, ("device", "screw", i, "not_yet", j))
            for i, screw in enumerate(device.screw)
            for j, name in enumerate(screw.not_yet)
        ),
        *(
            (name, None, ("device", "plug", i, "not_yet", j))
            for i, plug in enumerate(device.plug)
            for j, name in enumerate(plug.not_yet)
        ),
        *((row.part, None, ("device", "put_on", i, "part")) for i, row in enumerate(device.put_on)),
    ]


def _supply_names(tables: DeviceTables) -> list[tuple[str, Names | None, Path]]:
    if tables.power is None:
        return []
    loads = [load.name for load in tables.power.load]
    modes = [mode.name for mode in tables.power.mode]
    return [
        (tables.device.servo_load, loads, ("device", "servo_load")),
        (tables.device.move_mode, modes, ("device", "move_mode")),
    ]


def _heat_names(tables: DeviceTables) -> list[tuple[str, Names | None, Path]]:
    """The part that the bay's walls are of, and the loads that its sources name."""
    if tables.heat is None:
        return []
    bay = tables.heat.bay.part if tables.heat.bay else ""
    power = tables.power
    loads = [load.name for load in power.load] if power else []
    loads += [converter.name for converter in power.converter] if power else []
    return [
        (bay, None, ("heat", "bay", "part")),
        *(
            (name, loads, ("heat", "source", i, "loads", j))
            for i, source in enumerate(tables.heat.source)
            for j, name in enumerate(source.loads)
        ),
    ]
