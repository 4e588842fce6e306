"""Data as TOML, each number with its source, and the one typed loader."""

from buildplan.tables.feedstock import ExtrusionFeedstock, Feedstock, VatFeedstock
from buildplan.tables.hardware import Insert, Screw, Wire
from buildplan.tables.loader import (
    feedstock,
    feedstocks,
    inserts,
    load_table,
    printer,
    printers,
    recipe,
    recipes,
    screws,
    source_of,
    wires,
)
from buildplan.tables.printer import ExtrusionPrinter, Printer, VatPrinter
from buildplan.tables.recipe import ExtrusionRecipe, Recipe, VatRecipe

__all__ = [
    "ExtrusionFeedstock",
    "ExtrusionPrinter",
    "ExtrusionRecipe",
    "Feedstock",
    "Insert",
    "Printer",
    "Recipe",
    "Screw",
    "VatFeedstock",
    "VatPrinter",
    "VatRecipe",
    "Wire",
    "feedstock",
    "feedstocks",
    "inserts",
    "load_table",
    "printer",
    "printers",
    "recipe",
    "recipes",
    "screws",
    "source_of",
    "wires",
]
