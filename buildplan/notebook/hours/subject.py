"""The part that an hours panel is about, and what the build file says of it now."""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from buildplan.build import Build, PartRequest
from buildplan.build.keep import row_label
from buildplan.build.toml_text import read_toml
from buildplan.checks.fit import check_fit
from buildplan.errors import InputError
from buildplan.part import Part, read_part
from buildplan.part.turn import turn_part
from buildplan.process.estimate import estimate_print
from buildplan.tables.feedstock import ExtrusionFeedstock
from buildplan.tables.printer import ExtrusionPrinter, Printer
from buildplan.tables.recipe import Recipe
from buildplan.tables.rows import find_row
from buildplan.tables.wording import normal_key, not_known

WORKERS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """The part of a panel, read once, on the printer it stays with.

    Attributes:
        part: As it is printed.
        printer: Key of the machine: the cheapest that it fits.
    """

    name: str
    part: Part
    printer: str


def read_subject(build: Build, part: str) -> Subject:
    """The part as it is printed, and the cheapest printer that it fits.

    Raises:
        InputError: There is no such part, or its mesh cannot be read.
    """
    request = request_of(build, part or _largest(build))
    read = read_part(request.path, unit=request.unit, name=request.name)
    turned = turn_part(read, request.orientation)
    ranked = []
    for printer in request.printers:
        fits = check_fit(turned, printer).fits
        cost = (
            estimate_print(
                turned,
                printer,
                request.feedstock,
                request.recipe,
                prices=build.prices,
                workers=WORKERS,
            ).total_cost
            if fits
            else 0.0
        )
        ranked.append((not fits, cost, printer.key))
    return Subject(name=request.name, part=turned, printer=min(ranked, key=lambda r: r[:2])[2])


def _largest(build: Build) -> str:
    """Name of the part with the most volume in its mesh."""
    volumes = [
        read_part(part.path, unit=part.unit, name=part.name, health="quick").volume_mm3
        for part in build.parts
    ]
    return build.parts[volumes.index(max(volumes))].name


def request_of(build: Build, part: str) -> PartRequest:
    """What the build file says of a part.

    Raises:
        InputError: It names no such part.
    """
    for request in build.parts:
        if normal_key(request.name) == normal_key(part):
            return request
    names = [request.name for request in build.parts]
    raise InputError(f"{build.path.name}: {not_known('part', part, names)}")


def own_recipe_name(part: str) -> str:
    """Name of the recipe that the panel of a part writes into."""
    return f"{part} own"


def base_recipe(build: Build, request: PartRequest) -> Recipe:
    """The recipe that a part's own one began with; its recipe where it has none of its own."""
    if normal_key(request.recipe.name) != normal_key(own_recipe_name(request.name)):
        return request.recipe
    for row in rows_of(build, "recipe"):
        if normal_key(row_label(row)) == normal_key(request.recipe.name):
            found = find_row(build.tables["recipe"].rows, str(row.get("like", "")))
            return found if found is not None else request.recipe
    return request.recipe


def printer_of(request: PartRequest, subject: Subject) -> Printer:
    """The printer of a panel's part, as the build file describes it now.

    Raises:
        InputError: It is no longer one of the part's printers.
    """
    for printer in request.printers:
        if printer.key == subject.printer:
            return printer
    raise InputError(
        f"part {request.name}: printer {subject.printer} is no longer one of its printers; run "
        "the cell again"
    )


def nozzle_of_mm(request: PartRequest, subject: Subject) -> float:
    """Bore of the printer's nozzle; 0 for a printer without one."""
    printer = printer_of(request, subject)
    return printer.nozzle_mm if isinstance(printer, ExtrusionPrinter) else 0.0


def price_key(request: PartRequest) -> str:
    """Key of the feedstock's price: by mass for extrusion, by volume for a vat."""
    by_mass = isinstance(request.feedstock, ExtrusionFeedstock)
    return "price_cost_kg" if by_mass else "price_cost_l"


def rows_of(build: Build, kind: str) -> list[dict[str, Any]]:
    """The rows of a kind as the build file has them."""
    try:
        data = _data_of(build.path, build.sha256)
    except LookupError:  # somebody wrote the file since; the panel says so
        data, _, _ = read_toml(build.path)
    return [row for row in data.get(kind, []) if isinstance(row, dict)]


@lru_cache(maxsize=8)
def _data_of(path: Path, sha256: str) -> dict[str, Any]:
    """What a build file holds, read once a content; nothing writes into what is given."""
    data, _, found = read_toml(path)
    if found != sha256:
        raise LookupError(path.name)
    return data
