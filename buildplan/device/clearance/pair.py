"""One moving against one fixed solid over a travel: gap, proof, violated stretches, contained."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from buildplan.device.clearance.model import PairClearance, Violation
from buildplan.device.clearance.search import Answer, Piece, Question, between, merged, search_gaps
from buildplan.device.clearance.shape import Vector
from buildplan.device.clearance.solids import middle_of

if TYPE_CHECKING:
    from manifold3d import Manifold

INSIDE_MM3 = 1e-6
"""Common volume above which solids whose surfaces do not meet lie one in the other."""

LOOKS = 5
"""Angles at which the common volume of a violated stretch is measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mover:
    """What a pair's moving side can be asked.

    Attributes:
        pieces: Its pieces against the fixed part.
        near_mm: Middle of a piece's gap, by index and angle.
        common: The solid that mover and fixed part share at an angle.
        slack_mm: What the motion between given positions may add to any gap's error.
    """

    pieces: Sequence[Piece]
    near_mm: Callable[[int, float], Vector]
    common: Callable[[float], "Manifold"]
    slack_mm: float = 0.0


def pair_clearance(moving: str, fixed: str, mover: Mover, question: Question) -> PairClearance:
    """Gap of a pair over the travel, and where it is too small.

    In every stretch without contact the surfaces stay apart, so that one look at the common
    volume tells for all of it whether one solid lies inside the other.
    """
    answer = search_gaps(mover.pieces, question)
    inside, deepest = _contained(mover, answer, question)
    spans = merged([*answer.violated_deg, *inside])
    required = question.required_mm - mover.slack_mm
    found = [_violation(mover, answer, span) for span in spans]
    # a gap that is only too small for what the motion may add is open, not violated
    violations = tuple(
        v for v in found if mover.slack_mm <= 0.0 or v.least_mm < required - question.certain_mm
    )
    bent = [(v.from_deg, v.to_deg) for v in found if v not in violations]
    unproven = [
        span for span in answer.unproven_deg if not any(_within(span, known) for known in spans)
    ]
    least, at, proven = answer.least_mm, answer.at_deg, answer.proven_mm - mover.slack_mm
    if inside:
        least, at, proven = 0.0, deepest, 0.0
    beyond = not inside and least >= question.reach_mm
    least = min(least, question.reach_mm)
    place: tuple[float, ...] = () if beyond else _place(mover, answer, at, contained=bool(inside))
    return PairClearance(
        moving=moving,
        fixed=fixed,
        least_mm=least,
        beyond=beyond,
        proven_mm=min(max(proven, 0.0), least),
        required_mm=required,
        at_deg=at,
        place_mm=place,
        violated=violations,
        unproven_deg=merged([*unproven, *bent]),
        contained=bool(inside),
        poses=answer.poses,
    )


def _within(span: tuple[float, float], other: tuple[float, float]) -> bool:
    return other[0] <= span[0] and span[1] <= other[1]


def _contained(
    mover: Mover, answer: Answer, question: Question
) -> tuple[list[tuple[float, float]], float]:
    """Stretches without contact in which one solid is inside the other, and an angle there."""
    found: list[tuple[float, float]] = []
    at = question.from_deg
    clear = between(answer.violated_deg, question.from_deg, question.to_deg)
    # with a wide gap asked for, a violated stretch may itself be free of contact
    for span in [*clear, *(s for s in answer.violated_deg if s[1] > s[0])]:
        middle = (span[0] + span[1]) / 2.0
        apart = all(piece.gap_mm(middle) > 0.0 for piece in mover.pieces)
        if apart and mover.common(middle).volume() > INSIDE_MM3:
            if not found:
                at = middle
            found.append(span)
    return found, at


def _place(mover: Mover, answer: Answer, at_deg: float, *, contained: bool) -> Vector:
    if contained or answer.least_mm <= 0.0:
        common = mover.common(at_deg)
        if not common.is_empty() and common.volume() > INSIDE_MM3:
            return middle_of(common)
    return mover.near_mm(answer.piece, at_deg)


def _violation(mover: Mover, answer: Answer, span: tuple[float, float]) -> Violation:
    """Overlap, least gap and place in a violated stretch."""
    start, end = span
    looks = LOOKS if end > start else 1
    angles = [start + (end - start) * i / max(looks - 1, 1) for i in range(looks)]
    gaps = [[piece.gap_mm(angle) for piece in mover.pieces] for angle in angles]
    volumes = []
    for angle, row in zip(angles, gaps, strict=True):
        solid = mover.common(angle)
        met = min(row) <= 0.0 or solid.volume() > INSIDE_MM3
        volumes.append((max(solid.volume(), 0.0) if met else 0.0, solid, angle))
    overlap, solid, at = max(volumes, key=lambda entry: entry[0])
    least = min(min(row) for row in gaps)
    if overlap > INSIDE_MM3:
        return Violation(
            from_deg=start,
            to_deg=end,
            least_mm=0.0,
            overlap_mm3=overlap,
            at_deg=at,
            place_mm=middle_of(solid),
        )
    if start <= answer.at_deg <= end:
        least, at, piece = answer.least_mm, answer.at_deg, answer.piece
    else:
        look = min(range(looks), key=lambda i: min(gaps[i]))
        at, piece = angles[look], min(range(len(gaps[look])), key=lambda i: gaps[look][i])
    return Violation(
        from_deg=start,
        to_deg=end,
        least_mm=least,
        overlap_mm3=0.0,
        at_deg=at,
        place_mm=mover.near_mm(piece, at),
    )
