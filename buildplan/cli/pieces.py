"""Commands that cut a part: split, coupon; and what a printed ladder showed: fits."""

import math
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from buildplan.cli.app import Json, announced, printers_named
from buildplan.errors import InputError

if TYPE_CHECKING:
    from buildplan.part import Part
    from buildplan.part.feature import Feature, KeepOut
    from buildplan.process.estimate import Prices
    from buildplan.segments.coupon import Coupon
    from buildplan.segments.ladder import Ladder
    from buildplan.segments.planes import Plane
    from buildplan.tables.feedstock import Feedstock
    from buildplan.tables.printer import Printer
    from buildplan.tables.recipe import Recipe

File = Annotated[Path, typer.Argument(help="A mesh, or a build file with --part.")]
PartName = Annotated[str, typer.Option("--part", help="Name of a part of the build file.")]
PrinterName = Annotated[str, typer.Option(help="A printer. [default: the first that can]")]
FeedstockName = Annotated[str, typer.Option(help="A feedstock. [default: pla]")]
RecipeName = Annotated[str, typer.Option(help="A recipe. [default: everyday]")]
UnitName = Annotated[str | None, typer.Option(help="mm, cm, m or inch. [default: the file's]")]
Out = Annotated[Path | None, typer.Option(help="Folder for the files. [default: none written]")]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    """A part, how it is printed and what must stay whole."""

    part: "Part"
    printer: "Printer"
    feedstock: "Feedstock"
    recipe: "Recipe"
    features: "tuple[Feature, ...]"
    keep_outs: "tuple[KeepOut, ...]"
    prices: "Prices"
    clearance_mm: float | None
    currency: str
    pose: tuple[float, ...] = ()


def split(  # noqa: PLR0913 - each argument is one option of the command line
    file: File,
    part: PartName = "",
    unit: UnitName = None,
    printer: PrinterName = "",
    feedstock: FeedstockName = "",
    recipe: RecipeName = "",
    hours: Annotated[float | None, typer.Option(help="Most hours of one print.")] = None,
    pieces: Annotated[int, typer.Option(min=1, max=30, help="Most pieces.")] = 8,
    cut: Annotated[
        list[str] | None, typer.Option(help="Cut here instead of searching: x=118. Repeat it.")
    ] = None,
    out: Out = None,
    json: Json = False,
) -> None:
    """Cut a part into pieces that print alone and go together, with joints."""
    from buildplan.report import as_json
    from buildplan.report.segments_files import segments_object, write_segments
    from buildplan.report.segments_text import print_segments
    from buildplan.report.terminal import console
    from buildplan.segments.run import split_part

    job = _job(file, part, unit, printer, feedstock, recipe)
    with announced(quiet=json):
        made = split_part(
            job.part,
            job.printer,
            job.feedstock,
            job.recipe,
            most_h=hours if hours is not None else math.inf,
            most_pieces=pieces,
            planes=[_plane(text) for text in cut or []],
            features=job.features,
            keep_outs=job.keep_outs,
            prices=job.prices,
            clearance_mm=job.clearance_mm,
        )
    files = write_segments(made, out) if out is not None else ()
    if json:
        sys.stdout.write(as_json.dump(segments_object(made)))
    else:
        print_segments(console(), made, job.currency, files)


def coupon(  # noqa: PLR0913 - each argument is one option of the command line
    file: Annotated[
        Path | None, typer.Argument(help="A mesh, or a build file with --part; none for a ladder.")
    ] = None,
    part: PartName = "",
    unit: UnitName = None,
    feature: Annotated[str, typer.Option(help="Name of a feature of the part.")] = "",
    box: Annotated[str, typer.Option(help="Or a region: x0,y0,z0,x1,y1,z1 in mm.")] = "",
    ladder: Annotated[str, typer.Option(help="Or a ladder: clearance or wall.")] = "",
    meets: Annotated[
        str, typer.Option(help="A part it must go with: both are cut by one box.")
    ] = "",
    minutes: Annotated[float | None, typer.Option(help="Most minutes of the print.")] = None,
    margin_mm: Annotated[float, typer.Option(min=0.0, help="Material kept around it.")] = 2.0,
    printer: PrinterName = "",
    feedstock: FeedstockName = "",
    recipe: RecipeName = "",
    out: Out = None,
) -> None:
    """Cut a small test coupon from a part, or make a ladder of clearances or walls."""
    from buildplan.process.estimate import estimate_print
    from buildplan.report.segments_text import print_coupon, print_ladder
    from buildplan.report.terminal import console
    from buildplan.segments.coupon import coupon_within, cut_coupon

    if ladder:
        made = _ladder(ladder, feedstock, recipe)
        printing = _printing(printer, feedstock, recipe)
        estimates = [estimate_print(piece, *printing) for piece in made.parts]
        print_ladder(console(), made, estimates, "cost", _written(made.parts, out))
        return
    if file is None:
        raise typer.BadParameter("name a mesh or a build file, or say --ladder clearance or wall")
    job = _job(file, part, unit, printer, feedstock, recipe)
    region = _region(job, feature, box)
    jobs = [job]
    if meets:
        jobs.append(_job_of_build(file, meets, ""))
        coupons = list(_pair(job, jobs[1], region, margin_mm))
    elif minutes is not None:
        printing = (job.printer, job.feedstock, job.recipe)
        made_one, _ = coupon_within(
            job.part, region, *printing, limit_min=minutes, margin_mm=margin_mm
        )
        coupons = [made_one]
    else:
        coupons = [cut_coupon(job.part, region, margin_mm=margin_mm)]
    files = _written([piece.part for piece in coupons], out)
    for number, (own, piece) in enumerate(zip(jobs, coupons, strict=True)):
        estimate = estimate_print(piece.part, own.printer, own.feedstock, own.recipe)
        print_coupon(console(), piece, estimate, own.currency, files[2 * number : 2 * number + 2])


def _written(parts: "Iterable[Part]", out: Path | None) -> list[Path]:
    """Every part as STL and 3MF in a folder, or nothing where none is named."""
    from buildplan.part.write import write_part
    from buildplan.report.segments_files import file_names

    named = list(parts)
    names = file_names([piece.name for piece in named])
    return [
        write_part(piece, out / f"{name}.{ending}")
        for piece, name in zip(named, names, strict=True)
        for ending in ("stl", "3mf")
        if out is not None
    ]


def _pair(
    job: _Job, other: _Job, region: "Feature | list[float]", margin_mm: float
) -> "tuple[Coupon, Coupon]":
    """Coupons of two parts by one box, where they stand together in the device."""
    from buildplan.part.feature import Feature
    from buildplan.part.turn import turn_features
    from buildplan.segments.coupon import cut_pair

    for asked in (job, other):
        if not asked.pose:
            raise InputError(
                f"{asked.part.name}: --meets needs its pose in the device; add poses to its "
                "[[part]] in the build file"
            )
    box = tuple(region.box_mm) if isinstance(region, Feature) else tuple(region)
    placed = turn_features([Feature(name="box", kind="other", box_mm=box)], job.pose)[0]
    return cut_pair(
        (job.part, job.pose), (other.part, other.pose), placed.box_mm, margin_mm=margin_mm
    )


def fits(
    build_file: Annotated[Path, typer.Argument(help="The build file (build.toml).")],
    press: Annotated[int, typer.Option(help="First hole the pin can be tapped into.")],
    sliding: Annotated[int, typer.Option(help="First hole it slides into by hand.")],
    free: Annotated[int, typer.Option(help="First hole it turns in freely.")],
) -> None:
    """Enter what the printed clearance ladder showed: your own fits, by notches."""
    from buildplan.build import load_build
    from buildplan.build.keep_fits import keep_fits
    from buildplan.segments.ladder import clearance_ladder, fits_from_ladder

    load_build(build_file)
    rows = fits_from_ladder(clearance_ladder(), press=press, sliding=sliding, free=free)
    kept = keep_fits(build_file, rows)
    said = ", ".join(f"{row.key} {row.clearance_mm:g} mm" for row in rows)
    typer.echo(f"Kept in {kept}: {said} on each side.")


def _job(
    file: Path, part: str, unit: str | None, printer: str, feedstock: str, recipe: str
) -> _Job:
    from buildplan.part import read_part
    from buildplan.process.estimate import Prices

    if file.suffix.lower() == ".toml" or file.is_dir():
        return _job_of_build(file, part, printer)
    machine, material, chosen = _printing(printer, feedstock, recipe)
    return _Job(
        part=read_part(file, unit=unit),
        printer=machine,
        feedstock=material,
        recipe=chosen,
        features=(),
        keep_outs=(),
        prices=Prices(),
        clearance_mm=None,
        currency="cost",
    )


def _job_of_build(file: Path, part: str, printer: str) -> _Job:
    from buildplan.build import load_build
    from buildplan.part import read_part
    from buildplan.part.turn import turn_features, turn_keep_outs, turn_part
    from buildplan.tables.rows import find_row
    from buildplan.tables.wording import not_known

    build = load_build(file)
    by_name = {request.name: request for request in build.parts}
    request = next((r for name, r in by_name.items() if name == part), None)
    if request is None:
        raise InputError(f"{build.path.name}: {not_known('--part', part, by_name)}")
    machines = {row.key: row for row in request.printers}
    machine = find_row(machines, printer) if printer else request.printers[0]
    if machine is None:
        raise InputError(f"{request.name}: {not_known('--printer', printer, machines)}")
    read = read_part(request.path, unit=request.unit, name=request.name)
    return _Job(
        part=turn_part(read, request.orientation),
        printer=machine,
        feedstock=request.feedstock,
        recipe=request.recipe,
        features=turn_features(request.features, request.orientation),
        keep_outs=turn_keep_outs(request.keep_outs, request.orientation),
        prices=build.prices,
        clearance_mm=build.tables["fit"].rows["sliding"].clearance_mm,
        currency=build.currency,
        pose=request.poses[0] if request.poses else (),
    )


def _printing(printer: str, feedstock: str, recipe: str) -> "tuple[Printer, Feedstock, Recipe]":
    import buildplan as bp

    material = bp.feedstock(feedstock or "pla")
    chosen = bp.recipe(recipe or "everyday", process=material.process)
    return printers_named(printer, material.process)[0], material, chosen


def _plane(text: str) -> "Plane":
    """The plane of "x=118"."""
    from buildplan.segments.planes import make_plane

    axis, _, offset = text.replace(" ", "").partition("=")
    try:
        return make_plane(axis.lower(), float(offset))
    except ValueError:
        raise typer.BadParameter(
            f'--cut {text}: write an axis and millimetres, such as "x=118" or "z=40.5"'
        ) from None


def _region(job: _Job, feature: str, box: str) -> "Feature | list[float]":
    from buildplan.tables.wording import normal_key, not_known

    if feature and not box:
        known = {normal_key(f.name): f for f in job.features}
        found = known.get(normal_key(feature))
        if found is None:
            names = [f.name for f in job.features]
            raise InputError(f"{job.part.name}: {not_known('--feature', feature, names)}")
        return found
    if not box:
        raise typer.BadParameter(
            "say --feature NAME (with a build file) or --box x0,y0,z0,x1,y1,z1"
        )
    try:
        return [float(number) for number in box.split(",")]
    except ValueError:
        raise typer.BadParameter(
            f"--box {box}: six numbers with commas between are needed"
        ) from None


def _ladder(kind: str, feedstock: str, recipe: str) -> "Ladder":
    from buildplan.segments.ladder import clearance_ladder, wall_ladder
    from buildplan.tables import ExtrusionRecipe

    if kind == "clearance":
        return clearance_ladder()
    chosen = _printing("", feedstock, recipe)[2]
    if kind == "wall" and isinstance(chosen, ExtrusionRecipe):
        return wall_ladder(chosen)
    raise typer.BadParameter(f'--ladder {kind}: "clearance", or "wall" for material extrusion')
