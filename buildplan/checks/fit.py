"""Fit: does the part go into the build volume, as placed, turned about z, or in any rotation."""

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.errors import InputError
from buildplan.findings import Finding, Place
from buildplan.part.model import Part
from buildplan.tables.printer import Printer

How = Literal["as placed", "turned about z", "any rotation", "not found"]

TOLERANCE_MM = 1e-6
"""Overhang that still counts as fitting: rounding, far below any print."""

TURNS = 360
"""Angles tried over half a turn about z, every half degree."""

UP_DIRECTIONS = 2000
"""Directions of the part tried as "up", spread over half the sphere; the three axes come on top."""

UP_TURNS = 90
"""Angles tried about each of them, every two degrees over half a turn."""

POLISHED = 12
"""Rotations of the grid that are polished."""

SEARCH_POINTS = 1000
"""The search works on the outermost vertices in so many directions; what it finds is checked on
all of them."""

REACH_RAD = 0.02
"""The last polish works on the vertices that can come to the outside within such a rotation."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Whether and how a part fits a printer.

    Attributes:
        how: The least turning that was found to work.
        slack_mm: (x, y, z) room left in the build volume less its margins, in the placing found
            (the best one, where none fits); negative where it lacks. On a round platform x and y
            are the diameter's slack.
        matrix: 16 numbers, row by row, that move the part as its file has it into the build volume
            whose corner (or, on a round platform, whose axis) is the origin; empty for "not found".
        excess_mm: 0 where it fits, else the least overhang found over the worst axis.
        findings: A stop where it does not fit, a note where it must be turned.
    """

    part: str
    printer: str
    fits: bool
    how: How
    slack_mm: tuple[float, float, float]
    matrix: tuple[float, ...]
    excess_mm: float
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Room:
    """The build volume less its margins. On a round platform width and depth are the diameter."""

    is_round: bool
    width_mm: float
    depth_mm: float
    height_mm: float
    margin_mm: float

    def as_array(self) -> NDArray[np.float64]:
        """Width, depth, height for the kernels: a negative depth marks the cylinder."""
        depth_mm = -1.0 if self.is_round else self.depth_mm
        return np.array([self.width_mm, depth_mm, self.height_mm])

    def words(self) -> str:
        if self.is_round:
            return f"{self.width_mm:g} mm across x {self.height_mm:g} mm tall"
        return f"{self.width_mm:g} x {self.depth_mm:g} x {self.height_mm:g} mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placing:
    """A rotation, what it needs, and the part's middle (or its circle's) after it."""

    turn: NDArray[np.float64]
    size_mm: tuple[float, float, float]
    middle_mm: tuple[float, float]
    bottom_mm: float
    slack_mm: tuple[float, float, float]

    @property
    def excess_mm(self) -> float:
        return -min(self.slack_mm)


def check_fit(part: Part, printer: Printer) -> Fit:
    """Whether the part fits the printer's build volume, with the least turning that makes it fit.

    Tried in this order: as placed (moved, not turned); turned about z; any rotation. Every yes is
    checked again on all vertices and carries its matrix. A no of the last search is no proof: it
    says that none of 2003 x 90 rotations, the best 12 of them polished, was found to fit.

    Raises:
        InputError: The platform margin leaves no room.
    """
    room = _room(printer)
    vertices = part.vertices_mm
    placed = _place(vertices, np.eye(3), room)
    if placed.excess_mm <= TOLERANCE_MM:
        return _result(part, printer, room, placed, "as placed")
    if not room.is_round and placed.slack_mm[2] >= -TOLERANCE_MM:
        turned = _place(vertices, _best_turn_about_z(vertices, room), room)
        if turned.excess_mm <= TOLERANCE_MM:
            return _result(part, printer, room, turned, "turned about z", as_placed=placed)
    best = _place(vertices, _best_rotation(vertices, room), room)
    if best.excess_mm <= TOLERANCE_MM:
        return _result(part, printer, room, best, "any rotation", as_placed=placed)
    return _result(part, printer, room, best, "not found", as_placed=placed)


def fits_upright(part: Part, printer: Printer) -> bool:
    """Whether the part fits as placed or turned about z: its layers stay as they are.

    Raises:
        InputError: The platform margin leaves no room.
    """
    room = _room(printer)
    placed = _place(part.vertices_mm, np.eye(3), room)
    if placed.excess_mm <= TOLERANCE_MM:
        return True
    if room.is_round or placed.slack_mm[2] < -TOLERANCE_MM:
        return False
    turn = _best_turn_about_z(part.vertices_mm, room)
    return _place(part.vertices_mm, turn, room).excess_mm <= TOLERANCE_MM


def _room(printer: Printer) -> _Room:
    margin = printer.platform_margin_mm
    room = _Room(
        is_round=printer.platform == "round",
        width_mm=printer.width_mm - 2.0 * margin,
        depth_mm=printer.depth_mm - 2.0 * margin,
        height_mm=printer.height_mm,
        margin_mm=margin,
    )
    if min(room.width_mm, room.depth_mm, room.height_mm) <= 0.0:
        raise InputError(
            f"printer {printer.name!r} has no room left: {printer.width_mm:g} x "
            f"{printer.depth_mm:g} x {printer.height_mm:g} mm less a platform_margin_mm of "
            f"{margin:g} on every side; the margin must be less than half the platform"
        )
    return room


def _place(vertices: NDArray[np.float64], turn: NDArray[np.float64], room: _Room) -> _Placing:
    """What all vertices need after a rotation."""
    turned = vertices @ turn.T
    low = turned.min(axis=0)
    high = turned.max(axis=0)
    size = high - low
    middle = 0.5 * (low + high)
    if room.is_round:
        from buildplan.kernels.rotations import least_circle

        x, y, radius = least_circle(_outline(turned[:, :2]))
        middle[:2] = (x, y)
        size[:2] = 2.0 * radius
    return _Placing(
        turn=turn,
        size_mm=(float(size[0]), float(size[1]), float(size[2])),
        middle_mm=(float(middle[0]), float(middle[1])),
        bottom_mm=float(low[2]),
        slack_mm=(
            float(room.width_mm - size[0]),
            float(room.depth_mm - size[1]),
            float(room.height_mm - size[2]),
        ),
    )


def _outline(xy: NDArray[np.float64]) -> NDArray[np.float64]:
    """Corners of the convex outline, or all points where they lie on a line."""
    from scipy.spatial import ConvexHull, QhullError

    try:
        corners = ConvexHull(xy).vertices
    except QhullError:
        return np.ascontiguousarray(xy)
    return np.ascontiguousarray(xy[corners])


def _turn_about_z(angle: float) -> NDArray[np.float64]:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def _best_turn_about_z(vertices: NDArray[np.float64], room: _Room) -> NDArray[np.float64]:
    """Rotation about z with the least overhang: a grid of angles, then ever finer ones."""
    outline = _outline(vertices[:, :2])
    step = math.pi / TURNS
    angles = step * np.arange(TURNS)
    while True:
        directions = np.stack([np.cos(angles), -np.sin(angles)])
        width = np.ptp(outline @ directions, axis=0)
        depth = np.ptp(outline @ np.stack([-directions[1], directions[0]]), axis=0)
        excess = np.maximum(width - room.width_mm, depth - room.depth_mm)
        best = float(angles[np.argmin(excess)])
        if step < 1e-9:
            return _turn_about_z(best)
        angles = best + step * np.linspace(-1.0, 1.0, 41)
        step /= 20.0


def _directions(count: int, lowest: float) -> NDArray[np.float64]:
    """Unit vectors (count, 3) spread evenly over the sphere above z = lowest (-1 for all of it).

    Source: Gonzalez, A. (2010), Measurement of areas on a sphere using Fibonacci and
    latitude-longitude lattices, Mathematical Geosciences 42, 49-64.
    """
    i = np.arange(count)
    z = 1.0 - (1.0 - lowest) * (i + 0.5) / count
    turn = i * math.pi * (3.0 - math.sqrt(5.0))
    r = np.sqrt(1.0 - z * z)
    return np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1)


def _best_rotation(vertices: NDArray[np.float64], room: _Room) -> NDArray[np.float64]:
    """Rotation with the least overhang that was found; the first one that fits ends the search."""
    from buildplan.kernels.rotations import excess_turned, outermost_points, search_rotations

    size = room.as_array()
    points = vertices - 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))
    outermost = points
    if len(points) > SEARCH_POINTS:
        numbers = outermost_points(points, _directions(SEARCH_POINTS, -1.0))
        outermost = points[np.unique(numbers)]
    up = np.vstack([_directions(UP_DIRECTIONS, 0.0), np.eye(3)])
    angles = math.pi / UP_TURNS * np.arange(UP_TURNS)
    excess, chosen, across, along = search_rotations(
        outermost, up, np.cos(angles), np.sin(angles), size, POLISHED
    )
    best, best_excess = np.eye(3), math.inf
    for k in np.argsort(excess, kind="stable")[:POLISHED].tolist():
        c, s = math.cos(angles[chosen[k]]), math.sin(angles[chosen[k]])
        x = c * across[k] + s * along[k]
        turn = _polish(outermost, np.stack([x, np.cross(up[k], x), up[k]]), size)
        found = excess_turned(points, turn, size)
        if found < best_excess:
            best, best_excess = turn, found
        if best_excess <= 0.0:
            return best
    if len(points) == len(outermost):
        return best
    turn = _polish(_near_outside(points, best), best, size)
    return turn if excess_turned(points, turn, size) < best_excess else best


def _near_outside(points: NDArray[np.float64], turn: NDArray[np.float64]) -> NDArray[np.float64]:
    """The points that can be outermost along an axis after a further rotation by REACH_RAD."""
    turned = points @ turn.T
    band = 2.0 * REACH_RAD * float(np.sqrt((points * points).sum(axis=1).max()))
    outside = (turned <= turned.min(axis=0) + band) | (turned >= turned.max(axis=0) - band)
    return np.ascontiguousarray(points[outside.any(axis=1)])


def _polish(
    points: NDArray[np.float64], turn: NDArray[np.float64], size: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Rotation near a given one with less overhang.

    Source: Nelder, J. A. and Mead, R. (1965), A simplex method for function minimization,
    The Computer Journal 7, 308-313; over the rotation vector, begun anew with ever smaller steps.
    """
    from scipy.optimize import minimize

    from buildplan.kernels.rotations import excess_turned

    def excess(vector: NDArray[np.float64]) -> float:
        return float(excess_turned(points, _rotation(vector) @ turn, size))

    vector = np.zeros(3)
    value = excess(vector)
    for step in (0.05, 0.01, 0.002):
        simplex = np.vstack([vector, vector + step * np.eye(3)])
        options: dict[str, Any] = {
            "initial_simplex": simplex,
            "maxfev": 300,
            "xatol": 1e-9,
            "fatol": 1e-9,
        }
        found = minimize(excess, vector, method="Nelder-Mead", options=options)
        if found.fun < value:
            vector, value = found.x, float(found.fun)
    return np.asarray(_rotation(vector) @ turn, dtype=np.float64)


def _rotation(vector: NDArray[np.float64]) -> NDArray[np.float64]:
    """Rotation matrix of a rotation vector.

    Source: Rodrigues, O. (1840); R = I + sin(t) K + (1 - cos(t)) K^2 for the unit axis k.
    """
    angle = float(np.linalg.norm(vector))
    if angle < 1e-300:
        return np.eye(3)
    x, y, z = vector / angle
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    turn = np.eye(3) + math.sin(angle) * cross + (1.0 - math.cos(angle)) * (cross @ cross)
    return np.asarray(turn, dtype=np.float64)


def _matrix(placing: _Placing, printer: Printer) -> tuple[float, ...]:
    """The placing as a 4 x 4 matrix, row by row; the part stands in the middle of the platform."""
    x, y = placing.middle_mm
    move = np.eye(4)
    move[:3, :3] = placing.turn
    if printer.platform == "round":
        move[:3, 3] = (-x, -y, -placing.bottom_mm)
    else:
        corner = (0.5 * printer.width_mm - x, 0.5 * printer.depth_mm - y)
        move[:3, 3] = (*corner, -placing.bottom_mm)
    return tuple(float(v) for v in move.ravel())


def _result(
    part: Part,
    printer: Printer,
    room: _Room,
    placing: _Placing,
    how: How,
    *,
    as_placed: _Placing | None = None,
) -> Fit:
    findings: tuple[Finding, ...] = ()
    if how == "not found" and as_placed is not None:
        findings = (_stop(part, printer, room, placing, as_placed),)
    elif as_placed is not None:
        findings = (_note(part, printer, room, placing, how),)
    fits = how != "not found"
    return Fit(
        part=part.name,
        printer=printer.name,
        fits=fits,
        how=how,
        slack_mm=placing.slack_mm,
        matrix=_matrix(placing, printer) if fits else (),
        excess_mm=0.0 if fits else placing.excess_mm,
        findings=findings,
    )


def _stop(
    part: Part, printer: Printer, room: _Room, best: _Placing, as_placed: _Placing
) -> Finding:
    x, y, z = part.size_mm
    if room.is_round:
        measured = f"{as_placed.size_mm[0]:.1f} mm across x {z:.1f} mm tall"
    else:
        measured = f"{x:.1f} x {y:.1f} x {z:.1f} mm"
    return Finding(
        check="fit",
        severity="stop",
        what=(
            f"does not fit {printer.name} in any rotation that was tried; the best one still "
            f"overhangs by {best.excess_mm:.1f} mm"
        ),
        where=Place(text=f"{part.name} on {printer.name}"),
        measured=f"{measured} as placed, {best.excess_mm:.1f} mm too much at best",
        required=f"at most {room.words()}" + _margin_words(room),
        remedy=(
            "Split it into segments, take a larger printer, or send it out; the search tried "
            f"{UP_DIRECTIONS + 3} x {UP_TURNS} rotations and is no proof that none fits."
        ),
        source=f"build volume of printer {printer.key!r}; search over rotations, no proof",
    )


def _note(part: Part, printer: Printer, room: _Room, placing: _Placing, how: How) -> Finding:
    if how == "turned about z":
        angle = math.degrees(math.atan2(placing.turn[1, 0], placing.turn[0, 0])) % 180.0
        what = f"fits {printer.name} only when turned by {angle:.1f} degrees about z"
        remedy = "Turn it on the platform; layers, hours and mass stay as they are."
    else:
        lean = math.degrees(math.acos(min(1.0, abs(float(placing.turn[2, 2])))))
        what = f"fits {printer.name} only when laid over by {lean:.1f} degrees"
        remedy = (
            "Lay it over with the matrix given, and estimate it anew: the layers run another way "
            "then, which changes supports, hours, surface and the direction in which it is weak."
        )
    sx, sy, sz = placing.slack_mm
    return Finding(
        check="fit",
        severity="note",
        what=what,
        where=Place(text=f"{part.name} on {printer.name}"),
        measured=f"{sx:.1f}, {sy:.1f}, {sz:.1f} mm of slack in x, y, z once turned",
        required=f"at most {room.words()}" + _margin_words(room),
        remedy=remedy,
        source=f"build volume of printer {printer.key!r}",
    )


def _margin_words(room: _Room) -> str:
    return f" ({room.margin_mm:g} mm of margin left free all round)" if room.margin_mm else ""
