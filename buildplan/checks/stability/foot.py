"""What touches the platform, and the centre of mass of a part while it grows."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import NO_FACETS
from buildplan.errors import InputError
from buildplan.part.model import Part
from buildplan.process.layers import Layers

TOUCH_LAYERS = 0.5
"""A facet whose corners all lie within so many layers of the lowest point touches the platform."""

SUPPORT_STEPS = 48
"""Heights at which supports are added to the outline."""

LEAN_SLACK = 1e-3
"""A face that leans exactly as far as allowed needs no support."""

FLAT_LAYERS = 0.05
"""A facet this near the lowest point lies flat on the platform (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Foot:
    """What touches the platform, in the frame of the layers.

    Attributes:
        pieces: (n,) polygons of the first layer; whole is their union.
        facets: Facets that look down within half a layer of the lowest point.
        touching_mm2: Their plan area; flat_mm2 of those that lie flat.
    """

    layers: Layers
    pieces: NDArray[Any]
    whole: Any
    facets: NDArray[np.int64]
    touching_mm2: float
    flat_mm2: float

    def grown(self, reach_mm: float) -> Any:
        """The contact with a margin of beads that reaches out so far."""
        import shapely

        return shapely.union_all(shapely.buffer(self.pieces, reach_mm)) if reach_mm else self.whole


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """Centre of mass of the part printed so far: (n,) heights, (n, 3) centres."""

    z_mm: NDArray[np.float64]
    centre_mm: NDArray[np.float64]


def find_foot(part: Part, layers: Layers) -> Foot:
    """The first layer of a part, piece by piece, and its facets near the platform.

    Raises:
        InputError: No layer has a section.
    """
    import shapely

    there = np.flatnonzero(np.diff(layers.layer_off))  # the point of a needle may have no section
    if not len(there):
        raise InputError(
            f"no layer of {part.name!r} has a section, at {layers.layer_mm:g} mm a layer and "
            f"{layers.height_mm:g} mm of height; take thinner layers or check the part"
        )
    shapes = [
        shapely.make_valid(shapely.Polygon(rings[0], rings[1:]))
        for rings in _rings_of_layer(layers, int(there[0]))
        if len(rings[0]) >= 3
    ]
    pieces = np.array([shape for shape in shapes if shape.area > 0.0], dtype=object)
    touching, touching_mm2 = _touching(part, TOUCH_LAYERS * layers.layer_mm)
    _, flat_mm2 = _touching(part, FLAT_LAYERS * layers.layer_mm)
    return Foot(
        layers=layers,
        pieces=pieces,
        whole=shapely.union_all(pieces),
        facets=touching,
        touching_mm2=touching_mm2,
        flat_mm2=flat_mm2,
    )


def _rings_of_layer(layers: Layers, layer: int) -> list[list[NDArray[np.float64]]]:
    """Islands of one layer, each as its rings."""
    islands = range(int(layers.layer_off[layer]), int(layers.layer_off[layer + 1]))
    return [
        [
            layers.xy_mm[layers.ring_off[ring] : layers.ring_off[ring + 1]]
            for ring in range(int(layers.island_off[island]), int(layers.island_off[island + 1]))
        ]
        for island in islands
    ]


def _touching(part: Part, within_mm: float) -> tuple[NDArray[np.int64], float]:
    """Facets that look down within a height of the lowest point, and their united plan area."""
    import shapely

    z = part.vertices_mm[:, 2]
    low = z <= z.min() + within_mm
    numbers = np.flatnonzero(low[part.facets].all(axis=1))
    plan = part.vertices_mm[part.facets[numbers]][:, :, :2]
    a, b = plan[:, 1] - plan[:, 0], plan[:, 2] - plan[:, 0]
    down = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] < 0.0
    numbers, plan = numbers[down], plan[down]
    numbers.flags.writeable = False
    if not len(numbers):
        return NO_FACETS, 0.0
    return numbers, float(shapely.union_all(shapely.polygons(plan)).area)


def grow(layers: Layers) -> Growth:
    """Centre of mass of the layers from the platform up to each of them.

    Section centroids by Green's theorem over the rings, holes counted negative; a layer weighs its
    true area times its thickness.
    """
    xy, off = layers.xy_mm, layers.ring_off
    onward = np.arange(len(xy)) + 1
    onward[off[1:] - 1] = off[:-1]
    x0, y0 = xy[:, 0], xy[:, 1]
    x1, y1 = x0[onward], y0[onward]
    cross = x0 * y1 - x1 * y0
    point_at = off[layers.island_off[layers.layer_off]]

    def per_layer(values: NDArray[np.float64]) -> NDArray[np.float64]:
        total = np.concatenate(([0.0], np.cumsum(values)))
        return total[point_at[1:]] - total[point_at[:-1]]

    double = per_layer(cross)
    safe = np.where(np.abs(double) > 1e-12, double, 1.0)
    centroid_x = per_layer((x0 + x1) * cross) / (3.0 * safe)
    centroid_y = per_layer((y0 + y1) * cross) / (3.0 * safe)
    mass = np.where(np.abs(double) > 1e-12, layers.area_mm2 * layers.thickness_mm, 0.0)
    moments = np.stack([mass * centroid_x, mass * centroid_y, mass * layers.z_mm], axis=1)
    so_far = np.cumsum(mass)
    there = so_far > 0.0
    centre = np.cumsum(moments, axis=0)[there] / so_far[there, None]
    return Growth(z_mm=np.cumsum(layers.thickness_mm)[there], centre_mm=centre)


def tip_margins(base: Any, xy: NDArray[np.float64]) -> NDArray[np.float64]:
    """Signed distance (n,) of points to the edge of a convex outline, positive inside."""
    import shapely

    if base.geom_type != "Polygon" or base.is_empty:
        return (
            np.full(len(xy), 0.0) if base.is_empty else -shapely.distance(base, shapely.points(xy))
        )
    points = shapely.points(xy)
    away: NDArray[np.float64] = shapely.distance(base.exterior, points)
    return np.where(shapely.covers(base, points), away, -away)


def tip_with_supports(part: Part, foot: Foot, growth: Growth, overhang_limit_deg: float) -> float:
    """The least tip angle over all heights where supports stand under every overhang so far.

    An overhang is a facet that leans further than the limit: -n_z > sin(limit). Its plan widens the
    outline once the part has grown up to it. Supports that land on the part count as well, so this
    is the most that supports can do. Heights are taken in SUPPORT_STEPS steps.
    """
    import shapely

    corners = part.vertices_mm[part.facets] - np.array(foot.layers.origin_mm)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    steep = -normal[:, 2] > np.linalg.norm(normal, axis=1) * (
        math.sin(math.radians(overhang_limit_deg)) + LEAN_SLACK
    )
    corners = corners[steep]
    low = corners[:, :, 2].min(axis=1)
    order = np.argsort(low, kind="stable")
    low, corners = low[order], corners[order]
    base, at, least = foot.whole.convex_hull, 0, math.inf
    for rows in np.array_split(np.arange(len(growth.z_mm)), SUPPORT_STEPS):
        if not len(rows):
            continue
        upto = int(np.searchsorted(low, growth.z_mm[rows[-1]], side="right"))
        if upto > at:
            under = shapely.multipoints(corners[at:upto, :, :2].reshape(-1, 2))
            base, at = shapely.union(base, under.convex_hull).convex_hull, upto
        margins = tip_margins(base, growth.centre_mm[rows, :2])
        least = min(least, float(np.arctan2(margins, growth.centre_mm[rows, 2]).min()))
    return math.degrees(least)
