"""How a part stands on the platform, in numbers."""

from dataclasses import dataclass

from buildplan.checks.marks import Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class StabilityCheck:
    """How a part stands on the platform. Lengths in the part's own coordinates.

    Attributes:
        flat_mm2: Facets that lie flat on the platform, united.
        touching_mm2: Facets within half a layer of the lowest point, united.
        contact_mm2: Section of the first layer, without a margin of beads.
        held_mm2: The same with the recipe's margin of beads: what sticks to the platform.
        margin_mm: How far the margin of beads reaches out; 0 without one.
        centre_mm: Centre of mass of the solid part, its z above the platform.
        tip_margin_mm: Distance from the centre of mass, seen from above, to the edge of the convex
            outline of the contact (without margin beads); negative outside of it.
        tip_deg: atan(tip_margin / height of the centre of mass): the lean it bears.
        growing_margin_mm: The least tip margin of the part printed so far, over all heights.
        growing_deg: The least tip angle likewise; growing_z_mm is the height where it is met.
        supported_deg: The same with the recipe's supports counted as feet; equal to growing_deg
            where it has none.
        leaves_z_mm: Lowest printed height at which the centre of mass is out over the contact; -1
            where it never is.
        slenderness_frac: Height over the root of held_mm2.
        pieces_mm2: Area of every piece of the first layer, smallest first.
        thin_pieces: How many of them are narrower than one bead.
    """

    flat_mm2: float
    touching_mm2: float
    contact_mm2: float
    held_mm2: float
    margin_mm: float
    centre_mm: tuple[float, float, float]
    tip_margin_mm: float
    tip_deg: float
    growing_margin_mm: float
    growing_deg: float
    growing_z_mm: float
    supported_deg: float
    leaves_z_mm: float
    slenderness_frac: float
    pieces_mm2: tuple[float, ...]
    thin_pieces: int
    marks: tuple[Mark, ...]
