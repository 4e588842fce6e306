"""The build file's `[mechanism]` tables, one dataclass a table, and how they are read."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal, TypeVar

from buildplan.tables.limits import Within
from buildplan.tables.strict import Fault, read_record
from buildplan.tables.wording import not_known, show

Path = tuple[str | int, ...]
Vector = tuple[float, float, float]
Point = tuple[float, float]
Record = TypeVar("Record")

Length = Annotated[float, Within(0.01, 5000.0)]
Signed = Annotated[float, Within(-5000.0, 5000.0)]
Degrees = Annotated[float, Within(-360.0, 360.0)]
Factor = Annotated[float, Within(1.0, 20.0)]
Least = Annotated[float, Within(0.0, 89.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class HingeTable:
    """`[mechanism.hinge]`: where the hinge stands, its travel and outer loads.

    Attributes:
        point_mm: A point on the axis, in the device.
        axis: A right-hand turn about it opens.
        forward: Along the shut lid to its free edge.
        up: Square to both; checked where given.
        down: Direction of gravity in the device.
        radial_play_mm, axial_play_mm: Of the pins, for the clearance through the motion.
        gust_m_s: Wind against the opening lid.
        extra_g: Dew, dust; extra_forward_mm from the hinge.
        move_s: Programmed time to open.
    """

    point_mm: Vector
    axis: Vector
    forward: Vector
    up: tuple[float, ...] = ()
    down: Vector = (0.0, 0.0, -1.0)
    from_deg: Degrees = 0.0
    to_deg: Degrees
    friction_n_mm: Annotated[float, Within(0.0, 100_000.0)] = 0.0
    radial_play_mm: Annotated[float, Within(0.0, 10.0)] = 0.0
    axial_play_mm: Annotated[float, Within(0.0, 10.0)] = 0.0
    gust_m_s: Annotated[float, Within(0.0, 60.0)] = 0.0
    extra_g: Annotated[float, Within(0.0, 100_000.0)] = 0.0
    extra_forward_mm: Signed = 0.0
    move_s: Annotated[float, Within(0.05, 600.0)] = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LidTable:
    """`[mechanism.roof_load]`: what turns, from a part's mesh or from scale and ruler.

    Attributes:
        part: Name of the printed part; left out, mass_g, balance_mm, length_mm and width_mm say
            it all.
        density_g_cm3: Of its feedstock; solid_frac of its volume is filled.
        mass_g: What a kitchen scale reads.
        balance_mm: From the hinge axis to where it balances on a ruler's edge.
        sheet_mass_g: A pane or another body on it, at sheet_forward_mm and sheet_up_mm;
            sheet_length_mm long along the lid.
    """

    part: str = ""
    density_g_cm3: float = 0.0
    solid_frac: Annotated[float, Within(0.01, 1.0)] = 1.0
    mass_g: Annotated[float, Within(0.1, 200_000.0)] = 0.0
    balance_mm: Signed = 0.0
    length_mm: Length = 0.0
    width_mm: Length = 0.0
    sheet_mass_g: Annotated[float, Within(0.0, 200_000.0)] = 0.0
    sheet_forward_mm: Signed = 0.0
    sheet_up_mm: Signed = 0.0
    sheet_length_mm: Length = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RodTable:
    """`[mechanism.linkage.NAME]` with kind "rod": points are [forward, up], lid shut.

    Attributes:
        servo: Name of a `[mechanism.servo.NAME]`.
        servo_axis_point_mm: A point on the servo's axis in the device, for clearance and pictures.
        rod_mm: Between its pins, as made; the horn is turned to it. Left out, it follows.
    """

    about: str = ""
    kind: Literal["rod"]
    servo: str
    servo_at_mm: Point
    servo_axis_point_mm: tuple[float, ...] = ()
    horn_mm: Length
    horn_shut_deg: Degrees
    rod_mm: Length = 0.0
    roof_pin_mm: Point
    least_transmission_deg: Least = 40.0
    safety_factor: Factor = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CableTable:
    """`[mechanism.linkage.NAME]` with kind "cable": points are [forward, up], lid shut.

    Attributes:
        roof_pin_mm: Where it is tied to the lid.
        guide_loss_frac: Tension behind the guide over before; 1 without friction.
    """

    about: str = ""
    kind: Literal["cable"]
    servo: str
    roof_pin_mm: Point
    guide_mm: Point
    drum_mm: Length
    guide_loss_frac: Annotated[float, Within(1.0, 20.0)] = 1.2
    least_transmission_deg: Least = 0.0
    safety_factor: Factor = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectTable:
    """`[mechanism.linkage.NAME]` with kind "direct": the servo's shaft is the hinge pin."""

    about: str = ""
    kind: Literal["direct"]
    servo: str
    safety_factor: Factor = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ServoTable:
    """`[mechanism.servo.NAME]`: the servo's label.

    Attributes:
        bought: Name of its `[[bought]]`.
        supply_v: Voltage of the label's figures, and of the rail.
        stall_n_mm: kg cm times 98.0665.
        no_load_deg_s: 60 over the label's seconds for 60 degrees.
    """

    about: str = ""
    bought: str = ""
    supply_v: float
    stall_n_mm: float
    no_load_deg_s: float
    stall_a: float
    moving_a: float
    hold_a: float = 0.01
    sweep_deg: float = 180.0
    hold_frac: float = 0.25
    play_deg: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringTable:
    """`[mechanism.spring]`: helps to open."""

    about: str = ""
    shut_n_mm: Annotated[float, Within(0.0, 100_000.0)]
    rate_n_mm_deg: Annotated[float, Within(0.0, 10_000.0)]


LinkageTable = RodTable | CableTable | DirectTable
KIND_TABLES: dict[str, type[Any]] = {"rod": RodTable, "cable": CableTable, "direct": DirectTable}
KEYS = ("hinge", "roof_load", "linkage", "servo", "spring")


@dataclass(frozen=True, slots=True, kw_only=True)
class MechanismTables:
    """Everything under `[mechanism]`; linkage and servo by their names, in the file's order."""

    hinge: HingeTable
    roof_load: LidTable
    linkage: Mapping[str, LinkageTable]
    servo: Mapping[str, ServoTable]
    spring: SpringTable | None


def read_mechanism(
    data: Mapping[str, Any], path: Path = ("mechanism",)
) -> tuple[MechanismTables | None, tuple[Fault, ...]]:
    """The `[mechanism]` tables of a build file, or None, and every fault in them.

    Args:
        data: What tomllib gives for the table.
        path: Where it stands in the file.
    """
    faults = [
        Fault(path=(*path, key), text=not_known("the key", key, KEYS))
        for key in data
        if key not in KEYS
    ]
    hinge = _table(HingeTable, data, "hinge", path, faults)
    load = _table(LidTable, data, "roof_load", path, faults)
    if load is not None:
        faults.extend(_lid_faults(load, (*path, "roof_load")))
    spring = _table(SpringTable, data, "spring", path, faults) if "spring" in data else None
    linkages = {
        name: table
        for name, raw, where in _named(data, "linkage", path, faults)
        if (table := _linkage(raw, where, faults)) is not None
    }
    servos: dict[str, ServoTable] = {}
    for name, raw, where in _named(data, "servo", path, faults):
        row, wrong = read_record(ServoTable, raw, where)
        faults.extend(wrong)
        if row is not None:
            servos[name] = row
    raw_servos = data.get("servo")
    known = raw_servos if isinstance(raw_servos, dict) else {}
    for name, linkage in linkages.items():
        if linkage.servo not in known:
            where = (*path, "linkage", name, "servo")
            faults.append(Fault(path=where, text=not_known("servo", linkage.servo, known)))
    if hinge is None or load is None or faults:
        return None, tuple(faults)
    tables = MechanismTables(
        hinge=hinge, roof_load=load, linkage=linkages, servo=servos, spring=spring
    )
    return tables, ()


def _table(
    record: type[Record], data: Mapping[str, Any], key: str, path: Path, faults: list[Fault]
) -> Record | None:
    raw = data.get(key)
    if raw is None:
        faults.append(Fault(path=path, text=f"the table [{path[-1]}.{key}] is missing"))
        return None
    if not isinstance(raw, dict):
        faults.append(Fault(path=(*path, key), text=f"{key} must be a table, found {show(raw)}"))
        return None
    table, wrong = read_record(record, raw, (*path, key))
    faults.extend(wrong)
    return table


def _named(
    data: Mapping[str, Any], key: str, path: Path, faults: list[Fault]
) -> list[tuple[str, dict[str, Any], Path]]:
    """Tables by name under a key; at least one must be there."""
    raw = data.get(key)
    if not isinstance(raw, dict) or not raw:
        text = f"no [{path[-1]}.{key}.NAME] is there. Write at least one"
        faults.append(Fault(path=path, text=text))
        return []
    found = []
    for name, table in raw.items():
        where = (*path, key, name)
        if isinstance(table, dict):
            found.append((name, table, where))
        else:
            faults.append(Fault(path=where, text=f"{name} must be a table, found {show(table)}"))
    return found


def _linkage(raw: Mapping[str, Any], where: Path, faults: list[Fault]) -> LinkageTable | None:
    kind = raw.get("kind")
    if not isinstance(kind, str) or kind not in KIND_TABLES:
        text = not_known("kind", kind, KIND_TABLES) if "kind" in raw else "the key kind is missing"
        faults.append(Fault(path=(*where, "kind"), text=text))
        return None
    table, wrong = read_record(KIND_TABLES[kind], raw, where)
    faults.extend(wrong)
    return table


def _lid_faults(load: LidTable, where: Path) -> list[Fault]:
    """What is missing of a lid, by part or by scale and ruler."""
    if load.part:
        if load.density_g_cm3 > 0.0 or load.mass_g > 0.0:
            return []
        text = f"part {show(load.part)} needs density_g_cm3 or mass_g, found neither"
        return [Fault(path=where, text=text)]
    names = ("mass_g", "balance_mm", "length_mm", "width_mm")
    missing = [name for name in names if not getattr(load, name)]
    if not missing:
        return []
    text = f"without part, {', '.join(missing)} must be given: weigh it and measure it"
    return [Fault(path=where, text=text)]
