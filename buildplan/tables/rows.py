"""Rows of tables: `[[feedstock]]`, `[[printer]]`, ... of a TOML text, with their sources.

A row may name another one in ``like`` and give only what differs. The built-in tables, a user's
own table file and the build file itself are all read by the same function.
"""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Generic, Literal, TypeVar, get_args

from buildplan.tables.electrical import Capacitor, Cell, Fuse
from buildplan.tables.feedstock import ExtrusionFeedstock, Feedstock, VatFeedstock
from buildplan.tables.hardware import Insert, JointFit, Screw, ServoClass, Wire
from buildplan.tables.printer import ExtrusionPrinter, Printer, VatPrinter
from buildplan.tables.recipe import ExtrusionRecipe, Recipe, VatRecipe
from buildplan.tables.rules import ExtrusionRules, Rules, VatRules
from buildplan.tables.strict import Fault, read_record
from buildplan.tables.wording import name_fault, normal_key, not_known, show

Kind = Literal[
    "feedstock",
    "printer",
    "recipe",
    "rule",
    "wire",
    "screw",
    "insert",
    "fit",
    "servo",
    "fuse",
    "capacitor",
    "cell",
]
Hardware = Wire | Screw | Insert | JointFit | ServoClass | Fuse | Capacitor | Cell
Row = Feedstock | Printer | Recipe | Rules | Hardware
AnyRow = TypeVar("AnyRow", bound=Row)

KINDS: tuple[Kind, ...] = get_args(Kind)
RECORDS: dict[Kind, dict[str, type[Any]]] = {
    "feedstock": {"extrusion": ExtrusionFeedstock, "vat": VatFeedstock},
    "printer": {"extrusion": ExtrusionPrinter, "vat": VatPrinter},
    "recipe": {"extrusion": ExtrusionRecipe, "vat": VatRecipe},
    "rule": {"extrusion": ExtrusionRules, "vat": VatRules},
    "wire": {"": Wire},
    "screw": {"": Screw},
    "insert": {"": Insert},
    "fit": {"": JointFit},
    "servo": {"": ServoClass},
    "fuse": {"": Fuse},
    "capacitor": {"": Capacitor},
    "cell": {"": Cell},
}
GAPS_AND_HOLES = (("gap_fused_mm", "gap_moving_mm"), ("hole_least_mm", "hole_note_mm"))
ORDERED: dict[type[Any], tuple[tuple[str, str], ...]] = {
    ExtrusionFeedstock: (("nozzle_low_c", "nozzle_high_c"),),
    ExtrusionRules: (*GAPS_AND_HOLES, ("warp_note_mm", "warp_caution_mm")),
    VatRules: GAPS_AND_HOLES,
    Cell: (("cell_empty_v", "cell_v"), ("cell_v", "cell_full_v")),
    ServoClass: (
        ("stall_low_n_mm", "stall_n_mm"),
        ("stall_n_mm", "stall_high_n_mm"),
        ("no_load_low_deg_s", "no_load_deg_s"),
        ("no_load_deg_s", "no_load_high_deg_s"),
        ("stall_low_a", "stall_a"),
        ("stall_a", "stall_high_a"),
        ("moving_a", "stall_a"),
    ),
}
"""Pairs of fields of which the first must not be higher than the second."""

NOT_FIELDS = ("like", "sources")
EVERY_NUMBER = "_all"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table(Generic[AnyRow]):
    """Rows of one kind and where each of their numbers comes from.

    Attributes:
        rows: Row by key, in the order of the file.
        sources: Source by field name, for each key.
        spoilt: Keys and names of rows that were refused, so that nobody calls them unknown too.
    """

    kind: Kind
    rows: Mapping[str, AnyRow]
    sources: Mapping[str, Mapping[str, str]]
    spoilt: frozenset[str] = frozenset()


def find_row(rows: Mapping[str, AnyRow], key: str) -> AnyRow | None:
    """The row with a key or a name, however it is capitalised, or None."""
    wanted = normal_key(key)
    by_key = {normal_key(known): row for known, row in rows.items()}
    by_name = {normal_key(row.name): row for row in rows.values()}
    return by_key.get(wanted) or by_name.get(wanted)


def is_spoilt(table: "Table[Any]", key: object) -> bool:
    """Whether a key or name belongs to a row that was refused."""
    return isinstance(key, str) and normal_key(key) in table.spoilt


def is_number(record: type[Any], field: str) -> bool:
    """Whether a field of a row holds a number and so needs a source."""
    return record.__annotations__.get(field) in (float, int)


def read_rows(
    kind: Kind,
    tables: object,
    *,
    base: "Table[Any] | None" = None,
    own_source: str = "",
) -> tuple["Table[Any]", tuple[Fault, ...]]:
    """The rows of an array of tables on top of a base table, and every fault in them.

    Args:
        kind: Which record the rows are.
        tables: What tomllib gives for ``[[kind]]``.
        base: Rows known already; a row with the key of one of them replaces it.
        own_source: Source of a number whose row says none; empty refuses it.
    """
    rows: dict[str, Any] = dict(base.rows) if base else {}
    sources: dict[str, Mapping[str, str]] = dict(base.sources) if base else {}
    if not isinstance(tables, list) or not all(isinstance(raw, dict) for raw in tables):
        fault = Fault(path=(kind,), text=f"write [[{kind}]] with two brackets before each row")
        return Table(kind=kind, rows=rows, sources=sources), (fault,)
    faults: list[Fault] = []
    spoilt: set[str] = set(base.spoilt) if base else set()
    taken: dict[str, int] = {}
    for position, raw in enumerate(tables):
        known = Table(kind=kind, rows=rows, sources=sources, spoilt=frozenset(spoilt))
        row, row_sources, wrong = _read_row(known, raw, (kind, position), own_source)
        faults.extend(wrong)
        if row is None:
            labels = (raw.get("key"), raw.get("name"), raw.get("like"))
            spoilt.update(normal_key(label) for label in labels if isinstance(label, str))
            continue
        name = normal_key(row.key)
        if name in taken:
            faults.append(_twice(row.key, (kind, position, "key"), taken[name]))
            continue
        taken[name] = position
        key = next((known for known in rows if normal_key(known) == name), row.key)
        rows[key] = dataclasses.replace(row, key=key)
        sources[key] = row_sources
    table = Table(kind=kind, rows=rows, sources=sources, spoilt=frozenset(spoilt))
    return table, tuple(faults)


def _twice(key: str, path: tuple[str | int, ...], first: int) -> Fault:
    text = f"key {show(key)} is used twice (first as number {first + 1}). Give each its own key"
    return Fault(path=path, text=text)


def _read_row(
    known: "Table[Any]", raw: Mapping[str, Any], path: tuple[str | int, ...], own_source: str
) -> tuple[Any, Mapping[str, str], list[Fault]]:
    """One row, its sources and its faults; the row is None where it cannot be made."""
    like, faults = _like(known, raw, path)
    record, wrong = _record(known.kind, raw, like, path)
    faults.extend(wrong)
    if record is None:
        return None, {}, faults
    names = [field.name for field in dataclasses.fields(record)]
    given = {key: value for key, value in raw.items() if key not in NOT_FIELDS}
    inherited = {name: getattr(like, name) for name in names} if like else {}
    if like and ("key" in given or "name" in given):
        inherited.pop("key")
        inherited.pop("name")
    values = inherited | given
    if "key" not in values and isinstance(values.get("name"), str):
        values["key"] = normal_key(values["name"])
    values.setdefault("name", values.get("key"))
    row, wrong_values = read_record(record, values, path)
    faults.extend(wrong_values)
    old = known.sources[like.key] if like else {}
    sources, wrong_sources = _sources(record, raw, old, path, own_source)
    faults.extend(wrong_sources)
    if row is not None:
        faults.extend(Fault(path=path, text=text) for text in _disagreements(row))
        for name in ("key", "name"):
            if said := name_fault(getattr(row, name)):
                faults.append(Fault(path=(*path, name), text=f"{name} {said}"))
    return row, sources, faults


def _like(
    known: "Table[Any]", raw: Mapping[str, Any], path: tuple[str | int, ...]
) -> tuple[Any, list[Fault]]:
    """The row that another one starts from, or None."""
    if "like" not in raw:
        return None, []
    found = raw["like"]
    like = find_row(known.rows, found) if isinstance(found, str) else None
    if like is None and is_spoilt(known, found):
        return None, []
    if like is None:
        return None, [Fault(path=(*path, "like"), text=not_known("like", found, known.rows))]
    return like, []


def _record(
    kind: Kind, raw: Mapping[str, Any], like: Any, path: tuple[str | int, ...]
) -> tuple[type[Any] | None, list[Fault]]:
    """The dataclass of a row, by its process where the kind has two."""
    choices = RECORDS[kind]
    if "" in choices:
        return choices[""], []
    if like is not None:
        if raw.get("process", like.process) != like.process:
            text = (
                f"process {show(raw['process'])} differs from {show(like.process)} of the row "
                f"{show(like.key)} that it is like. Leave process out or start from another row"
            )
            return None, [Fault(path=(*path, "process"), text=text)]
        return type(like), []
    if "like" in raw:
        return None, []
    if "process" not in raw:
        text = f"the key process is missing. Allowed: {', '.join(choices)}; or like = a known row"
        return None, [Fault(path=path, text=text)]
    found = raw["process"]
    if not isinstance(found, str) or found not in choices:
        return None, [Fault(path=(*path, "process"), text=not_known("process", found, choices))]
    return choices[found], []


def _sources(
    record: type[Any],
    raw: Mapping[str, Any],
    old: Mapping[str, str],
    path: tuple[str | int, ...],
    own_source: str,
) -> tuple[Mapping[str, str], list[Fault]]:
    """Source of every number of a row, and the faults of its `sources` table."""
    numbers = [f.name for f in dataclasses.fields(record) if is_number(record, f.name)]
    given: Any = raw.get("sources", {})
    if not isinstance(given, dict):
        text = f"sources must be a table of field = text, found {show(given)}"
        return {}, [Fault(path=(*path, "sources"), text=text)]
    faults = []
    for field, source in given.items():
        where = (*path, "sources", field)
        if field not in numbers and field != EVERY_NUMBER:
            allowed = (*numbers, EVERY_NUMBER)
            faults.append(Fault(path=where, text=not_known("the source of", field, allowed)))
        elif not isinstance(source, str) or not source.strip():
            text = f"the source of {field} must be a text in quotes, found {show(source)}"
            faults.append(Fault(path=where, text=text))
    sources: dict[str, str] = {}
    for field in numbers:
        changed = field in raw or field not in old
        default = str(given.get(EVERY_NUMBER, own_source)) if changed else old[field]
        sources[field] = str(given.get(field, default))
    bare = [field for field in numbers if field in raw and not sources[field].strip()]
    if bare:
        verb = "has no source" if len(bare) == 1 else "have no source"
        text = f'{", ".join(bare)} {verb}. Add {bare[0]} = "where it comes from" to its sources'
        faults.append(Fault(path=path, text=text))
    return sources, faults


def _disagreements(row: Row) -> list[str]:
    """Numbers of one row that contradict each other."""
    wrong: list[str] = []

    def hold(is_right: bool, low: str, high: str, rule: str) -> None:
        if not is_right:
            found = f"{low} {getattr(row, low):g} and {high} {getattr(row, high):g}"
            wrong.append(f"{found} do not agree: {rule}")

    for low, high in ORDERED.get(type(row), ()):
        hold(getattr(row, low) <= getattr(row, high), low, high, "the first must not be higher")

    if isinstance(row, VatFeedstock):
        low, high = "liquid_density_g_cm3", "density_g_cm3"
        is_right = row.liquid_density_g_cm3 <= row.density_g_cm3
        hold(is_right, low, high, "a photopolymer shrinks as it cures")
    if isinstance(row, ExtrusionPrinter | VatPrinter) and row.platform == "round":
        is_right = row.width_mm == row.depth_mm
        hold(is_right, "width_mm", "depth_mm", "a round platform has its diameter in both")
    if isinstance(row, ExtrusionPrinter | VatPrinter):
        for side in ("width_mm", "depth_mm"):
            is_right = 2 * row.platform_margin_mm < getattr(row, side)
            hold(is_right, "platform_margin_mm", side, "twice the margin must leave room")
    if isinstance(row, ExtrusionRecipe):
        is_right = row.layer_mm <= row.bead_mm
        hold(is_right, "layer_mm", "bead_mm", "a bead is at least as wide as it is high")
    if isinstance(row, VatRecipe):
        is_right = row.layer_mm <= row.lift_mm
        hold(is_right, "layer_mm", "lift_mm", "a lift is at least one layer")
    return wrong
