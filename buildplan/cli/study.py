"""The command that estimates every combination."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from buildplan.cli.app import Json, announced, bar, feedstocks_named, names


def study(  # noqa: PLR0913 - one option each
    build_file: Annotated[Path, typer.Argument(help="The build file (build.toml).")],
    part: Annotated[str, typer.Option(help="Names with commas between. [default: all]")] = "",
    printer: Annotated[str, typer.Option(help="Likewise. [default: all of the build]")] = "",
    feedstock: Annotated[
        str, typer.Option(help='"all", or names with commas between. [default: each part\'s own]')
    ] = "",
    ways: Annotated[
        int, typer.Option(min=1, max=5, help="Ways up of each part, as oriented first.")
    ] = 1,
    workers: Annotated[int, typer.Option(min=1, help="Jobs side by side.")] = 1,
    csv: Annotated[
        Path | None, typer.Option(help="File for every combination as a table. [default: none]")
    ] = None,
    json: Json = False,
) -> None:
    """Every part on every printer, of every feedstock, several ways up."""
    from buildplan.build import load_build
    from buildplan.files import write_whole
    from buildplan.plan.study import study_build
    from buildplan.report import as_json
    from buildplan.report.study_text import print_study, study_csv
    from buildplan.report.terminal import console

    build = load_build(build_file)
    count = len(names(part)) or len(build.parts)
    with announced(quiet=json), bar(count * ways, "jobs", quiet=json) as moved:
        rows = study_build(
            build,
            parts=names(part),
            printers=names(printer),
            feedstocks=feedstocks_named(feedstock, build.tables["feedstock"].rows),
            ways=ways,
            workers=workers,
            progress=lambda done, total: moved(done, total),
        )
    written = None
    if csv is not None:
        written = write_whole(csv.resolve(), study_csv(rows, build.currency))
    if json:
        sys.stdout.write(as_json.dump(as_json.study_object(rows, build.currency)))
    else:
        print_study(console(), rows, build.currency, written)
