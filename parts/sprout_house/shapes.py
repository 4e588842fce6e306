"""Small vocabulary for drawing with manifold3d: sections, sweeps, boxes, patterns.

Every arc has its number of corners written out, so that nothing depends on a global setting.
"""

from collections.abc import Iterable, Sequence
from typing import TypeAlias

import numpy as np
from manifold3d import CrossSection, JoinType, Manifold, OpType
from numpy.typing import NDArray

ROUND = 40
"""Corners of a full circle."""

Span: TypeAlias = Sequence[float] | NDArray[np.float64]
"""Two numbers: a range along one axis (from, to), or a point of a section."""
Matrix: TypeAlias = NDArray[np.float64]


def box(x: Span, y: Span, z: Span) -> Manifold:
    """Box that fills three ranges."""
    size = (x[1] - x[0], y[1] - y[0], z[1] - z[0])
    return Manifold.cube(size).translate((x[0], y[0], z[0]))


def along_x(section: CrossSection, x: Span) -> Manifold:
    """Section drawn in (y, z), swept over a range of x."""
    turned = np.array([[0.0, 0.0, 1.0, x[0]], [1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]])
    return section.extrude(x[1] - x[0]).transform(turned)


def along_y(section: CrossSection, y: Span) -> Manifold:
    """Section drawn in (x, z), swept over a range of y."""
    return section.extrude(y[1] - y[0]).rotate((90.0, 0.0, 0.0)).translate((0.0, y[1], 0.0))


def along_z(section: CrossSection, z: Span) -> Manifold:
    """Section drawn in (x, y), swept over a range of z."""
    return section.extrude(z[1] - z[0]).translate((0.0, 0.0, z[0]))


def disc(at: Span, radius: float) -> CrossSection:
    """Circle around a point."""
    return CrossSection.circle(radius, ROUND).translate((float(at[0]), float(at[1])))


def cone(height: float, radius_low: float, radius_high: float) -> Manifold:
    """Cone or cylinder that stands on z = 0."""
    return Manifold.cylinder(height, radius_low, radius_high, ROUND)


def polygon(*points: Span) -> CrossSection:
    """Polygon through points, counter-clockwise."""
    return CrossSection([np.array(points, dtype=float)])


def bar(start: Span, end: Span, radius: float, end_radius: float | None = None) -> CrossSection:
    """Bar with round ends, tapered when the end radius differs."""
    ends = [disc(start, radius), disc(end, radius if end_radius is None else end_radius)]
    return CrossSection.batch_hull(ends)


def round_rectangle(x: Span, y: Span, radius: float) -> CrossSection:
    """Rectangle that fills two ranges, with rounded corners."""
    inner = (x[1] - x[0] - 2 * radius, y[1] - y[0] - 2 * radius)
    core = CrossSection.square(inner).translate((x[0] + radius, y[0] + radius))
    return core.offset(radius, JoinType.Round, circular_segments=ROUND)


def join(parts: Iterable[Manifold]) -> Manifold:
    """Union of solids."""
    return Manifold.batch_boolean(list(parts), OpType.Add)


def hole_pattern(centre: Span, holes: Span) -> list[tuple[float, float]]:
    """The four holes of a board: corners of a rectangle around a centre."""
    half_wide, half_high = holes[0] / 2, holes[1] / 2
    return [
        (centre[0] + i * half_wide, centre[1] + k * half_high) for i in (-1, 1) for k in (-1, 1)
    ]


def turn_about_x(angle_rad: float, about: Span) -> Matrix:
    """4x4 turn around the line along +x through a point in (y, z)."""
    cosine, sine = np.cos(angle_rad), np.sin(angle_rad)
    matrix = np.eye(4)
    matrix[1:3, 1:3] = [[cosine, -sine], [sine, cosine]]
    matrix[1:3, 3] = np.asarray(about) - matrix[1:3, 1:3] @ np.asarray(about)
    return matrix
