"""What the check for trapped liquid gives."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import Mark

Kind = Literal["closed", "narrow", "cup", "pool"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrainHole:
    """A hole to add.

    Attributes:
        purpose: "liquid" (at the end that hangs lowest) or "air" (at the end near the platform).
        point_mm: Where it begins, on the wall inside the pocket, in the part file's coordinates.
        direction: Unit vector from there through the wall to the outside.
        wall_mm: How much wall it goes through.
    """

    purpose: Literal["liquid", "air"]
    point_mm: tuple[float, float, float]
    direction: tuple[float, float, float]
    diameter_mm: float
    wall_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pocket:
    """A space that holds liquid back.

    Attributes:
        kind: "closed" has no way out; "narrow" has only openings below the drain limit; "cup" has
            its mouth toward the vat; "pool" has its mouth toward the platform.
        volume_mm3: Of the space: for a closed one exact, from the facets; for a cup, what the film
            shuts in at most; for a pool, what stays in it as the part hangs.
        suction_area_mm2: Largest section that the film shuts and pulls on, from suction_low_mm to
            suction_high_mm above the platform; 0 where it never pulls.
        pooled_mm3: What stays in it as the part hangs, once it is off the platform.
        by_platform: Whether only the platform shuts it: raised on supports it would not pull.
        vent_mm: Diameter of the widest cylinder or ball that finds its way out: 0 for a closed one,
            the widest opening for a narrow one, the drain limit or more for the others (then the
            limit is given).
        point_mm: A place inside; box_mm around it: in the part file's coordinates.
        holes: Drain holes to add, for the gravest pockets; none where no wall is thin enough.
        facets: Facets of the part that face the space, ascending, read-only.
    """

    kind: Kind
    volume_mm3: float
    suction_area_mm2: float
    suction_low_mm: float
    suction_high_mm: float
    pooled_mm3: float
    by_platform: bool
    vent_mm: float
    point_mm: tuple[float, float, float]
    box_mm: tuple[float, float, float, float, float, float]
    holes: tuple[DrainHole, ...]
    facets: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Island:
    """A place where solid begins in mid-air.

    Attributes:
        point_mm: Its lowest point, in the part file's coordinates.
        depth_mm: Height from there to where it meets older solid; infinite where it never does.
        facets: Facets around that point, ascending, read-only.
    """

    point_mm: tuple[float, float, float]
    depth_mm: float
    facets: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrappedCheck:
    """Islands and trapped liquid of a vat print; of an extrusion print the closed cavities only.

    Attributes:
        islands: From low to high; those that stand on the platform are none.
        pockets: Closed and narrow ones first, then by volume.
        marks: Findings with their facets.
    """

    part: str
    islands: tuple[Island, ...]
    pockets: tuple[Pocket, ...]
    marks: tuple[Mark, ...]
