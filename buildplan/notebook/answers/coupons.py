"""Coupons: small prints cut from the real parts that prove a feature before a long print."""

from dataclasses import replace
from pathlib import Path

from buildplan.build import Build
from buildplan.notebook.answers.answer import Answer, sentences, table
from buildplan.notebook.answers.memory import plan_of, time_h
from buildplan.plan import Plan
from buildplan.report import numbers
from buildplan.report.pieces_section import pieces_section
from buildplan.report.sections import words

COUPONS = "coupons"
"""Folder beside the build file that coupons are written into."""


def show_coupons(build: Build) -> Answer:
    """Small prints cut from the real parts that prove a feature before a long print."""
    plan = plan_of(build)
    section = pieces_section(replace(plan, splits=()))
    if not plan.coupons:
        return _no_coupons(plan)
    rows = section["coupons"]
    columns = (
        ("part", "cut from", ""),
        ("proves", "proves", ""),
        ("alike", "stands for", ""),
        ("minutes", "usual", "min"),
        ("mass", "mass", "g"),
        ("cost", "cost", plan.currency),
    )
    return Answer(
        heading=section["heading"],
        html=table(columns, rows, right=("minutes", "mass", "cost")),
    )


def write_coupons(build: Build, folder: str | Path = "") -> Answer:
    """Write every coupon as STL and 3MF, as it is printed.

    Args:
        build: The build.
        folder: Left out: "coupons" beside the build file.
    """
    from buildplan.part.write import write_part
    from buildplan.report.segments_files import file_names

    plan = plan_of(build)
    if not plan.coupons:
        return _no_coupons(plan)
    target = Path(folder).expanduser() if str(folder) else build.path.parent / COUPONS
    names = file_names([one.coupon.part.name for one in plan.coupons])
    rows = []
    for one, name in zip(plan.coupons, names, strict=True):
        for ending in ("stl", "3mf"):
            path = write_part(one.coupon.part, target / f"{name}.{ending}")
            size = numbers.num(path.stat().st_size / 1000.0, 0)
            rows.append(
                {"file": path.name, "proves": f"{one.kind}: {one.coupon.feature}", "kb": size}
            )
    columns = (("file", "file", ""), ("proves", "proves", ""), ("kb", "size", "kB"))
    return Answer(
        heading=f"{numbers.count(len(rows), 'file')} in {target.absolute()}",
        html=table(columns, rows, right=("kb",)),
        severity="ok",
    )


def _no_coupons(plan: Plan) -> Answer:
    from buildplan.plan.pieces import COUPON_KINDS, LONG_PRINT_H

    longest = max(plan.parts, key=time_h)
    if time_h(longest) < LONG_PRINT_H:
        why = (
            f"No print takes more than {numbers.num(LONG_PRINT_H, 0, 'h')}; the longest, the "
            f"{words(longest.name)}, takes {numbers.hours(time_h(longest))}"
        )
        return Answer(heading=f"No coupon is needed: {why[:1].lower()}{why[1:]}", html="")
    return Answer(
        heading="The build file names no feature that a coupon could prove",
        html=sentences(
            [
                f"The {words(longest.name)} takes {numbers.hours(time_h(longest))}. Name what must "
                f"fit or hold on it: a [[part.feature]] with name, kind "
                f"({', '.join(COUPON_KINDS)}) and box_mm, six numbers in the "
                "coordinates of its mesh. The plan then cuts a coupon of each kind."
            ]
        ),
        severity="note",
    )
