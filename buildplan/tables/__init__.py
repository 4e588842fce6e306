"""Data as TOML, each number with its source, and the one typed loader."""

from buildplan.tables.feedstock import ExtrusionFeedstock, Feedstock, VatFeedstock
from buildplan.tables.hardware import Insert, JointFit, Screw, Wire
from buildplan.tables.loader import (
    feedstock,
    feedstocks,
    fits,
    inserts,
    load_table,
    printer,
    printers,
    recipe,
    recipes,
    rules,
    rules_for,
    screws,
    source_of,
    wires,
)
from buildplan.tables.printer import ExtrusionPrinter, Printer, VatPrinter
from buildplan.tables.recipe import ExtrusionRecipe, Recipe, VatRecipe
from buildplan.tables.rules import ExtrusionRules, Rules, VatRules

__all__ = [
    "ExtrusionFeedstock",
    "ExtrusionPrinter",
    "ExtrusionRecipe",
    "ExtrusionRules",
    "Feedstock",
    "Insert",
    "JointFit",
    "Printer",
    "Recipe",
    "Rules",
    "Screw",
    "VatFeedstock",
    "VatPrinter",
    "VatRecipe",
    "VatRules",
    "Wire",
    "feedstock",
    "feedstocks",
    "fits",
    "inserts",
    "load_table",
    "printer",
    "printers",
    "recipe",
    "recipes",
    "rules",
    "rules_for",
    "screws",
    "source_of",
    "wires",
]
