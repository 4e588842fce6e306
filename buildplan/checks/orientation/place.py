"""How a part stands once a direction points up: its rotation, and whether it fits the printer."""

import math

import numpy as np
from numpy.typing import NDArray

from buildplan.tables.printer import Printer

TURNS = 360
"""Angles about z tried over half a turn, and as many again around the best."""

TOLERANCE_MM = 1e-6
"""Overhang that still counts as fitting: rounding, far below any print."""

TIDY_FRAC = 1e-6
"""Boxes around an outline whose areas differ by less count as equal."""

Matrix = NDArray[np.float64]


def turn_up(up: NDArray[np.float64]) -> Matrix:
    """The least rotation that turns a unit vector to +z; about x where it points straight down.

    Source: Rodrigues, O. (1840), with axis up x z: R = I + K + K^2 / (1 + up . z).
    """
    x, y, z = up
    if z < -1.0 + 1e-14:
        return np.diag([1.0, -1.0, -1.0])
    cross = np.array([[0.0, 0.0, -x], [0.0, 0.0, -y], [x, y, 0.0]])
    turn: Matrix = np.eye(3) + cross + cross @ cross / (1.0 + z)
    return turn


def turn_about_z(angle_rad: float) -> Matrix:
    """Rotation about z, counter-clockwise seen from above."""
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def outline_of(xy: NDArray[np.float64]) -> NDArray[np.float64]:
    """Corners of the convex outline of points, counter-clockwise."""
    from scipy.spatial import ConvexHull

    return np.asarray(xy[ConvexHull(xy).vertices], dtype=np.float64)


def fit_turn(vertices: NDArray[np.float64], turn: Matrix, printer: Printer) -> Matrix | None:
    """The rotation, turned further about z where it must be to fit; None where it does not."""
    room = _room(printer)
    turned = turn @ vertices.T
    size = np.ptp(turned, axis=1)
    if size[2] > room[2] + TOLERANCE_MM:
        return None
    if printer.platform == "round":
        return turn if _is_in_circle(turned[:2].T, size, room[0]) else None
    if size[0] <= room[0] + TOLERANCE_MM and size[1] <= room[1] + TOLERANCE_MM:
        return turn
    outline = outline_of(turned[:2].T)
    step = math.pi / TURNS
    angles = np.linspace(0.0, math.pi, TURNS, endpoint=False)
    for _ in range(3):
        width, depth = _box_sizes(outline, angles)
        excess = np.maximum(width - room[0], depth - room[1])
        best = int(np.argmin(excess))
        if excess[best] <= TOLERANCE_MM:
            return turn_about_z(float(angles[best])) @ turn
        angles = angles[best] + step * np.linspace(-1.0, 1.0, TURNS)
        step *= 2.0 / TURNS
    return None


def tidy_turn(vertices: NDArray[np.float64], turn: Matrix, printer: Printer) -> Matrix:
    """The rotation, turned about z so that the part's smallest box lies along the platform.

    One side of the smallest box lies along an edge of the outline (Freeman and Shapira, 1975). Of
    boxes that are as small, the one that needs the least turn wins; where that does not fit, its
    longer side is laid along the platform's longer side, else the rotation stays as it is.
    """
    outline = outline_of((turn[:2] @ vertices.T).T)
    edges = np.roll(outline, -1, axis=0) - outline
    quarter = 0.5 * math.pi
    angles = -np.arctan2(edges[:, 1], edges[:, 0])
    angles -= quarter * np.rint(angles / quarter)
    angles = np.append(angles, 0.0)
    width, depth = _box_sizes(outline, angles)
    area = width * depth
    smallest = np.flatnonzero(area <= area.min() * (1.0 + TIDY_FRAC))
    best = float(angles[smallest[np.argmin(np.abs(angles[smallest]))]])
    for angle in (best, best - math.copysign(quarter, best)):
        tidy = turn_about_z(angle) @ turn
        if _fits_as_it_is(vertices, tidy, printer):
            return tidy
    return turn


def _fits_as_it_is(vertices: NDArray[np.float64], turn: Matrix, printer: Printer) -> bool:
    size = np.ptp(turn @ vertices.T, axis=1)
    if printer.platform == "round":
        return True  # the circle does not mind a turn about z
    return bool(np.all(size <= _room(printer) + TOLERANCE_MM))


def _room(printer: Printer) -> NDArray[np.float64]:
    """Width, depth, height of the build volume less its margins."""
    margin = 2.0 * printer.platform_margin_mm
    return np.array([printer.width_mm - margin, printer.depth_mm - margin, printer.height_mm])


def _is_in_circle(xy: NDArray[np.float64], size: NDArray[np.float64], across_mm: float) -> bool:
    from buildplan.kernels.rotations import least_circle

    if max(size[0], size[1]) > across_mm + TOLERANCE_MM:
        return False
    _, _, radius = least_circle(np.ascontiguousarray(outline_of(xy)))
    return bool(2.0 * radius <= across_mm + TOLERANCE_MM)


def _box_sizes(
    outline: NDArray[np.float64], angles: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Width and depth (k,) of an outline turned by each angle."""
    c, s = np.cos(angles), np.sin(angles)
    width: NDArray[np.float64] = np.ptp(outline @ np.stack([c, -s]), axis=0)
    depth: NDArray[np.float64] = np.ptp(outline @ np.stack([s, c]), axis=0)
    return width, depth
