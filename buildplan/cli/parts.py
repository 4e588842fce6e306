"""The command about one mesh: part."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from buildplan.cli.app import (
    Json,
    Materials,
    Strict,
    announced,
    feedstocks_named,
    leave,
    printers_named,
)


def part(  # noqa: PLR0913 - each argument is one option of the command line
    file: Annotated[Path, typer.Argument(help="STL, 3MF, OBJ, PLY, OFF, GLB or STEP.")],
    unit: Annotated[
        str | None, typer.Option(help="mm, cm, m or inch. [default: the file's]")
    ] = None,
    printer: Annotated[str, typer.Option(help="A printer, or names with commas.")] = "",
    feedstock: Annotated[str, typer.Option(help="A feedstock.")] = "pla",
    recipe: Annotated[str, typer.Option(help="A recipe.")] = "everyday",
    layer_mm: Annotated[float | None, typer.Option(help="Layer instead of the recipe's.")] = None,
    fill_holes: Annotated[
        float | None, typer.Option(help="Close holes of the mesh up to this many mm across.")
    ] = None,
    materials: Materials = "",
    json: Json = False,
    strict: Strict = False,
) -> None:
    """One mesh: hours, grams, money, fit and findings."""
    from dataclasses import replace

    import buildplan as bp
    from buildplan.findings import worst
    from buildplan.part import read_part
    from buildplan.report import as_json
    from buildplan.report.part_text import print_part
    from buildplan.report.terminal import console

    material = bp.feedstock(feedstock)
    chosen = bp.recipe(recipe, process=material.process)
    if layer_mm is not None:
        chosen = replace(chosen, layer_mm=layer_mm, name=f"{chosen.name}, {layer_mm:g} mm layers")
    machines = printers_named(printer, material.process)
    with announced(quiet=json):
        solid = read_part(file, unit=unit, fill_holes_mm=fill_holes)
        made = bp.plan_part(
            solid,
            machines,
            material,
            chosen,
            materials=feedstocks_named(materials, bp.feedstocks()),
        )
    if json:
        sys.stdout.write(as_json.dump(as_json.part_object(made)))
    else:
        print_part(console(), made, "cost")
    leave(strict and worst(made.findings) == "stop")
