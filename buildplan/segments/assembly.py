"""Putting the pieces together: steps in the reverse order of cutting, what to buy, how to print."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from buildplan.part.model import Part
from buildplan.part.turn import turn_part
from buildplan.segments.joints import BoughtPiece, Joint
from buildplan.segments.model import Piece, SegmentPlan
from buildplan.segments.solid import solid_of

if TYPE_CHECKING:
    from manifold3d import Manifold

GLUE_DRY_H = 24.0
"""Hours until glued faces may be loaded (common practice, no source: two-part epoxy, cured)."""

CLAMP_H = 1.0
"""Hours a glued joint is clamped before the next one is made (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyStep:
    """One joint being closed.

    Attributes:
        joint: Number of the joint, from 1, in the order of assembly; ``index`` its place in
            ``SegmentPlan.joints`` (the order of cutting).
        first: Names of the pieces on the side to which the plane's normal points; ``second`` those
            on the other side.
        text: What to do, in words.
        wait_h: Hours to wait before the next step.
    """

    joint: int
    index: int
    first: tuple[str, ...]
    second: tuple[str, ...]
    text: str
    wait_h: float


def assembly_steps(plan: SegmentPlan) -> tuple[AssemblyStep, ...]:
    """The joints in the order in which they are closed: the last cut first."""
    pieces = [(piece.name, solid_of(piece.part)) for piece in plan.pieces]
    steps = []
    for number, index in enumerate(reversed(range(len(plan.joints))), 1):
        joint = plan.joints[index]
        first, second = _on_side(pieces, joint.above), _on_side(pieces, joint.below)
        last = number == len(plan.joints)
        wait = 0.0
        if _is_glued(joint):
            wait = GLUE_DRY_H if last else CLAMP_H
        steps.append(
            AssemblyStep(
                joint=number,
                index=index,
                first=first,
                second=second,
                text=_words(joint, first, second, last=last),
                wait_h=wait,
            )
        )
    return tuple(steps)


def bought_for(joints: Iterable[Joint]) -> tuple[BoughtPiece, ...]:
    """What all joints need that is not printed, each item once, by name."""
    sums: dict[tuple[str, str], float] = {}
    for joint in joints:
        for piece in joint.bought:
            key = (piece.item, piece.unit)
            sums[key] = sums.get(key, 0.0) + piece.quantity
    return tuple(
        BoughtPiece(item=item, quantity=round(quantity, 3), unit=unit)
        for (item, unit), quantity in sorted(sums.items())
    )


def as_printed(piece: Piece) -> Part:
    """A piece where it is printed: turned as it lies, its lowest point at z = 0.

    Where it fits, it stands inside the build volume, whose corner (on a round platform, whose axis)
    is the origin.
    """
    turned = turn_part(piece.part, piece.orientation)
    if piece.fit.fits:
        return turn_part(turned, piece.fit.matrix)
    down = np.eye(4)
    down[2, 3] = -float(turned.vertices_mm[:, 2].min())
    return turn_part(turned, tuple(float(x) for x in down.ravel()))


def _on_side(pieces: Sequence[tuple[str, "Manifold"]], side: "Manifold") -> tuple[str, ...]:
    """Names of the pieces of which more than half belongs to a side of a joint."""
    return tuple(name for name, solid in pieces if (solid ^ side).volume() > 0.5 * solid.volume())


def _is_glued(joint: Joint) -> bool:
    return any("glue" in piece.item for piece in joint.bought)


def _words(joint: Joint, first: tuple[str, ...], second: tuple[str, ...], *, last: bool) -> str:
    where = f"{_joined(first)} to {_joined(second)} at {joint.plane.words()}"
    count, size, depth = len(joint.at_mm), joint.spec.size_mm, 2.0 * joint.spec.depth_mm
    rest = f"leave it {GLUE_DRY_H:g} h before it bears load" if last else f"clamp it {CLAMP_H:g} h"
    if joint.kind == "pins":
        what = f"try it dry with {count} pins of {size:g} x {depth:g} mm, glue pins and faces"
    elif joint.kind == "spline":
        strips = "1 spline" if len(joint.loose) == 1 else f"{len(joint.loose)} splines"
        what = f"try it dry with {strips} in the groove, glue groove and faces"
    elif joint.kind == "tongue":
        what = "try the tongue dry in its groove, glue both"
    elif joint.kind == "lip":
        what = "try the lip dry over the inner wall, glue both"
    elif joint.kind == "tabs":
        thread = f"M{size:g}"
        return (
            f"{where}: press {count} {thread} inserts hot into the bores, bolt with {count} screws "
            "from the other side, crosswise, by hand"
        )
    else:
        what = "clean both faces, glue them"
    return f"{where}: {what}, {rest}"


def _joined(names: tuple[str, ...]) -> str:
    return " + ".join(names) if names else "nothing"
