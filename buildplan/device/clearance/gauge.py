"""Measuring the gap between a fixed and a moved solid: python-fcl where it is there, or manifold3d.

Both give the same number while the solids do not overlap. They differ in two ways that the sweep
levels out. fcl sees surfaces only: a ball inside a block has the distance of the block's surface,
so the sweep asks for the common volume once in every stretch that is found clear. manifold3d looks
no farther than it is told, so its greatest gaps read ">= so much"; fcl's are cut off there too.
"""

from collections.abc import Callable
from dataclasses import dataclass
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

import numpy as np

from buildplan.device.clearance.model import Engine
from buildplan.device.clearance.shape import Vector
from buildplan.device.clearance.solids import Floats, box_solid, mesh_of_solid, vector_of
from buildplan.errors import InputError

if TYPE_CHECKING:
    from manifold3d import Manifold

HALVED_MM = 0.2
"""How small the box round the nearest place is made where the engine gives no points."""


LOOK_FRAC = 3.0
"""How far is looked, in reaches: a gap known beyond the reach spares poses near by."""


FIRST_LOOK_MM = 1.0
"""How far manifold3d looks at first; four times as far each time it finds nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """One fixed solid against one moved solid.

    Attributes:
        gap_mm: Gap at a (3, 4) pose of the moved solid: 0 where the surfaces meet, at most
            LOOK_FRAC reaches.
        near_mm: Middle of the gap at a pose.
    """

    gap_mm: Callable[[Floats], float]
    near_mm: Callable[[Floats], Vector]


def pick_engine(engine: Engine | None) -> Engine:
    """The engine asked for, or fcl where it is installed.

    Raises:
        InputError: It is not known, or fcl is asked for and not installed.
    """
    installed = find_spec("fcl") is not None
    if engine is None:
        return "fcl" if installed else "manifold3d"
    if engine not in ("fcl", "manifold3d") or (engine == "fcl" and not installed):
        raise InputError(
            f"clearance: engine {engine!r} is not to be had; give 'manifold3d', or install "
            "buildplan with its extra 'motion' for 'fcl'"
        )
    return engine


class Bodies:
    """Surfaces made ready for an engine, each once.

    fcl sorts a surface into a tree of boxes; a fixed part meets many movers, and a mover many
    fixed parts.
    """

    def __init__(self, engine: Engine) -> None:
        """Remember the engine."""
        self.engine: Engine = engine
        self._objects: dict[int, tuple[Manifold, Any]] = {}

    def gauge(self, fixed: "Manifold", moved: "Manifold", reach_mm: float) -> Gauge:
        """The gauge of two solids."""
        look_mm = LOOK_FRAC * reach_mm
        if self.engine == "manifold3d":
            return _manifold_gauge(fixed, moved, look_mm)
        return _fcl_gauge(self._object(fixed), self._object(moved), look_mm)

    def _object(self, solid: "Manifold") -> Any:
        import fcl

        known = self._objects.get(id(solid))
        if known is not None:
            return known[1]
        vertices, facets = mesh_of_solid(solid)
        model = fcl.BVHModel()
        model.beginModel(len(vertices), len(facets))
        model.addSubModel(vertices, facets)
        model.endModel()
        made = fcl.CollisionObject(model, fcl.Transform())
        self._objects[id(solid)] = (solid, made)  # the solid is kept, so that its id stays its own
        return made


def _fcl_gauge(fixed: Any, moved: Any, look_mm: float) -> Gauge:
    import fcl

    plain, with_points = fcl.DistanceRequest(), fcl.DistanceRequest(enable_nearest_points=True)

    def measure(pose: Floats, request: Any) -> Any:
        moved.setTransform(fcl.Transform(pose[:, :3], pose[:, 3]))
        result = fcl.DistanceResult()
        fcl.distance(fixed, moved, request, result)
        return result

    def gap(pose: Floats) -> float:
        return min(max(float(measure(pose, plain).min_distance), 0.0), look_mm)

    def near(pose: Floats) -> Vector:
        first, second = measure(pose, with_points).nearest_points
        return vector_of((np.asarray(first) + np.asarray(second)) / 2.0)

    return Gauge(gap_mm=gap, near_mm=near)


def _manifold_gauge(fixed: "Manifold", moved: "Manifold", look_mm: float) -> Gauge:
    bounds = np.asarray(fixed.bounding_box())

    def gap(pose: Floats) -> float:
        placed = moved.transform(pose)
        box = np.asarray(placed.bounding_box())
        apart = np.maximum(np.maximum(bounds[:3] - box[3:], box[:3] - bounds[3:]), 0.0)
        if float(np.linalg.norm(apart)) >= look_mm:
            return look_mm
        # the cost grows with the length searched, and most poses asked for are close
        search = FIRST_LOOK_MM
        while True:
            found = float(placed.min_gap(fixed, min(search, look_mm)))
            if found < search or search >= look_mm:
                return found
            search *= 4.0

    def near(pose: Floats) -> Vector:
        return near_by_halves(fixed, moved.transform(pose), gap(pose))

    return Gauge(gap_mm=gap, near_mm=near)


def near_by_halves(fixed: "Manifold", placed: "Manifold", gap_mm: float) -> Vector:
    """Middle between the smallest boxes of either solid that still have the least gap.

    Args:
        fixed: One solid.
        placed: The other.
        gap_mm: Their gap.
    """
    within = gap_mm * 1.001 + 1e-6
    bounds = np.asarray(placed.bounding_box())
    near = fixed ^ box_solid(bounds[:3] - 2.0 * within, bounds[3:] + 2.0 * within)
    if near.is_empty():
        return vector_of((bounds[:3] + bounds[3:]) / 2.0)
    chip = _nearest_chip(placed, near, within)
    other = _nearest_chip(near, chip, within)
    boxes = [np.asarray(solid.bounding_box()) for solid in (chip, other)]
    middles = [(box[:3] + box[3:]) / 2.0 for box in boxes]
    return vector_of((middles[0] + middles[1]) / 2.0)


def _nearest_chip(solid: "Manifold", other: "Manifold", within: float) -> "Manifold":
    """A solid halved across its longest side until it is small, the nearer half kept."""
    box = np.asarray(solid.bounding_box())
    while float((box[3:] - box[:3]).max()) > HALVED_MM:
        axis = int(np.argmax(box[3:] - box[:3]))
        normal = np.eye(3)[axis]
        middle = float(box[axis] + box[3 + axis]) / 2.0
        halves = [
            half for half in solid.split_by_plane(tuple(normal), middle) if not half.is_empty()
        ]
        gaps = [float(half.min_gap(other, within)) for half in halves]
        solid = halves[int(np.argmin(gaps))]
        smaller = np.asarray(solid.bounding_box())
        if np.array_equal(smaller, box):
            break
        box = smaller
    return solid
