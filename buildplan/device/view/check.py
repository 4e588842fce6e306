"""All views of a device in one call: the camera and the distance sensor, at rest and in motion."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from buildplan.device.view.best import Aim, best_aim
from buildplan.device.view.distance import (
    OWN_LEAST_FRAC,
    ConeView,
    HeightRow,
    Turn,
    free_turn,
    height_table,
    tallest_mm,
    travel_cone,
    view_cone,
)
from buildplan.device.view.judge import (
    SEEN_LEAST_FRAC,
    camera_findings,
    inside_findings,
    opening_findings,
    sensor_findings,
    sensor_travel_findings,
    travel_findings,
    window_findings,
)
from buildplan.device.view.optics import Opening, PixelSize, camera_opening, pixel_sizes
from buildplan.device.view.scene import Body, Floats, Scene, build_scene
from buildplan.device.view.shape import Camera, DistanceSensor, Views
from buildplan.device.view.sights import (
    CameraView,
    Picture,
    TravelView,
    look_through,
    view_target,
    view_travel,
)
from buildplan.device.view.target import CELLS, cut_target
from buildplan.device.view.window import CrossTalk, window_cross_talk
from buildplan.findings import Finding

HEIGHTS = 9
"""Rows of a height table where no heights are asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraReport:
    """Everything about a camera.

    Attributes:
        camera: As given.
        rest: With every moving part at rest; its map is the report's seen/hidden figure.
        travel: At every angle asked for; empty (no angles) where none is.
        picture: Which part fills which cell of its picture, at rest.
        aim: Best aim at rest.
        opening: The hole that it needs.
        pixels: What a pixel covers; none where pixels_wide is not known.
    """

    camera: Camera
    rest: CameraView
    travel: TravelView
    picture: Picture
    aim: Aim
    opening: Opening
    pixels: tuple[PixelSize, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorReport:
    """Everything about a distance sensor; with every moving part at rest but for the travel.

    Attributes:
        sensor: As given.
        cone: What its cone meets.
        turn: The least turn that frees the cone.
        tallest_mm: Greatest height that it can measure.
        heights: What it reads over the height of the ground.
        angles_deg: (n,) of the travel, as asked for.
        travel: What its cone meets at each of them.
        cross_talk: Of its window, or none.
    """

    sensor: DistanceSensor
    cone: ConeView
    turn: Turn
    tallest_mm: float
    heights: tuple[HeightRow, ...]
    angles_deg: tuple[float, ...]
    travel: tuple[ConeView, ...]
    cross_talk: tuple[CrossTalk, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewReport:
    """What the sensors of a device see; a report is empty where there is no such sensor."""

    camera: tuple[CameraReport, ...]
    distance_sensor: tuple[SensorReport, ...]
    findings: tuple[Finding, ...]


def check_views(
    views: Views,
    bodies: Sequence[Body],
    *,
    angles_deg: Sequence[float] | Floats = (),
    poses: Mapping[str, Floats] | None = None,
    heights_mm: Sequence[float] = (),
    least_frac: float = SEEN_LEAST_FRAC,
    cells: int = CELLS,
) -> ViewReport:
    """Seen and hidden shares, best aim, heights, openings and findings of a device's sensors.

    Args:
        views: Of read_views, or made by hand.
        bodies: Every part where it stands in the device at rest.
        angles_deg: (n,) of the travel at which the camera's view is wanted.
        poses: (n, 4, 4) from rest for every moving group.
        heights_mm: Above the soil, for the height table; left out, from the soil to the
            tallest that can be measured.
        least_frac: Share of the target that the camera must see.
        cells: Of the target along its longer side.

    Raises:
        InputError: a look without direction, a view angle of 0 or above 170 deg, a target that is
            not flat, poses of a group that no part moves with.
    """
    scene = build_scene(bodies)
    cameras: tuple[CameraReport, ...] = ()
    sensors: tuple[SensorReport, ...] = ()
    findings: tuple[Finding, ...] = ()
    if views.camera is not None:
        report = _camera(views.camera, scene, angles_deg, poses or {}, cells)
        cameras, findings = (report,), _camera_findings(report, scene, least_frac)
    if views.distance_sensor is not None:
        of_sensor = _sensor(views.distance_sensor, scene, angles_deg, poses or {}, heights_mm)
        sensors = (of_sensor,)
        findings += _sensor_findings(of_sensor, scene)
    return ViewReport(camera=cameras, distance_sensor=sensors, findings=findings)


def _camera(
    camera: Camera,
    scene: Scene,
    angles_deg: Sequence[float] | Floats,
    poses: Mapping[str, Floats],
    cells: int,
) -> CameraReport:
    target = cut_target(camera.target_mm, cells=cells)
    return CameraReport(
        camera=camera,
        rest=view_target(camera, scene, target),
        travel=view_travel(camera, scene, target, angles_deg=angles_deg, poses=poses),
        picture=look_through(camera, scene),
        aim=best_aim(camera, scene, target),
        opening=camera_opening(camera),
        pixels=(pixel_sizes(camera, target),) if camera.pixels_wide else (),
    )


def _camera_findings(report: CameraReport, scene: Scene, least_frac: float) -> tuple[Finding, ...]:
    camera, rest = report.camera, report.rest
    holes = opening_findings(camera, report.opening)
    if rest.inside:
        return (*inside_findings(scene, camera.point_mm, rest.inside, "camera"), *holes)
    return (
        *camera_findings(
            camera,
            rest,
            report.aim,
            least_frac=least_frac,
            travel=report.travel,
            when="parts at rest",
        ),
        *travel_findings(camera, report.travel, least_frac=least_frac),
        *holes,
    )


def _sensor(
    sensor: DistanceSensor,
    scene: Scene,
    angles_deg: Sequence[float] | Floats,
    poses: Mapping[str, Floats],
    heights_mm: Sequence[float],
) -> SensorReport:
    tallest = tallest_mm(sensor)
    heights = heights_mm or np.linspace(0.0, max(tallest, 0.0), HEIGHTS).tolist()
    return SensorReport(
        sensor=sensor,
        cone=view_cone(sensor, scene),
        turn=free_turn(sensor, scene),
        tallest_mm=tallest,
        heights=height_table(sensor, scene, heights_mm=heights),
        angles_deg=tuple(float(angle) for angle in angles_deg),
        travel=travel_cone(sensor, scene, angles_deg=angles_deg, poses=poses),
        cross_talk=tuple(window_cross_talk(w, sensor.cone_deg) for w in sensor.window),
    )


def _sensor_findings(report: SensorReport, scene: Scene) -> tuple[Finding, ...]:
    sensor, inside = report.sensor, report.cone.inside
    panes = zip(sensor.window, report.cross_talk, strict=True)
    notes = tuple(f for window, talk in panes for f in window_findings(sensor, window, talk))
    if inside:
        return (*inside_findings(scene, sensor.point_mm, inside, "distance sensor"), *notes)
    moving = () if report.cone.own_frac >= OWN_LEAST_FRAC else report.travel
    return (
        *sensor_findings(sensor, report.cone, report.turn, report.heights),
        *sensor_travel_findings(sensor, report.angles_deg, moving),
        *notes,
    )
