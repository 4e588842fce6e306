"""What the overhang check gives."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildplan.checks.marks import Mark

OverhangKind = Literal["bridge", "cantilever", "island", "leaning"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OverhangRegion:
    """One place of a part's surface that faces down more flatly than its process holds.

    Attributes:
        kind: "bridge" (strips in one direction run from hold to hold), "cantilever" (level, held
            on one side), "island" (nothing below), "leaning" (slanted or round, each layer a step
            out over the one below).
        area_mm2: Of the surface; plan_mm2 as seen from above.
        span_mm: Longest strip from hold to hold, in the direction that carries most; 0 for none.
        carried_frac: Share of the plan that such strips carry.
        reach_mm: Farthest that the rest lies from what holds; 0 where nothing is left over, and
            where nothing holds.
        lean_deg: Mean lean from the vertical, by area.
        low_mm: Height above the platform; high_mm likewise.
        needs_support: Whether it is beyond the limits.
        point_mm: Lowest point, on the part as given; box_mm likewise.
        facets: Numbers of its facets, ascending.
    """

    kind: OverhangKind
    area_mm2: float
    plan_mm2: float
    span_mm: float
    carried_frac: float
    reach_mm: float
    lean_deg: float
    low_mm: float
    high_mm: float
    needs_support: bool
    point_mm: tuple[float, float, float]
    box_mm: tuple[float, float, float, float, float, float]
    facets: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OverhangCheck:
    """Overhangs of a part as it stands, and the supports they ask for.

    Support numbers hold whether or not the recipe makes supports: what it would take.

    Attributes:
        marks: Findings with their facets.
        regions: Largest plan first; specks below the recipe's least supported area are left out.
        overhang_mm2: Surface that leans beyond the limit and is off the platform, specks and all.
        carried_mm2: Plan area of the regions that need support.
        support_mm3: Space under them, straight down to the platform or to the part.
        on_part_mm2: Plan area of that space that ends on the part.
        contact_mm2: Area that rests flat on the platform.
    """

    part: str
    marks: tuple[Mark, ...]
    regions: tuple[OverhangRegion, ...]
    overhang_mm2: float
    carried_mm2: float
    support_mm3: float
    on_part_mm2: float
    contact_mm2: float
