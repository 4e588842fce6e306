"""How two pieces meet: what is asked of a joint, what was made, and the proof that it holds."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from buildplan.part.model import Part
from buildplan.segments.planes import Plane

if TYPE_CHECKING:
    from manifold3d import Manifold

JointKind = Literal["pins", "spline", "tongue", "lip", "tabs", "glue"]

LEAK_MM3 = 1e-4
"""Most wall that a joint may take out of the material it must keep."""

BORE_LEAK_MM3 = 1e-3
"""Likewise for the bores of bolted tabs."""

GAP_SLACK_MM = 1e-3
"""Least gap and clearance asked may differ by this much (facets of round holes)."""

VOLUME_FRAC = 1e-9
"""Relative error of the volumes' sum that is rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JointSpec:
    """What is asked of a joint.

    Attributes:
        kind: "pins" (bought pins or wire in holes on both sides), "spline" (groove on both sides
            and a loose printed strip), "tongue" (on the upper piece, groove in the lower one),
            "lip" (upper piece overlaps the lower one outside), "tabs" (inner tabs with screws and
            heat-set inserts), "glue" (plain faces).
        size_mm: Diameter of a pin, thickness of a spline, tongue or lip; screw thread of tabs.
        depth_mm: How far it reaches into each piece.
        clearance_mm: Gap on each side.
        hole_extra_mm: What printed holes lose in diameter, drawn larger by as much.
        wall_mm: Least material kept around it.
        count: Most pins or tabs; ``least`` the fewest that make a joint; ``spacing_mm`` the least
            distance between two.
    """

    kind: JointKind
    size_mm: float
    depth_mm: float
    clearance_mm: float
    hole_extra_mm: float = 0.0
    wall_mm: float = 0.8
    count: int = 6
    least: int = 1
    spacing_mm: float = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class JointProof:
    """Measured on the finished pieces.

    Attributes:
        wall_leak_mm3: Volume of the guard (the joint grown by the wall to be kept) that lies
            outside the material.
        least_gap_mm: Between what is put in and the pieces; 0 where nothing is put in.
        overlap_mm3: Room that two of the pieces and inserts both take.
        outside_mm3: Material added outside the hull of the part.
        volume_error_frac: Pieces plus what was taken out less what was added, against the whole.
        pieces: Bodies of the upper and of the lower side; each must be as many as before.
        faults: What fails, in words with numbers; empty where the joint holds.
    """

    wall_leak_mm3: float
    least_gap_mm: float
    overlap_mm3: float
    outside_mm3: float
    volume_error_frac: float
    pieces: tuple[int, int]
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoughtPiece:
    """What a joint needs that is not printed."""

    item: str
    quantity: float
    unit: str = "piece"


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """Two pieces with their joint.

    Attributes:
        above: Piece to which the plane's normal points; ``below`` the other.
        loose: Printed pieces that lie in the joint (splines), flat as they are printed.
        at_mm: Middle of every pin, spline or tab, in the part's coordinates.
        axis: Direction of pins and screws: the plane's normal.
        face_mm2: Area of the cut face.
        joinable_frac: Share of the cut face that could hold a joint of this depth and wall.
    """

    kind: JointKind
    plane: Plane
    spec: JointSpec
    above: "Manifold"
    below: "Manifold"
    loose: tuple[Part, ...]
    at_mm: tuple[tuple[float, float, float], ...]
    bought: tuple[BoughtPiece, ...]
    joinable_frac: float
    face_mm2: float
    proof: JointProof
