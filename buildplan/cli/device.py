"""The command about the device alone: will it move, be fed, stay cool, see; no print estimate."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from buildplan.cli.app import Json, Strict, announced, leave
from buildplan.errors import InputError


def device(
    build_file: Annotated[Path, typer.Argument(help="The build file (build.toml).")],
    out: Annotated[
        Path | None, typer.Option(help="Folder for the figures, as SVG files. [default: none]")
    ] = None,
    amps: Annotated[
        list[str] | None,
        typer.Option(help="First power: MODE=AMPS out of the supply; may be repeated."),
    ] = None,
    soak: Annotated[
        list[str] | None,
        typer.Option(help="Heat soak: PLACE=DEGREES after half an hour; may be repeated."),
    ] = None,
    room: Annotated[float, typer.Option(help="Degrees C of the room at the heat soak.")] = 22.0,
    json: Json = False,
    strict: Strict = False,
) -> None:
    """What the device needs: lid and servo, supply, heat, gaps, views."""
    from buildplan.build import load_build
    from buildplan.plan import accept_amps, accept_soak, study_build_device
    from buildplan.report import as_json
    from buildplan.report.device_files import write_figures
    from buildplan.report.device_text import print_device
    from buildplan.report.journal_text import print_acceptance
    from buildplan.report.terminal import console

    loaded = load_build(build_file)
    with announced(quiet=json):
        study = study_build_device(loaded)
    accepted = (
        *(accept_amps(study, _pairs("--amps", amps)) if amps else ()),
        *(accept_soak(study, _pairs("--soak", soak), room) if soak else ()),
    )
    files = write_figures(study, out) if out is not None else ()
    if json:
        sys.stdout.write(as_json.dump(as_json.device_object(study)))
    else:
        print_device(console(), study, files)
        print_acceptance(console(), accepted)
    leave(strict and study.verdict == "stop")


def _pairs(option: str, texts: list[str]) -> dict[str, float]:
    """NAME=NUMBER, several times; a name may hold blanks."""
    found = {}
    for text in texts:
        name, equals, number = text.rpartition("=")
        try:
            found[name.strip()] = float(number)
        except ValueError:
            equals = ""
        if not equals or not name.strip():
            raise InputError(f"{option} {text!r} is no NAME=NUMBER; write {option} 'idle=0.42'")
    return found
