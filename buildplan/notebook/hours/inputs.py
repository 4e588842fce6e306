"""The inputs of an hours panel, by the process of its part, and their values in the build file."""

from dataclasses import fields
from typing import Any

from buildplan.build import Build
from buildplan.notebook.controls import Control
from buildplan.notebook.hours.subject import (
    Subject,
    base_recipe,
    price_key,
    printer_of,
    request_of,
)
from buildplan.tables.feedstock import ExtrusionFeedstock
from buildplan.tables.printer import ExtrusionPrinter
from buildplan.tables.recipe import ExtrusionRecipe

SPEED = "speed_frac"
"""Key of the one slider that sets all speeds, as a share of those of the recipe it began with."""

SPEEDS = tuple(
    field.name
    for field in fields(ExtrusionRecipe)
    if field.name.endswith("_mm_s") and field.name != "speed_least_mm_s"
)
PRICES = ("price", "energy_cost_kwh", "own_time_cost_h")


def controls_of(build: Build, subject: Subject) -> tuple[Control, ...]:
    """The inputs of a part's panel, by its process."""
    request = request_of(build, subject.name)
    printer = printer_of(request, subject)
    settings = (
        _extrusion_controls(printer.nozzle_mm)
        if isinstance(printer, ExtrusionPrinter)
        else _vat_controls()
    )
    by_mass = isinstance(request.feedstock, ExtrusionFeedstock)
    currency = build.currency
    feedstock = request.feedstock.name
    prices = (
        Control(
            key="price",
            label=f"{feedstock}, price",
            about=f"{price_key(request)}, for all parts of {feedstock}",
            unit=f"{currency} a {'kilogram' if by_mass else 'litre'}",
            kind="number",
            digits=2,
        ),
        Control(
            key="energy_cost_kwh",
            label="electricity",
            about="energy_cost_kwh, for the whole build",
            unit=f"{currency} a kWh",
            kind="number",
            high=1000.0,
            digits=2,
        ),
        Control(
            key="own_time_cost_h",
            label="your own hour",
            about="own_time_cost_h, 0 leaves it out",
            unit=f"{currency} an hour",
            kind="number",
            digits=2,
        ),
    )
    return (*settings, *prices)


def _extrusion_controls(nozzle_mm: float) -> tuple[Control, ...]:
    """Sliders of an extrusion recipe.

    Ranges: layers of 0.2 to 0.8 and beads of 0.8 to 2 nozzle diameters. Source: common practice,
    no source; a build file may say more, and the slider then reaches that far.
    """
    return (
        Control(
            key="layer_mm",
            label="layer",
            about="layer_mm",
            unit="mm",
            low=round(0.2 * nozzle_mm, 2),
            high=round(0.8 * nozzle_mm, 2),
            step=0.01,
        ),
        Control(
            key="bead_mm",
            label="bead width",
            about="bead_mm",
            unit="mm",
            low=round(0.8 * nozzle_mm, 2),
            high=round(2.0 * nozzle_mm, 2),
            step=0.01,
        ),
        Control(
            key="wall_beads",
            label="wall beads",
            about="wall_beads, along every outline",
            unit="beads",
            low=1.0,
            high=8.0,
            digits=0,
        ),
        Control(
            key="infill_frac",
            label="infill",
            about="infill_frac, 0 to 1",
            unit="of full",
            high=1.0,
            step=0.01,
        ),
        Control(
            key=SPEED,
            label="speed",
            about="all speeds together",
            unit="of the recipe's",
            low=0.3,
            high=2.0,
            step=0.05,
        ),
    )


def _vat_controls() -> tuple[Control, ...]:
    """Sliders of a vat recipe. Ranges: common practice, no source."""
    return (
        Control(
            key="layer_mm",
            label="layer",
            about="layer_mm",
            unit="mm",
            low=0.02,
            high=0.12,
            step=0.005,
            digits=3,
        ),
        Control(
            key="exposure_s",
            label="exposure",
            about="exposure_s, of a usual layer",
            unit="s",
            low=0.5,
            high=15.0,
            step=0.1,
            digits=1,
        ),
    )


def values_of(build: Build, part: str) -> dict[str, float]:
    """What the build file says of every input of a part's panel."""
    request = request_of(build, part)
    recipe: Any = request.recipe
    values = {
        "price": float(getattr(request.feedstock, price_key(request))),
        "energy_cost_kwh": build.prices.energy_cost_kwh,
        "own_time_cost_h": build.prices.own_time_cost_h,
        "layer_mm": recipe.layer_mm,
    }
    if isinstance(recipe, ExtrusionRecipe):
        base = base_recipe(build, request)
        share = recipe.wall_mm_s / getattr(base, "wall_mm_s", recipe.wall_mm_s)
        return values | {
            "bead_mm": recipe.bead_mm,
            "wall_beads": float(recipe.wall_beads),
            "infill_frac": recipe.infill_frac,
            SPEED: round(share, 3),
        }
    return values | {"exposure_s": recipe.exposure_s}
