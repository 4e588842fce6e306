"""The part: one solid body read from a file, with the health of its mesh."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.findings import Finding

Grade = Literal["exact", "repaired", "estimate"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """One opening in a surface: a loop of edges that belong to one facet only."""

    edges: int
    span_mm: float
    centre_mm: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """What was found wrong with a mesh and what was done about it.

    Attributes:
        grade: "exact" (used as read), "repaired" (closed by a repair that is listed) or "estimate"
            (still open; only estimates with a wider spread may use it).
        searched: "full" when overlapping shells and self-intersections were looked for, "quick"
            when only the edges were (then these two counts are 0 and say nothing).
        volume_change_frac: Volume after repair over volume before, minus 1.
        patched_frac: Area of new facets over the whole area.
    """

    grade: Grade
    searched: Literal["full", "quick"]
    open_edges: int
    holes: tuple[Hole, ...]
    flipped_facets: int
    duplicate_facets: int
    degenerate_facets: int
    overlapping_shells: int
    self_intersections: int
    repairs: tuple[str, ...]
    volume_change_frac: float
    patched_frac: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A solid body in millimetres, as its file places it.

    Attributes:
        source: Path of the file as given.
        sha256: Of the file's bytes.
        key: Content key of the geometry (vertices and facets), for caches.
        unit: The file's length unit that was applied ("mm", "cm", "m", "inch").
        vertices_mm: (n, 3) float64, read-only.
        facets: (m, 3) int64, read-only, counter-clockwise seen from outside.
        shells: Number of connected surfaces (a cavity counts as one).
        findings: What the reader wants looked at (units, repairs, health).
    """

    name: str
    source: str
    sha256: str
    key: str
    unit: str
    vertices_mm: NDArray[np.float64]
    facets: NDArray[np.int64]
    size_mm: tuple[float, float, float]
    volume_mm3: float
    area_mm2: float
    centre_of_mass_mm: tuple[float, float, float]
    closed: bool
    shells: int
    health: Health
    findings: tuple[Finding, ...]
