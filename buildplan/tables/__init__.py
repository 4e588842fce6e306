"""Data as TOML, each number with its source, and the one typed loader."""

from buildplan.tables.electrical import Capacitor, Cell, Fuse
from buildplan.tables.feedstock import ExtrusionFeedstock, Feedstock, VatFeedstock
from buildplan.tables.hardware import Insert, JointFit, Screw, ServoClass, Wire
from buildplan.tables.loader import (
    capacitors,
    cells,
    feedstock,
    feedstocks,
    fits,
    fuses,
    inserts,
    load_table,
    printer,
    printers,
    recipe,
    recipes,
    rules,
    rules_for,
    screws,
    servos,
    source_of,
    wires,
)
from buildplan.tables.printer import ExtrusionPrinter, Printer, VatPrinter
from buildplan.tables.recipe import ExtrusionRecipe, Recipe, VatRecipe
from buildplan.tables.rules import ExtrusionRules, Rules, VatRules

__all__ = [
    "Capacitor",
    "Cell",
    "ExtrusionFeedstock",
    "ExtrusionPrinter",
    "ExtrusionRecipe",
    "ExtrusionRules",
    "Feedstock",
    "Fuse",
    "Insert",
    "JointFit",
    "Printer",
    "Recipe",
    "Rules",
    "Screw",
    "ServoClass",
    "VatFeedstock",
    "VatPrinter",
    "VatRecipe",
    "VatRules",
    "Wire",
    "capacitors",
    "cells",
    "feedstock",
    "feedstocks",
    "fits",
    "fuses",
    "inserts",
    "load_table",
    "printer",
    "printers",
    "recipe",
    "recipes",
    "rules",
    "rules_for",
    "screws",
    "servos",
    "source_of",
    "wires",
]
