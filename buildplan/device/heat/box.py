"""The enclosure: its walls by the way they face, its openings, what is warm in it."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.device.heat.air import Face, Floats
from buildplan.errors import InputError

Facets = NDArray[np.int64]

EMISSIVITY_FRAC = 0.9
"""Of plastics and paint, whatever their colour (handbook range 0.85 to 0.95)."""

HEAT_J_KGK = 1400.0
"""Of printing polymers: 1200 to 1800 (Zmeskal et al. 2020; plastics tables)."""

MOUNTS = "mounts of "
"""Before the name of a part: the printed plastic that holds it."""

TILT_DEG = 45.0
"""A face leaning more than this from upright counts as level (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """All walls that face one way.

    Attributes:
        area_mm2: Outside.
        length_mm: Height of sides; area over edge of level walls.
        free: Whether air reaches it outside; False for what stands on a table.
        sun_w: Sunshine that it takes up.
    """

    face: Face
    area_mm2: float
    length_mm: float
    free: bool = True
    sun_w: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Openings:
    """Where air goes in and out.

    Attributes:
        low_mm2: Open area of all openings below; high_mm2 above, ``rise_mm`` higher.
        discharge_frac: Share of the area that the jet fills (0.60 to 0.65 for slots: ASHRAE).
        fan_m3_s: Flow of a fan through the box; 0 without one.
        duct_mm2: Cross-section in which the fan's air sweeps past the parts; 0 where it does not.
    """

    low_mm2: float = 0.0
    high_mm2: float = 0.0
    rise_mm: float = 0.0
    discharge_frac: float = 0.65
    fan_m3_s: float = 0.0
    duct_mm2: float = 0.0

    @property
    def pair_mm2(self) -> float:
        """Area of each of two equal openings that let through as much: sqrt 2 / |1/low, 1/high|."""
        if not (self.low_mm2 > 0.0 and self.high_mm2 > 0.0):
            return 0.0
        return math.sqrt(2.0) / math.hypot(1.0 / self.low_mm2, 1.0 / self.high_mm2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """An enclosure, as far as heat is concerned.

    Attributes:
        wall_mm: Thickness.
        conductivity_w_mk: Of its feedstock.
        density_g_cm3: Of its feedstock; with heat_j_kgk and air_mm3 for how fast it warms up.
    """

    walls: tuple[Wall, ...]
    wall_mm: float
    conductivity_w_mk: float
    openings: Openings = Openings()
    emissivity_frac: float = EMISSIVITY_FRAC
    air_mm3: float = 0.0
    density_g_cm3: float = 1.27
    heat_j_kgk: float = HEAT_J_KGK

    @property
    def area_mm2(self) -> float:
        """Of all walls."""
        return sum(wall.area_mm2 for wall in self.walls)


@dataclass(frozen=True, slots=True, kw_only=True)
class WarmPart:
    """Something in the box that turns power into heat.

    Attributes:
        area_mm2: Surface that gives it off, both sides of a board.
        limit_c: What it stands for long.
        sink_k_w: Of a heat sink between it and the air; 0 without one.
        mount: "printed" where printed plastic holds it, "other" for metal, nylon or air.
        mount_frac: Share of its rise over the air that its mounts see: corners are cooler than the
            chip (0.3 to 0.7: no source, so measure it).
        heat_j_k: To warm it by a kelvin (a 40 g board: 0.8 J/gK).
    """

    name: str
    area_mm2: float
    limit_c: float
    sink_k_w: float = 0.0
    mount: str = "other"
    mount_frac: float = 0.5
    emissivity_frac: float = 0.8
    heat_j_k: float = 30.0


def walls_from_mesh(
    vertices_mm: Floats, facets: Facets, *, on_table: bool = True
) -> tuple[Wall, ...]:
    """Walls by the way their facets face: up, down and side, of a mesh as it stands.

    Give the outside alone (a hull or a closed solid without its inside), else both sides of every
    wall are counted. Lengths: height for sides, area over edge of the hull for level walls.

    Args:
        vertices_mm: (n, 3), z up.
        facets: (m, 3).
        on_table: Whether what faces down stands on a table and gives off nothing.

    Raises:
        InputError: No facet has an area.
    """
    corners = np.asarray(vertices_mm, dtype=np.float64)[np.asarray(facets)]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    double = np.linalg.norm(normal, axis=1)
    if not double.sum() > 0.0:
        raise InputError("enclosure: no facet of its mesh has an area; check the mesh")
    upward = normal[:, 2] / np.maximum(double, 1e-12)
    lean = math.sin(math.radians(TILT_DEG))
    heights = corners[:, :, 2]
    rows: tuple[tuple[Face, Floats], ...] = (
        ("up", upward > lean),
        ("side", np.abs(upward) <= lean),
        ("down", upward < -lean),
    )
    found = []
    for face, chosen in rows:
        area = float(double[chosen].sum()) / 2.0
        if not area > 0.0:
            continue
        height = float(heights.max() - heights.min())
        length = height if face == "side" else _area_over_edge(corners[chosen])
        free = face != "down" or not on_table
        found.append(Wall(face=face, area_mm2=area, length_mm=length, free=free))
    return tuple(found)


def _area_over_edge(corners: Floats) -> float:
    """Area over edge of the hull of facets seen from above."""
    from scipy.spatial import ConvexHull

    hull = ConvexHull(corners[:, :, :2].reshape(-1, 2))
    return float(hull.volume / hull.area)


def square_length_mm(area_mm2: float) -> float:
    """Area over edge of a square of that area: a quarter of its side."""
    return math.sqrt(area_mm2) / 4.0


def check_box(box: Box) -> None:
    """Refuse a box that cannot be.

    Raises:
        InputError: With the number.
    """
    numbers = (
        ("wall_mm", box.wall_mm),
        ("conductivity_w_mk", box.conductivity_w_mk),
        ("emissivity_frac", box.emissivity_frac),
    )
    for name, value in numbers:
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f"enclosure: {name} is {value:g}; more than 0 is needed")
    if not box.walls:
        raise InputError("enclosure: it has no wall; give at least one with its area")
    for wall in box.walls:
        if not (wall.area_mm2 > 0.0 and wall.length_mm > 0.0):
            raise InputError(
                f"enclosure: the walls that face {wall.face} have {wall.area_mm2:g} mm2 and a "
                f"length of {wall.length_mm:g} mm; more than 0 is needed for both"
            )
    openings = box.openings
    if openings.low_mm2 + openings.high_mm2 > box.area_mm2:
        raise InputError(
            f"enclosure: its openings take {openings.low_mm2 + openings.high_mm2:g} mm2 of walls "
            f"of {box.area_mm2:g} mm2; a vent is smaller than its wall"
        )
    for name in ("low_mm2", "high_mm2", "rise_mm", "fan_m3_s", "duct_mm2"):
        if getattr(openings, name) < 0.0:
            raise InputError(
                f"enclosure: {name} is {getattr(openings, name):g}; 0 or more is needed"
            )
    if not 0.0 < openings.discharge_frac <= 1.0:
        raise InputError(
            f"enclosure: discharge_frac is {openings.discharge_frac:g}; more than 0 and at most 1 "
            "is needed"
        )


def check_part(part: WarmPart) -> None:
    """Refuse a warm part that cannot be.

    Raises:
        InputError: With the number.
    """
    if not part.area_mm2 > 0.0 or not part.heat_j_k > 0.0:
        raise InputError(
            f"{part.name}: {part.area_mm2:g} mm2 of surface and {part.heat_j_k:g} J/K; more than 0 "
            "is needed for both"
        )
    if part.sink_k_w < 0.0 or not 0.0 < part.emissivity_frac <= 1.0:
        raise InputError(
            f"{part.name}: a sink of {part.sink_k_w:g} K/W and an emissivity of "
            f"{part.emissivity_frac:g}; a resistance is 0 or more, an emissivity in 0 to 1"
        )
