"""The rows that a build may name: built-in ones, the user's table files, the build file's own."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from buildplan.build.faults import file_fault
from buildplan.build.toml_text import TomlError, read_toml
from buildplan.tables.loader import built_in, faults_text
from buildplan.tables.rows import KINDS, Kind, Table, read_rows
from buildplan.tables.strict import Fault
from buildplan.tables.wording import not_known, show


def read_tables(
    data: Mapping[str, Any], own_files: Sequence[str], path: Path
) -> tuple[dict[Kind, Table[Any]], list[Fault], list[str]]:
    """Every known row by kind, the faults of the build file's rows, the messages of other files.

    Later rows replace earlier ones of the same key: built-in, then each table file in turn, then
    the build file. A table file must give a source for every number it changes; in the build file
    the file itself is the source where none is given.
    """
    tables: dict[Kind, Table[Any]] = {kind: built_in(kind) for kind in KINDS}
    faults: list[Fault] = []
    said: list[str] = []
    for position, name in enumerate(own_files):
        wrong = file_fault(path.parent, name)
        if wrong:
            where = ("build", "tables", position)
            faults.append(Fault(path=where, text=f"tables {show(name)} {wrong}"))
            continue
        tables, wrong_rows = _add_file(tables, path.parent / name)
        said.extend(wrong_rows)
    for kind in KINDS:
        if kind in data:
            tables[kind], found = read_rows(
                kind, data[kind], base=tables[kind], own_source=f"build file {path.name}"
            )
            faults.extend(found)
    return tables, faults, said


def _add_file(
    tables: dict[Kind, Table[Any]], path: Path
) -> tuple[dict[Kind, Table[Any]], list[str]]:
    """The tables with the rows of one table file on top, and what is wrong with that file."""
    try:
        data, text, _ = read_toml(path)
    except TomlError as error:
        return tables, [str(error)]
    faults = [
        Fault(path=(key,), text=not_known("the key", key, KINDS))
        for key in data
        if key not in KINDS
    ]
    added = dict(tables)
    for kind in KINDS:
        if kind in data:
            added[kind], found = read_rows(kind, data[kind], base=tables[kind])
            faults.extend(found)
    return added, [faults_text(faults, data, text, path.name)] if faults else []
