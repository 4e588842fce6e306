"""Certified sweep of a hinge: every moving against every fixed part over the whole travel."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from buildplan.device.clearance.gauge import Bodies, Gauge, pick_engine
from buildplan.device.clearance.model import Clearance, Engine, PairClearance
from buildplan.device.clearance.pair import Mover, pair_clearance
from buildplan.device.clearance.search import Piece, Question
from buildplan.device.clearance.shape import Swing, TouchZone, Vector
from buildplan.device.clearance.solids import (
    cylinder_between,
    radial_shells,
    solids_by_name,
    turn_pose,
    unit,
)
from buildplan.device.clearance.words import clearance_findings
from buildplan.errors import InputError
from buildplan.part.model import Part

if TYPE_CHECKING:
    from manifold3d import Manifold

REQUIRED_MM = 0.3
"""Gap between moving parts as drawn: 0.2 to 0.5 mm for printed parts (common practice)."""

REACH_MM = 20.0
"""Gaps above this are told as ">= 20 mm"."""

CERTAIN_MM = 0.01
"""How sharply what is required is settled; never more than half of it."""

MOST_POSES = 20_000
"""Poses a pair may take before the search stops and says what it left open."""

LEAST_REQUIRED_MM = 0.001
MOST_REQUIRED_MM = 100.0


def sweep_hinge(  # noqa: PLR0913 - what to sweep, all but three by keyword with a default
    fixed: Sequence[Part],
    moving: Sequence[Part],
    swing: Swing,
    *,
    required_mm: float = REQUIRED_MM,
    sliding: Sequence[tuple[str, str]] = (),
    touch_zones: Sequence[TouchZone] = (),
    reach_mm: float = REACH_MM,
    engine: Engine | None = None,
    most_poses: int = MOST_POSES,
) -> Clearance:
    """Least gap of every pair over a hinge's travel, with proof, and the angles that are too tight.

    Args:
        fixed: Parts that stand still, placed in the device.
        moving: Parts that turn together, placed in the device as at ``swing.posed_deg``.
        swing: Axis and travel.
        required_mm: Gap that moving parts must keep.
        sliding: (moving, fixed) names of pairs that are meant to touch; they are left out.
        touch_zones: Cylinders in which contact is meant; what of a moving part lies in one where
            it is posed is left out.
        reach_mm: Gaps above this are not looked into.
        engine: "fcl" or "manifold3d"; None takes fcl where it is installed.
        most_poses: Poses a pair may take.

    Raises:
        InputError: The travel runs backward, the axis has no length, a number is out of its range,
            a name is not known, or a touch zone takes a moving part whole.
        MeshError: A part is no closed solid.

    Source: motion bound r * turn (Redon et al., "Fast continuous collision detection", 2002) with
        the search of Piyavskii (1972).
    """
    _check_travel(swing)
    question = ask(swing.from_deg, swing.to_deg, required_mm, reach_mm, most_poses)
    bodies = Bodies(pick_engine(engine))
    still, movers = solids_by_name(fixed, role="fixed"), solids_by_name(moving, role="moving")
    check_pairs(sliding, movers, still)
    zones = [_zone(zone) for zone in touch_zones]
    left_out = {(str(a), str(b)) for a, b in sliding}
    pairs: list[PairClearance] = []
    for name, whole in movers.items():
        solid = _outside(name, whole, zones)
        shells = radial_shells(solid, swing)
        for other, body in still.items():
            if (name, other) in left_out:
                continue
            gauges = [bodies.gauge(body, shell, reach_mm) for shell, _ in shells]
            radii = [radius for _, radius in shells]
            mover = _hinged(body, solid, gauges, radii, swing)
            pairs.append(pair_clearance(name, other, mover, question))
    return Clearance(
        pairs=tuple(pairs),
        sliding=tuple(sorted(left_out)),
        engine=bodies.engine,
        findings=clearance_findings(pairs, swing.from_deg, swing.to_deg),
    )


def _hinged(
    body: "Manifold", solid: "Manifold", gauges: list[Gauge], radii: list[float], swing: Swing
) -> Mover:
    """A mover's shells against one fixed body, as functions of the angle."""

    def piece(gauge: Gauge, radius: float) -> Piece:
        return Piece(
            gap_mm=lambda angle: gauge.gap_mm(turn_pose(swing, angle)),
            path_mm=lambda start, end: radius * math.radians(end - start),
        )

    def near(index: int, angle: float) -> Vector:
        return gauges[index].near_mm(turn_pose(swing, angle))

    def common(angle: float) -> "Manifold":
        return solid.transform(turn_pose(swing, angle)) ^ body

    return Mover(
        pieces=[piece(gauge, radius) for gauge, radius in zip(gauges, radii, strict=True)],
        near_mm=near,
        common=common,
    )


def ask(
    from_deg: float, to_deg: float, required_mm: float, reach_mm: float, most_poses: int
) -> Question:
    """The question for a search, its numbers held to their ranges.

    Raises:
        InputError: A number is out of its range.
    """
    if not LEAST_REQUIRED_MM <= required_mm <= MOST_REQUIRED_MM:
        raise InputError(
            f"clearance: a required gap of {required_mm:g} mm found, {LEAST_REQUIRED_MM:g} to "
            f"{MOST_REQUIRED_MM:g} mm is allowed; name pairs that may touch as sliding"
        )
    if not (math.isfinite(reach_mm) and reach_mm > required_mm):
        raise InputError(
            f"clearance: a reach of {reach_mm:g} mm found, more than the required gap of "
            f"{required_mm:g} mm is needed; give 20 for usual parts"
        )
    if most_poses < 1:
        raise InputError(f"clearance: {most_poses} poses found, 1 or more are needed")
    return Question(
        from_deg=from_deg,
        to_deg=to_deg,
        required_mm=required_mm,
        certain_mm=min(CERTAIN_MM, required_mm / 2.0),
        reach_mm=reach_mm,
        most_poses=most_poses,
    )


def check_pairs(
    pairs: Sequence[tuple[str, str]],
    movers: "dict[str, Manifold]",
    still: "dict[str, Manifold]",
) -> None:
    """Hold named pairs to (moving, fixed) names that are there.

    Raises:
        InputError: A name is not known.
    """
    for first, second in pairs:
        if first not in movers or second not in still:
            raise InputError(
                f"clearance: the sliding pair ({first}, {second}) is not known; the first is one "
                f"of {', '.join(movers)}, the second one of {', '.join(still)}"
            )


def _check_travel(swing: Swing) -> None:
    unit("hinge axis", swing.axis)
    numbers = (*swing.point_mm, swing.from_deg, swing.to_deg, swing.posed_deg)
    if not all(math.isfinite(number) for number in numbers):
        raise InputError("hinge: point and angles must be finite numbers; check the hinge's table")
    if not 0.0 < swing.to_deg - swing.from_deg <= 720.0:
        raise InputError(
            f"hinge: travel from {swing.from_deg:g} to {swing.to_deg:g} degrees found, the end "
            "must lie above the start by 720 at most; swap the two, or turn the axis round"
        )


def _zone(zone: TouchZone) -> "Manifold":
    try:
        return cylinder_between(zone.point_mm, zone.end_mm, zone.radius_mm)
    except InputError as fault:
        raise InputError(f"touch zone {zone.name}: {fault}") from fault


def _outside(name: str, solid: "Manifold", zones: "Sequence[Manifold]") -> "Manifold":
    """What of a mover lies outside the touch zones."""
    from manifold3d import Manifold, OpType

    if not zones:
        return solid
    left = Manifold.batch_boolean([solid, *zones], OpType.Subtract)
    if left.is_empty():
        raise InputError(
            f"clearance: the touch zones take all {solid.volume():.1f} mm3 of {name}, nothing is "
            "left to sweep; make them smaller, or name its pairs as sliding"
        )
    return left
