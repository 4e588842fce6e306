"""Where in a cut face a joint has material around it: exact safe regions and places in them.

Everything here is in the frame of the cut plane: z = 0 is the cut, x and y lie in it. Outlines are
shapely polygons, because their offsets never blow up on slivers.
"""

from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from buildplan.segments.solid import checked

if TYPE_CHECKING:
    from manifold3d import CrossSection, Manifold

ROUND = 16
"""Segments of a quarter circle in offsets."""

DEEPER = 1.25
"""Each level of candidate places lies this much further from the edge than the one before."""

LEVELS = 8
STEP_MM = 2.0
"""Distance of neighbouring candidates along a level."""

TOWARD_MIDDLE_MM = 0.01
"""Distance for which a place one level deeper is taken instead: more wall is better."""

RADIUS_SLACK_MM = 0.01
"""How far the largest inscribed circle may be missed."""

NUDGE_MM = 1e-6
"""Sections are taken this much beside the plane, so that a face in it is no question."""


def section_outline(body: "Manifold", z: float) -> Any:
    """The section of a body at a height, as a shapely geometry."""
    return as_outline(body.slice(z))


def as_outline(section: "CrossSection") -> Any:
    """A section as a shapely geometry: each body with its holes."""
    import shapely

    bodies = []
    for body in section.decompose():
        rings = [np.asarray(ring) for ring in body.to_polygons() if len(ring) >= 3]
        if rings:
            outer = max(rings, key=_ring_area)
            holes = [ring for ring in rings if ring is not outer]
            bodies.append(shapely.Polygon(outer, holes))
    return shapely.make_valid(shapely.union_all(bodies)) if bodies else shapely.Polygon()


def as_section(outline: Any) -> "CrossSection":
    """A shapely geometry as a section that can be extruded."""
    from manifold3d import CrossSection, FillRule

    rings = [
        np.asarray(ring.coords)[:-1]
        for polygon in polygons_of(outline)
        for ring in chain([polygon.exterior], polygon.interiors)
    ]
    if not rings:
        return CrossSection()
    return CrossSection(rings, FillRule.EvenOdd)


def polygons_of(outline: Any) -> list[Any]:
    """The polygons of a geometry, lines and points left out."""
    import shapely

    return [p for p in shapely.get_parts(outline) if p.geom_type == "Polygon" and p.area > 0.0]


def safe_outline(body: "Manifold", below_mm: float, above_mm: float) -> Any:
    """Points of the cut plane over which the body is solid from -below_mm to above_mm.

    Exact: what is missing from a slab of that height is projected onto the plane and taken away, so
    no feature between two sampled heights can be overlooked.

    Args:
        body: In the frame of the plane.
        below_mm: Depth under the plane.
        above_mm: Height over it.
    """
    from manifold3d import CrossSection, FillRule, Manifold

    x0, y0, _, x1, y1, _ = body.bounding_box()
    size = (x1 - x0 + 2.0, y1 - y0 + 2.0)
    slab = Manifold.cube((*size, below_mm + above_mm)).translate((x0 - 1.0, y0 - 1.0, -below_mm))
    missing = checked(slab - body, "joint")
    unsafe = CrossSection(missing.project().to_polygons(), FillRule.Positive)
    return as_outline(CrossSection.square(size).translate((x0 - 1.0, y0 - 1.0)) - unsafe)


def shrink(outline: Any, by_mm: float) -> Any:
    """The outline offset inward (outward where negative), corners rounded."""
    return outline.buffer(-by_mm, quad_segs=ROUND)


def opened(outline: Any, by_mm: float) -> Any:
    """The outline without what is narrower than twice by_mm."""
    return shrink(shrink(outline, by_mm), -by_mm)


def inscribed_radius(outline: Any) -> float:
    """Radius of the largest circle inside an outline; 0 where it is empty."""
    import shapely

    radii = [
        shapely.maximum_inscribed_circle(polygon, tolerance=RADIUS_SLACK_MM).length
        for polygon in polygons_of(outline)
        if polygon.area > 0.0
    ]
    return float(max(radii, default=0.0))


def place_points(
    outline: Any, keep_mm: float, count: int, spacing_mm: float
) -> NDArray[np.float64]:
    """Up to ``count`` points at least keep_mm inside an outline and spacing_mm apart: (n, 2).

    Candidates lie on ever deeper offsets of the outline; the first point is the one farthest from
    their middle, each further one the farthest from all before it.
    """
    levels = []
    depth = keep_mm
    for _ in range(LEVELS):
        points = _along(shrink(outline, depth))
        if not len(points):
            break
        levels.append(points)
        depth *= DEEPER
    if not levels:
        return np.zeros((0, 2))
    points = np.concatenate(levels)
    bonus = TOWARD_MIDDLE_MM * np.repeat(np.arange(len(levels)), [len(level) for level in levels])
    middle = points.mean(axis=0)
    chosen = [int(np.argmax(np.round(np.hypot(*(points - middle).T), 6)))]
    near = np.hypot(*(points - points[chosen[0]]).T)
    while len(chosen) < count:
        best = int(np.argmax(np.round(near + bonus, 6)))
        if near[best] < spacing_mm:
            break
        chosen.append(best)
        near = np.minimum(near, np.hypot(*(points - points[best]).T))
    return points[chosen]


def _along(outline: Any) -> NDArray[np.float64]:
    """Points along all rings of an outline, about STEP_MM apart: (n, 2)."""
    import shapely

    found = []
    for polygon in polygons_of(outline):
        for ring in chain([polygon.exterior], polygon.interiors):
            steps = max(1, int(ring.length / STEP_MM))
            places = np.arange(steps) * (ring.length / steps)
            found.append(shapely.get_coordinates(shapely.line_interpolate_point(ring, places)))
    return np.concatenate(found) if found else np.zeros((0, 2))


def _ring_area(ring: NDArray[np.float64]) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return abs(float(x @ np.roll(y, -1) - np.roll(x, -1) @ y)) / 2.0
