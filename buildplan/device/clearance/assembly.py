"""Will it go together: ways in for every component, and an order by who blocks whom."""

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from buildplan.device.clearance.model import Assembly, Step, WayIn
from buildplan.device.clearance.reach_words import order_findings
from buildplan.device.clearance.shape import ComponentPlace, Vector
from buildplan.device.clearance.solids import box_solid, solids_by_name, unit, vector_of
from buildplan.device.clearance.ways import SIX_WAYS, STEP_MM, Item, two_moves, way_in
from buildplan.errors import InputError
from buildplan.part.model import Part

if TYPE_CHECKING:
    from manifold3d import Manifold


def plan_assembly(
    parts: Sequence[Part],
    components: Sequence[ComponentPlace],
    *,
    goes_on: Mapping[str, Sequence[Vector]] | None = None,
    step_mm: float = STEP_MM,
) -> Assembly:
    """Ways in for each component and each part that is put on, and an order that works.

    A component's box is swept along a direction as one solid, which tests the whole way at once.
    Where what stays blocks every direction, a long and then a short move square to it are tried. A
    part that goes on is tried as a mesh at places ``step_mm`` apart, up to the first that blocks
    it. Then whatever has a way out past what is still there is taken off, until nothing moves;
    backwards, that is the order. Since taking things off never closes a way, no order is missed.

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
    base = tuple(name for name in solids if name not in goes_on)
    ways = {}
    for item in items:
        single = tuple(way_in(item, way, everything, scene, step_mm) for way in item.ways)
        ways[item.name] = single
        if item.is_box and all(_stopped(way, base) for way in single):
            stays = {name: solids[name] for name in base}
            ways[item.name] += two_moves(item, everything, stays, scene)
    order, stuck = _take_apart(ways, base)
    return Assembly(
        base=base,
        ways=tuple(ways.items()),
        order=order,
        stuck=stuck,
        findings=order_findings(order, [(name, ways[name]) for name in stuck], {*base, *stuck}),
    )


def _items(
    solids: "dict[str, Manifold]",
    components: Sequence[ComponentPlace],
    goes_on: Mapping[str, Sequence[Vector]],
) -> list[Item]:
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
        Item(name=name, solid=solids[name], ways=_ways(name, ways), is_box=False)
        for name, ways in goes_on.items()
    ]
    items += [
        Item(
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


def _stopped(way: WayIn, base: Sequence[str]) -> bool:
    return any(blocker.part in base for blocker in way.blockers)


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
                way = free[0]
                taken.append(
                    Step(
                        name=name,
                        direction=way.direction,
                        travel_mm=way.travel_mm,
                        then=way.then,
                        then_mm=way.then_mm,
                    )
                )
                there.remove(name)
                moved = True
                break
    return tuple(reversed(taken)), tuple(there)
