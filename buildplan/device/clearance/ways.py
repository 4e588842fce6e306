"""The ways in which a component or a part can go in, and what stands in each of them."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from buildplan.device.clearance.access import WAY_MM3, blocker_in
from buildplan.device.clearance.model import Blocker, WayIn
from buildplan.device.clearance.shape import Vector
from buildplan.device.clearance.solids import Floats, box_solid, middle_of, vector_of

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

SECOND_MOVES_MM = (5.0, 10.0, 20.0, 40.0)
"""Lengths tried for a short second move, on to bosses or into a socket."""

SQUARE_FRAC = 0.1
"""Two moves whose directions' product is above this are too much alike to try together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """Something that goes in: a box or a mesh, in place, with the directions to try."""

    name: str
    solid: "Manifold"
    ways: tuple[Vector, ...]
    is_box: bool


def way_in(
    item: Item,
    direction: Vector,
    everything: "dict[str, Manifold]",
    scene: Floats,
    step_mm: float,
) -> WayIn:
    """What an item meets on its way in along a direction, with everything else in place."""
    out = -np.asarray(direction, dtype=np.float64)
    travel = travel_out(item.solid, out, scene)
    others = {name: solid for name, solid in everything.items() if name != item.name}
    if item.is_box:
        blockers = _box_blockers(item, others, out, travel)
    else:
        blockers = _mesh_blockers(item, others, out, travel, step_mm)
    return WayIn(
        direction=direction,
        travel_mm=travel,
        blockers=worst_first(blockers),
        step_mm=0.0 if item.is_box else step_mm,
    )


def _box_blockers(
    item: Item, others: "dict[str, Manifold]", out: Floats, travel: float
) -> list[Blocker]:
    from manifold3d import Manifold

    way = Manifold.batch_hull([item.solid, item.solid.translate(tuple(travel * out))])
    face = _face(item.solid, out) * out
    found = [blocker_in(way, name, solid, face, out) for name, solid in others.items()]
    return [blocker for blocker in found if blocker is not None]


def _mesh_blockers(
    item: Item, others: "dict[str, Manifold]", out: Floats, travel: float, step: float
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
        near = solid ^ box_solid(reach[:3], reach[3:])
        for place in places:
            shift = place * out
            if (box[:3] >= own[3:] + shift).any() or (box[3:] <= own[:3] + shift).any():
                continue
            common = item.solid.translate(tuple(shift)) ^ near
            overlap = float(common.volume())
            if overlap > RUB_MM3:
                found.append(
                    Blocker(
                        part=name,
                        overlap_mm3=overlap,
                        after_mm=float(place),
                        place_mm=middle_of(common),
                    )
                )
                break
    return found


def two_moves(
    item: Item,
    everything: "dict[str, Manifold]",
    base: "dict[str, Manifold]",
    scene: Floats,
) -> tuple[WayIn, ...]:
    """Ways in by a long and then a short move, square to it, that nothing of the base blocks.

    The shortest second move first. Whatever is not of the base may still stand in them.
    """
    from manifold3d import Manifold

    others = {name: solid for name, solid in everything.items() if name != item.name}
    found = []
    for length in SECOND_MOVES_MM:
        for last in item.ways:
            shift = -length * np.asarray(last, dtype=np.float64)
            off = item.solid.translate(tuple(shift))
            short = Manifold.batch_hull([item.solid, off])
            if _meets(short, base):
                continue
            for first in (*item.ways, *(way for way in SIX_WAYS if way not in item.ways)):
                if abs(float(np.dot(first, last))) > SQUARE_FRAC:
                    continue
                out = -np.asarray(first, dtype=np.float64)
                travel = travel_out(off, out, scene)
                long = Manifold.batch_hull([off, off.translate(tuple(travel * out))])
                if _meets(long, base):
                    continue
                both = short + long
                blockers = [
                    blocker_in(both, name, solid, _face(off, out) * out, out)
                    for name, solid in others.items()
                ]
                found.append(
                    WayIn(
                        direction=vector_of(first),
                        travel_mm=travel,
                        blockers=worst_first([b for b in blockers if b is not None]),
                        step_mm=0.0,
                        then=last,
                        then_mm=length,
                    )
                )
    return tuple(found)


def travel_out(solid: "Manifold", out: Floats, scene: Floats) -> float:
    """How far a solid must go along a direction to be outside of everything."""
    own = np.asarray(solid.bounding_box())
    far = float(np.where(out > 0.0, scene[3:], scene[:3]) @ out)
    return max(far - float(np.where(out > 0.0, own[:3], own[3:]) @ out), 0.0) + OUTSIDE_MM


def _face(solid: "Manifold", out: Floats) -> float:
    """How far a solid reaches along a direction."""
    own = np.asarray(solid.bounding_box())
    return float(np.where(out > 0.0, own[3:], own[:3]) @ out)


def _meets(way: "Manifold", solids: "dict[str, Manifold]") -> bool:
    return any(float((way ^ solid).volume()) > WAY_MM3 for solid in solids.values())


def worst_first(blockers: list[Blocker]) -> tuple[Blocker, ...]:
    """Blockers by falling overlap."""
    return tuple(sorted(blockers, key=lambda blocker: -blocker.overlap_mm3))
