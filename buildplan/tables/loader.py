"""The one typed loader of tables: rows out of TOML, every number with its source.

Documented caches: the built-in tables are read once per process.
"""

import functools
import tomllib
from collections.abc import Iterable, Mapping
from importlib import resources
from typing import Any, Literal, TypeVar, cast

from buildplan.errors import TableError
from buildplan.tables.electrical import Capacitor, Cell, Fuse
from buildplan.tables.feedstock import Feedstock
from buildplan.tables.hardware import Insert, JointFit, Screw, ServoClass, Wire
from buildplan.tables.lines import line_of, lines_of
from buildplan.tables.printer import Printer
from buildplan.tables.recipe import Recipe
from buildplan.tables.rows import KINDS, Kind, Row, Table, find_row, read_rows
from buildplan.tables.rules import Rules
from buildplan.tables.strict import Fault
from buildplan.tables.wording import not_known, show

Process = Literal["extrusion", "vat"]
Found = TypeVar("Found", bound=Row)


def load_table(kind: Kind, text_or_resource: str, *, file: str = "") -> dict[str, Row]:
    """Rows by key of a table of one kind, checked.

    Args:
        kind: "feedstock", "printer", "recipe", "rule", "wire", "screw", "insert", "fit",
            "servo", "fuse", "capacitor" or "cell".
        text_or_resource: TOML text, or the name of a table that comes with buildplan
            ("feedstocks.toml").
        file: Name of the file in messages, where a text is given.

    Raises:
        TableError: Naming file, line, row, key, value found and what is allowed, for every fault.
    """
    return dict(read_table(kind, text_or_resource, file=file).rows)


def read_table(kind: Kind, text_or_resource: str, *, file: str = "") -> "Table[Any]":
    """As ``load_table``, with the source of every number.

    Raises:
        TableError: As ``load_table``.
    """
    if kind not in KINDS:
        raise TableError(not_known("table kind", kind, KINDS))
    is_resource = text_or_resource.endswith(".toml") and "\n" not in text_or_resource
    file = text_or_resource if is_resource else file or f"{kind} table"
    text = _resource(text_or_resource) if is_resource else text_or_resource
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise TableError(f"{file} is not a TOML file: {error}") from None
    faults = [
        Fault(path=(key,), text=not_known("the key", key, (kind,))) for key in data if key != kind
    ]
    table, wrong = read_rows(kind, data.get(kind, []))
    faults.extend(wrong)
    if not table.rows and not faults:
        faults.append(Fault(path=(), text=f"holds no [[{kind}]]"))
    if faults:
        raise TableError(faults_text(faults, data, text, file))
    return table


def faults_text(faults: Iterable[Fault], data: Mapping[str, Any], text: str, file: str) -> str:
    """One line for each fault, in the order of the file: file, line, table, what is wrong.

    Example: build.toml, line 16, part "roof vent": feedstock "PTEG" is not known. Allowed: ...
    """
    lines = lines_of(text)
    placed = []
    for order, fault in enumerate(faults):
        number = line_of(lines, fault.path)
        place = [file, *([f"line {number}"] if number else []), *_table_words(data, fault.path)]
        placed.append((number or 0, order, f"{', '.join(place)}: {fault.text}"))
    return "\n".join(dict.fromkeys(message for _, _, message in sorted(placed)))


def _table_words(data: Mapping[str, Any], path: tuple[str | int, ...]) -> list[str]:
    """The tables that a path goes through: part "roof vent", feature "left hinge"."""
    words: list[str] = []
    here: Any = data
    for depth, part in enumerate(path):
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            break
        if isinstance(part, int) and isinstance(here, dict):
            label = here.get("key", here.get("name", here.get("like")))
            named = show(label) if isinstance(label, str) else f"number {part + 1}"
            words.append(f"{path[depth - 1]} {named}")
        elif isinstance(here, dict):
            words.append(f"[{part}]")
    return words


def _resource(name: str) -> str:
    found = resources.files("buildplan.tables").joinpath(name)
    if not found.is_file():
        names = [f"{kind}s.toml" for kind in KINDS]
        raise TableError(not_known("table", name, names))
    return found.read_text(encoding="utf-8")


@functools.cache
def built_in(kind: Kind) -> "Table[Any]":
    """The table of a kind that comes with buildplan, with the source of every number."""
    if kind not in KINDS:
        raise TableError(not_known("table kind", kind, KINDS))
    return read_table(kind, f"{kind}s.toml")


def feedstocks() -> dict[str, Feedstock]:
    """Every built-in feedstock by key."""
    return dict(cast("Table[Feedstock]", built_in("feedstock")).rows)


def printers() -> dict[str, Printer]:
    """Every built-in printer class by key."""
    return dict(cast("Table[Printer]", built_in("printer")).rows)


def recipes() -> dict[str, Recipe]:
    """Every built-in recipe by key; those for vat prints are "vat_everyday" and the like."""
    return dict(cast("Table[Recipe]", built_in("recipe")).rows)


def rules() -> dict[str, Rules]:
    """Every built-in row of rules by key ("extrusion", "soft_extrusion", "vat")."""
    return dict(cast("Table[Rules]", built_in("rule")).rows)


def rules_for(feedstock: Feedstock, rows: Mapping[str, Rules] | None = None) -> Rules:
    """The rules of a feedstock's process; of several that hold, those for the softest feedstock.

    Raises:
        TableError: No row holds for the feedstock.
    """
    known = rules() if rows is None else rows
    able = [
        row
        for row in known.values()
        if row.process == feedstock.process and feedstock.modulus_mpa < row.modulus_below_mpa
    ]
    if not able:
        raise TableError(
            f"no row of rules holds for {feedstock.key} ({feedstock.process}, "
            f"{feedstock.modulus_mpa:g} MPa); raise modulus_below_mpa of one of: "
            f"{', '.join(known)}"
        )
    return min(able, key=lambda row: row.modulus_below_mpa)


def wires() -> dict[str, Wire]:
    """Every built-in wire by key ("AWG22")."""
    return dict(cast("Table[Wire]", built_in("wire")).rows)


def screws() -> dict[str, Screw]:
    """Every built-in screw by key ("M3")."""
    return dict(cast("Table[Screw]", built_in("screw")).rows)


def inserts() -> dict[str, Insert]:
    """Every built-in heat-set insert by key ("M3")."""
    return dict(cast("Table[Insert]", built_in("insert")).rows)


def fits() -> dict[str, JointFit]:
    """Every built-in fit by key ("press", "sliding", "free")."""
    return dict(cast("Table[JointFit]", built_in("fit")).rows)


def servos() -> dict[str, ServoClass]:
    """Every built-in class of servos by key ("standard_metal")."""
    return dict(cast("Table[ServoClass]", built_in("servo")).rows)


def fuses() -> dict[str, Fuse]:
    """Every built-in fuse by key ("2A")."""
    return dict(cast("Table[Fuse]", built_in("fuse")).rows)


def capacitors() -> dict[str, Capacitor]:
    """Every built-in capacitor by key ("1000uF")."""
    return dict(cast("Table[Capacitor]", built_in("capacitor")).rows)


def cells() -> dict[str, Cell]:
    """Every built-in class of battery cells by key ("li_ion")."""
    return dict(cast("Table[Cell]", built_in("cell")).rows)


def feedstock(key: str) -> Feedstock:
    """The built-in feedstock with a key or name, in any capitalisation.

    Raises:
        TableError: The key is not known; says which are and which is near.
    """
    return _found("feedstock", feedstocks(), key)


def printer(key: str) -> Printer:
    """The built-in printer class with a key or name, in any capitalisation.

    Raises:
        TableError: The key is not known; says which are and which is near.
    """
    return _found("printer", printers(), key)


def recipe(key: str, process: Process = "extrusion") -> Recipe:
    """The built-in recipe with a key or name for a process ("everyday" exists for both).

    Raises:
        TableError: The key is not known for the process; says which are and which is near.
    """
    found = find_recipe(recipes(), key, process)
    if found is None:
        raise TableError(recipe_not_known(recipes(), key, process))
    return found


def find_recipe(rows: Mapping[str, Recipe], key: str, process: str) -> Recipe | None:
    """The recipe of a process with a key or name, or None."""
    return find_row({k: row for k, row in rows.items() if row.process == process}, key)


def recipe_not_known(rows: Mapping[str, Recipe], key: object, process: str) -> str:
    """What to say where ``find_recipe`` finds nothing."""
    allowed = [row.name for row in rows.values() if row.process == process]
    other = isinstance(key, str) and find_row(rows, key)
    what = f"{process} recipe"
    hint = f" ({show(key)} is for {other.process})" if other else ""
    return not_known(what, key, allowed) + hint


def source_of(kind: Kind, key: str, field: str) -> str:
    """Where a number of a built-in row comes from.

    Raises:
        TableError: The kind, key or field is not known, or the field holds no number.
    """
    table = built_in(kind)
    row = find_row(table.rows, key)
    if row is None:
        raise TableError(not_known(kind, key, table.rows))
    sources = table.sources[row.key]
    if field not in sources:
        raise TableError(not_known(f"a number of {kind} {row.key} named", field, sources))
    return sources[field]


def _found(kind: str, rows: Mapping[str, Found], key: str) -> Found:
    row = find_row(rows, key) if isinstance(key, str) else None
    if row is None:
        raise TableError(not_known(kind, key, rows))
    return row
