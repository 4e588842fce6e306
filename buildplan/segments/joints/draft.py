"""A joint as it is being made, in the frame of its plane, and its proof."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from buildplan.errors import MeshError
from buildplan.segments.joints.model import (
    GAP_SLACK_MM,
    VOLUME_FRAC,
    BoughtPiece,
    JointProof,
    JointSpec,
)
from buildplan.segments.joints.region import (
    NUDGE_MM,
    inscribed_radius,
    safe_outline,
    section_outline,
)
from buildplan.segments.solid import checked

if TYPE_CHECKING:
    from manifold3d import Manifold


@dataclass(frozen=True, slots=True, kw_only=True)
class Halves:
    """A body in the frame of its cut plane and its two sides before any joint.

    Attributes:
        near: The body within reach_mm of the plane: all that a joint can meet.
        known: Regions that were found so far, by what they are; each is found once for all joints
            that are tried.
    """

    name: str
    body: "Manifold"
    near: "Manifold"
    reach_mm: float
    above: "Manifold"
    below: "Manifold"
    known: dict[Any, Any] = field(default_factory=dict)

    def section(self) -> Any:
        """Outline of the cut face."""
        return self._once("section", lambda: section_outline(self.near, NUDGE_MM))

    def safe(self, below_mm: float, above_mm: float) -> Any:
        """``safe_outline`` of the body; both depths must be within reach_mm."""
        key = ("safe", below_mm, above_mm)
        return self._once(key, lambda: safe_outline(self.near, below_mm, above_mm))

    def inscribed(self, below_mm: float, above_mm: float) -> float:
        """Radius of the largest circle in that safe outline."""
        key = ("inscribed", below_mm, above_mm)
        return float(self._once(key, lambda: inscribed_radius(self.safe(below_mm, above_mm))))

    def hull(self) -> "Manifold":
        """Hull of the whole body."""
        return self._once("hull", lambda: self.body.hull())

    def bodies(self) -> tuple[int, int]:
        """Separate bodies above and below before any joint."""
        return self._once(  # type: ignore[no-any-return]
            "bodies", lambda: (len(self.above.decompose()), len(self.below.decompose()))
        )

    def _once(self, key: Any, make: Callable[[], Any]) -> Any:
        if key not in self.known:
            self.known[key] = make()
        return self.known[key]


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A joint in the frame of its plane.

    Attributes:
        above: Piece over the plane with the joint in it; ``below`` likewise.
        put_in: What lies in the joint: pins, splines, or the tongue itself.
        guards: What must lie inside the material.
        material: What the guards must lie in.
        leak_limit_mm3: Most volume of the guards that may lie outside.
        removed_mm3: Material taken out; likewise added_mm3.
        clearance_mm: Least gap that what is put in must keep; negative where it touches by intent.
        points: Middle of every pin, spline or tab in the plane.
        loose: Printed pieces, flat.
        added: Material that must stay inside the hull of the body, or None.
    """

    above: "Manifold"
    below: "Manifold"
    put_in: tuple["Manifold", ...]
    guards: tuple["Manifold", ...]
    material: "Manifold"
    leak_limit_mm3: float
    removed_mm3: float
    added_mm3: float
    clearance_mm: float
    points: tuple[tuple[float, float], ...]
    loose: tuple["Manifold", ...]
    bought: tuple[BoughtPiece, ...]
    added: "Manifold | None"


def prove(halves: Halves, draft: Draft, spec: JointSpec) -> JointProof:
    """Measure a drafted joint on its finished pieces; what fails is said with its number."""
    for piece in (draft.above, draft.below):
        checked(piece, halves.name)
    leak = 0.0
    if draft.guards:
        guards = one_of(list(draft.guards), halves.name)
        leak = float(checked(guards - draft.material, halves.name).volume())
    gap = _least_gap(draft, spec)
    overlap = _overlap(draft)
    outside = 0.0
    if draft.added is not None:
        outside = max(0.0, checked(draft.added - halves.hull(), halves.name).volume())
    whole = halves.body.volume()
    total = draft.above.volume() + draft.below.volume() + draft.removed_mm3 - draft.added_mm3
    pieces = (len(draft.above.decompose()), len(draft.below.decompose()))
    before = halves.bodies()
    error = abs(total - whole) / whole
    faults = []
    if leak > draft.leak_limit_mm3:
        faults.append(f"{leak:.3g} mm3 of the {spec.wall_mm:g} mm wall around it would be missing")
    if draft.clearance_mm >= 0.0 and gap < draft.clearance_mm - GAP_SLACK_MM:
        faults.append(f"the gap is {gap:.3f} mm, {draft.clearance_mm:g} mm are asked")
    if overlap > 1e-6:
        faults.append(f"pieces overlap by {overlap:.3g} mm3")
    if outside > 1e-6:
        faults.append(f"{outside:.3g} mm3 would stick out of the part")
    if error > VOLUME_FRAC:
        faults.append(f"the volumes are off by {error:.1e} of the whole")
    if pieces != before:
        faults.append(f"{before[0]} + {before[1]} bodies became {pieces[0]} + {pieces[1]}")
    return JointProof(
        wall_leak_mm3=leak,
        least_gap_mm=gap,
        overlap_mm3=overlap,
        outside_mm3=outside,
        volume_error_frac=error,
        pieces=pieces,
        faults=tuple(faults),
    )


def one_of(solids: list["Manifold"], name: str) -> "Manifold":
    """The union of solids."""
    from manifold3d import Manifold, OpType

    if not solids:
        raise MeshError(f"{name}: nothing to unite")
    return checked(Manifold.batch_boolean(solids, OpType.Add), name)


def _least_gap(draft: Draft, spec: JointSpec) -> float:
    """Least distance of what is put in from the piece it must not touch; 0 where nothing is."""
    if not draft.put_in:
        return 0.0
    reach = 2.0 * spec.clearance_mm + 1.0
    put_in = one_of(list(draft.put_in), "joint")
    others = (draft.below,) if draft.added_mm3 > 0.0 else (draft.above, draft.below)
    return float(min(put_in.min_gap(other, reach) for other in others))


def _overlap(draft: Draft) -> float:
    shared = checked(draft.above ^ draft.below, "joint").volume()
    if draft.put_in:
        put_in = one_of(list(draft.put_in), "joint")
        others = (draft.below,) if draft.added_mm3 > 0.0 else (draft.above, draft.below)
        shared += sum(checked(put_in ^ other, "joint").volume() for other in others)
    return float(max(0.0, shared))
