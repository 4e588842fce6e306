"""The usual cautions as data: what to say where a danger is there.

Documented cache: the table is read once per process.
"""

import functools
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib import resources

from buildplan.errors import TableError
from buildplan.tables.strict import read_record
from buildplan.tables.wording import not_known

FILE = "cautions.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionText:
    """One row of the table of cautions.

    Attributes:
        head: One or two words.
        text: The caution; it defers to local codes and licensed practice.
        never: The same in a few words that go on after "Never:", for a sheet on the wall.
        source: Where it comes from.
    """

    head: str
    text: str
    never: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A caution that something in the build calls for, printed once.

    Attributes:
        key: Of the table: "mains", "battery", "hot", "pinch", ...
        trigger: What calls for it.
        head, text: As in the table.
    """

    key: str
    trigger: str
    head: str
    text: str


def caution(key: str, trigger: str) -> Caution:
    """A caution with what calls for it.

    Args:
        key: Of the table.
        trigger: "roof servo moves the lid", "12 V wall supply hangs on the mains".

    Raises:
        TableError: There is no such caution.
    """
    rows = caution_texts()
    if key not in rows:
        raise TableError(not_known("caution", key, tuple(rows)))
    return Caution(key=key, trigger=trigger, head=rows[key].head, text=rows[key].text)


def each_once(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """Every caution once, in the table's order; triggers of the same caution are joined."""
    triggers: dict[str, list[str]] = {}
    for one in cautions:
        said = triggers.setdefault(one.key, [])
        if one.trigger not in said:
            said.append(one.trigger)
    return tuple(
        caution(key, "; ".join(triggers[key])) for key in caution_texts() if key in triggers
    )


@functools.cache
def caution_texts() -> Mapping[str, CautionText]:
    """The table of cautions by key.

    Raises:
        TableError: The file that comes with buildplan is wrong.
    """
    text = resources.files("buildplan.tables").joinpath(FILE).read_text(encoding="utf-8")
    rows: dict[str, CautionText] = {}
    for key, raw in tomllib.loads(text).items():
        row, faults = read_record(CautionText, raw, (key,))
        if row is None:
            said = "; ".join(f"[{key}] {fault.text}" for fault in faults)
            raise TableError(f"{FILE}: {said}")
        rows[key] = row
    return rows
