"""What the check of beads gives: places that one bead cannot fill."""

from dataclasses import dataclass

from buildplan.checks.marks import Mark

NARROWEST_BEADS = 0.6
"""A bead narrower than this share of its usual width cannot be laid (common practice, no source);
the walls of an estimate hold to the same number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadPlace:
    """Thin pieces of neighbouring layers that stand on each other.

    Attributes:
        volume_mm3: Of the thin pieces: what one bead cannot fill.
        width_mm: Of the narrowest piece: the width of the strip with its area and outline.
        low_mm: Height above the platform where it begins; high_mm where it ends.
        length_mm: Of the longest piece, along its middle.
        point_mm: On the narrowest piece, in the part's own coordinates; likewise box_mm.
        layers: Number of layers it is in.
        lost: Whether most of it is too narrow for the narrowest bead.
    """

    volume_mm3: float
    width_mm: float
    low_mm: float
    high_mm: float
    length_mm: float
    layers: int
    point_mm: tuple[float, ...]
    box_mm: tuple[float, ...]
    lost: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadCheck:
    """What one bead of the recipe's width cannot fill.

    Attributes:
        thin_mm3: Volume of all places; thin_frac is its share of the layers' volume.
        places: Largest first.
        marks: One for each place that is worth a word; without facets, as layers have none.
    """

    bead_mm: float
    thin_mm3: float
    thin_frac: float
    thin_layers: int
    places: tuple[BeadPlace, ...]
    marks: tuple[Mark, ...]
