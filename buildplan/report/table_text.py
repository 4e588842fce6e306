"""The rows of a table on the terminal: what may be named in a build file or on the command line."""

from rich.console import Console

from buildplan.errors import InputError
from buildplan.report import numbers
from buildplan.report.terminal import table
from buildplan.tables import feedstocks, printers, recipes
from buildplan.tables.feedstock import VatFeedstock
from buildplan.tables.recipe import VatRecipe

KINDS = ("printers", "feedstocks", "recipes")


def print_rows(to: Console, kind: str) -> None:
    """List one table.

    Raises:
        InputError: the kind is none of KINDS.
    """
    printing = {"printers": _printers, "feedstocks": _feedstocks, "recipes": _recipes}
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
