"""The command that plays the choice through the calendar."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from buildplan.cli.app import Json, announced, bar


def choose(
    build_file: Annotated[Path, typer.Argument(help="The build file (build.toml).")],
    played: Annotated[
        int, typer.Option(min=1, max=5000, help="Choices to play through the calendar at most.")
    ] = 60,
    workers: Annotated[int, typer.Option(min=1, help="Parts planned side by side.")] = 1,
    take: Annotated[
        bool, typer.Option("--take", help="Keep the choice in the build file: plan counts it then.")
    ] = False,
    json: Json = False,
) -> None:
    """At home, in pieces or sent out: the best choice for all parts, played on the calendar."""
    from buildplan.build import load_build
    from buildplan.plan import make_plan, read_experience, refine_choice, take_choice
    from buildplan.report import as_json
    from buildplan.report.choice_text import print_kept, print_played
    from buildplan.report.terminal import console

    loaded = load_build(build_file)
    with announced(quiet=json), bar(len(loaded.parts), "parts", quiet=json) as moved:
        made = make_plan(loaded, workers=workers, progress=moved)
    count = 0
    with bar(played, "choices", quiet=json) as moved:

        def one_more() -> None:
            nonlocal count
            count += 1
            moved(count, played)

        found = refine_choice(
            loaded, made, read_experience(loaded), most_played=played, progress=one_more
        )
    kept = take_choice(loaded, made, found.refined.picks) if take else ()
    if json:
        sys.stdout.write(as_json.dump(as_json.played_object(found)))
    else:
        print_played(console(), made, found)
        print_kept(console(), loaded.path, kept, asked=take)
