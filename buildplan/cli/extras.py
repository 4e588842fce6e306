"""Commands that help to begin: demo, new, tables, warm-up."""

from pathlib import Path
from typing import Annotated

import typer

from buildplan.cli.app import bar


def demo(folder: Annotated[Path, typer.Argument(help="A new folder.")]) -> None:
    """Lay out the demo build, the sprout house, in a new folder."""
    from buildplan.demo import lay_out

    made = lay_out(folder)
    typer.echo(f"The sprout house lies in {made}; every price and log entry in it is invented.")
    typer.echo(f"Next: buildplan plan {made / 'build.toml'}")


def new(
    folder: Annotated[Path, typer.Argument(help="Where to write build.toml.")],
    name: Annotated[str, typer.Option(help="Name of the device.")] = "my device",
) -> None:
    """Write a commented build file to start from."""
    from buildplan.build import write_template

    made = write_template(folder, name)
    typer.echo(f"Wrote {made}. Put your meshes beside it, name them in it, then:")
    typer.echo(f"buildplan plan {made}")


def tables(
    kind: Annotated[
        str, typer.Argument(help="printers, feedstocks, recipes or rules.")
    ] = "printers",
) -> None:
    """List the printers, feedstocks, recipes or rules that can be named."""
    from buildplan.report.table_text import print_rows
    from buildplan.report.terminal import console

    print_rows(console(), kind)


def warm_up_command() -> None:
    """Compile the number kernels ahead, so that the first real run does not wait."""
    from buildplan.warm_up import cold_kernels, warm_up

    cold = cold_kernels()
    with bar(1, "steps", quiet=False) as moved:
        steps = warm_up(moved)
    typer.echo(f"{cold} kernels compiled, {steps} steps run." if cold else "Everything was warm.")
