"""Faults that several tables of a build file share: names, duplicates, arrays, files."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from buildplan.tables.strict import Fault
from buildplan.tables.wording import name_fault, normal_key, show


def array_of(data: Mapping[str, Any], key: str, faults: list[Fault]) -> list[dict[str, Any]]:
    """The tables of an array of tables; nothing, and a fault, where it is something else."""
    raws = data.get(key, [])
    if isinstance(raws, list) and all(isinstance(raw, dict) for raw in raws):
        return raws
    text = f"{key} must be an array of tables, found {show(raws)}. Write [[{key}]] before each"
    faults.append(Fault(path=(key,), text=text))
    return []


def names_in(data: Mapping[str, Any], key: str) -> list[str]:
    """Names in an array of tables, whatever else is wrong with it."""
    raws = data.get(key)
    rows = [raw for raw in raws if isinstance(raw, dict)] if isinstance(raws, list) else []
    return [str(raw.get("name")) for raw in rows]


def duplicate_faults(
    raws: Sequence[Mapping[str, Any]], path: tuple[str | int, ...], faults: list[Fault]
) -> None:
    """Add a fault for every name that is used again."""
    first: dict[str, int] = {}
    for position, raw in enumerate(raws):
        name = raw.get("name")
        if not isinstance(name, str):
            continue
        if normal_key(name) in first:
            text = (
                f"name {show(name)} is used twice (first as number {first[normal_key(name)] + 1}). "
                "Give each its own name"
            )
            faults.append(Fault(path=(*path, position, "name"), text=text))
        first.setdefault(normal_key(name), position)


def name_faults(name: object, path: tuple[str | int, ...]) -> list[Fault]:
    """What is wrong with a name, where it is a text at all."""
    wrong = name_fault(name) if isinstance(name, str) else ""
    return [Fault(path=path, text=f"name {wrong}")] if wrong else []


def file_fault(folder: Path, name: str) -> str:
    """What keeps a name from being a file, seen from a folder, or an empty text."""
    if not name.strip():
        return "is empty. Write a path from the build file"
    try:
        place = folder / name
        if place.is_dir():
            return "is a folder. Name a file in it"
        return "" if place.is_file() else f"is not there (looked for {place})"
    except (OSError, ValueError) as error:
        return f"is not a path: {error}"
