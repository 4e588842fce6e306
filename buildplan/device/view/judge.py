"""Findings of a view: what hides the target, what clips the lens, what the sensor would report."""

import math
from collections.abc import Sequence

from buildplan.device.view.aims import angles_needed, cap_directions
from buildplan.device.view.best import Aim, MountRow
from buildplan.device.view.distance import OWN_LEAST_FRAC, ConeView, HeightRow, Turn
from buildplan.device.view.optics import Opening, round_up
from buildplan.device.view.scene import AT_REST, Poses, Scene, first_bodies
from buildplan.device.view.shape import Camera, DistanceSensor, Point, Window
from buildplan.device.view.sights import CameraView, TravelView
from buildplan.device.view.window import CrossTalk
from buildplan.findings import Finding, Place, Severity

CHECK = "view"
SEEN_LEAST_FRAC = 0.9
"""Share of the target that should be seen (our default, no source); half of it is a stop."""

GAIN_FRAC = 0.01
"""A remedy is named when it shows at least this much more."""

OUR_DEFAULT = "our default, no source"
GEOMETRY = "straight lines of sight on the meshes"


def camera_findings(
    camera: Camera,
    view: CameraView,
    aim: Aim,
    *,
    least_frac: float = SEEN_LEAST_FRAC,
    mounts: Sequence[MountRow] = (),
    travel: TravelView | None = None,
    when: str = "",
) -> tuple[Finding, ...]:
    """What keeps the camera from seeing enough of its target, and the cheapest cure found.

    Args:
        camera: As it is.
        view: Of view_target.
        aim: Of best_aim for the same pose.
        least_frac: Share that must be seen.
        mounts: Of mount_table, to name a better height.
        travel: Of view_travel, to name an angle that shows enough.
        when: The pose in words ("roof shut").
    """
    if view.seen_frac >= least_frac - 1e-9:
        return ()
    severity: Severity = "stop" if view.seen_frac < least_frac / 2.0 else "caution"
    pose = f", {when}" if when else ""
    reasons = [f"{part.name} hides {_share(part.share_frac)}" for part in view.hidden_by[:3]]
    if view.outside_frac > 0.0:
        reasons.append(f"{_share(view.outside_frac)} lies outside the picture")
    found = Finding(
        check=CHECK,
        severity=severity,
        what=f"the camera sees {_share(view.seen_frac)} of its target{pose}: {', '.join(reasons)}",
        where=_at("camera", camera.point_mm),
        measured=f"{_share(view.seen_frac)} seen",
        required=f"at least {_share(least_frac)}",
        remedy=_camera_remedy(camera, view, aim, mounts, travel, least_frac),
        source=f"{GEOMETRY}; {OUR_DEFAULT}",
    )
    return (found,)


def travel_findings(
    camera: Camera, travel: TravelView, *, least_frac: float = SEEN_LEAST_FRAC
) -> tuple[Finding, ...]:
    """At which angles of a travel the camera sees too little, and at which it sees enough."""
    bad = [i for i, seen in enumerate(travel.seen_frac) if seen < least_frac - 1e-9]
    if not bad:
        return ()
    worst = min(bad, key=lambda i: float(travel.seen_frac[i]))
    good = [f"{a:g}" for i, a in enumerate(travel.angles_deg) if i not in bad]
    top = travel.views[worst].hidden_by[:1]
    cause = f"{top[0].name} hides {_share(top[0].share_frac)}" if top else "the rest is outside"
    remedy = f"Take pictures only at {', '.join(good)} deg"
    if not good:
        best = int(travel.seen_frac.argmax())
        remedy = (
            f"Take pictures at {travel.angles_deg[best]:g} deg, which shows most "
            f"({_share(travel.seen_frac[best])}), or move the camera"
        )
    worst_frac = float(travel.seen_frac[worst])
    found = Finding(
        check=CHECK,
        severity="note" if good else "caution",
        what=(
            f"at {travel.angles_deg[worst]:g} deg of the travel the camera sees only "
            f"{_share(worst_frac)} of its target: {cause}"
        ),
        where=_at("camera", camera.point_mm),
        measured=f"{_share(worst_frac)} seen at the worst angle",
        required=f"at least {_share(least_frac)}",
        remedy=remedy,
        source=f"{GEOMETRY}; {OUR_DEFAULT}",
    )
    return (found,)


def sensor_findings(
    sensor: DistanceSensor, cone: ConeView, turn: Turn, rows: Sequence[HeightRow]
) -> tuple[Finding, ...]:
    """What stands in the cone of a distance sensor, and which heights it cannot measure."""
    found = []
    if cone.own_frac >= OWN_LEAST_FRAC:
        remedy = f"Use a cone of at most {math.floor(cone.clear_cone_deg * 10) / 10:.1f} deg"
        if turn.own_frac < cone.own_frac - GAIN_FRAC:
            remedy = (
                f"Turn the sensor by {turn.turn_deg:.0f} deg to look along {_way(turn.look)}, "
                f"which leaves {_share(turn.own_frac)} on parts; or use a cone of at most "
                f"{math.floor(cone.clear_cone_deg * 10) / 10:.1f} deg"
            )
        found.append(
            Finding(
                check=CHECK,
                severity="stop" if cone.own_frac >= 0.5 else "caution",
                what=(
                    f"{_share(cone.own_frac)} of the distance sensor's cone falls on "
                    f"{cone.own_by[0].name}, {cone.own_near_mm:.1f} mm away: it may report that"
                ),
                where=_at("distance sensor", sensor.point_mm),
                measured=f"{_share(cone.own_frac)} of the cone on parts",
                required=f"below {_share(OWN_LEAST_FRAC)}",
                remedy=remedy,
                source=f"{GEOMETRY}; common practice, no source",
            )
        )
    near = [row for row in rows if row.reading == "too near"]
    if near:
        worst = min(near, key=lambda row: row.first_mm)
        found.append(_range_finding(sensor, worst, len(near), len(rows)))
    far = [row for row in rows if row.reading in ("too far", "misses")]
    if far:
        worst = max(far, key=lambda row: row.axis_mm)
        found.append(_range_finding(sensor, worst, len(far), len(rows)))
    return tuple(found)


def sensor_travel_findings(
    sensor: DistanceSensor, angles_deg: Sequence[float], cones: Sequence[ConeView]
) -> tuple[Finding, ...]:
    """Angles of a travel at which a moving part stands in the cone of a distance sensor.

    Args:
        sensor: As it is.
        angles_deg: (n,) of the travel.
        cones: Of travel_cone.
    """
    bad = [i for i, cone in enumerate(cones) if cone.own_frac >= OWN_LEAST_FRAC]
    if not bad:
        return ()
    worst = max(bad, key=lambda i: cones[i].own_frac)
    good = [f"{a:g}" for i, a in enumerate(angles_deg) if i not in bad]
    top = cones[worst].own_by[0]
    found = Finding(
        check=CHECK,
        severity="note" if good else "caution",
        what=(
            f"at {angles_deg[worst]:g} deg of the travel {top.name} takes up "
            f"{_share(top.share_frac)} of the distance sensor's cone, "
            f"{cones[worst].own_near_mm:.1f} mm away"
        ),
        where=_at("distance sensor", sensor.point_mm),
        measured=f"{_share(cones[worst].own_frac)} of the cone on parts at the worst angle",
        required=f"below {_share(OWN_LEAST_FRAC)}",
        remedy=(
            f"Measure only at {', '.join(good)} deg"
            if good
            else f"Move the sensor out of the way of {top.name}"
        ),
        source=f"{GEOMETRY}; common practice, no source",
    )
    return (found,)


def inside_findings(
    scene: Scene, point_mm: Point, inside: str, what: str, *, poses: Poses = AT_REST
) -> tuple[Finding, ...]:
    """A sensor whose point lies inside a part, with the shortest way out.

    Args:
        scene: The bodies.
        point_mm: The sensor's.
        inside: Name of the part around it, as in a view; empty for none.
        what: "camera" or "distance sensor".
        poses: Where the moving groups are now.
    """
    if not inside:
        return ()
    ways = cap_directions((0.0, 0.0, 1.0), math.pi, 2000)
    distance, _ = first_bodies(scene, point_mm, ways, poses=poses)
    best = int(distance.argmin())
    out = (float(ways[best, 0]), float(ways[best, 1]), float(ways[best, 2]))
    found = Finding(
        check=CHECK,
        severity="stop",
        what=f"the {what} lies {distance[best]:.1f} mm inside {inside}: it sees nothing but that",
        where=_at(what, point_mm),
        measured=f"{distance[best]:.1f} mm inside",
        required="in the open",
        remedy=(
            f"Move it more than {round_up(float(distance[best])):.1f} mm along {_way(out)}, or "
            f"correct point_mm or the pose of {inside}"
        ),
        source=GEOMETRY,
    )
    return (found,)


def opening_findings(camera: Camera, opening: Opening) -> tuple[Finding, ...]:
    """A hole that clips the picture, with the chamfer, the wall or the hole that cures it."""
    if opening.hole_mm <= 0.0 or opening.passes:
        return ()
    straight = f"widen it to {round_up(opening.far_mm):.1f} mm"
    if math.isnan(opening.chamfer_mm):
        remedy = (
            f"The hole is too small even at the near face ({round_up(opening.near_mm):.1f} mm "
            f"needed): {straight}"
        )
    else:
        remedy = (
            f"Chamfer it {round_up(opening.chamfer_mm):.1f} mm deep at {opening.chamfer_deg:.0f} "
            f"deg full angle from outside, thin the wall to {opening.thin_to_mm:.1f} mm, or "
            f"{straight}"
        )
    found = Finding(
        check=CHECK,
        severity="caution",
        what=(
            f"the hole in front of the camera clips the picture: it lets through "
            f"{opening.passes_deg:.0f} deg of {opening.chamfer_deg:.0f} deg from corner to corner"
        ),
        where=_at("camera", camera.point_mm),
        measured=f"{opening.hole_mm:.1f} mm",
        required=f"at least {opening.far_mm:.1f} mm for a straight hole",
        remedy=remedy,
        source="edge ray from the entrance pupil, plane geometry",
    )
    return (found,)


def window_findings(sensor: DistanceSensor, window: Window, talk: CrossTalk) -> tuple[Finding, ...]:
    """A pane that throws the emitter's light into the receiver, with the gap that does not."""
    if not talk.reaches:
        return ()
    remedy = "Put a rib between emitter and receiver, from the board up to the pane"
    if talk.gap_allowed_mm > 0.0:
        remedy = (
            f"Bring the pane to within {math.floor(talk.gap_allowed_mm * 100) / 100:.2f} mm, or "
            "put a rib between emitter and receiver up to the pane"
        )
    elif talk.thick_allowed_mm > 0.0:
        thick = math.floor(talk.thick_allowed_mm * 100) / 100
        remedy += f"; or take a pane of at most {thick:.2f} mm"
    found = Finding(
        check=CHECK,
        severity="note",
        what=(
            f"the pane in front of the distance sensor throws {_share(talk.reflected_frac)} of the "
            f"light on that path straight into the receiver; alone it reads as "
            f"{talk.false_mm:.1f} mm"
        ),
        where=_at("distance sensor", sensor.point_mm),
        measured=f"{window.gap_mm:g} mm gap, {window.thick_mm:g} mm pane",
        required=(
            f"gap at most {talk.gap_allowed_mm:.2f} mm"
            if talk.gap_allowed_mm > 0.0
            else "a thinner pane: no gap is small enough for this one"
        ),
        remedy=f"{remedy}; then calibrate with the pane in place",
        source="Snell's law and mirror images, one bounce; dust and scratches are not reckoned",
    )
    return (found,)


def _camera_remedy(
    camera: Camera,
    view: CameraView,
    aim: Aim,
    mounts: Sequence[MountRow],
    travel: TravelView | None,
    least_frac: float,
) -> str:
    """The cures that help, each with what it gives."""
    cures = []
    if aim.seen_frac > view.seen_frac + GAIN_FRAC:
        cures.append(
            f"turn the camera by {aim.turn_deg:.0f} deg to look along {_way(aim.look)} "
            f"({_share(aim.seen_frac)} seen)"
        )
    if view.outside_frac > GAIN_FRAC:
        offsets = view.target.points_mm - camera.point_mm
        wide, high = angles_needed(camera, offsets)
        if max(wide, high) < 170.0:
            cures.append(
                f"take a lens of at least {math.ceil(wide)} by {math.ceil(high)} deg, which holds "
                "the whole target with this look"
            )
    better = [
        row for row in mounts if row.seen_frac > max(view.seen_frac, aim.seen_frac) + GAIN_FRAC
    ]
    if better:
        row = max(better, key=lambda row: row.seen_frac)
        way = "higher" if row.shift_mm > 0.0 else "lower"
        cures.append(
            f"mount it {abs(row.shift_mm):g} mm {way} and look along {_way(row.aim.look)} "
            f"({_share(row.seen_frac)} seen)"
        )
    if travel is not None and len(travel.seen_frac) and travel.seen_frac.max() >= least_frac:
        best = int(travel.seen_frac.argmax())
        cures.append(
            f"take pictures at {travel.angles_deg[best]:g} deg of the travel "
            f"({_share(float(travel.seen_frac[best]))} seen)"
        )
    if not cures and view.hidden_by:
        top = view.hidden_by[0]
        cures.append(
            f"move the camera or cut back {top.name} (up to {_share(top.share_frac)} more seen): "
            f"from this point no aim shows more than {_share(view.clear_frac)}"
        )
    text = "; or ".join(cures) if cures else "move the camera back from the target"
    return text[0].upper() + text[1:]


def _range_finding(sensor: DistanceSensor, row: HeightRow, count: int, of: int) -> Finding:
    """One finding for all heights that lie too near or too far."""
    near = row.reading == "too near"
    limit = sensor.near_mm if near else sensor.far_mm
    reads = row.first_mm if near else row.axis_mm
    off = abs(limit - reads)
    remedy = f"Turn the look {_way(sensor.look)} toward the ground"
    if math.isfinite(off):
        way = "farther from" if near else "nearer to"
        remedy = f"Mount the sensor {round_up(off):.1f} mm {way} the ground"
    return Finding(
        check=CHECK,
        severity="caution",
        what=(
            f"the distance sensor cannot measure {count} of {of} heights: at {row.height_mm:.1f} "
            f"mm the ground is {reads:.1f} mm away"
        ),
        where=_at("distance sensor", sensor.point_mm),
        measured=f"{reads:.1f} mm",
        required=f"at least {limit:g} mm" if near else f"at most {limit:g} mm",
        remedy=remedy,
        source="near_mm and far_mm of the sensor's table",
    )


def _share(frac: float) -> str:
    return f"{100.0 * frac:.1f} %"


def _way(look: Sequence[float]) -> str:
    return "(" + ", ".join(f"{v + 0.0:.3f}" for v in look) + ")"


def _at(what: str, point: Point) -> Place:
    return Place(text=f"{what} at ({', '.join(f'{v:g}' for v in point)}) mm in the device")
