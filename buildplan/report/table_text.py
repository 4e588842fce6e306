"""The rows of a table on the terminal: what may be named in a build file or on the command line."""

import dataclasses

from rich.console import Console

from buildplan.errors import InputError
from buildplan.report import numbers
from buildplan.report.terminal import table
from buildplan.tables import feedstocks, printers, recipes, rules, source_of
from buildplan.tables.feedstock import VatFeedstock
from buildplan.tables.recipe import VatRecipe
from buildplan.units import unit_of

UNIT_SIGNS = {"mm2": "mm²", "mm3": "mm³", "mpa": "MPa", "deg": "°", "c": "°C", "frac": ""}
KINDS = ("printers", "feedstocks", "recipes", "rules")


def print_rows(to: Console, kind: str) -> None:
    """List one table.

    Raises:
        InputError: the kind is none of KINDS.
    """
    printing = {
        "printers": _printers,
        "feedstocks": _feedstocks,
        "recipes": _recipes,
        "rules": _rules,
    }
    if kind not in printing:
        raise InputError(f'table "{kind}" is not known; allowed: {", ".join(KINDS)}')
    printing[kind](to)


def _printers(to: Console) -> None:
    made = table(("printer", "", False), ("process", "", False), ("build volume", "mm", True))
    made.add_column("about\n", style="dim")
    for row in printers().values():
        volume = " x ".join(f"{x:.0f}" for x in (row.width_mm, row.depth_mm, row.height_mm))
        shape = " round" if row.platform == "round" else ""
        made.add_row(row.key, row.process, volume + shape, row.about)
    to.print(made)


def _feedstocks(to: Console) -> None:
    made = table(
        ("feedstock", "", False),
        ("process", "", False),
        ("price", "a kg or l", True),
        ("holds", "°C", True),
        ("good for", "", False),
    )
    for row in feedstocks().values():
        price = row.price_cost_l if isinstance(row, VatFeedstock) else row.price_cost_kg
        made.add_row(
            row.key, row.process, numbers.num(price, 2), numbers.num(row.service_c, 0), row.good_for
        )
    to.print(made)


def _recipes(to: Console) -> None:
    made = table(("recipe", "", False), ("process", "", False), ("layer", "mm", True))
    made.add_column("about\n", style="dim")
    for row in recipes().values():
        process = "vat" if isinstance(row, VatRecipe) else "extrusion"
        made.add_row(row.key, process, numbers.num(row.layer_mm, 2), row.about)
    to.print(made)


def _rules(to: Console) -> None:
    """One row a limit, one column a row of the table: limits differ more than they agree."""
    rows = rules()
    made = table(("rule", "", False), *((key.replace("_", " "), "", True) for key in rows))
    made.add_column("where it comes from\n", style="dim")
    fields = dict.fromkeys(field.name for row in rows.values() for field in dataclasses.fields(row))
    for name in fields:
        values = [getattr(row, name, None) for row in rows.values()]
        if not any(isinstance(value, float) for value in values):
            continue
        cells = [f"{value:g}" if isinstance(value, float) else "" for value in values]
        first = next(key for key, row in rows.items() if hasattr(row, name))
        made.add_row(_with_unit(name), *cells, source_of("rule", first, name))
    to.print(made)


def _with_unit(name: str) -> str:
    """The name of a number in words, with its unit behind a comma."""
    unit = unit_of(name)
    if unit is None:
        return name.replace("_", " ")
    words = name.removesuffix(f"_{unit}").replace("_", " ")
    shown = UNIT_SIGNS.get(unit, unit)
    return f"{words}, {shown}" if shown else words
