"""The command line's frame: the application, options that several commands share, exit codes."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Annotated, Any

import typer

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Plan the build of a one-off device: hours, feedstock, money and fit before you print.",
)

Json = Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else.")]
Strict = Annotated[bool, typer.Option("--strict", help="Exit with 3 if any finding is a stop.")]
Materials = Annotated[
    str, typer.Option(help='Compare feedstocks: "all", or names with commas between.')
]


def leave(stopped: bool) -> None:
    """Exit with 3 where --strict was given and something is a stop."""
    if stopped:
        raise SystemExit(3)


def names(text: str) -> list[str]:
    """Names with commas between, blanks and empty ones dropped."""
    return [name.strip() for name in text.split(",") if name.strip()]


def printers_named(text: str, process: str) -> list[Any]:
    """The printers named, or all of a process for an empty text."""
    import buildplan as bp

    if text:
        return [bp.printer(name) for name in names(text)]
    return [row for row in bp.printers().values() if row.process == process]


def feedstocks_named(text: str, rows: Mapping[str, Any]) -> list[Any]:
    """The rows named, "all" of them, or none for an empty text; the build's own rows count."""
    import buildplan as bp
    from buildplan.tables.rows import find_row

    if text.strip().lower() == "all":
        return list(rows.values())
    return [find_row(rows, name) or bp.feedstock(name) for name in names(text)]


@contextmanager
def announced(*, quiet: bool) -> Iterator[None]:
    """Say so on the error stream when kernels must be compiled first."""
    from buildplan.warm_up import cold_kernels

    cold = 0 if quiet else cold_kernels()
    if cold:
        typer.echo(
            f"First run: compiling {cold} number kernel{'' if cold == 1 else 's'}, a minute or "
            "two, once. `buildplan warm-up` does it ahead.",
            err=True,
        )
    yield


@contextmanager
def bar(total: int, unit: str, *, quiet: bool) -> Iterator[Any]:
    """A progress bar on the error stream that appears for work over a second."""
    from buildplan.report.progress import progress_bar

    with progress_bar(total, unit, shown=not quiet) as moved:
        yield moved
