"""The command that lays out the guided notebooks and starts JupyterLab there."""

import os
import subprocess
import sys
from pathlib import Path
from typing import Annotated

import typer

PATIENCE_S = 25.0
"""How long JupyterLab may take to stop by itself after Ctrl+C."""


def notebooks(
    folder: Annotated[
        Path, typer.Argument(help="A new folder, or one that this command laid out before.")
    ] = Path("buildplan-notebooks"),
    start: Annotated[
        bool, typer.Option("--start/--no-start", help="Start JupyterLab, or only lay out.")
    ] = True,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open it in the browser.")
    ] = True,
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="Port on this computer; 0 takes a usual one.")
    ] = 0,
) -> None:
    """Lay out the guided notebooks with the demo build, and start JupyterLab on this computer."""
    from buildplan.demo.working import FOLDER, working_folder

    made = working_folder(folder)
    verb = "Taken up again, nothing overwritten" if made.resumed else "Laid out"
    typer.echo(f"{verb}: {made.folder}")
    for name in made.added:
        typer.echo(f"Added: {FOLDER}/{name}")
    for name in made.beside:
        typer.echo(f"A newer version, put beside yours: {FOLDER}/{name}")
    typer.echo(f"Begin with {made.first}")
    if not start:
        typer.echo(f"Start it with: buildplan notebooks {made.folder}")
        return
    typer.echo("JupyterLab starts for this computer only; nothing leaves it.")
    typer.echo("To stop it: Ctrl+C in this window. Inputs are kept in build.toml.")
    sys.stdout.flush()
    code = _run(_command(made.folder, browser=browser, port=port), made.folder)
    if code:
        raise typer.Exit(code)
    typer.echo("JupyterLab has stopped.")


def _command(folder: Path, *, browser: bool, port: int) -> list[str]:
    from buildplan.demo.working import FIRST, FOLDER

    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        "-y",  # Ctrl+C stops it without a question
        "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.root_dir={folder}",
        f"--LabApp.default_url=/lab/tree/{FOLDER}/{FIRST}",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        "--LabApp.news_url=None",
    ]
    if not browser:
        command.append("--no-browser")
    if port:
        command += [f"--ServerApp.port={port}", "--ServerApp.port_retries=0"]
    if getattr(os, "geteuid", lambda: 1)() == 0:
        typer.echo("You are the root user: all that the notebooks run is run as root.")
        command.append("--allow-root")
    return command


def _run(command: list[str], folder: Path) -> int:
    """Run it until it ends; Ctrl+C reaches it too, and is given time to stop its kernels."""
    with subprocess.Popen(command, cwd=folder) as lab:
        try:
            return lab.wait()
        except KeyboardInterrupt:
            try:
                return lab.wait(PATIENCE_S)
            except subprocess.TimeoutExpired:
                lab.terminate()  # it got no Ctrl+C of its own
            try:
                return lab.wait(PATIENCE_S)
            except subprocess.TimeoutExpired:
                lab.kill()  # it does not end by itself
                return lab.wait()
