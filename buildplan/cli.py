"""The command line: `buildplan plan|part|turn|demo|new|tables|warm-up`.

Exit 0 when done, 2 on bad input with one line on the error stream, 3 with --strict when any finding
is a stop. Every output file is written whole or not at all.
"""

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer

from buildplan.errors import BuildplanError

# the common base of every fault in the words of a command, wherever typer keeps it
USAGE_FAULTS: type[Exception] = typer.BadParameter.__mro__[2]

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


@app.command()
def plan(
    build_file: Annotated[Path, typer.Argument(help="The build file (build.toml).")],
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for plan.json, bill.csv, report.html. [default: out beside it]"),
    ] = None,
    workers: Annotated[int, typer.Option(min=1, help="Parts planned side by side.")] = 1,
    materials: Materials = "all",
    json: Json = False,
    strict: Strict = False,
) -> None:
    """Plan a whole build: every part, the bill, a report."""
    from buildplan.build import load_build
    from buildplan.findings import worst
    from buildplan.plan import make_plan
    from buildplan.report import as_json
    from buildplan.report.files import write_reports
    from buildplan.report.plan_text import print_plan
    from buildplan.report.terminal import console

    loaded = load_build(build_file)
    compared = _feedstocks(materials, loaded.tables["feedstock"].rows)
    with _announced(quiet=json), _bar(len(loaded.parts), "parts", quiet=json) as moved:
        made = make_plan(loaded, workers=workers, materials=compared, progress=moved)
    folder = out if out is not None else build_file.parent / "out"
    with _bar(len(made.parts), "pictures", quiet=json) as moved:
        files = write_reports(made, folder, progress=moved)
    if json:
        sys.stdout.write(as_json.dump(as_json.plan_object(made)))
    else:
        print_plan(console(), made, files)
    findings = tuple(f for part in made.parts for f in part.findings)
    _leave(strict and worst(findings) == "stop")


@app.command()
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
    machines = _printers(printer, material.process)
    with _announced(quiet=json):
        solid = read_part(file, unit=unit, fill_holes_mm=fill_holes)
        made = bp.plan_part(
            solid, machines, material, chosen, materials=_feedstocks(materials, bp.feedstocks())
        )
    if json:
        sys.stdout.write(as_json.dump(as_json.part_object(made)))
    else:
        print_part(console(), made, "cost")
    _leave(strict and worst(made.findings) == "stop")


@app.command()
def turn(
    build_file: Annotated[Path, typer.Argument(help="The build file (build.toml).")],
    part: Annotated[str, typer.Argument(help="Name of a part in it.")],
    take: Annotated[
        int | None, typer.Option(min=0, help="Keep this way in the build file; 0 keeps the mesh's.")
    ] = None,
) -> None:
    """The best ways to lay a part, estimated in full; one of them can be kept."""
    from buildplan.build import load_build
    from buildplan.build.keep import keep_orientation
    from buildplan.plan import ways_up
    from buildplan.report.terminal import console
    from buildplan.report.ways_text import print_ways

    loaded = load_build(build_file)
    with _announced(quiet=False):
        check, matrices = ways_up(loaded, part)
    print_ways(console(), check, loaded.currency)
    if take is None:
        typer.echo(f"Keep one: buildplan turn {build_file} {part} --take 1")
        return
    if take > len(matrices):
        raise typer.BadParameter(f"--take {take}: there are {len(matrices)} ways, or 0")
    kept = keep_orientation(build_file, part, matrices[take - 1] if take else "as placed")
    typer.echo(f"Way {take} is kept in {kept}." if take else f"As in the mesh file again: {kept}.")


@app.command()
def demo(folder: Annotated[Path, typer.Argument(help="A new folder.")]) -> None:
    """Lay out the demo build, the sprout house, in a new folder."""
    from buildplan.demo import lay_out

    made = lay_out(folder)
    typer.echo(f"The sprout house lies in {made}; every price and log entry in it is invented.")
    typer.echo(f"Next: buildplan plan {made / 'build.toml'}")


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="Where to write build.toml.")],
    name: Annotated[str, typer.Option(help="Name of the device.")] = "my device",
) -> None:
    """Write a commented build file to start from."""
    from buildplan.build import write_template

    made = write_template(folder, name)
    typer.echo(f"Wrote {made}. Put your meshes beside it, name them in it, then:")
    typer.echo(f"buildplan plan {made}")


@app.command()
def tables(
    kind: Annotated[
        str, typer.Argument(help="printers, feedstocks, recipes or rules.")
    ] = "printers",
) -> None:
    """List the printers, feedstocks, recipes or rules that can be named."""
    from buildplan.report.table_text import print_rows
    from buildplan.report.terminal import console

    print_rows(console(), kind)


@app.command("warm-up")
def warm_up_command() -> None:
    """Compile the number kernels ahead, so that the first real run does not wait."""
    from buildplan.warm_up import cold_kernels, warm_up

    cold = cold_kernels()
    with _bar(1, "steps", quiet=False) as moved:
        steps = warm_up(moved)
    typer.echo(f"{cold} kernels compiled, {steps} steps run." if cold else "Everything was warm.")


def main() -> NoReturn:
    """Run the command line; turn what the user can act on into one line and exit code 2."""
    try:
        code = app(standalone_mode=False)
    except BuildplanError as error:
        _refuse(str(error))
    except typer.Abort:
        _refuse("stopped; nothing half-written is left", code=130)
    except USAGE_FAULTS as error:
        _refuse(_one_line(error))
    except OSError as error:
        _refuse(f"{error.filename or 'file'}: {error.strerror}")
    except KeyboardInterrupt:
        _refuse("stopped; nothing half-written is left", code=130)
    raise SystemExit(code or 0)


def _one_line(error: Exception) -> str:
    message = getattr(error, "format_message", error.__str__)()
    context = getattr(error, "ctx", None)
    hint = f" See {context.command_path} --help." if context is not None else ""
    return f"{message.replace(chr(10), ' ')}{hint}"


def _refuse(message: str, code: int = 2) -> NoReturn:
    from buildplan.report.terminal import console, error_block

    to = console(err=True)
    for line in message.splitlines():
        if to.is_terminal:
            to.print(error_block(line))
        else:
            sys.stderr.write(f"error: {line}\n")
    raise SystemExit(code)


def _leave(stopped: bool) -> None:
    if stopped:
        raise SystemExit(3)


def _names(text: str) -> list[str]:
    return [name.strip() for name in text.split(",") if name.strip()]


def _printers(text: str, process: str) -> list[Any]:
    import buildplan as bp

    if text:
        return [bp.printer(name) for name in _names(text)]
    return [row for row in bp.printers().values() if row.process == process]


def _feedstocks(text: str, rows: Mapping[str, Any]) -> list[Any]:
    """The rows named, "all" of them, or none for an empty text; the build's own rows count."""
    import buildplan as bp
    from buildplan.tables.rows import find_row

    if text.strip().lower() == "all":
        return list(rows.values())
    return [find_row(rows, name) or bp.feedstock(name) for name in _names(text)]


@contextmanager
def _announced(*, quiet: bool) -> Iterator[None]:
    """Say so on the error stream when kernels must be compiled first."""
    from buildplan.warm_up import cold_kernels

    cold = 0 if quiet else cold_kernels()
    if cold:
        typer.echo(
            f"First run: compiling {cold} number kernels, a minute or two, once. "
            "`buildplan warm-up` does it ahead.",
            err=True,
        )
    yield


@contextmanager
def _bar(total: int, unit: str, *, quiet: bool) -> Iterator[Any]:
    """A progress bar on the error stream that appears for work over a second."""
    from buildplan.report.progress import progress_bar

    with progress_bar(total, unit, shown=not quiet) as moved:
        yield moved
