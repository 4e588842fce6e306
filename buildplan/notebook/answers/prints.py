"""Will it print: findings, measured walls, gaps and overhangs, the best way up, coupons."""

from dataclasses import replace
from typing import TYPE_CHECKING

from buildplan.build import Build
from buildplan.build.keep import keep_orientation
from buildplan.errors import InputError
from buildplan.findings import SEVERITIES, worst
from buildplan.notebook.answers.answer import Answer, sentences, table, template
from buildplan.notebook.answers.memory import (
    name_of,
    part_of,
    plan_of,
    ways_of,
)
from buildplan.plan import PartPlan, Plan
from buildplan.plan.takes import takes_of, where_got
from buildplan.report import numbers
from buildplan.report.gather import hole_sizes, holes_line, tell, written
from buildplan.report.parts_section import large_part
from buildplan.report.sections import capital, words
from buildplan.report.ways_section import part_ways
from buildplan.report.ways_text import is_as_placed

if TYPE_CHECKING:
    from buildplan.notebook.viewer.widget import View


def show_prints(build: Build) -> Answer:
    """Every part: who makes it, its hours, how many findings it has, what is the gravest."""
    plan = plan_of(build)
    items = sorted(plan.parts, key=lambda item: -_hours(plan, item))
    rows = []
    for item in sorted(items, key=_gravity):
        grave = worst(item.findings)
        name = words(item.name) + (f" × {item.quantity}" if item.quantity > 1 else "")
        rows.append(
            {
                "severity": grave or "ok",
                "part": _unbroken(name),
                "where": _unbroken(where_got(item, plan.splits)),
                "hours": numbers.num(_hours(plan, item), 1) if item.sent is None else "theirs",
                "counts": _unbroken(_counts(item)),
                "first": _first_of(item),
            }
        )
    return Answer(
        heading=_prints_heading(plan),
        html=table(
            (
                ("severity", "", ""),
                ("part", "part", ""),
                ("where", "made on", ""),
                ("hours", "usual, one copy", "h"),
                ("counts", "findings", ""),
                ("first", "the gravest", ""),
            ),
            rows,
            right=("hours",),
        ),
        severity=worst(tuple(f for item in plan.parts for f in item.findings)) or "ok",
    )


def show_findings(build: Build, part: str = "") -> Answer:
    """All findings of a part beside its picture, each with its number, its limit and its remedy.

    Args:
        build: The build.
        part: Name of a part; left out, the one with the longest print.
    """
    plan = plan_of(build)
    item = part_of(plan, part)
    section = {"heading": "", "sub": "", "large": [large_part(plan, item)], "small": []}
    told = tell(item)
    heading = f"{capital(words(item.name))}: nothing to look at"
    if told:
        first = written(told[0].marks[0].finding.what, [item.name])
        heading = f"{capital(words(item.name))}: {_counts(item)}; first of all, {first}"
    return Answer(
        heading=heading,
        html=template("parts.html.j2", parts=section),
        severity=worst(item.findings) or "ok",
    )


def look_at_findings(build: Build, part: str = "") -> "View":
    """A part in three dimensions, every finding on its place, coloured by walls or gaps."""
    from buildplan.notebook.viewer import view_findings

    return view_findings(part_of(plan_of(build), part))


def show_ways_up(build: Build, part: str = "") -> Answer:
    """The best ways to lay a part, estimated in full and numbered, against the way it lies now."""
    plan = plan_of(build)
    item = part_of(plan, part)
    check, _ = ways_of(build, item.name)
    shown = replace(item, orientations=check)
    made = part_ways(plan, shown, open_=True)
    offset = len(made["rows"]) - len(check.best)
    for place, row in enumerate(made["rows"]):
        number = place + 1 - offset
        row["label"] = f"{number}: {row['label']}" if number > 0 else row["label"]
    line, better = made["line"], bool(check.marks)
    made["line"] = (
        f"{numbers.count(check.directions, 'direction')} weighed on {words(check.printer)}"
    )
    ways = {"heading": "", "sub": "", "parts": [made]}
    logged = " What your print log taught is not in these hours." if plan.logged else ""
    return Answer(
        heading=f"{capital(words(item.name))}: {line}",
        html=template("ways.html.j2", ways=ways)
        + sentences(
            [
                "Weighed is money: hours, supports, own time to take them off, and the chance that "
                "it comes loose or breaks along its layers. The marked row is how it lies now."
                + logged
            ],
            "small muted",
        ),
        severity="note" if better else "ok",
    )


def keep_way_up(build: Build, part: str = "", take: int = 0) -> Answer:
    """Keep one of the ways of ``show_ways_up`` in the build file; 0 changes nothing.

    Args:
        build: The build.
        part: Name of a part; left out, the one with the longest print.
        take: Number of the way; -1 takes the mesh as its file has it again.

    Raises:
        InputError: There is no way of that number.
    """
    named = name_of(build, part)
    name = words(named)
    if take == 0:
        return Answer(
            heading=f"The way up of the {name} stays as it is",
            html=sentences(
                [
                    "Give take the number of a way above to keep it in the build file, or −1 for "
                    "the way the mesh file has it. What is planned from then on lies so."
                ]
            ),
        )
    check, matrices = ways_of(build, named)
    if take < -1 or take > len(matrices):
        raise InputError(
            f"take = {take}: the {name} has ways 1 to {len(matrices)}; 0 changes nothing, "
            "−1 takes the mesh as its file has it"
        )
    if take > 0 and is_as_placed(check.best[take - 1], check):
        return Answer(heading=f"The {name} lies so already; nothing was changed", html="")
    path = keep_orientation(
        build.path, named, "as placed" if take < 0 else tuple(matrices[take - 1])
    )
    way = "as its mesh file has it" if take < 0 else f"way {take}"
    return Answer(
        heading=f"The {name} is laid {way} from now on",
        html=sentences(
            [
                f"Kept as orientation in the part's table of {path.absolute()}. Set take back "
                "to 0, then run the notebook again: every number is of the new way."
            ]
        ),
        severity="ok",
    )


def _first_of(item: PartPlan) -> str:
    """The gravest finding in words; holes, which are told as a table, where there is no other."""
    told = tell(item)
    if told:
        return capital(written(told[0].marks[0].finding.what, [item.name]))
    return holes_line(hole_sizes(item)) if item.findings else "nothing to look at"


def _unbroken(text: str) -> str:
    return text.replace(" ", numbers.FIXED_SPACE)


def _hours(plan: Plan, item: PartPlan) -> float:
    return takes_of(item, plan.splits).time_h.likely


def _gravity(item: PartPlan) -> int:
    grave = worst(item.findings)
    return len(SEVERITIES) if grave is None else SEVERITIES.index(grave)


def _counts(item: PartPlan) -> str:
    found = [(sum(f.severity == s for f in item.findings), s) for s in SEVERITIES]
    return ", ".join(numbers.count(n, s) for n, s in found if n) or "none"


def _prints_heading(plan: Plan) -> str:
    found = [finding for item in plan.parts for finding in item.findings]
    parts = numbers.count(len(plan.parts), "kind of part", "kinds of part")
    stops = sum(f.severity == "stop" for f in found)
    looks = sum(f.severity == "caution" for f in found)
    if stops:
        return f"Not yet: {numbers.count(stops, 'stop')} to clear first, in {parts}"
    if looks:
        return f"All {parts} print; {numbers.count(looks, 'caution')} to look at first"
    return f"All {parts} print, with nothing that must be looked at first"
