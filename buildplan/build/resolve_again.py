"""The build after a few plain values changed: only what they touch is read again.

The whole of ``resolve_build`` takes longer than a slider may. What this does not know how to read
alone, it leaves to that.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from buildplan.build.model import Build
from buildplan.build.shape import BuildTable
from buildplan.tables.loader import built_in
from buildplan.tables.rows import Table, read_rows
from buildplan.tables.strict import read_record

Data = Mapping[str, Any]

HEAD_KEYS = frozenset({"energy_cost_kwh", "own_time_cost_h"})
FEEDSTOCK_KEYS = frozenset({"price_cost_kg", "price_cost_l"})


def resolve_again(before: Build, old: Data, new: Data, *, sha256: str) -> Build | None:
    """The build that new data describe, from the build of the old data; None to resolve it whole.

    Answers where nothing but rows of `[[recipe]]`, prices of rows of `[[feedstock]]` and prices in
    `[build]` differ, no row came or went, and the same validators find nothing wrong. What is wrong
    is left to ``resolve_build``, which says it in words.

    Args:
        before: Of the old data.
        old: The file's data as last read.
        new: Its data now.
        sha256: Of the new file.
    """
    changed = {key for key in {*old, *new} if old.get(key) != new.get(key)}
    if not changed <= {"build", "recipe", "feedstock"} or new.get("build", {}).get("tables"):
        return None
    build = replace(before, sha256=sha256)
    steps = (("build", _with_prices), ("recipe", _with_recipes), ("feedstock", _with_feedstocks))
    for key, step in steps:
        if key in changed:
            made = step(build, old, new)
            if made is None:
                return None
            build = made
    return build


def _with_prices(build: Build, old: Data, new: Data) -> Build | None:
    if not _keys_changed(old.get("build", {}), new["build"]) <= HEAD_KEYS:
        return None
    head, wrong = read_record(BuildTable, new["build"], ("build",))
    if head is None or wrong:
        return None
    prices = replace(
        build.prices, energy_cost_kwh=head.energy_cost_kwh, own_time_cost_h=head.own_time_cost_h
    )
    return replace(build, prices=prices)


def _with_recipes(build: Build, old: Data, new: Data) -> Build | None:
    before, table = build.tables["recipe"], _table("recipe", build, new)
    if table is None or any(before.rows.get(p.recipe.key) != p.recipe for p in build.parts):
        return None
    parts = tuple(replace(p, recipe=table.rows[p.recipe.key]) for p in build.parts)
    return replace(build, parts=parts, tables={**build.tables, "recipe": table})


def _with_feedstocks(build: Build, old: Data, new: Data) -> Build | None:
    was, now = old.get("feedstock", []), new.get("feedstock", [])
    if len(was) != len(now):
        return None
    if any(not _keys_changed(a, b) <= FEEDSTOCK_KEYS for a, b in zip(was, now, strict=True)):
        return None
    before, table = build.tables["feedstock"], _table("feedstock", build, new)
    if table is None or any(before.rows.get(p.feedstock.key) != p.feedstock for p in build.parts):
        return None
    parts = tuple(replace(p, feedstock=table.rows[p.feedstock.key]) for p in build.parts)
    return replace(build, parts=parts, tables={**build.tables, "feedstock": table})


def _table(kind: Any, build: Build, new: Data) -> Table[Any] | None:
    """The table with the file's rows; None where one is wrong or names and processes differ."""
    table, wrong = read_rows(
        kind,
        new.get(kind, []),
        base=built_in(kind),
        own_source=f"build file {build.path.name}",
    )
    if wrong or _labels(table) != _labels(build.tables[kind]):
        return None
    return table


def _labels(table: Table[Any]) -> list[tuple[str, str, type[Any]]]:
    return [(key, row.name, type(row)) for key, row in table.rows.items()]


def _keys_changed(old: Data, new: Data) -> set[str]:
    return {key for key in {*old, *new} if old.get(key) != new.get(key)}
