"""What the check of gaps gives: narrow gaps, round holes, thin pins."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import Mark


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gap:
    """A slot or clearance that is narrower than moving parts need.

    Attributes:
        area_mm2: Of both its faces together, as far as they are that near each other.
        least_mm: Narrowest place; low_mm leaves the narrowest 5 % of the area aside; median_mm.
        depth_mm: Half the area over the greatest extent.
        two_bodies: Whether it lies between two shells that are not joined.
        fused: Whether it closes up, being narrower than gap_fused_mm.
        facets: Ascending numbers of the part's facets; likewise of holes and pins.
    """

    area_mm2: float
    least_mm: float
    low_mm: float
    median_mm: float
    depth_mm: float
    two_bodies: bool
    fused: bool
    point_mm: tuple[float, ...]
    box_mm: tuple[float, ...]
    facets: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PrintedHole:
    """A round hole.

    Attributes:
        drawn_mm: Diameter as drawn, across the corners of its polygon.
        printed_mm: Diameter to expect; 0 where it closes up.
        upright: Whether its axis leans by less than 30 degrees from the vertical; others lie.
        through: Whether it is open at both ends.
    """

    drawn_mm: float
    printed_mm: float
    depth_mm: float
    upright: bool
    through: bool
    axis: tuple[float, float, float]
    point_mm: tuple[float, ...]
    box_mm: tuple[float, ...]
    facets: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ThinPin:
    """A round rod that is thinner than a pin should be."""

    diameter_mm: float
    length_mm: float
    upright: bool
    axis: tuple[float, float, float]
    point_mm: tuple[float, ...]
    box_mm: tuple[float, ...]
    facets: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapCheck:
    """Gaps below gap_moving_mm (largest area first), holes up to hole_note_mm, thin pins."""

    gaps: tuple[Gap, ...]
    holes: tuple[PrintedHole, ...]
    pins: tuple[ThinPin, ...]
    marks: tuple[Mark, ...]
