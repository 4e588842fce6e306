"""The numbers of "will it print": walls, gaps, holes and overhangs against their limits."""

from collections import Counter
from collections.abc import Iterable
from typing import Any

from buildplan.build import Build
from buildplan.checks.surface import CAP_SHARE
from buildplan.findings import SEVERITIES, worst
from buildplan.notebook.answers.answer import Answer, table
from buildplan.notebook.answers.memory import part_of, plan_of
from buildplan.plan import PartPlan
from buildplan.report import numbers
from buildplan.report.sections import capital, words

VERDICTS = {
    "vanishes": "not made",
    "single bead": "of a single bead",
    "weak": "weak",
    "edge": "that thin out to an edge",
}
"""What a thin wall comes to, after its count."""


def show_measures(build: Build, part: str = "") -> Answer:
    """How thick the walls are, how wide the gaps, how far it hangs over, against the limits."""
    item = part_of(plan_of(build), part)
    rows = [*_wall_rows(item), *_gap_rows(item), *_overhang_rows(item)]
    heading = f"{capital(words(item.name))}: {_measures_heading(item)}"
    columns = (
        ("severity", "", ""),
        ("what", "measured", ""),
        ("found", "found", ""),
        ("limit", "asked", ""),
        ("share", "how much of it", ""),
    )
    severity = next((s for s in SEVERITIES if any(row["severity"] == s for row in rows)), "ok")
    return Answer(heading=heading, html=table(columns, rows), severity=severity)


def _measures_heading(item: PartPlan) -> str:
    walls = item.checks.walls
    thin = walls.thin_area_mm2
    if thin <= 0.0:
        return f"no wall below {numbers.num(walls.limit_mm, 1, 'mm')}"
    share = _share(thin, walls.area_mm2)
    return f"{share} of its surface has a wall below {numbers.num(walls.limit_mm, 1, 'mm')}"


def _severity(item: PartPlan, checks: Iterable[str]) -> str:
    names = set(checks)
    return worst(tuple(f for f in item.findings if f.check in names)) or "ok"


def _share(part_mm2: float, all_mm2: float) -> str:
    """A share of an area in words that are never a false zero."""
    percent = 100.0 * part_mm2 / max(all_mm2, 1e-12)
    if 0.0 < percent < 0.1:
        return "less than 0.1 %"
    return f"{numbers.num(percent, 1)} %"


def _wall_rows(item: PartPlan) -> list[dict[str, Any]]:
    walls = item.checks.walls
    told = [wall for wall in walls.walls if wall.verdict != "edge"]
    kinds = Counter(VERDICTS[wall.verdict] for wall in walls.walls)
    named = ", ".join(f"{count} {kind}" for kind, count in kinds.items())
    least = min((wall.region.least_mm for wall in told), default=None)
    limit = numbers.num(walls.limit_mm, 1, "mm")
    area = numbers.num(walls.thin_area_mm2, 0, "mm²")
    return [
        {
            "severity": _severity(item, ("walls", "beads")),
            "what": "walls",
            "found": f"none below {limit}"
            if least is None
            else f"thinnest {numbers.num(least, 2, 'mm')}",
            "limit": f"at least {limit} where they carry",
            "share": f"{area}: {named}" if named else "",
        }
    ]


def _gap_rows(item: PartPlan) -> list[dict[str, Any]]:
    gaps, surface = item.checks.gaps, item.checks.surface
    limit = numbers.num(surface.outside_cap_mm / CAP_SHARE, 2, "mm")
    least = min((gap.least_mm for gap in gaps.gaps), default=None)
    fused = sum(gap.fused for gap in gaps.gaps)
    rows = [
        {
            "severity": _severity(item, ("gaps",)),
            "what": "gaps and slots",
            "found": "none narrow" if least is None else f"narrowest {numbers.num(least, 2, 'mm')}",
            "limit": f"at least {limit} where parts move",
            "share": ""
            if not gaps.gaps
            else numbers.count(len(gaps.gaps), "place")
            + (f", {fused} of them close up" if fused else ""),
        }
    ]
    if gaps.holes:
        shrink = [h.drawn_mm - h.printed_mm for h in gaps.holes if h.printed_mm > 0.0]
        closed = sum(h.printed_mm <= 0.0 for h in gaps.holes)
        found = f"up to {numbers.num(max(shrink), 1, 'mm')} narrower than drawn" if shrink else ""
        closes = f"{closed} close up" if closed else ""
        rows.append(
            {
                "severity": _severity(item, ("holes",)),
                "what": "round holes",
                "found": "; ".join(text for text in (found, closes) if text),
                "limit": "as drawn, where the fit matters",
                "share": numbers.count(len(gaps.holes), "hole"),
            }
        )
    return rows


def _overhang_rows(item: PartPlan) -> list[dict[str, Any]]:
    hangs = item.checks.overhangs
    bridges = [r.span_mm for r in hangs.regions if r.kind == "bridge"]
    reach = max((r.reach_mm for r in hangs.regions), default=0.0)
    held = sum(r.needs_support for r in hangs.regions)
    found = []
    if bridges:
        found.append(f"longest bridge {numbers.num(max(bridges), 1, 'mm')}")
    if reach > 0.0:
        found.append(f"farthest reach {numbers.num(reach, 1, 'mm')}")
    places = numbers.count(len(hangs.regions), "place")
    needs = f"{held} of them {'needs' if held == 1 else 'need'} supports"
    return [
        {
            "severity": _severity(item, ("overhangs", "bridges", "islands")),
            "what": "overhangs and bridges",
            "found": ", ".join(found) or "none beyond the limit",
            "limit": "held up by the part itself",
            "share": f"{numbers.num(hangs.overhang_mm2, 0, 'mm²')} in {places}; "
            + (needs if held else "none needs supports")
            if hangs.regions
            else "",
        }
    ]
