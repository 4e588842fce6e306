"""The build file's `[hardware]` table: what no mesh and no other table says about small parts."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

from buildplan.bill.derived.screws import LENGTHS_MM, Into
from buildplan.tables.limits import Within
from buildplan.tables.strict import Fault, Path, read_record
from buildplan.tables.wording import normal_key, not_known, show

Length = Annotated[float, Within(0.0, 100_000.0)]
Count = Annotated[int, Within(1, 10_000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FixingTable:
    """`[[hardware.fixing]]`: screws that the holes of the meshes do not show.

    Attributes:
        screw: Thread ("M2").
        count: How many.
        stack_mm: All that one clamps, from under its head to the mouth of the thread.
        into: "insert", "plastic", "metal" (a cut thread), "nut" or "lock nut".
        room_mm: Depth of the hole for the thread; 0 where it goes through.
        standoff_mm: Length of a standoff under what is clamped; 0 for none.
        used_in: Where it goes.
    """

    name: str
    screw: str
    count: Count = 1
    stack_mm: Annotated[float, Within(0.0, 200.0)]
    into: Into = "plastic"
    room_mm: Annotated[float, Within(0.0, 200.0)] = 0.0
    standoff_mm: Annotated[float, Within(0.0, 100.0)] = 0.0
    used_in: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BondTable:
    """`[[hardware.bond]]`: a seam or a face that is glued or sealed.

    Attributes:
        item: What with, as on the shopping list ("silicone, clear").
        run_mm: Length of the bead; bead_mm its diameter.
        area_mm2: Of a face with a film of glue; layer_mm its thickness.
    """

    name: str
    item: str
    run_mm: Length = 0.0
    bead_mm: Annotated[float, Within(0.1, 30.0)] = 3.0
    area_mm2: Annotated[float, Within(0.0, 1e7)] = 0.0
    layer_mm: Annotated[float, Within(0.01, 5.0)] = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverTable:
    """`[[hardware.cover]]`: what a bought item holds besides itself.

    Attributes:
        bought: Name of the item.
        needs: Needs that it covers ("wire 20 AWG").
        holds: How much of such a need one of its units holds: metres of wire in a set.
        fail_frac: Chance that it is broken before the device runs, for its spare; 0 takes the
            assumed one.
    """

    bought: str
    needs: tuple[str, ...] = ()
    holds: Annotated[float, Within(0.0, 1e6)] = 0.0
    fail_frac: Annotated[float, Within(0.0, 1.0)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hardware:
    """`[hardware]`: small parts, glue, tools and what bought items cover.

    Attributes:
        tools: Tools at hand; left out, nobody asks for tools.
        own_leads: Loads and converters whose wires come with them, plugs included.
        signals: Signal wires beside the two for power, by load.
        from_holes: Whether screws and inserts are found in the holes of the meshes.
        holes_not_for_screws: Parts whose holes are not looked at.
    """

    tools: tuple[str, ...] | None = None
    own_leads: tuple[str, ...] = ()
    signals: dict[str, int] = field(default_factory=dict)
    from_holes: bool = True
    holes_not_for_screws: tuple[str, ...] = ()
    fixing: tuple[FixingTable, ...] = ()
    bond: tuple[BondTable, ...] = ()
    cover: tuple[CoverTable, ...] = ()


def read_hardware(
    data: Mapping[str, Any],
    *,
    bought: Iterable[str] = (),
    loads: Iterable[str] = (),
    parts: Iterable[str] = (),
) -> tuple[Hardware, tuple[Fault, ...]]:
    """The `[hardware]` table of a build file, and every fault in it.

    Args:
        data: The build file as tomllib gives it.
        bought: Names of the bought items.
        loads: Names of the loads and converters.
        parts: Names of the printed parts.
    """
    raw = data.get("hardware")
    if raw is None:
        return Hardware(), ()
    if not isinstance(raw, dict):
        text = f"hardware must be a table, found {show(raw)}. Write [hardware]"
        return Hardware(), (Fault(path=("hardware",), text=text),)
    found, wrong = read_record(Hardware, raw, ("hardware",))
    if found is None:
        return Hardware(), wrong
    faults = [*wrong, *_names(found, tuple(bought), tuple(loads), tuple(parts)), *_cannot(found)]
    return found, tuple(faults)


def _names(
    table: Hardware, bought: tuple[str, ...], loads: tuple[str, ...], parts: tuple[str, ...]
) -> list[Fault]:
    """Names that nothing in the build file carries."""
    rows: list[tuple[str, str, tuple[str, ...], Path]] = [
        *(
            ("bought", row.bought, bought, ("hardware", "cover", i, "bought"))
            for i, row in enumerate(table.cover)
        ),
        *(
            ("own_leads", name, loads, ("hardware", "own_leads", i))
            for i, name in enumerate(table.own_leads)
        ),
        *(("signals", name, loads, ("hardware", "signals", name)) for name in table.signals),
        *(
            ("holes_not_for_screws", name, parts, ("hardware", "holes_not_for_screws", i))
            for i, name in enumerate(table.holes_not_for_screws)
        ),
        *(
            ("screw", row.screw, tuple(LENGTHS_MM), ("hardware", "fixing", i, "screw"))
            for i, row in enumerate(table.fixing)
        ),
    ]
    return [
        Fault(path=path, text=not_known(what, name, known))
        for what, name, known, path in rows
        if name not in known
    ]


def _cannot(table: Hardware) -> list[Fault]:
    """Numbers that cannot be, and names used twice."""
    faults = [
        Fault(
            path=("hardware", "signals", name),
            text=f"signals of {show(name)} is {count}. Allowed: 0 to 100",
        )
        for name, count in table.signals.items()
        if not 0 <= count <= 100
    ]
    faults += [
        Fault(
            path=("hardware", "bond", i),
            text=f"bond {show(row.name)} has neither run_mm nor area_mm2. Write one of them",
        )
        for i, row in enumerate(table.bond)
        if row.run_mm == 0.0 and row.area_mm2 == 0.0
    ]
    for key, names in (
        ("fixing", [row.name for row in table.fixing]),
        ("bond", [row.name for row in table.bond]),
        ("cover", [row.bought for row in table.cover]),
    ):
        for place, name in enumerate(names):
            if normal_key(name) in [normal_key(one) for one in names[:place]]:
                text = f"{key} {show(name)} is there twice. Make one of the two"
                faults.append(Fault(path=("hardware", key, place), text=text))
    return faults
