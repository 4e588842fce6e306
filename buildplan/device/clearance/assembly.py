"""Will it go together: ways in for every component, and an order by who blocks whom."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from buildplan.device.clearance.access import blocker_in
from buildplan.device.clearance.model import Assembly, Blocker, Step, WayIn
from buildplan.device.clearance.reach_words import order_findings
from buildplan.device.clearance.shape import ComponentPlace, Vector
from buildplan.device.clearance.solids import (
    Floats,
    box_solid,
    middle_of,
    solids_by_name,
    unit,
    vector_of,
)
from buildplan.errors import InputError
from buildplan.part.model import Part

if TYPE_CHECKING:
    from manifold3d import Manifold

SIX_WAYS: tuple[Vector, ...] = (
    (0.0, 0.0, -1.0),
    (0.0, 0.0, 1.0),
    (1.0, 0.0, 0.0),
    (-1.0, 0.0, 0.0),
    (0.0, 1.0, 0.0),
    (0.0, -1.0, 0.0),
)
"""Directions of motion tried where none is given; from above first."""

STEP_MM = 2.0
"""Distance between the places at which a mesh is tried on its way in."""

RUB_MM3 = 1.0
"""Overlap of two meshes on the way that counts as rubbing, not blocking."""

OUTSIDE_MM = 1.0
"""How far outside everything a way begins."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Item:
    """Something that goes in: a box or a mesh, in place, with the directions to try."""

    name: str
    solid: "Manifold"
    ways: tuple[Vector, ...]
    is_box: bool


def plan_assembly(
    parts: Sequence[Part],
    components: Sequence[ComponentPlace],
    *,
    goes_on: Mapping[str, Sequence[Vector]] | None = None,
    step_mm: float = STEP_MM,
) -> Assembly:
    """Ways in for each component and each part that is put on, and an order that works.

    A component's box is swept along a direction as one solid, which tests the whole way at once. A
    part that goes on is tried as a mesh at places ``step_mm`` apart. Then whatever has a way out
    past what is still there is taken off, until nothing moves; backwards, that is the order. Since
    taking things off never closes a way, no order is missed.

    Args:
        parts: Printed parts, placed in the device.
        components: Bought components as boxes; each with directions, or all six axes are tried.
        goes_on: Names of parts that are put on, with directions to try (empty: all six axes); all
            other parts stay where they are.
        step_mm: As above.

    Raises:
        InputError: A name is not known or given twice, a direction has no length, a box is empty,
            its slack takes it whole, or the step is not above 0.
        MeshError: A part is no closed solid.

    Source: disassembly by single translations (Wilson and Latombe, "Geometric reasoning about
        mechanical assembly", 1994).
    """
    if not (math.isfinite(step_mm) and step_mm > 0.0):
        raise InputError(f"assembly: a step of {step_mm:g} mm found, more than 0 is needed")
    goes_on = goes_on or {}
    solids = solids_by_name(parts, role="printed")
    items = _items(solids, components, goes_on)
    everything = {**solids, **{item.name: item.solid for item in items}}
    bounds = np.array([solid.bounding_box() for solid in everything.values()])
    scene = np.concatenate([bounds[:, :3].min(axis=0), bounds[:, 3:].max(axis=0)])
    ways = {
        item.name: tuple(_way_in(item, way, everything, scene, step_mm) for way in item.ways)
        for item in items
    }
    order, stuck = _take_apart(ways, [name for name in solids if name not in goes_on])
    return Assembly(
        base=tuple(name for name in solids if name not in goes_on),
        ways=tuple(ways.items()),
        order=order,
        stuck=stuck,
        findings=order_findings(order, [(name, ways[name]) for name in stuck]),
    )


def _items(
    solids: "dict[str, Manifold]",
    components: Sequence[ComponentPlace],
    goes_on: Mapping[str, Sequence[Vector]],
) -> list[_Item]:
    names = [*solids, *(component.name for component in components)]
    twice = sorted({name for name in names if names.count(name) > 1})
    unknown = [name for name in goes_on if name not in solids]
    if twice or unknown:
        fault = f"{twice[0]!r} is used twice" if twice else f"{unknown[0]!r} is no part"
        raise InputError(
            f"assembly: {fault}; parts are {', '.join(solids)}: give every part and component a "
            "name of its own"
        )
    items = [
        _Item(name=name, solid=solids[name], ways=_ways(name, ways), is_box=False)
        for name, ways in goes_on.items()
    ]
    items += [
        _Item(
            name=component.name,
            solid=_box_of(component),
            ways=_ways(component.name, component.ways_in),
            is_box=True,
        )
        for component in components
    ]
    return items


def _ways(name: str, ways: Sequence[Vector]) -> tuple[Vector, ...]:
    return tuple(vector_of(unit(f"{name}: way in", way)) for way in ways or SIX_WAYS)


def _box_of(component: ComponentPlace) -> "Manifold":
    box = np.asarray(component.box_mm, dtype=np.float64)
    size = box[3:] - box[:3]
    if not np.isfinite(box).all() or (size <= 2.0 * component.slack_mm).any():
        raise InputError(
            f"component {component.name}: its box is {size[0]:g} x {size[1]:g} x {size[2]:g} mm, "
            f"each side must be above twice the slack of {component.slack_mm:g} mm; give "
            "(x0, y0, z0, x1, y1, z1) with rising corners"
        )
    return box_solid(box[:3] + component.slack_mm, box[3:] - component.slack_mm)


def _way_in(
    item: _Item,
    direction: Vector,
    everything: "dict[str, Manifold]",
    scene: Floats,
    step_mm: float,
) -> WayIn:
    """What an item meets on its way in along a direction, with everything else in place."""
    out = -np.asarray(direction, dtype=np.float64)
    far = float(np.where(out > 0.0, scene[3:], scene[:3]) @ out)
    own = np.asarray(item.solid.bounding_box())
    near = float(np.where(out > 0.0, own[:3], own[3:]) @ out)
    travel = far - near + OUTSIDE_MM
    others = {name: solid for name, solid in everything.items() if name != item.name}
    seat_face = float(np.where(out > 0.0, own[3:], own[:3]) @ out)  # its outermost point at home
    if item.is_box:
        blockers = _box_blockers(item, others, out, travel, seat_face)
    else:
        blockers = _mesh_blockers(item, others, out, travel, step_mm)
    return WayIn(
        direction=direction,
        travel_mm=travel,
        blockers=tuple(sorted(blockers, key=lambda blocker: -blocker.overlap_mm3)),
        step_mm=0.0 if item.is_box else step_mm,
    )


def _box_blockers(
    item: _Item, others: "dict[str, Manifold]", out: Floats, travel: float, face: float
) -> list[Blocker]:
    from manifold3d import Manifold

    way = Manifold.batch_hull([item.solid, item.solid.translate(tuple(travel * out))])
    found = [blocker_in(way, name, solid, face * out, out) for name, solid in others.items()]
    return [blocker for blocker in found if blocker is not None]


def _mesh_blockers(
    item: _Item, others: "dict[str, Manifold]", out: Floats, travel: float, step: float
) -> list[Blocker]:
    own = np.asarray(item.solid.bounding_box())
    reach = np.concatenate(
        [np.minimum(own[:3], own[:3] + travel * out), np.maximum(own[3:], own[3:] + travel * out)]
    )
    places = np.arange(step, travel + step, step)
    found = []
    for name, solid in others.items():
        box = np.asarray(solid.bounding_box())
        if (box[:3] >= reach[3:]).any() or (box[3:] <= reach[:3]).any():
            continue
        worst: Blocker | None = None
        for place in places:
            shift = place * out
            if (box[:3] >= own[3:] + shift).any() or (box[3:] <= own[:3] + shift).any():
                continue
            common = item.solid.translate(tuple(shift)) ^ solid
            overlap = float(common.volume())
            if overlap > RUB_MM3 and (worst is None or overlap > worst.overlap_mm3):
                worst = Blocker(
                    part=name,
                    overlap_mm3=overlap,
                    after_mm=float(place) if worst is None else worst.after_mm,
                    place_mm=middle_of(common),
                )
        if worst is not None:
            found.append(worst)
    return found


def _take_apart(
    ways: Mapping[str, Sequence[WayIn]], base: Sequence[str]
) -> tuple[tuple[Step, ...], tuple[str, ...]]:
    """The order of assembly, and what no order puts in; what is given first goes in first."""
    there, taken = [*ways], []
    moved = True
    while moved:
        moved = False
        for name in reversed(there):
            present = {*base, *there} - {name}
            free = [
                way
                for way in ways[name]
                if not any(blocker.part in present for blocker in way.blockers)
            ]
            if free:
                taken.append(
                    Step(name=name, direction=free[0].direction, travel_mm=free[0].travel_mm)
                )
                there.remove(name)
                moved = True
                break
    return tuple(reversed(taken)), tuple(there)
