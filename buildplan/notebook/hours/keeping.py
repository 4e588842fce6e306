"""What an hours panel writes into the build file for new values: only what differs."""

from collections.abc import Mapping, Sequence
from typing import Any

from buildplan.build import Build, PartRequest
from buildplan.build.keep import Change, row_label
from buildplan.build.keep_many import OwnRow
from buildplan.notebook.controls import Values
from buildplan.notebook.hours.inputs import PRICES, SPEED, SPEEDS, values_of
from buildplan.notebook.hours.subject import (
    base_recipe,
    own_recipe_name,
    price_key,
    request_of,
    rows_of,
)
from buildplan.tables.rows import find_row
from buildplan.tables.wording import normal_key


def what_to_keep(
    build: Build, part: str, values: Values
) -> tuple[Sequence[Change], Sequence[OwnRow]]:
    """What to write for new values: only what differs from the file.

    Settings go into a recipe of the part's own, so that no other part changes; prices go where all
    parts see them.
    """
    request = request_of(build, part)
    now = values_of(build, part)
    wanted = {key: float(value) for key, value in values.items()}
    changed = {key: value for key, value in wanted.items() if abs(value - now[key]) > 1e-9}
    changes: list[Change] = []
    rows: list[OwnRow] = []
    if any(key not in PRICES for key in changed):
        changes, rows = _recipe_changes(build, request, wanted)
    if "price" in changed:
        label, own = _feedstock_row(build, request)
        rows.extend(own)
        changes.append((("feedstock", label), price_key(request), wanted["price"]))
    changes.extend(
        (("build",), key, wanted[key])
        for key in ("energy_cost_kwh", "own_time_cost_h")
        if key in changed
    )
    return changes, rows


def _recipe_changes(
    build: Build, request: PartRequest, wanted: Mapping[str, float]
) -> tuple[list[Change], list[OwnRow]]:
    """The part's own recipe, made where it is not there, with what differs in it."""
    name = own_recipe_name(request.name)
    base: Any = base_recipe(build, request)
    uses_own = base is not request.recipe
    own_rows = [r for r in rows_of(build, "recipe") if normal_key(row_label(r)) == normal_key(name)]
    row: Any = request.recipe
    if not uses_own:  # one may be left from before; it then starts from where it is
        row = find_row(build.tables["recipe"].rows, name) if own_rows else request.recipe
    targets: dict[str, float | int] = {
        key: round(value) if key == "wall_beads" else value
        for key, value in wanted.items()
        if key not in PRICES and key != SPEED
    }
    if SPEED in wanted and abs(wanted[SPEED] - values_of(build, request.name)[SPEED]) > 1e-9:
        targets |= {key: round(getattr(base, key) * wanted[SPEED], 2) for key in SPEEDS}
    elif SPEED in wanted:
        targets |= {key: getattr(request.recipe, key) for key in SPEEDS}
    changes: list[Change] = [
        (("recipe", name), key, value)
        for key, value in targets.items()
        if abs(value - getattr(row, key)) > 1e-9
    ]
    if not uses_own:
        changes.append((("part", request.name), "recipe", name))
        if own_rows:
            changes.append((("recipe", name), "like", request.recipe.name))
    return changes, [OwnRow(kind="recipe", name=name, like=request.recipe.name)]


def _feedstock_row(build: Build, request: PartRequest) -> tuple[str, list[OwnRow]]:
    """What the row of a part's feedstock goes by in the build file, made where it is not there."""
    wanted = {normal_key(request.feedstock.name), normal_key(request.feedstock.key)}
    for row in rows_of(build, "feedstock"):
        if normal_key(row_label(row)) in wanted:
            return row_label(row), []
    name = request.feedstock.name
    return name, [OwnRow(kind="feedstock", name="", like=name)]
