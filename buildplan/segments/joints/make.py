"""Making a joint: draft, prove, and take the next kind where one does not hold."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from buildplan.errors import InputError, NoPlanError
from buildplan.segments.joints.draft import Draft, Halves, prove
from buildplan.segments.joints.model import Joint, JointKind, JointSpec
from buildplan.segments.joints.pins import draft_pins
from buildplan.segments.joints.region import NUDGE_MM, safe_outline, section_outline
from buildplan.segments.joints.strips import draft_glue, draft_lip, draft_spline, draft_tongue
from buildplan.segments.joints.tabs import draft_tabs, tab_reach_mm
from buildplan.segments.planes import Plane, frame_of, split_solid
from buildplan.segments.solid import checked, part_of

if TYPE_CHECKING:
    from manifold3d import Manifold

DRAFTS: dict[JointKind, Callable[[Halves, JointSpec], Draft]] = {
    "pins": draft_pins,
    "spline": draft_spline,
    "tongue": draft_tongue,
    "lip": draft_lip,
    "tabs": draft_tabs,
    "glue": draft_glue,
}


def make_joint(solid: "Manifold", plane: Plane, spec: JointSpec, *, name: str = "part") -> Joint:
    """A solid cut along a plane, with a joint between the two pieces, proved on the result.

    Args:
        solid: A closed solid.
        plane: Where it is cut.
        spec: What is asked of the joint.
        name: Of the part, for messages.

    Raises:
        InputError: A number of the spec is impossible.
        NoPlanError: The plane misses, the joint has no room, or its proof fails; with the number.
        MeshError: The library reports a fault.
    """
    _check(spec)
    return _joint(_halves(solid, plane, _reach(spec), name), plane, spec)


def choose_joint(
    solid: "Manifold", plane: Plane, specs: Sequence[JointSpec], *, name: str = "part"
) -> tuple[Joint, tuple[str, ...]]:
    """The first of several joints that holds, and why each one before it does not.

    Raises:
        InputError: No spec is given, or a number of one is impossible.
        NoPlanError: None holds; the message carries every reason.
        MeshError: The library reports a fault.
    """
    if not specs:
        raise InputError(f"{name}: no joint to try is given; give at least one")
    for spec in specs:
        _check(spec)
    halves = _halves(solid, plane, max(_reach(spec) for spec in specs), name)
    reasons: list[str] = []
    for spec in specs:
        try:
            return _joint(halves, plane, spec), tuple(reasons)
        except NoPlanError as error:
            reasons.append(f"{spec.kind}: {error}")
    raise NoPlanError(f"{name}: no joint holds at {plane.words()}: {' | '.join(reasons)}")


def joinable_frac(solid: "Manifold", plane: Plane, spec: JointSpec, *, name: str = "part") -> float:
    """Share of the cut face over which the solid is solid to the joint's depth on both sides.

    1 where the walls run square to the plane, 0 where they are so slanted that no pin, spline or
    tongue has room; the score of a cut.
    """
    reach = spec.depth_mm + spec.wall_mm
    there, _ = frame_of(plane)
    near = checked(_near(solid, plane, reach + 1.0).transform(there), name)
    face = section_outline(near, NUDGE_MM).area
    if face <= 0.0:
        return 0.0
    return float(min(1.0, safe_outline(near, reach, reach).area / face))


def _near(solid: "Manifold", plane: Plane, reach_mm: float) -> "Manifold":
    """What of a solid lies within a reach of a plane."""
    x, y, z = plane.normal
    upper = solid.trim_by_plane(plane.normal, plane.offset_mm - reach_mm)
    return upper.trim_by_plane((-x, -y, -z), -plane.offset_mm - reach_mm)


def _reach(spec: JointSpec) -> float:
    """How far from the plane a joint, its guards and the search for its least gap can go."""
    deep = spec.depth_mm + spec.wall_mm + 2.0 * spec.clearance_mm + 3.0
    return max(deep, tab_reach_mm(spec)) if spec.kind == "tabs" else deep


def _halves(solid: "Manifold", plane: Plane, reach_mm: float, name: str) -> Halves:
    body = checked(solid.transform(frame_of(plane)[0]), name)
    level = Plane(normal=(0.0, 0.0, 1.0), offset_mm=0.0)
    try:
        cut = split_solid(body, level, name=name)
    except NoPlanError:
        # the same again in the part's own coordinates, so that the message speaks of those
        split_solid(solid, plane, name=name)
        raise
    return Halves(
        name=name,
        body=body,
        near=checked(_near(body, level, reach_mm), name),
        reach_mm=reach_mm,
        above=cut.above,
        below=cut.below,
    )


def _joint(halves: Halves, plane: Plane, spec: JointSpec) -> Joint:
    name, back = halves.name, frame_of(plane)[1]
    draft = DRAFTS[spec.kind](halves, spec)
    if spec.kind in ("pins", "tabs") and len(draft.points) < spec.least:
        raise NoPlanError(
            f"{name}: only {len(draft.points)} {spec.kind} of {spec.size_mm:g} mm have room at "
            f"{plane.words()}, {spec.least} make a joint; choose thinner ones or another kind"
        )
    proof = prove(halves, draft, spec)
    if proof.faults:
        raise NoPlanError(
            f"{name}: a joint of {spec.kind} at {plane.words()} does not hold: "
            f"{'; '.join(proof.faults)}; choose another kind, size or plane"
        )
    points = np.array([(*point, 0.0) for point in draft.points]).reshape(-1, 3)
    world = points @ back[:, :3].T + back[:, 3]
    face = halves.section().area
    reach = spec.depth_mm + spec.wall_mm
    return Joint(
        kind=spec.kind,
        plane=plane,
        spec=spec,
        above=checked(draft.above.transform(back), name),
        below=checked(draft.below.transform(back), name),
        loose=tuple(
            part_of(piece, name=f"{name} spline {number}")
            for number, piece in enumerate(draft.loose, 1)
        ),
        at_mm=tuple((float(x), float(y), float(z)) for x, y, z in world),
        bought=draft.bought,
        joinable_frac=float(min(1.0, halves.safe(reach, reach).area / face)) if face else 0.0,
        face_mm2=float(face),
        proof=proof,
    )


def _check(spec: JointSpec) -> None:
    if spec.kind not in DRAFTS:
        raise InputError(f'joint "{spec.kind}" is not known; allowed: {", ".join(DRAFTS)}')
    for field, low, high in (
        ("size_mm", 0.2, 50.0),
        ("depth_mm", 0.5, 100.0),
        ("clearance_mm", 0.0, 2.0),
        ("hole_extra_mm", -1.0, 2.0),
        ("wall_mm", 0.1, 20.0),
        ("count", 1, 200),
        ("least", 1, 200),
        ("spacing_mm", 0.0, 1000.0),
    ):
        value = getattr(spec, field)
        if not low <= value <= high:
            raise InputError(
                f"joint of {spec.kind}: {field} is {value:g}, allowed is {low:g} to {high:g}"
            )
