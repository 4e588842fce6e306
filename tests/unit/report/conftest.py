"""One plan for all tests of what is shown: some demo parts, and the same with trouble added."""

from dataclasses import replace

import numpy as np
import pytest

import buildplan as bp
from buildplan.checks.marks import Mark, findings_of
from buildplan.demo import lay_out
from buildplan.device.chain.shape import DeviceTables
from buildplan.findings import Finding, Place
from buildplan.plan.first import list_first

SHOWN = ("push_rod", "servo_arm", "hinge_pin", "camera_arm", "camera_ring")


@pytest.fixture(scope="session")
def plan(tmp_path_factory):
    build = bp.load_build(lay_out(tmp_path_factory.mktemp("shown") / "sprout") / "build.toml")
    return bp.make_plan(
        replace(
            build, parts=tuple(p for p in build.parts if p.name in SHOWN), device=DeviceTables()
        )
    )


def finding(check, severity, what="a thing of 1 mm2", place=(0.0, 0.0, 0.0)):
    return Finding(
        check=check,
        severity=severity,
        what=what,
        where=Place(text="near the middle", point_mm=place),
        measured="1 mm",
        required="at least 2 mm",
        remedy="Make it 2 mm thick. Then look again.",
        source="common practice, no source",
    )


def some_facets(part):
    facets = np.arange(min(8, len(part.facets)), dtype=np.int64)
    facets.flags.writeable = False
    return facets


@pytest.fixture(scope="session")
def troubled(plan):
    """The push rod with two stops, two cautions of one check and three notes of another check."""
    parts = list(plan.parts)
    at = next(k for k, item in enumerate(parts) if item.name == "push_rod")
    item = parts[at]
    facets = some_facets(item.part)
    marks = (
        Mark(finding=finding("walls", "stop", "a wall of 0.1 mm vanishes"), facets=facets),
        Mark(finding=finding("fit", "stop", "push_rod does not fit")),
        Mark(finding=finding("gaps", "caution", "a gap of 0.1 mm closes"), facets=facets),
        Mark(finding=finding("gaps", "caution", "a gap of 0.2 mm closes"), facets=facets),
        Mark(finding=finding("overhangs", "note", "a bridge of 4 mm"), facets=facets),
        Mark(finding=finding("overhangs", "note", "a bridge of 5 mm"), facets=facets),
        Mark(finding=finding("overhangs", "note", "a bridge of 6 mm")),
        *(mark for mark in item.marks if mark.finding.check == "holes"),
    )
    check = item.orientations
    better = replace(
        check.best[1],
        time_h=check.as_placed.time_h - 0.2,
        reason="lies on its side: no support, but it is taller",
    )
    turn = Mark(finding=finding("orientation", "note", "another way up would be far better"))
    orientations = replace(check, best=(better, check.best[0]), marks=(turn,))
    parts[at] = replace(
        item, marks=(*marks, turn), findings=findings_of((*marks, turn)), orientations=orientations
    )
    return replace(
        plan,
        parts=tuple(parts),
        verdict="stop",
        first=list_first(tuple(parts), plan.cycles, plan.bill),
    )


@pytest.fixture(scope="session")
def rod(troubled):
    return next(item for item in troubled.parts if item.name == "push_rod")
