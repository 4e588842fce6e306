"""Commands about a whole build: plan, turn."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from buildplan.cli.app import (
    Json,
    Materials,
    Strict,
    announced,
    bar,
    feedstocks_named,
    leave,
)


def plan(
    build_file: Annotated[Path, typer.Argument(help="The build file (build.toml).")],
    out: Annotated[
        Path | None,
        typer.Option(
            help="Folder for report, build sheet, brief, tables. [default: out beside it]"
        ),
    ] = None,
    workers: Annotated[int, typer.Option(min=1, help="Parts planned side by side.")] = 1,
    materials: Materials = "all",
    pdf: Annotated[bool, typer.Option("--pdf", help="Report, sheet and brief as PDF too.")] = False,
    json: Json = False,
    strict: Strict = False,
) -> None:
    """Plan a whole build: every part, the bill, a report."""
    from buildplan.build import load_build
    from buildplan.plan import make_plan
    from buildplan.report import as_json
    from buildplan.report.files import write_reports
    from buildplan.report.pdf import require_pdf
    from buildplan.report.plan_text import print_plan
    from buildplan.report.terminal import console

    if pdf:
        require_pdf()
    loaded = load_build(build_file)
    compared = feedstocks_named(materials, loaded.tables["feedstock"].rows)
    with announced(quiet=json), bar(len(loaded.parts), "parts", quiet=json) as moved:
        made = make_plan(loaded, workers=workers, materials=compared, progress=moved)
    folder = out if out is not None else build_file.parent / "out"
    with bar(len(made.parts), "pictures", quiet=json) as moved:
        files = write_reports(made, folder, pdf=pdf, progress=moved)
    if json:
        sys.stdout.write(as_json.dump(as_json.plan_object(made)))
    else:
        print_plan(console(), made, files)
    leave(strict and made.verdict == "stop")


def compare(
    before: Annotated[Path, typer.Argument(help="The older build file.")],
    after: Annotated[Path, typer.Argument(help="The newer build file.")],
    workers: Annotated[int, typer.Option(min=1, help="Parts planned side by side.")] = 1,
    json: Json = False,
) -> None:
    """What a new revision changes: prints, hours, grams, money, orders and checks."""
    from buildplan.bill import compare_revisions
    from buildplan.build import load_build
    from buildplan.plan import make_plan, mark_of, revision_of
    from buildplan.report import as_json
    from buildplan.report.compare_text import print_changes
    from buildplan.report.terminal import console

    builds = [load_build(before), load_build(after)]
    plans = []
    with announced(quiet=json):
        for loaded in builds:
            with bar(len(loaded.parts), "parts", quiet=json) as moved:
                plans.append(make_plan(loaded, workers=workers, progress=moved))
    changes = compare_revisions(*(revision_of(plan) for plan in plans))
    if json:
        sys.stdout.write(as_json.dump(as_json.changes_object(changes)))
        return
    marks = mark_of(plans[0]), mark_of(plans[1])
    print_changes(console(), changes, plans[1].currency, marks)


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
    with announced(quiet=False):
        check, matrices = ways_up(loaded, part)
    print_ways(console(), check, loaded.currency)
    if take is None:
        typer.echo(f"Keep one: buildplan turn {build_file} {part} --take 1")
        return
    if take > len(matrices):
        raise typer.BadParameter(f"--take {take}: there are {len(matrices)} ways, or 0")
    kept = keep_orientation(build_file, part, matrices[take - 1] if take else "as placed")
    typer.echo(f"Way {take} is kept in {kept}." if take else f"As in the mesh file again: {kept}.")
