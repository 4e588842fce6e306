"""The command about the device alone: will it move, be fed, stay cool, see; no print estimate."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from buildplan.cli.app import Json, Strict, announced, leave


def device(
    build_file: Annotated[Path, typer.Argument(help="The build file (build.toml).")],
    out: Annotated[
        Path | None, typer.Option(help="Folder for the figures, as SVG files. [default: none]")
    ] = None,
    json: Json = False,
    strict: Strict = False,
) -> None:
    """What the device needs: lid and servo, supply, heat, gaps, views."""
    from buildplan.build import load_build
    from buildplan.plan import study_build_device
    from buildplan.report import as_json
    from buildplan.report.device_files import write_figures
    from buildplan.report.device_text import print_device
    from buildplan.report.terminal import console

    loaded = load_build(build_file)
    with announced(quiet=json):
        study = study_build_device(loaded)
    files = write_figures(study, out) if out is not None else ()
    if json:
        sys.stdout.write(as_json.dump(as_json.device_object(study)))
    else:
        print_device(console(), study, files)
    leave(strict and study.verdict == "stop")
