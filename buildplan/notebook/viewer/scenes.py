"""Scenes of a part, of its findings, of its pieces and of a device: plain functions, no widget."""

from collections.abc import Iterable, Sequence
from itertools import cycle

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import NO_FACETS
from buildplan.checks.surface import Surface
from buildplan.device.chain.model import DeviceStudy
from buildplan.errors import InputError
from buildplan.findings import SEVERITIES, Finding
from buildplan.notebook.viewer.model import Item, Kind, Per, Poses, Scene, Spot, Values
from buildplan.part.model import Part
from buildplan.plan.model import PartPlan
from buildplan.report import numbers
from buildplan.report.assembly_picture import PIECE_COLOURS, piece_shifts
from buildplan.report.picture import COLOUR
from buildplan.segments.assembly import AssemblyStep, assembly_steps
from buildplan.segments.model import SegmentPlan

APART = 2.2
"""Pieces move this many times as far apart as on the printed assembly sketch."""

REACH_FRAC = 0.06
"""Half the size of the box around a point that a finding names, as a share of the largest body."""


def values_on(
    part: Part,
    data: NDArray[np.float64],
    *,
    name: str,
    unit: str,
    low: float | None = None,
    high: float | None = None,
    limits: Sequence[tuple[float, str]] = (),
) -> Values:
    """Numbers on a part's surface: one for every facet, or one for every vertex.

    Args:
        part: The part.
        data: (m,) for its facets or (n,) for its vertices; nan where there is none. Where a part
            has as many facets as vertices, they are taken for its facets.
        name: What the number is.
        unit: Its unit.
        low: Number at the low end of the bar; the least there is by itself.
        high: Number at the high end; the most there is by itself.
        limits: Numbers to mark on the bar, each with its words.

    Raises:
        InputError: There are as many numbers as neither facets nor vertices, none is finite, or
            the ends of the bar are the wrong way round.
    """
    found = np.array(data, dtype=np.float64)
    if found.shape not in ((len(part.facets),), (len(part.vertices_mm),)):
        raise InputError(
            f"{name}: an array of shape {found.shape} was given for {part.name}; it has "
            f"{len(part.facets)} facets and {len(part.vertices_mm)} vertices; give one for each"
        )
    per: Per = "facet" if len(found) == len(part.facets) else "vertex"
    finite = found[np.isfinite(found)]
    if not len(finite):
        raise InputError(f"{name}: no number for {part.name} is finite; give at least one")
    least = float(finite.min()) if low is None else low
    most = float(finite.max()) if high is None else high
    if low is None and high is None and least == most:
        most = least + max(1.0, abs(least))
    if not (np.isfinite(least) and np.isfinite(most) and least < most):
        raise InputError(
            f"{name}: the bar runs from {least:g} to {most:g} {unit}; its high end must be above "
            "its low end; choose other ends"
        )
    found.flags.writeable = False
    return Values(
        name=name,
        unit=unit,
        item=0,
        per=per,
        data=found,
        low=least,
        high=most,
        capped=bool(finite.max() > most),
        limits=tuple(limits),
    )


def part_scene(part: Part, values: Sequence[Values] = ()) -> Scene:
    """A part as its file places it, with what its reader found."""
    return Scene(
        title=f"{_words(part.name)}, {numbers.size(part.size_mm)}",
        list_title="Found in the mesh",
        items=(Item(name=_words(part.name), part=part, colour=COLOUR),),
        spots=tuple(_spot(finding, NO_FACETS, 0, (part,)) for finding in part.findings),
        values=tuple(values),
    )


def findings_scene(planned: PartPlan, values: Sequence[Values] = ()) -> Scene:
    """A planned part with every finding about it, its wall thickness and its gaps.

    Args:
        planned: The part.
        values: More numbers on its surface, of ``values_on``.
    """
    part = planned.part
    limit_mm = planned.checks.walls.limit_mm
    surface = planned.checks.surface
    measured = [
        _measured(part, surface, surface.thickness_mm, surface.inside_cap_mm, "wall thickness"),
        _measured(part, surface, surface.gap_mm, surface.outside_cap_mm, "gap to the next face"),
    ]
    kept = [one for one in measured if one is not None]
    if kept and kept[0].low < limit_mm < kept[0].high:
        kept[0] = _with_limit(kept[0], limit_mm)
    return Scene(
        title=f"{_words(planned.name)}, {numbers.size(part.size_mm)}",
        list_title="Findings",
        items=(Item(name=_words(planned.name), part=part, colour=COLOUR),),
        spots=tuple(_spot(mark.finding, mark.facets, 0, (part,)) for mark in planned.marks),
        values=(*kept, *values),
    )


def segments_scene(plan: SegmentPlan) -> Scene:
    """The pieces of a part where they belong, how they move apart, and the steps of assembly."""
    steps = assembly_steps(plan)
    shifts = piece_shifts(plan, steps)
    items = tuple(
        Item(
            name=_piece_name(piece.name.removeprefix(plan.part).strip() or piece.name),
            part=piece.part,
            colour=colour,
            apart_mm=_triple(APART * shifts[piece.name]),
        )
        for piece, colour in zip(plan.pieces, cycle(PIECE_COLOURS), strict=False)
    )
    parts = tuple(piece.part for piece in plan.pieces)
    found = _grave_first(plan.findings)
    return Scene(
        title=f"{_words(plan.part)}, {numbers.count(len(plan.pieces), 'piece')}",
        list_title="Assembly and findings" if found else "Assembly",
        items=items,
        spots=(
            *(_step(plan, step, parts) for step in steps),
            *(_spot(finding, NO_FACETS, -1, parts) for finding in found),
        ),
    )


def device_scene(study: DeviceStudy) -> Scene:
    """The printed parts where they stand, the travel of what moves, and the device's findings."""
    parts = tuple(one.part for one in study.placed)
    size = max(max(part.size_mm) for part in parts) if parts else 1.0
    middle = _middle(parts)
    items = tuple(
        Item(
            name=_words(one.name),
            part=one.part,
            colour=colour,
            clear=one.clear,
            group=one.group if study.motion and one.group in study.motion.poses else "",
            apart_mm=_triple(0.5 * (_centre(one.part) - middle)),
        )
        for one, colour in zip(study.placed, cycle(PIECE_COLOURS), strict=False)
    )
    poses = None
    if study.motion is not None and study.motion.poses:
        poses = Poses(
            name=_lid_name(study), unit="°", at=study.motion.angle_deg, matrices=study.motion.poses
        )
    return Scene(
        title=f"device, {numbers.count(len(items), 'printed part')}",
        list_title="Findings",
        items=items,
        spots=tuple(_spot(finding, NO_FACETS, -1, parts, size) for finding in study.findings),
        poses=poses,
    )


def _lid_name(study: DeviceStudy) -> str:
    """Names of what turns about the hinge."""
    from buildplan.device.chain.shape import HINGE

    names = dict.fromkeys(one.part_name for one in study.placed if one.group == HINGE)
    return _words(", ".join(names)) or "lid"


def _measured(
    part: Part, surface: Surface, sample_mm: NDArray[np.float64], cap_mm: float, name: str
) -> Values | None:
    """Median of the samples on each of the part's facets; None where none is below the cap."""
    home = surface.part_facet[surface.facet]
    order = np.lexsort((sample_mm, home))
    facets, start, count = np.unique(home[order], return_index=True, return_counts=True)
    data = np.full(len(part.facets), np.nan)
    data[facets] = sample_mm[order][start + (count - 1) // 2]
    data[data >= cap_mm * (1.0 - 1e-9)] = cap_mm
    if not (data < cap_mm).any():
        return None
    data.flags.writeable = False
    return Values(
        name=name, unit="mm", item=0, per="facet", data=data, low=0.0, high=cap_mm, capped=True
    )


def _with_limit(values: Values, limit_mm: float) -> Values:
    from dataclasses import replace

    return replace(values, limits=((limit_mm, "thin below"),))


def _spot(
    finding: Finding,
    facets: NDArray[np.int64],
    item: int,
    parts: Sequence[Part],
    size_mm: float | None = None,
) -> Spot:
    where = finding.where
    reach = REACH_FRAC * (size_mm or max((max(p.size_mm) for p in parts), default=1.0))
    box = where.box_mm
    if not box and where.point_mm:
        point = np.asarray(where.point_mm, dtype=np.float64)
        box = (*(point - reach).tolist(), *(point + reach).tolist())
    if not box and len(facets):
        own = parts[item].vertices_mm[parts[item].facets[facets]].reshape(-1, 3)
        box = (*own.min(axis=0).tolist(), *own.max(axis=0).tolist())
    return Spot(
        kind=finding.severity,
        what=finding.what,
        where=where.text,
        more=(f"{finding.measured}; {finding.required}", f"Do: {finding.remedy}"),
        box_mm=box,
        item=item if len(facets) else -1,
        facets=facets,
    )


def _step(plan: SegmentPlan, step: AssemblyStep, parts: Sequence[Part]) -> Spot:
    joint = plan.joints[step.index]
    points = np.array(joint.at_mm, dtype=np.float64).reshape(-1, 3)
    if not len(points):
        middle, normal = _middle(parts), np.array(joint.plane.normal)
        points = (middle + normal * (joint.plane.offset_mm - middle @ normal))[None, :]
    reach = max(joint.spec.size_mm, joint.spec.depth_mm)
    low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
    kind: Kind = "step"
    return Spot(
        kind=kind,
        what=step.text,
        where=joint.plane.words(),
        more=(f"then wait {numbers.num(step.wait_h, 0, 'h')}",) if step.wait_h else (),
        box_mm=(*low.tolist(), *high.tolist()),
        item=-1,
        facets=NO_FACETS,
    )


def _grave_first(findings: Iterable[Finding]) -> list[Finding]:
    return sorted(findings, key=lambda finding: SEVERITIES.index(finding.severity))


def _centre(part: Part) -> NDArray[np.float64]:
    middle: NDArray[np.float64] = (
        part.vertices_mm.min(axis=0) + part.vertices_mm.max(axis=0)
    ) / 2.0
    return middle


def _middle(parts: Sequence[Part]) -> NDArray[np.float64]:
    if not parts:
        return np.zeros(3)
    low = np.min([part.vertices_mm.min(axis=0) for part in parts], axis=0)
    high = np.max([part.vertices_mm.max(axis=0) for part in parts], axis=0)
    middle: NDArray[np.float64] = (low + high) / 2.0
    return middle


def _triple(vector: NDArray[np.float64]) -> tuple[float, float, float]:
    return float(vector[0]), float(vector[1]), float(vector[2])


def _piece_name(name: str) -> str:
    return f"piece {name}" if name.isdigit() else _words(name)


def _words(name: str) -> str:
    return name.replace("_", " ")
