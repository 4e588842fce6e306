"""The command that lays out the guided notebooks and starts JupyterLab there."""

import os
import subprocess
import sys
from pathlib import Path
from typing import Annotated

import typer


def notebooks(
    folder: Annotated[
        Path, typer.Argument(help="A new folder, or one that this command laid out before.")
    ] = Path("buildplan-notebooks"),
    start: Annotated[
        bool, typer.Option("--start/--no-start", help="Start JupyterLab, or only lay out.")
    ] = True,
) -> None:
    """Lay out the guided notebooks with the demo build, and start JupyterLab on this computer."""
    from buildplan.demo.working import FIRST, FOLDER, working_folder

    made = working_folder(folder)
    verb = "Taken up again, nothing overwritten" if made.resumed else "Laid out"
    typer.echo(f"{verb}: {made.folder}")
    for name in made.added:
        typer.echo(f"Added: {FOLDER}/{name}")
    for name in made.beside:
        typer.echo(f"A newer version, put beside yours: {FOLDER}/{name}")
    typer.echo(f"Begin with {made.first}")
    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.root_dir={made.folder}",
        f"--LabApp.default_url=/lab/tree/{FOLDER}/{FIRST}",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        "--LabApp.news_url=None",
    ]
    if not start:
        typer.echo(f"Start it with: buildplan notebooks {made.folder}")
        return
    typer.echo("JupyterLab starts for this computer only; nothing leaves it.")
    typer.echo("Stop it with Ctrl+C in this window, twice. Inputs are kept in build.toml.")
    sys.stdout.flush()
    code = subprocess.run(command, cwd=made.folder, env=dict(os.environ), check=False).returncode
    if code:
        raise typer.Exit(code)
